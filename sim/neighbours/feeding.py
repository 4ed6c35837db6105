"""Supplies, feeders and districts of a neighbourhood, as tables of a scenario."""

from __future__ import annotations

from typing import Any

from sim.neighbours.board import Board, Edge
from sim.neighbours.neighbourhoods import Neighbourhood

WEST, EAST = "west neighbour", "east neighbour"


def sides(board: Board, place: Neighbourhood) -> tuple[list[Edge], list[Edge]]:
    """Edges that meet the western and the eastern neighbour, north to south."""
    if place.turned:
        return list(reversed(board.east)), list(reversed(board.west))
    return list(board.west), list(board.east)


def supply_tables(board: Board, place: Neighbourhood) -> dict[str, Any]:
    """Supplies, feeders, districts and the line of one neighbourhood."""
    west, east = sides(board, place)
    names = [WEST] * bool(west) + [board.name] + [EAST] * bool(east)
    line = {
        "modules": names,
        "ring": place.ring,
        "turned": [board.name] if place.turned else [],
    }
    feeders: list[dict[str, Any]] = []
    rails: dict[str, list[str]] = {}
    signs = _signs(board, place)
    for side, edges, fed in ((WEST, west, place.west), (EAST, east, place.east)):
        for number, edge in enumerate(edges, 1):
            supply = supply_name(place, edge.loop, side)
            rails.setdefault(supply, []).append(f"{side}/{number}/*")
            if fed:
                feeders.append(_feeder(supply, f"{side}/{number}", signs[side, number]))
    for section, loop in board.homes.items():
        supply = supply_name(place, loop, WEST)
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


def _signs(board: Board, place: Neighbourhood) -> dict[tuple[str, int], str]:
    """Pole of the north rail of each plain track.

    The neighbours keep to one rule whichever way the module stands: the signs are
    those of the module as it stands at home.
    """
    west, east = sides(board, _unturned(place))
    signs: dict[tuple[str, int], str] = {}
    for side, edges in ((WEST, west), (EAST, east)):
        for number, edge in enumerate(edges, 1):
            signs[side, number] = edge.north
    turned_west, turned_east = sides(board, place)
    for side, edges in ((WEST, turned_west), (EAST, turned_east)):
        for number, edge in enumerate(edges, 1):
            signs.setdefault((side, number), edge.north)
    return signs


def _unturned(place: Neighbourhood) -> Neighbourhood:
    """The same neighbourhood with the module not turned."""
    return Neighbourhood(place.name, place.west, place.east, place.ring)


def supply_name(place: Neighbourhood, loop: str, side: str) -> str:
    """The supply that feeds a loop on one side."""
    if place.supplies == "one":
        return "one supply"
    if place.supplies == "each side" and side == EAST:
        return f"{loop} east"
    return loop


def _feeder(supply: str, track: str, north: str) -> dict[str, Any]:
    plus, minus = ("north", "south") if north == "+" else ("south", "north")
    return {
        "name": f"feed {track.replace('/', ' ')}",
        "supply": supply,
        "plus": f"{track}/{plus}",
        "minus": f"{track}/{minus}",
    }


def _supply_table(board: Board, place: Neighbourhood, name: str) -> dict[str, Any]:
    known = {s.name: s for s in board.scenario.supply}
    own = known.get(name.removesuffix(" east")) or next(iter(known.values()), None)
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
