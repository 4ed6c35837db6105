"""What a module brings to a show, and every way that a show may feed it.

Every way that a show may set up and feed a module.

What a module brings to any neighbourhood: its ends, and the loops that they belong to.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from sim.analyses.search.parts import homes_of
from sim.layout.assembly_log import Report
from sim.layout.ground import lay_ground
from sim.layout.joints import edge_ends
from sim.layout.piece_maker import PieceMaker
from sim.layout.project import Project
from sim.layout.traffic import Case
from sim.power.settings import rest_positions
from sim.power.trace import trace
from sim.scenario.document import Scenario


@dataclass(frozen=True, slots=True)
class Neighbourhood:
    """How a module stands: which sides are fed, how it is turned, from what.

    ``other_phase`` turns the last loop's supply; ``supplies`` are the loops' own,
    ``one`` for all loops, ``common`` returns, or ``each side`` its own.
    """

    name: str
    west: bool = True
    east: bool = False
    ring: bool = False
    turned: bool = False
    other_phase: bool = False
    supplies: str = "own"


#: Common practice of module shows, no source.
NEIGHBOURHOODS = (
    Neighbourhood("fed from the west only"),
    Neighbourhood("fed from the east only", west=False, east=True),
    Neighbourhood("fed from both sides", east=True),
    Neighbourhood("in a ring, fed at one place", ring=True),
    Neighbourhood("turned round", east=True, turned=True),
    Neighbourhood("in opposite phase", east=True, other_phase=True),
    Neighbourhood("all loops on one supply", east=True, supplies="one"),
    Neighbourhood("supplies with a common return", east=True, supplies="common"),
    Neighbourhood("another supply on each side", east=True, supplies="each side"),
)


@dataclass(frozen=True, slots=True)
class Edge:
    """An end at an edge of the module: the loop it belongs to, and its north rail's sign."""

    end: str
    loop: str
    north: str  #: "+" or "-"


@dataclass(frozen=True, slots=True)
class Board:
    """What a module brings to any neighbourhood."""

    scenario: Scenario
    name: str
    west: tuple[Edge, ...]
    east: tuple[Edge, ...]
    homes: Mapping[str, str]  #: loop by section of the module

    @property
    def loops(self) -> tuple[str, ...]:
        """Loops that lead through or to the module, from north to south."""
        return tuple(dict.fromkeys(edge.loop for edge in (*self.west, *self.east)))

    def fits(self, place: Neighbourhood) -> bool:
        """Whether the module can stand so at all."""
        if place.ring and (len(self.west) != len(self.east) or not self.west):
            return False
        if place.other_phase or place.supplies in ("one", "common"):
            return len(self.loops) > 1
        if place.supplies == "each side":
            return bool(self.west) and bool(self.east)
        fed = (place.west and self.west) or (place.east and self.east)
        return bool(fed)


def board_of(project: Project, module: str) -> Board:
    """The module as its own scenario has it. ``module`` must exist there."""
    scenario, case = project.scenario, project.case()
    ground = lay_ground(scenario, None, "", PieceMaker(scenario), Report())
    west, east = edge_ends(scenario, ground, module)
    homes = homes_of(case.layout)
    names = [s.name for s in case.layout.supplies]
    prefix = f"{module}/"
    by_section = {
        case.layout.nodes[n]: names[homes.supply[d]]
        for n, d in homes.of.items()
        if case.layout.nodes[n].startswith(prefix)
    }
    return Board(
        scenario,
        module,
        tuple(_edges(case, west, by_section)),
        tuple(_edges(case, east, by_section)),
        by_section,
    )


def _edges(case: Case, ends: Sequence[str], homes: Mapping[str, str]) -> Iterator[Edge]:
    layout = case.layout
    traced = trace(layout, [tuple(rest_positions(layout))])
    nodes = {name: n for n, name in enumerate(layout.nodes)}
    only = layout.supplies[0].name if len(layout.supplies) == 1 else None
    for number, ref in enumerate(ends, 1):
        owner, _, name = ref.rpartition("/")
        placed = next(p for p in layout.pieces if p.id == owner)
        end = next(e for e in placed.piece.ends if e.name == name)
        rails = [f"{owner}/{end.north}", f"{owner}/{end.south}"]
        loop = next((homes[r] for r in rails if r in homes), only or f"track {number}")
        sign = "+"
        for rail, flip in zip(rails, (False, True), strict=True):
            poles = traced.poles_at(nodes[rail], 0)
            if len(poles) == 1:
                sign = "+-"[(poles[0] + flip) % 2]
                break
        yield Edge(ref, loop, sign)
