"""The file of readings: read, written blank, and written again.

The file of readings that ``locate`` reads: its form, and what it means on a layout.

A file of readings to be filled in: what can be written, and the names of the layout.

Readings as a file again, so that a session at the terminal can be kept.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any, Literal

import tomli_w
from pydantic import Field, ValidationError

from sim.bench.readings.model import (
    LAMP_WORDS,
    METER_WORDS,
    TRAIN_WORDS,
    Positions,
    Probe,
    Reading,
    meter_outcomes,
    reading_words,
)
from sim.bench.readings.places import known_refs, node_of, passed_over
from sim.layout.model import PLASTIC, UM_PER_MM, Layout, Route
from sim.power.settings import rest_positions
from sim.scenario.fields import Model, Name, Probability, Ref
from sim.scenario.load import frozen, load_text, parse_toml
from sim.scenario.problems import Problem, ReadingsError, ScenarioError, nearest, shown
from sim.scenario.refusals import problems_of

_FILE = {"a scenario file": "a file of readings"}


class ReadingTable(Model):
    """What a meter or lamp said between two places in one setting."""

    start: Ref = Field(
        alias="from",
        description="A section, a pad, or a rail at an end: module/piece/end/north.",
    )
    to: Ref
    levers: dict[Ref, Name] = Field(
        default_factory=dict, description="Levers or gangs and their positions; others at rest."
    )
    where: Literal["layout", "board", "bench"] = Field(
        default="layout",
        description="bench: the piece by itself; board: its module by itself.",
    )
    supply: Literal["off", "on"] = Field(
        default="off", description="on: a lamp across two rails while they are fed."
    )
    read: str | float = Field(
        description="joined, open, lit, dim, dark, or ohms; supply on: lit, dim, dark, trips."
    )


class TrainTable(Model):
    """What a train did on a route in one setting."""

    route: Ref
    levers: dict[Ref, Name] = Field(
        default_factory=dict, description="By default what sets the route; others at rest."
    )
    from_mm: float | None = Field(default=None, ge=0, description="From the route's start.")
    to_mm: float | None = Field(default=None, ge=0)
    saw: Literal["runs", "stalls", "trips"]


class ReadingsFile(Model):
    """A file of readings."""

    format: Literal[1]
    fix: str | None = Field(default=None, description="The fix that was in place.")
    odds: dict[str, Probability] = Field(
        default_factory=dict, description="By kind of fault or id of a part: how likely."
    )
    reading: tuple[ReadingTable, ...] = ()
    train: tuple[TrainTable, ...] = ()


def load_readings(path: str | Path) -> ReadingsFile:
    """Read a file; raises :class:`ReadingsError` with everything that is wrong."""
    return readings_from(readings_data(path))


def readings_data(path: str | Path) -> dict[str, Any]:
    """The plain data of a TOML file; raises :class:`ReadingsError`."""
    try:
        return parse_toml(load_text(Path(path)))
    except ScenarioError as error:
        found = [replace(p, expected=_FILE.get(p.expected, p.expected)) for p in error.problems]
        raise ReadingsError(found) from None


def readings_from(raw: dict[str, Any]) -> ReadingsFile:
    """The same from plain data."""
    try:
        return ReadingsFile.model_validate(frozen(raw))
    except ValidationError as error:
        raise ReadingsError(p for _, p in problems_of(error, raw, ReadingsFile)) from None


def readings_on(layout: Layout, file: ReadingsFile, kinds: Sequence[str] = ()) -> list[Reading]:
    """What the file means on ``layout``; raises :class:`ReadingsError`.

    ``kinds`` are the kinds of fault that odds can be given of, besides parts.
    """
    maker = _Maker(layout)
    found = [maker.reading(k, table) for k, table in enumerate(file.reading)]
    found += [maker.train(k, table) for k, table in enumerate(file.train)]
    maker.odds(file.odds, kinds)
    if maker.problems:
        raise ReadingsError(maker.problems)
    return [
        Reading(n, probe, said, allows, reading_words(layout, probe, said))
        for n, (probe, said, allows) in enumerate((f for f in found if f is not None), 1)
    ]


_Found = tuple[Probe, str, frozenset[str]]


class _Maker:
    def __init__(self, layout: Layout) -> None:
        self.layout = layout
        self.problems: list[Problem] = []
        self._controls = {c.id: c for c in layout.controls}
        self._levers = {x.id: k for k, x in enumerate(layout.levers)}

    def _bad(self, where: str, expected: str, found: object) -> None:
        self.problems.append(Problem(where, expected, shown(found)))

    def reading(self, number: int, table: ReadingTable) -> _Found | None:
        """One meter or lamp reading."""
        at = f"reading[{number}]"
        a = self.node(table.start, f"{at}.from")
        b = self.node(table.to, f"{at}.to")
        positions = self.positions(table.levers, f"{at}.levers")
        lamp = table.supply == "on"
        allows = self._allowed(table.read, lamp, f"{at}.read")
        if a is None or b is None or positions is None or allows is None:
            return None
        if a == b:
            self._bad(at, "two different rail sections", f"{table.start} and {table.to}")
            return None
        if lamp and table.where != "layout":
            self._bad(f"{at}.where", "'layout', as the supply is on", table.where)
            return None
        where = self._where(table, a, b, at)
        if where is None:
            return None
        probe = Probe("lamp" if lamp else "meter", a, b, positions, where)
        return probe, _said(table.read), allows

    def _allowed(self, said: str | float, lamp: bool, at: str) -> frozenset[str] | None:
        found: frozenset[str] | None
        if lamp:
            found = LAMP_WORDS.get(said) if isinstance(said, str) else None
            words = ", ".join(LAMP_WORDS)
        else:
            found = meter_outcomes(said)
            words = ", ".join(METER_WORDS) + ", or ohms of 0 or more"
        if found is None:
            self._bad(at, f"one of {words}", said)
        return found

    def _where(self, table: ReadingTable, a: int, b: int, at: str) -> str | None:
        if table.where == "layout":
            return "layout"
        homes = []
        for node in (a, b):
            piece = self.layout.nodes[node].rpartition("/")[0]
            homes.append(piece if table.where == "bench" else piece.partition("/")[0])
        if homes[0] != homes[1]:
            self._bad(f"{at}.where", "places of one piece, or of one board",
                      f"{homes[0]} and {homes[1]}")  # fmt: skip
            return None
        return homes[0]

    def train(self, number: int, table: TrainTable) -> _Found | None:
        """What one train did."""
        at = f"train[{number}]"
        route = next((r for r in self.layout.routes if r.id == table.route), None)
        if route is None:
            hint = nearest(table.route, [r.id for r in self.layout.routes])
            self._bad(f"{at}.route", f"the id of a route{hint}", table.route)
            return None
        positions = self.positions(table.levers, f"{at}.levers", route)
        pairs = self._pairs(route, table, at)
        if positions is None or pairs is None:
            return None
        past = passed_over(self.layout, route, positions)
        pairs = tuple(pair for pair in pairs if pair not in past) or pairs
        probe = Probe("train", *pairs[0], positions, "layout", pairs)
        return probe, table.saw, TRAIN_WORDS[table.saw]

    def _pairs(
        self, route: Route, table: TrainTable, at: str
    ) -> tuple[tuple[int, int], ...] | None:
        low = round((table.from_mm or 0.0) * UM_PER_MM)
        high = route.length_um if table.to_mm is None else round(table.to_mm * UM_PER_MM)
        if not 0 <= low <= high <= route.length_um:
            expected = f"a stretch within 0 to {route.length_um / UM_PER_MM:g} mm of the route"
            self._bad(at, expected, f"{low / UM_PER_MM:g} to {high / UM_PER_MM:g} mm")
            return None
        pairs = {
            (s.left, s.right): None
            for s in route.spans
            if s.from_um <= high and s.to_um >= low and PLASTIC not in (s.left, s.right)
        }
        if not pairs:
            self._bad(at, "a stretch with metal under both wheels", "plastic")
            return None
        return tuple(pairs)

    def node(self, ref: str, at: str) -> int | None:
        """The node that ``ref`` lies on."""
        found = node_of(self.layout, ref)
        if found is None:
            hint = nearest(ref, known_refs(self.layout))
            expected = f"a section, a pad, or an end's rail (module/piece/end/north){hint}"
            self._bad(at, expected, ref)
        return found

    def positions(
        self, said: Mapping[str, str], at: str, route: Route | None = None
    ) -> Positions | None:
        """The setting that is meant: at rest but for what is said, and what ``route`` needs."""
        found = rest_positions(self.layout)
        for p in route.points if route else ():
            found[p.lever] = p.position
        good = True
        for name, position in said.items():
            control = self._controls.get(name)
            levers = control.levers if control else ()
            if not control and name in self._levers:
                levers = (self._levers[name],)
            if not levers:
                hint = nearest(name, [*self._controls, *self._levers])
                self._bad(at, f"the id of a lever or gang{hint}", name)
                good = False
            for lever in levers:
                known = self.layout.levers[lever].positions
                if position not in known:
                    self._bad(f"{at}.{name}", "one of " + ", ".join(known), position)
                    good = False
                    break
                found[lever] = known.index(position)
        return tuple(found) if good else None

    def odds(self, odds: Mapping[str, float], kinds: Sequence[str]) -> None:
        """Odds are of a kind of fault or of a part."""
        parts = {
            *kinds,
            *(e.id for e in self.layout.elements),
            *(x.id for x in self.layout.levers),
            *(s.name for s in self.layout.supplies),
        }
        for name in odds:
            if name not in parts:
                expected = f"a kind of fault or the id of a part{nearest(name, sorted(parts))}"
                self._bad("odds", expected, name)


def _said(read: str | float) -> str:
    return read if isinstance(read, str) else f"{read:g} ohm"


#: What can be said, for who writes the file by hand.
_HEAD = """\
# Readings for 'gapwright locate'. Write down what was seen; lines that begin with # are
# not read. Take the # away from a sample, change it, copy it as often as needed.
format = 1
"""
_MORE = """\

# What an engine did on a route: runs, stalls or trips. The stretch may be left out; a
# lever that is not named stands as the route needs it, or else at rest.
"""
_METER = """\

# What a meter said, all supplies off and unplugged, trains lifted: joined, open, or ohms
# without quotes. where: "layout", "board" (its module by itself), "bench" (the piece out).
"""
_LAMP = """\

# What a lamp or a loaded meter said across two rails, supply on: lit, dim, dark or trips.
"""


def blank_readings(layout: Layout, fix: str | None = None) -> str:
    """The file as text: nothing in it is read but its format and ``fix``."""
    route = next((r for r in layout.routes if r.points), None) or next(
        iter(layout.routes), None
    )
    lines = [_HEAD]
    if fix is not None:
        lines.append(f"fix = {_quoted(fix)}\n")
    if route is not None:
        lines += [_MORE, *_train_named(layout, route)]
        one, other = _rails(layout, route)
        lines += [_METER, *_reading(layout, route, one, other, "off", "open")]
        lines += [_LAMP, *_reading(layout, route, one, other, "on", "dark")]
    lines += _names(layout)
    return "".join(lines)


def _train_named(layout: Layout, route: Route) -> Iterator[str]:
    yield "# [[train]]\n"
    yield f"# route = {_quoted(route.id)}\n"
    yield f"# levers = {_levers_named(layout, route)}\n"
    yield f"# from_mm = 0\n# to_mm = {route.length_um / UM_PER_MM:g}\n"
    yield '# saw = "stalls"\n'


def _reading(
    layout: Layout, route: Route, one: str, other: str, supply: str, read: str
) -> Iterator[str]:
    yield "# [[reading]]\n"
    yield f"# from = {_quoted(one)}\n# to = {_quoted(other)}\n"
    yield f"# levers = {_levers_named(layout, route)}\n"
    yield f'# where = "layout"\n# supply = "{supply}"\n# read = "{read}"\n'


def _rails(layout: Layout, route: Route) -> tuple[str, str]:
    """Both rails where a route begins."""
    end = layout.ends[route.start].id
    return f"{end}/north", f"{end}/south"


def _levers_named(layout: Layout, route: Route) -> str:
    said = [
        f"{_quoted(layout.levers[p.lever].id)} = "
        f"{_quoted(layout.levers[p.lever].positions[p.position])}"
        for p in route.points
    ]
    return "{ " + ", ".join(said) + " }" if said else "{}"


def _names(layout: Layout) -> Iterator[str]:
    yield "\n# Levers and gangs, with their positions:\n"
    for control in layout.controls:
        yield f"#   {control.id}: {', '.join(control.positions)}\n"
    yield "# Routes, with their length:\n"
    for route in layout.routes:
        yield f"#   {route.id}: {route.length_um / UM_PER_MM:g} mm\n"
    yield "# Places: rails at ends, and rail sections.\n"
    for end in layout.ends:
        yield f"#   {end.id}/north, {end.id}/south\n"
    for name in layout.nodes:
        if "/" in name:
            yield f"#   {name}\n"


def _quoted(text: str) -> str:
    """A TOML basic string: what JSON escapes, TOML reads, and names hold no controls."""
    return json.dumps(text, ensure_ascii=False)


def readings_text(
    layout: Layout,
    readings: Sequence[Reading],
    fix: str | None = None,
    odds: Mapping[str, float] | None = None,
) -> str:
    """TOML that :func:`sim.bench.readings.file.load_readings` reads."""
    data: dict[str, Any] = {"format": 1}
    if fix is not None:
        data["fix"] = fix
    if odds:
        data["odds"] = dict(odds)
    meters = [_meter(layout, r) for r in readings if r.probe.what != "train"]
    trains = [_train(layout, r) for r in readings if r.probe.what == "train"]
    if meters:
        data["reading"] = meters
    if trains:
        data["train"] = trains
    return tomli_w.dumps(data)


def _levers(layout: Layout, reading: Reading) -> dict[str, str]:
    rest = rest_positions(layout)
    return {
        x.id: x.positions[p]
        for x, p, usual in zip(layout.levers, reading.probe.positions, rest, strict=True)
        if p != usual
    }


def _meter(layout: Layout, reading: Reading) -> dict[str, Any]:
    probe = reading.probe
    where = "layout"
    if probe.where != "layout":
        where = "bench" if "/" in probe.where else "board"
    said: str | float = reading.said
    if reading.said.endswith(" ohm"):
        said = float(reading.said.removesuffix(" ohm"))
    return {
        "from": layout.nodes[probe.a],
        "to": layout.nodes[probe.b],
        "levers": _levers(layout, reading),
        "where": where,
        "supply": "on" if probe.what == "lamp" else "off",
        "read": said,
    }


def _train(layout: Layout, reading: Reading) -> dict[str, Any]:
    """The first route that has all the pairs, over the stretch in which they lie."""
    probe = reading.probe
    for route in layout.routes:
        spans = [s for s in route.spans if (s.left, s.right) in probe.pairs]
        if {(s.left, s.right) for s in spans} == set(probe.pairs):
            # Spans touch at their ends; a stretch inside them takes in no neighbour.
            low, high = spans[0].from_um + 1, spans[-1].to_um - 1
            return {
                "route": route.id,
                "levers": {
                    x.id: x.positions[p]
                    for x, p in zip(layout.levers, probe.positions, strict=True)
                },
                "from_mm": low / UM_PER_MM,
                "to_mm": high / UM_PER_MM,
                "saw": reading.said,
            }
    raise ValueError("a train on no route")
