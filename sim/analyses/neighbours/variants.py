"""A module between two plain boards, fed in every way that a show may bring.

Supplies, feeders and districts of a neighbourhood, as tables of a scenario.

The part of a fix that travels with a module, and what stays elsewhere.

A module by itself between two plain boards, fed in every way that a show may bring.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Literal

from sim.analyses.neighbours.board import Board, Edge, Neighbourhood
from sim.analyses.search.options import data_of
from sim.layout.assembly_log import matching
from sim.scenario.document import Scenario
from sim.scenario.fields import free_name
from sim.scenario.fixes import FixTable
from sim.scenario.load import frozen

Side = Literal["west", "east"]


def neighbour(board: Board, side: Side) -> str:
    """What the neighbour on that side is called: not as the module itself."""
    return free_name(f"{side} neighbour", [board.name])


def sides(board: Board, place: Neighbourhood) -> tuple[list[Edge], list[Edge]]:
    """Edges that meet the western and the eastern neighbour, north to south."""
    if place.turned:
        return list(reversed(board.east)), list(reversed(board.west))
    return list(board.west), list(board.east)


def supply_tables(board: Board, place: Neighbourhood) -> dict[str, Any]:
    """Supplies, feeders, districts and the line of one neighbourhood."""
    west, east = sides(board, place)
    beside: dict[Side, str] = {
        "west": neighbour(board, "west"),
        "east": neighbour(board, "east"),
    }
    names = [beside["west"]] * bool(west) + [board.name] + [beside["east"]] * bool(east)
    line = {
        "modules": names,
        "ring": place.ring,
        "turned": [board.name] if place.turned else [],
    }
    feeders: list[dict[str, Any]] = []
    rails: dict[str, list[str]] = {}
    signs = _signs(board, place)
    both: tuple[tuple[Side, list[Edge], bool], ...]
    both = (("west", west, place.west), ("east", east, place.east))
    for side, edges, fed in both:
        for number, edge in enumerate(edges, 1):
            supply = supply_name(board, place, edge.loop, side)
            track = f"{beside[side]}/{number}"
            rails.setdefault(supply, []).append(f"{track}/*")
            if fed:
                feeders.append(_feeder(supply, track, signs[side, number]))
    for section, loop in board.homes.items():
        supply = supply_name(board, place, loop, "west")
        if supply in rails:
            rails[supply].append(section)
    return {
        "supply": [_supply_table(board, place, name) for name in rails],
        "feeder": feeders,
        "district": [
            {"name": name, "supply": name, "sections": sections}
            for name, sections in rails.items()
        ],
        "line": [line],
    }


def _signs(board: Board, place: Neighbourhood) -> dict[tuple[Side, int], str]:
    """Pole of the north rail of each plain track.

    The neighbours keep to one rule whichever way the module stands: the signs are
    those of the module as it stands at home.
    """
    west, east = sides(board, _unturned(place))
    signs: dict[tuple[Side, int], str] = {}
    home: tuple[tuple[Side, list[Edge]], ...] = (("west", west), ("east", east))
    for side, edges in home:
        for number, edge in enumerate(edges, 1):
            signs[side, number] = edge.north
    turned_west, turned_east = sides(board, place)
    turned: tuple[tuple[Side, list[Edge]], ...]
    turned = (("west", turned_west), ("east", turned_east))
    for side, edges in turned:
        for number, edge in enumerate(edges, 1):
            signs.setdefault((side, number), edge.north)
    return signs


def _unturned(place: Neighbourhood) -> Neighbourhood:
    """The same neighbourhood with the module not turned."""
    return Neighbourhood(place.name, place.west, place.east, place.ring)


def supply_name(board: Board, place: Neighbourhood, loop: str, side: Side) -> str:
    """The supply that feeds a loop on one side."""
    if place.supplies == "one":
        return "one supply"
    if place.supplies == "each side" and side == "east":
        return _eastern(board).get(loop, loop)
    return loop


def _eastern(board: Board) -> dict[str, str]:
    """By loop the name of a supply of its own on the east side: no two alike."""
    names: dict[str, str] = {}
    taken = {*board.loops, *(s.name for s in board.scenario.supply)}
    for loop in sorted(taken):
        names[loop] = free_name(f"{loop} east", (*taken, *names.values()))
    return names


def feeder_name(track: str) -> str:
    """The feeder of a plain track of a neighbour."""
    return f"feed {track.replace('/', ' ')}"


def _feeder(supply: str, track: str, north: str) -> dict[str, Any]:
    plus, minus = ("north", "south") if north == "+" else ("south", "north")
    return {
        "name": feeder_name(track),
        "supply": supply,
        "plus": f"{track}/{plus}",
        "minus": f"{track}/{minus}",
    }


def _supply_table(board: Board, place: Neighbourhood, name: str) -> dict[str, Any]:
    known = {s.name: s for s in board.scenario.supply}
    loop = {eastern: loop for loop, eastern in _eastern(board).items()}.get(name, name)
    own = known.get(loop) or next(iter(known.values()), None)
    table: dict[str, Any] = {"name": name}
    if own is not None:
        table["kind"] = own.kind
        table["reversed"] = own.reversed
        if own.voltage_v is not None:
            table["voltage_v"] = own.voltage_v
    if place.other_phase and name == board.loops[-1]:
        table["reversed"] = not table.get("reversed", False)
    if place.supplies == "common":
        table["common"] = "common return"
    return table


_BY_END = ("from", "to", "at", "plus", "minus", "piece", "section", "lever")


def localised(board: Board, place: Neighbourhood, fix: FixTable) -> FixTable:
    """The fix's changes on this module, with its feeders on this neighbourhood's supplies."""
    data = data_of(fix)
    made: dict[str, Any] = {"name": fix.name}
    prefix = f"{board.name}/"
    for field, value in data.items():
        if field in ("name", "note", "reverse", "energy_store", "rewire"):
            continue
        if isinstance(value, list):
            kept = [item for item in value if _is_own(item, prefix)]
            if kept:
                made[field] = kept
        else:
            made[field] = value
    west, east = sides(board, place)
    taken = [
        feeder_name(f"{beside}/{number}")
        for beside, edges in (
            (neighbour(board, "west"), west),
            (neighbour(board, "east"), east),
        )
        for number in range(1, len(edges) + 1)
    ]
    for feeder in made.get("feeder", ()):
        bus = {b.name: b.supply for b in board.scenario.bus}
        supply = feeder.get("supply") or bus.get(feeder.pop("bus", ""), "")
        feeder["supply"] = supply_name(board, place, supply, "west")
        feeder["name"] = free_name(feeder["name"], taken)
        taken.append(feeder["name"])
    result: FixTable = FixTable.model_validate(frozen(made))
    return result


def _is_own(item: Any, prefix: str) -> bool:
    if isinstance(item, str):
        return item.startswith(prefix)
    return all(str(item[key]).startswith(prefix) for key in _BY_END if key in item)


def elsewhere(board: Board, fix: FixTable) -> list[str]:
    """What a fix does that does not travel with the module, in words."""
    prefix = f"{board.name}/"
    words = [f"the phase of {name} turned at the supply" for name in fix.reverse]
    words += [f"an energy store in {store.train}" for store in fix.energy_store]
    words += [f"{rewire.wire} in the place of the wire of {rewire.of}" for rewire in fix.rewire]
    data = data_of(fix)
    for field, value in data.items():
        if field in ("reverse", "energy_store", "rewire") or not isinstance(value, list):
            continue
        gone = [item for item in value if not _is_own(item, prefix)]
        if gone:
            words.append(f"{len(gone)} of {len(value)} under '{field}', on other modules")
    return words


def modules_of(scenario: Scenario, fix: FixTable) -> list[str]:
    """Modules that a fix changes, in the order of the file."""
    data = data_of(fix)
    texts = [
        str(text)
        for value in data.values()
        if isinstance(value, list)
        for item in value
        for text in ([item] if isinstance(item, str) else item.values())
    ]
    names = [m.name for m in scenario.module]
    found = {
        name
        for name in names
        for text in texts
        if text.startswith(f"{name}/") or ("*" in text and matching(text, [f"{name}/x/x"]))
    }
    return [name for name in names if name in found]


#: Length of the plain boards, mm: any will do.
BOARD_MM = 300.0


def variant(board: Board, place: Neighbourhood, fix: FixTable | None) -> Scenario:
    """The scenario of the module in a neighbourhood, with its part of a fix."""
    data: dict[str, Any] = {
        "format": 1,
        "title": f"{board.name}, {place.name}",
        "scale_ratio": board.scenario.scale_ratio,
        "gauge_mm": board.scenario.gauge_mm,
    }
    made = Scenario.model_validate(
        frozen({**data, "module": [*_stubs(board, place)], **supply_tables(board, place)})
    )
    own = next(m for m in board.scenario.module if m.name == board.name)
    own = own.model_copy(update={"turned": False})  # how it stands is the neighbourhood's
    update: dict[str, Any] = {
        "module": (*made.module, own),
        "piece": board.scenario.piece,
        "assumptions": board.scenario.assumptions,
        **_own_tables(board),
    }
    if fix is not None:
        update["fix"] = (localised(board, place, fix),)
    return made.model_copy(update=update)


def _own_tables(board: Board) -> dict[str, Any]:
    """Joins, gaps, joiners and jumpers of the scenario that lie within the module."""
    scenario, prefix = board.scenario, f"{board.name}/"
    ends = [edge.end for edge in (*board.west, *board.east)]
    return {
        "join": tuple(
            j for j in scenario.join if j.a.startswith(prefix) and j.b.startswith(prefix)
        ),
        "gap": tuple(g for g in scenario.gap if g.at.startswith(prefix) and g.at not in ends),
        "joiner": tuple(
            g for g in scenario.joiner if g.at.startswith(prefix) and g.at not in ends
        ),
        "jumper": tuple(
            j for j in scenario.jumper if j.start.startswith(prefix) and j.to.startswith(prefix)
        ),
    }


def _stubs(board: Board, place: Neighbourhood) -> Iterator[dict[str, Any]]:
    west, east = sides(board, place)
    for name, edges in ((neighbour(board, "west"), west), (neighbour(board, "east"), east)):
        if edges:
            pieces = [
                {"name": str(n), "kind": "straight", "length_mm": BOARD_MM}
                for n in range(1, len(edges) + 1)
            ]
            yield {"name": name, "piece": pieces}
