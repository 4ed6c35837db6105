"""Scenario files drawn from a seed: lines and rings of one track or two, all invented.

Nothing of the program is imported, so the same seed gives the same text whatever is
moved or renamed there.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, field
from typing import Any

from tests.guard.toml import Toml

FAMILIES = (
    "live frog",
    "insulated frog, power routing",
    "insulated frog, all live",
    "powered frog",
    "switched frog, bonded blades",
)
#: Whose frog can be cut off from the rails past it.
ONE_METAL = ("live frog", "switched frog, bonded blades")
WIRES = ("AWG 22", "AWG 18", "0.5 mm2", "1.5 mm2", "AWG 24 stranded")
#: A piece described rail by rail: its south rail is cut in two and bridged by a contact.
OWN_PIECE = """
[[piece]]
kind = "switched length"
sections = ["north", "south west", "south east"]
[[piece.ends]]
name = "west"
outward = "west"
north = "north"
south = "south west"
[[piece.ends]]
name = "east"
outward = "east"
north = "north"
south = "south east"
[[piece.levers]]
name = "key"
positions = ["on", "off"]
[[piece.contacts]]
name = "bridge"
a = "south west"
b = "south east"
when = [{ key = "on" }]
[[piece.gaps]]
name = "saw cut"
a = "south west"
b = "south east"
[[piece.routes]]
from = "west"
to = "east"
spans = [
    { from_mm = 0, to_mm = 120, left = "north", right = "south west" },
    { from_mm = 120, to_mm = 240, left = "north", right = "south east" },
]
"""


@dataclass
class Drawn:
    """What is known of a layout while it is drawn."""

    rng: random.Random
    toml: Toml
    twin: bool
    ring: bool
    modules: list[str] = field(default_factory=list)
    turned: list[str] = field(default_factory=list)
    #: plain lengths, 'module/piece', whose rails are north and south
    plain: list[str] = field(default_factory=list)
    #: pieces with blades: id, kind, family and levers
    switches: list[tuple[str, str, str, tuple[str, ...]]] = field(default_factory=list)
    #: gangs and levers that a timetable may throw, with positions
    throws: list[tuple[str, tuple[str, str]]] = field(default_factory=list)
    supplies: list[str] = field(default_factory=list)
    #: names of feeders, and of the bus if there is one
    wires: list[str] = field(default_factory=list)
    trains: list[str] = field(default_factory=list)
    own_piece: bool = False
    #: whether a fault names a contact, which has to be there with every fix
    contact_faults: bool = False

    @property
    def tracks(self) -> tuple[str, ...]:
        """Names of the tracks that run through every module."""
        return ("A", "B") if self.twin else ("A",)


def layout_text(seed: int) -> str:
    """The scenario of that seed. Shapes take turns, so that any four seeds show all."""
    rng = random.Random(f"guard {seed}")
    drawn = Drawn(rng, Toml(), twin=seed % 2 == 0, ring=seed // 2 % 2 == 0)
    gauge, scale = rng.choice([(9.0, 160.0), (12.0, 120.0), (16.5, 87.1)])
    drawn.toml.keys(format=1, title=f"Guard layout {seed}", scale_ratio=scale, gauge_mm=gauge)
    centres = round(gauge * rng.choice([3.2, 3.7]), 1)
    _supplies(drawn)
    _track(drawn, centres)
    _wires(drawn)
    _trains(drawn)
    _conduct(drawn)
    _faults(drawn)
    _fixes(drawn)
    return str(drawn.toml) + (OWN_PIECE if drawn.own_piece else "")


# --- supplies and wires ---------------------------------------------------------------


def _supplies(d: Drawn) -> None:
    rng = d.rng
    kind = rng.choice(["dc", "digital"])
    common = rng.choice([None, None, "return"])
    for name in rng.choice([("cab",), ("cab", "second cab")]):
        d.supplies.append(name)
        d.toml.table(
            "supply",
            {
                "name": name,
                "kind": kind,
                "voltage_v": rng.choice([None, 12, 14.5, 16]),
                "internal_ohm": rng.choice([None, 0.2, 1.5]),
                "trip_a": rng.choice([None, 1, 3]),
                "trip_s": rng.choice([None, 0.1, 0.5]),
                "retry_s": rng.choice([None, 3, "never"]),
                "reversed": rng.choice([None, None, None, True]),
                "common": common,
            },
        )
    if len(d.supplies) == 2 and rng.random() < 0.7:
        d.toml.table(
            "district",
            {"name": "first part", "supply": d.supplies[0], "sections": ["m0/*", "m1/*"]},
        )


def _wires(d: Drawn) -> None:
    rng = d.rng
    bus = rng.random() < 0.4
    if bus:
        d.toml.table(
            "bus",
            {
                "name": "bus",
                "supply": d.supplies[0],
                "wire": rng.choice(["AWG 14", "2.5 mm2"]),
                "length": rng.choice([None, "3 m"]),
            },
        )
        d.wires.append("bus")
    for number, place in enumerate(_fed(d)):
        supply = d.supplies[number % len(d.supplies)]
        on_bus = bus and supply == d.supplies[0]
        name = f"drop {number + 1}"
        d.wires.append(name)
        d.toml.table("feeder", {"name": name, **_source(d, supply, on_bus), **_rails(place)})
    if rng.random() < 0.3:
        one, other = rng.sample(d.plain, 2)
        d.toml.table(
            "jumper",
            {"from": f"{one}/north", "to": f"{other}/north", "length": "50 cm"},
        )
    if rng.random() < 0.4:
        d.toml.table("gap", {"at": f"{rng.choice(d.plain)}/west", "rails": _some_rails(rng)})
    if rng.random() < 0.4:
        state = rng.choice(["soldered", "open", "resistance_ohm"])
        d.toml.table(
            "joiner",
            {
                "at": f"{rng.choice(d.plain)}/west",
                "rails": _some_rails(rng),
                state: 0.8 if state == "resistance_ohm" else True,
            },
        )


def _fed(d: Drawn) -> list[str]:
    """Where feeders go: a plain length of each track of the first module, and some more."""
    first = [f"{d.modules[0]}/{track}" for track in d.tracks]
    others = [place for place in d.plain if place not in first]
    more = d.rng.sample(others, min(len(others), d.rng.choice([0, 0, 1, 2])))
    return first + more


def _source(d: Drawn, supply: str, on_bus: bool) -> dict[str, Any]:
    source = {"bus": "bus"} if on_bus else {"supply": supply}
    if d.rng.random() < 0.6:
        return {
            **source,
            "wire": d.rng.choice(WIRES),
            "length": d.rng.choice(["40 cm", "2 m", "12 in"]),
        }
    return source


def _rails(place: str) -> dict[str, str]:
    return {"plus": f"{place}/north", "minus": f"{place}/south"}


def _some_rails(rng: random.Random) -> str:
    return rng.choice(["both", "north", "south"])


# --- track ----------------------------------------------------------------------------


def _track(d: Drawn, centres: float) -> None:
    count = d.rng.randint(2, 4)
    if not d.ring:
        _stops(d, "west stop")
    _lengths(d, "m0")
    kinds = _kinds(d, count)
    for number, kind in enumerate(kinds, start=1):
        name = f"m{number}"
        if kind == "scissors":
            _scissors(d, name, centres)
        elif kind == "crossover":
            _crossover(d, name, centres)
        elif kind == "siding":
            _siding(d, name)
        elif kind == "loop":
            _loop(d, name)
        elif kind == "own":
            _own(d, name)
        else:
            _plain(d, name, kind)
    if not d.ring:
        _stops(d, "east stop")
        d.turned.append("west stop")
    d.toml.table(
        "line",
        {"modules": d.modules, "ring": d.ring or None, "turned": d.turned or None},
    )


def _kinds(d: Drawn, count: int) -> list[str]:
    plain = ["straight", "curve", "insulated straight", "feeder length"]
    if d.twin:
        switched = d.rng.choice(
            [["scissors"], ["crossover"], ["scissors", "crossover"], ["crossover"] * 2]
        )
    else:
        switched = d.rng.choice([["siding"], ["loop"], ["siding", "siding"], ["own", "loop"]])
        plain.append("diamond crossing")
    kinds = [*switched, *d.rng.choices(plain, k=max(1, count - len(switched)))]
    d.rng.shuffle(kinds)
    return kinds


def _module(d: Drawn, name: str, **keys: Any) -> None:
    d.modules.append(name)
    d.toml.table("module", {"name": name, **keys})


def _piece(d: Drawn, name: str, kind: str, **keys: Any) -> None:
    d.toml.table("module.piece", {"name": name, "kind": kind, **keys})


def _stops(d: Drawn, name: str) -> None:
    _module(d, name)
    for track in d.tracks:
        _piece(d, track, "siding end", length_mm=700)


def _lengths(d: Drawn, name: str) -> None:
    _module(d, name, length_mm=900)
    for track in d.tracks:
        _piece(d, track, "straight", length_mm=900)
        d.plain.append(f"{name}/{track}")


def _plain(d: Drawn, name: str, kind: str) -> None:
    shapes: dict[str, dict[str, Any]] = {
        "straight": {"length_mm": d.rng.choice([200, "35 cm", 500.5])},
        "curve": {"radius_mm": 400, "angle_deg": d.rng.choice([45, 90]), "hand": "right"},
        "insulated straight": {
            "length_mm": 240,
            "gap_in": _some_rails(d.rng),
            "gap_mm": d.rng.choice([None, 100]),
        },
        "feeder length": {"length_mm": d.rng.choice([None, 80])},
        "diamond crossing": {"frog_number": 4},
    }
    if kind == "diamond crossing":
        _module(d, name, ends={"west": ["A/A-west"], "east": ["A/A-east"]})
    else:
        _module(d, name)
    for k, track in enumerate(d.tracks):
        shape = dict(shapes[kind])
        if kind == "curve":
            shape["radius_mm"] = 400 - 40 * k
        _piece(d, track, kind, **shape)
        if kind in ("straight", "curve", "feeder length"):
            d.plain.append(f"{name}/{track}")


def _switchwork(
    d: Drawn, name: str, piece: str, kind: str, levers: tuple[str, ...]
) -> dict[str, Any]:
    """Parameters that all pieces with blades have, and a note of the piece."""
    rng = d.rng
    family = rng.choice(FAMILIES)
    d.switches.append((f"{name}/{piece}", kind, family, levers))
    with_contacts = family != "insulated frog, all live"
    contact = "through" if kind == "turnout" else f"{levers[0]}-through"
    return {
        "family": family,
        "frog_number": rng.choice([None, 6, 7]),
        "run_through": rng.choice([None, None, "forced over", "derails"]),
        "cover": rng.choice([None, None, "none", "plastic"]),
        "opens": {contact: 0.2} if with_contacts and rng.random() < 0.3 else None,
        "fails": {levers[-1]: 0.1} if rng.random() < 0.3 else None,
        "contact_ohm": {contact: 0.4} if with_contacts and rng.random() < 0.2 else None,
    }


def _scissors(d: Drawn, name: str, centres: float) -> None:
    _module(d, name)
    levers = ("AW", "AE", "BW", "BE")
    common = _switchwork(d, name, "X", "scissors crossover", levers)
    gangs = d.rng.choice(["all", "per diagonal", "single"])
    fed = gangs != "all" and d.rng.random() < 0.5
    _piece(
        d,
        "X",
        "scissors crossover",
        **common,
        track_centres_mm=centres,
        centre_gap=d.rng.choice([None, True, False]),
        gangs=gangs,
        corners="fed" if fed else None,
    )
    names = {"all": ("all",), "per diagonal": ("X1", "X2"), "single": levers}[gangs]
    _thrown(d, name, "X", names)


def _crossover(d: Drawn, name: str, centres: float) -> None:
    _module(d, name)
    common = _switchwork(d, name, "C", "single crossover", ("AW", "BE"))
    gangs = d.rng.choice(["both", "single"])
    cut = common["family"] in ONE_METAL and d.rng.random() < 0.4
    _piece(
        d,
        "C",
        "single crossover",
        **common,
        track_centres_mm=centres,
        gangs=gangs,
        frog_gaps=cut or None,
    )
    _thrown(d, name, "C", ("X1",) if gangs == "both" else ("AW", "BE"))
    if d.rng.random() < 0.3:
        d.turned.append(name)


def _turnout(d: Drawn, module: str, name: str, hand: str | None = None) -> None:
    common = _switchwork(d, module, name, "turnout", ("lever",))
    cut = common["family"] in ONE_METAL and d.rng.random() < 0.4
    _piece(d, name, "turnout", **common, hand=hand, frog_gaps=cut or None)
    _thrown(d, module, name, ("lever",))


def _thrown(d: Drawn, module: str, piece: str, names: tuple[str, ...]) -> None:
    d.throws += [(f"{module}/{piece}/{name}", ("through", "diverging")) for name in names]


def _siding(d: Drawn, name: str) -> None:
    """Points to the west, a siding that ends within the board."""
    hand = d.rng.choice(["right", "left", "symmetrical"])
    _module(
        d,
        name,
        ends={"west": ["T/points"], "east": ["A/east"]},
        joins=[["T/through", "A/west"], ["T/diverging", "siding/west"]],
    )
    _turnout(d, name, "T", hand)
    _piece(d, "A", "straight", length_mm=400)
    _piece(d, "siding", "siding end", length_mm=300)
    d.plain += [f"{name}/A", f"{name}/siding"]


def _loop(d: Drawn, name: str) -> None:
    """A passing loop: two turnouts, points outward."""
    _module(
        d,
        name,
        ends={"west": ["T/points"], "east": ["U/points"]},
        joins=[
            ["T/through", "A/west"],
            ["T/diverging", "side/west"],
            ["A/east", "U/through"],
            ["side/east", "U/diverging"],
        ],
    )
    _turnout(d, name, "T", "right")
    _turnout(d, name, "U", "left")
    _piece(d, "A", "straight", length_mm=500)
    _piece(d, "side", "straight", length_mm=500)
    d.plain += [f"{name}/A", f"{name}/side"]


def _own(d: Drawn, name: str) -> None:
    _module(d, name)
    _piece(d, "A", "switched length")
    d.own_piece = True
    d.throws.append((f"{name}/A/key", ("on", "off")))


# --- trains ---------------------------------------------------------------------------


def _trains(d: Drawn) -> None:
    for number, track in enumerate(d.tracks if d.rng.random() < 0.7 else ("A",)):
        name = ("local", "goods")[number]
        d.trains.append(name)
        rng = d.rng
        d.toml.table(
            "train",
            {
                "name": name,
                "at": f"m0/{track}",
                "place_mm": rng.choice([500, 640]),
                "heading": "east",
                **rng.choice([{"speed": "25 mph"}, {"speed": "50 km/h"}, {"speed_mm_s": 95}]),
                "acceleration_mm_s2": rng.choice([None, 60]),
                "coasting_mm": rng.choice([None, 0, 15]),
                "energy_store_s": rng.choice([None, None, 0.4]),
                "repeat": True,
                "orders": _orders(d, track),
            },
        )
        _vehicles(d)


def _orders(d: Drawn, track: str) -> list[dict[str, Any]]:
    rng = d.rng
    crossings = [place for place, kind, *_ in d.switches if kind != "turnout"]
    if d.ring:
        orders: list[dict[str, Any]] = [{"do": "circulate", "laps": rng.choice([1, 2])}]
        if crossings and rng.random() < 0.6:
            orders.append({"do": "cross", "at": rng.choice(crossings)})
        else:
            orders.append({"do": "wait", "for_s": 3})
        return orders
    there = {"do": "stop", "on": f"east stop/{track}", "place_mm": 500, "for_s": 4}
    # the west stop stands turned round: its own tracks lie the other way
    home = {"A": "B", "B": "A"}[track] if d.twin else "A"
    back = {"do": "stop", "on": f"west stop/{home}", "backward": True, "for_s": 2}
    return [there, {"do": "wait", "for_s": 1}, back]


def _vehicles(d: Drawn) -> None:
    rng = d.rng
    shares = rng.random() < 0.3
    motor = {"speed": "60 mph", "at_voltage_v": 10}
    if rng.random() < 0.4:
        motor |= {"start_voltage_v": 2.5, "running_a": 0.25, "starting_a": 0.4}
    d.toml.table(
        "train.vehicle",
        {
            "name": "engine",
            "length_mm": rng.choice([70, 110]),
            "pickups_mm": rng.choice([[10, 60], [8, 22, 50, 64], [30]]),
            "shares_with_next": shares or None,
            "motor": motor,
        },
    )
    if shares:
        d.toml.table("train.vehicle", {"name": "van", "length_mm": 90, "pickups_mm": [12, 78]})
    elif rng.random() < 0.5:
        d.toml.table(
            "train.vehicle",
            {"name": "coach", "length_mm": 120, "count": 2, "pickups_left_mm": [10]},
        )


def _conduct(d: Drawn) -> None:
    rng = d.rng
    d.toml.table(
        "[run]",
        {
            "duration_s": rng.choice([90, 150]),
            "throw_s": rng.choice([None, 0.0, 1.5]),
            "nudge_after_s": rng.choice([None, 4]),
            "nudge_mm": rng.choice([None, 30]),
            "nudges_at_most": rng.choice([None, 2]),
        },
    )
    d.toml.table(
        "[assumptions]",
        {
            "contact_opens": rng.choice([None, 0.0, 0.1]),
            "lever_fails": rng.choice([None, 0.0, 0.1]),
            "lever_stays": rng.choice([None, None, 0.05]),
            "contact_ohm": rng.choice([None, 0.1]),
            "joiner_ohm": rng.choice([None, 0.02]),
        },
    )
    for _ in range(rng.choice([0, 0, 1, 2])):
        lever, positions = rng.choice(d.throws)
        every = rng.choice([None, 17])
        d.toml.table(
            "throw",
            {
                "at_s": rng.choice([2, 7.25, 20]),
                "lever": lever,
                "to": [positions[1], positions[0]] if every else positions[1],
                "every_s": every,
            },
        )


def _faults(d: Drawn) -> None:
    rng = d.rng
    place, kind, family, levers = d.switches[0]
    able: list[dict[str, Any]] = [
        {"on": "drop 1+", "what": "open", "at_s": 30, "for_s": 5},
        {"on": d.supplies[0], "what": "off", "chance": 0.3, "per": "hour", "for_s": 10},
        {"on": "m0/*", "what": "dirt", "chance": 0.05, "per": "metre", "length_mm": 6},
        {"on": d.trains[0], "what": "dirt", "chance": 0.1, "per": "run"},
        {"on": "drop 1?", "what": "tired", "chance": 0.2, "per": "run", "ohm": 8.0},
    ]
    if family != "insulated frog, all live":
        contact = "through" if kind == "turnout" else f"{levers[0]}-through"
        on = f"{place}/{contact}"
        able += [
            {"on": on, "what": "open", "chance": 0.2, "per": "throw"},
            {"on": on, "what": "open", "at_throw": 2},
            {"on": on, "what": "tired", "chance": 0.3, "per": "pass"},
            {"on": on, "what": "open", "at_s": 20, "cleared_by": ["throw", "nudge"]},
        ]
    lever = f"{place}/{levers[0]}"
    able += [
        {"on": lever, "what": "stays", "chance": 0.2, "per": "throw"},
        {"on": lever, "what": "stays", "at_throw": 1},
    ]
    for rule in rng.sample(able, rng.randint(0, 3)):
        d.contact_faults |= "/" in rule["on"] and rule["what"] in ("open", "tired")
        d.toml.table("fault", rule)


# --- fixes ----------------------------------------------------------------------------


def _fixes(d: Drawn) -> None:
    able = {
        "feeder": _fix_feeder,
        "jumper": _fix_jumper,
        "gap": _fix_gap,
        "cut": _fix_cut,
        "alter": _fix_alter,
        "length": _fix_length,
        "rewire": _fix_rewire,
        "changeover": _fix_changeover,
        "solder": _fix_solder,
        "reverse": _fix_reverse,
        "store": _fix_store,
        "clean": _fix_clean,
    }
    count = d.rng.choice([1, 2, 2, 3])
    for number in range(count):
        parts = d.rng.sample(sorted(able), d.rng.choice([1, 1, 2]))
        parts.sort(key=lambda part: part in _WITH_TABLES)  # keys before tables
        if number == 0 and d.rng.random() < 0.5:
            parts = ["feeder"]
        d.toml.table("fix", {"name": f"fix {number + 1}", "note": " and ".join(parts) + "."})
        for part in parts:
            able[part](d)


_WITH_TABLES = ("feeder", "jumper", "gap", "length", "rewire", "changeover", "store")


def _fix_feeder(d: Drawn) -> None:
    place = d.rng.choice(d.plain)
    supply = d.rng.choice(d.supplies)
    d.toml.table(
        "fix.feeder", {"name": "new drop", **_source(d, supply, False), **_rails(place)}
    )


def _fix_jumper(d: Drawn) -> None:
    pieces = [(place, kind) for place, kind, *_ in d.switches if kind != "turnout"]
    ends = [f"{place}/{rail}" for place in d.plain for rail in ("north", "south")]
    pair = d.rng.sample(ends, 2)
    if pieces and d.rng.random() < 0.7:
        place = pieces[0][0]
        pair = [f"{place}/A-inner-west", f"{place}/A-inner-east"]
    d.toml.table(
        "fix.jumper",
        {
            "name": "new wire",
            "from": pair[0],
            "to": pair[1],
            "way": d.rng.choice([None, "under the board"]),
        },
    )


def _fix_gap(d: Drawn) -> None:
    d.toml.table(
        "fix.gap", {"at": f"{d.rng.choice(d.plain)}/west", "rails": _some_rails(d.rng)}
    )


def _fix_cut(d: Drawn) -> None:
    d.toml.keys(cut=[d.rng.choice(["drop 1+", "drop 1-"])])


def _fix_alter(d: Drawn) -> None:
    if d.rng.random() < 0.2:
        d.toml.keys(alter=[{"piece": f"m0/{d.tracks[-1]}", "set": {"length_mm": 880}}])
        return
    place, kind, family, _ = d.rng.choice(d.switches)
    others = [f for f in FAMILIES[1:] if f != family]
    if d.contact_faults:
        others.remove("insulated frog, all live")
    other = d.rng.choice(others)
    change: dict[str, Any] = {"family": other, "opens": {}, "contact_ohm": {}}
    if kind != "scissors crossover":
        change["frog_gaps"] = False
    d.toml.keys(alter=[{"piece": place, "set": change}])


def _fix_length(d: Drawn) -> None:
    d.toml.table(
        "fix.added_length",
        {"at": f"m0/{d.tracks[-1]}/east", "name": "put in", "length_mm": 62},
    )


def _fix_rewire(d: Drawn) -> None:
    d.toml.table(
        "fix.rewire",
        {"of": d.rng.choice([*d.wires, "drop*"]), "wire": "2.5 mm2", "length": "30 cm"},
    )


def _fix_changeover(d: Drawn) -> None:
    found = [s for s in d.switches if s[1] == "turnout" and s[2] == "powered frog"]
    if found:
        place = found[0][0]
        section, lever = f"{place}/F", f"{place}/lever"
        through, diverging = f"{place}/SS", f"{place}/SN"
    else:
        place, _, _, levers = d.switches[0]
        section, lever = f"{d.plain[-1]}/south", f"{place}/{levers[0]}"
        through, diverging = f"{d.plain[0]}/south", f"{d.plain[0]}/north"
    d.toml.table(
        "fix.changeover",
        {
            "section": section,
            "lever": lever,
            "to": {"through": through, "diverging": diverging},
            "opens": 0.05,
        },
    )


def _fix_solder(d: Drawn) -> None:
    d.toml.keys(solder=["*"])


def _fix_reverse(d: Drawn) -> None:
    d.toml.keys(reverse=[d.supplies[-1]])


def _fix_store(d: Drawn) -> None:
    d.toml.table("fix.energy_store", {"train": d.trains[0], "energy_store_s": 2})


def _fix_clean(d: Drawn) -> None:
    if d.own_piece or any(
        family != "insulated frog, all live" for _, _, family, _ in d.switches
    ):
        d.toml.keys(clean=["*"], clean_opens=0.01)
