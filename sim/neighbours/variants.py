"""A module by itself between two plain boards, fed in every way that a show may bring."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from sim.neighbours.board import Board
from sim.neighbours.feeding import EAST, WEST, sides, supply_tables
from sim.neighbours.fix_part import localised
from sim.neighbours.neighbourhoods import Neighbourhood
from sim.scenario.document import Scenario
from sim.scenario.fixes import FixTable
from sim.scenario.load import frozen

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
    for name, edges in ((WEST, west), (EAST, east)):
        if edges:
            pieces = [
                {"name": str(n), "kind": "straight", "length_mm": BOARD_MM}
                for n in range(1, len(edges) + 1)
            ]
            yield {"name": name, "piece": pieces}
