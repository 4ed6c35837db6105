"""Small invented layouts for tests of motion, written as scenario texts."""

from __future__ import annotations

import itertools
import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from sim.layout.assemble import assemble
from sim.layout.traffic import Case
from sim.records.model import Record
from sim.run.agenda import World
from sim.run.run import begin, build, run
from sim.scenario.read import scenario_from_text

#: 100 mm/s at 10 V; moves from 3 V on, turns down to 2 V; exact in every digit used
MOTOR: Mapping[str, object] = {
    "speed_mm_s": 100.0,
    "at_voltage_v": 10.0,
    "start_voltage_v": 3.0,
    "turns_down_to_v": 2.0,
    "minimum_v": 7.0,
}


def value(what: object) -> str:
    """``what`` as TOML."""
    if isinstance(what, Mapping):
        return "{ " + ", ".join(f"{json.dumps(k)} = {value(v)}" for k, v in what.items()) + " }"
    if isinstance(what, (list, tuple)):
        return "[" + ", ".join(value(v) for v in what) + "]"
    return json.dumps(what, ensure_ascii=False)


def table(header: str, **keys: object) -> str:
    """One table with its keys; ``from_`` is written ``from``."""
    lines = [f"{k.rstrip('_')} = {value(v)}" for k, v in keys.items() if v is not None]
    return "\n".join([header, *lines, ""])


@dataclass
class Plan:
    """A scenario text that grows. Every piece is ``P`` on a module of its own."""

    duration_s: float = 60.0
    run: dict[str, object] = field(default_factory=dict)
    assumptions: dict[str, object] = field(
        default_factory=lambda: {"contact_opens": 0.0, "lever_fails": 0.0}
    )
    parts: list[str] = field(default_factory=list)
    line: list[str] = field(default_factory=list)

    def add(self, header: str, **keys: object) -> Plan:
        """Any table."""
        self.parts.append(table(header, **keys))
        return self

    def supply(self, name: str = "cab", kind: str = "digital", **keys: object) -> Plan:
        """A supply; digital and 12 V unless said."""
        return self.add("[[supply]]", name=name, kind=kind, **{"voltage_v": 12.0, **keys})

    def feed(self, plus: str, minus: str, supply: str = "cab") -> Plan:
        """A feeder, named after what it feeds."""
        name = f"feed {plus.replace('/', ' ')}"
        return self.add("[[feeder]]", name=name, supply=supply, plus=plus, minus=minus)

    def piece(
        self,
        name: str,
        kind: str,
        on_line: bool = True,
        ends: Mapping[str, object] | None = None,
        **keys: object,
    ) -> Plan:
        """A piece on the module ``name``; modules lie on one line, west to east."""
        if on_line:
            self.line.append(name)
        self.add("[[module]]", name=name, ends=ends)
        return self.add("[[module.piece]]", name="P", kind=kind, **keys)

    def turnout(
        self, name: str, leg: str = "through", trailing: bool = False, **keys: object
    ) -> Plan:
        """A turnout with one leg on the line, the other open; points west unless trailing."""
        ends = {"west": ["P/points"], "east": [f"P/{leg}"]}
        self.piece(name, "turnout", ends=ends, **keys)
        return self

    def straight(self, name: str, length_mm: float, fed: str | None = None) -> Plan:
        """A straight; ``fed`` by that supply, plus on the north rail."""
        self.piece(name, "straight", length_mm=length_mm)
        return self.feed(f"{name}/P/north", f"{name}/P/south", fed) if fed else self

    def strip(self, kind: str, spans: Sequence[tuple[float, str, str]]) -> Plan:
        """Describe a straight kind of piece: (length_mm, north section, south section)...

        A rail is cut wherever its section changes; ``plastic`` is no metal.
        """
        ends = [
            {"name": e, "outward": e, "north": spans[i][1], "south": spans[i][2]}
            for e, i in (("west", 0), ("east", -1))
        ]
        places = [0.0]
        for length, _, _ in spans:
            places.append(places[-1] + length)
        laid = [
            {"from_mm": places[i], "to_mm": places[i + 1], "left": north, "right": south}
            for i, (_, north, south) in enumerate(spans)
        ]
        sections = dict.fromkeys(s for span in spans for s in span[1:] if s != "plastic")
        cuts = []
        for rail in (1, 2):
            metal = [span[rail] for span in spans if span[rail] != "plastic"]
            cuts += [(a, b) for a, b in itertools.pairwise(metal) if a != b]
        gaps = [{"name": f"gap {a} {b}", "a": a, "b": b} for a, b in dict.fromkeys(cuts)]
        route = {"from": "west", "to": "east", "spans": laid}
        return self.add(
            "[[piece]]",
            kind=kind,
            sections=list(sections),
            ends=ends,
            gaps=gaps,
            routes=[route],
        )

    def train(
        self,
        name: str = "local",
        at: str = "a/P",
        place_mm: float = 100.0,
        orders: Iterable[Mapping[str, object]] = ({"do": "circulate", "laps": 1000},),
        pickups_mm: Sequence[float] = (10.0, 90.0),
        length_mm: float = 100.0,
        vehicles: Sequence[Mapping[str, object]] | None = None,
        motor: Mapping[str, object] | None = None,
        **keys: object,
    ) -> Plan:
        """A train; without ``vehicles`` it is one engine."""
        keys = {
            "speed_mm_s": 100.0,
            "coasting_mm": 20.0,
            "coasting_from_mm_s": 100.0,
            "acceleration_mm_s2": 100.0,
            "braking_mm_s2": 100.0,
            **keys,
        }
        self.add("[[train]]", name=name, at=at, place_mm=place_mm, orders=list(orders), **keys)
        engine = {
            "name": "engine",
            "length_mm": length_mm,
            "pickups_mm": list(pickups_mm),
            "motor": {**MOTOR, **(motor or {})},
        }
        for vehicle in vehicles or (engine,):
            self.add("[[train.vehicle]]", **vehicle)
        return self

    def text(self, ring: bool = False) -> str:
        """The whole scenario."""
        head = table("", format=1, title="t", scale_ratio=160, gauge_mm=9)
        lines = table("[[line]]", modules=self.line, ring=ring) if self.line else ""
        tail = table("[run]", duration_s=self.duration_s, **self.run)
        return (
            head
            + "\n".join(self.parts)
            + lines
            + tail
            + table("[assumptions]", **self.assumptions)
        )

    def case(self, ring: bool = False, fix: str | None = None) -> Case:
        """The case, ready to run."""
        return assemble(scenario_from_text(self.text(ring)), fix)

    def record(
        self, ring: bool = False, seed: int = 1, motions: bool = False, circuit: bool = False
    ) -> Record:
        """The record of one run; volts are exact where the supply is only traced."""
        return run(self.case(ring), seed, motions, circuit)


def set_up(case: Case, seed: int = 1, circuit: bool = False) -> World:
    """A world that has begun and can be stepped: ``world.env.run(until=...)``."""
    world = World(case, seed, watch=True)
    build(world, circuit)
    begin(world)
    return world


def drive(*orders: Mapping[str, object]) -> list[Mapping[str, object]]:
    """Orders, for brevity."""
    return list(orders)


def dead_ring(
    dead_mm: float, kind: str = "digital", north: bool = False, duration_s: float = 60.0
) -> Plan:
    """A ring of 2.2 m with one rail (south unless ``north``) dead for ``dead_mm`` of it.

    ``a`` (500 mm, fed), ``d`` (700 mm, dead from its 200th on), ``b`` and ``c``
    (500 mm each).  On the line the dead stretch begins at 700 mm.
    """
    plan = Plan(duration_s).supply(kind=kind)
    rails = [("N", "Sw"), ("N", "dead"), ("N", "Se")]
    if north:
        rails = [("Nw", "S"), ("dead", "S"), ("Ne", "S")]
    lengths = (200.0, dead_mm, 500.0 - dead_mm)
    plan.strip("dead piece", [(n, *r) for n, r in zip(lengths, rails, strict=True)])
    plan.straight("a", 500.0, "cab").piece("d", "dead piece")
    return plan.straight("b", 500.0).straight("c", 500.0)
