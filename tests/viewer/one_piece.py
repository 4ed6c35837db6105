"""A layout of one piece, fed at one or all of its ends, and the library to try it with."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product

from sim.layout.model import (
    PLASTIC,
    District,
    Element,
    End,
    Layout,
    Lever,
    Module,
    PlacedPiece,
    Points,
    Route,
    Span,
    Supply,
)
from sim.layout.traffic import Case, Conduct
from sim.pieces.model import Piece
from tests.pieces.cases import (
    CAN_CUT,
    FAMILIES,
    N_GAUGE,
    SLIP_FAMILIES,
    build,
    crossover,
    double_slip,
    scissors,
    turnout,
)

UM = 1000


def feeds_of(piece: Piece, fed: str = "") -> list[tuple[str, str]]:
    """(section, pole) of every feeder.

    ``fed`` names the end that is fed (``all`` for every one, by default the first):
    its north rail by plus, its south rail by minus.
    """
    ends = [e for e in piece.ends if fed in (e.name, "all")] or [piece.ends[0]]
    return [(s, p) for e in ends for s, p in ((e.north, "cab+"), (e.south, "cab-"))]


def layout_of(piece: Piece, fed: str = "") -> tuple[Layout, dict[str, str]]:
    """The layout, and which sections are fed by which pole; see :func:`feeds_of`."""
    names = [s.name for s in piece.sections]
    nodes = (*(f"board/piece/{n}" for n in names), "cab+", "cab-")
    at = {n: k for k, n in enumerate(names)}
    plus, minus = len(names), len(names) + 1
    levers = {x.name: k for k, x in enumerate(piece.levers)}

    def node(section: str | None) -> int:
        return PLASTIC if section is None else at[section]

    def position_of(lever: str, position: str) -> int:
        return piece.levers[levers[lever]].positions.index(position)

    elements = [
        Element(f"board/piece/{b.name}", "bond", at[b.a], at[b.b], piece=0) for b in piece.bonds
    ]
    elements += [
        Element(
            f"board/piece/{c.name}", "contact", at[c.a], at[c.b], piece=0,
            when=tuple(
                tuple((levers[n], position_of(n, p)) for n, p in clause)
                for clause in c.when
            ),
        )
        for c in piece.contacts
    ]  # fmt: skip
    elements += [
        Element(f"board/piece/{g.name}", "gap", at[g.a], at[g.b], piece=0) for g in piece.gaps
    ]
    feeds = feeds_of(piece, fed)
    elements += [
        Element(f"feed {k}", "feeder", plus if pole == "cab+" else minus, at[section])
        for k, (section, pole) in enumerate(feeds)
    ]
    ends = {e.name: k for k, e in enumerate(piece.ends)}
    routes = tuple(
        Route(
            f"board/piece/{r.name}", 0, ends[r.start], ends[r.finish], round(r.length_mm * UM),
            tuple(
                Span(round(s.from_mm * UM), round(s.to_mm * UM), node(s.left), node(s.right))
                for s in r.spans
            ),
            tuple(
                Points(
                    levers[p.lever], piece.levers[levers[p.lever]].positions.index(p.position),
                    round(p.tip_mm * UM), round(p.heel_mm * UM),
                )
                for p in r.points
            ),
        )
        for r in piece.routes
    )  # fmt: skip
    layout = Layout(
        nodes=nodes,
        elements=tuple(elements),
        supplies=(Supply("cab", "dc", plus, minus, 12.0, False, 0.1, 1.0, 0.5, 5.0),),
        districts=(District("all", 0, tuple(range(len(names)))),),
        levers=tuple(
            Lever(f"board/piece/{x.name}", x.positions, x.positions.index(x.rest),
                  x.run_through, 0.0, 0)
            for x in piece.levers
        ),
        controls=(),
        routes=routes,
        ends=tuple(End(f"board/piece/{e.name}", 0, -1) for e in piece.ends),
        pieces=(
            PlacedPiece("board/piece", "board", piece, tuple(range(len(routes))),
                        tuple(range(len(piece.ends))), tuple(range(len(levers)))),
        ),
        modules=(Module("board", None, 400.0, (0,)),),
        pads=tuple((f"board/piece/{p.name}", at[p.section]) for p in piece.pads),
    )  # fmt: skip
    return layout, dict(feeds)


def case_of(piece: Piece, fed: str = "") -> tuple[Case, dict[str, str]]:
    """The same as a case without trains."""
    layout, feeders = layout_of(piece, fed)
    return Case("one piece", None, layout, (), (), Conduct(1.0), ()), feeders


def library() -> Iterator[tuple[str, Piece]]:
    """Every kind of the library in every family and with everything that can be cut."""
    yield "straight", build("straight", N_GAUGE | {"length_mm": 400.0})
    yield "curve", build("curve", N_GAUGE | {"radius_mm": 300.0, "angle_deg": 90.0})
    for gap in ("north", "south", "both"):
        params = {"length_mm": 80.0, "gap_in": gap}
        yield f"insulated straight {gap}", build("insulated straight", N_GAUGE | params)
    yield "feeder length", build("feeder length", N_GAUGE | {"length_mm": 80.0})
    yield "siding end", build("siding end", N_GAUGE | {"length_mm": 200.0})
    for hand in ("left", "right"):
        yield f"diamond {hand}", build("diamond crossing", N_GAUGE | {"hand": hand})
    for family, hand in product(FAMILIES, ("left", "right", "symmetrical")):
        for cut in (False, True) if family in CAN_CUT else (False,):
            params = {"family": family, "hand": hand, "frog_gaps": cut}
            yield f"turnout {family} {hand} {cut}", turnout(**params)
    for family, hand in product(SLIP_FAMILIES, ("left", "right")):
        for cut in (False, True) if family in CAN_CUT else (False,):
            params = {"family": family, "hand": hand, "frog_gaps": cut}
            yield f"double slip {family} {hand} {cut}", double_slip(**params)
    for family in FAMILIES:
        for cut in (False, True) if family in CAN_CUT else (False,):
            yield f"crossover {family} {cut}", crossover(family=family, frog_gaps=cut)
    for family, centre, corners in product(FAMILIES, (False, True), ("plastic", "fed")):
        gangs = "per diagonal" if corners == "fed" else "all"
        params = {"family": family, "centre_gap": centre, "corners": corners, "gangs": gangs}
        yield f"scissors {family} {centre} {corners}", scissors(**params)
