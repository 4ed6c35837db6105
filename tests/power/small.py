"""Small layouts by hand, with no scenario behind them, and strategies for random ones."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from hypothesis import strategies as st

from sim.layout.model import (
    PLASTIC,
    Clause,
    Control,
    District,
    Element,
    ElementKind,
    Layout,
    Lever,
    PlacedPiece,
    Points,
    Route,
    Span,
    Supply,
)
from sim.layout.traffic import Case, Conduct, Throw, Train
from sim.pieces.model import Piece, Section

MM = 1000  #: micrometres
Join = tuple[str, str]


def supply(name: str, plus: int, minus: int, volts: float = 12.0, **more: object) -> Supply:
    """A DC supply; ``more`` may be ``turned`` and ``common``."""
    common = more.get("common")
    assert common is None or isinstance(common, str)
    return Supply(
        name, "dc", plus, minus, volts, bool(more.get("turned")), 0.5, 1.0, 2.0, 10.0, common
    )


class Small:
    """A layout under construction: rails are named, everything else follows."""

    def __init__(self, rails: str, levers: Mapping[str, Sequence[str]] | None = None) -> None:
        self.nodes = [f"m/p/{rail}" for rail in rails.split()]
        self.rails = len(self.nodes)
        self.elements: list[Element] = []
        self.supplies: list[Supply] = []
        self.districts: list[District] = []
        self.levers = [
            Lever(f"m/p/{name}", tuple(positions), 0, "forced over", 0.0, 0)
            for name, positions in (levers or {}).items()
        ]
        self.controls: list[Control] | None = None
        self.routes: list[Route] = []

    def node(self, name: str) -> int:
        """Index of a rail, or of a pole such as ``A+``."""
        return self.nodes.index(f"m/p/{name}" if f"m/p/{name}" in self.nodes else name)

    def supply(self, name: str, volts: float = 12.0, **more: object) -> None:
        """A supply with poles ``name+`` and ``name-``."""
        self.nodes += [f"{name}+", f"{name}-"]
        count = len(self.nodes)
        self.supplies.append(supply(name, count - 2, count - 1, volts, **more))

    def join(self, a: str, b: str, kind: ElementKind = "bond", name: str = "") -> int:
        """A permanent element (or a gap) between two rails or poles; its index."""
        name = name or f"{kind} {a} {b}"
        self.elements.append(Element(name, kind, self.node(a), self.node(b)))
        return len(self.elements) - 1

    def contact(self, a: str, b: str, *when: Mapping[str, str], name: str = "") -> int:
        """A contact that any one of the tables ``when`` closes; its index."""
        ids = [x.id for x in self.levers]
        clauses: list[Clause] = []
        for table in when:
            numbers = [(ids.index(f"m/p/{lever}"), at) for lever, at in table.items()]
            clauses.append(tuple((x, self.levers[x].positions.index(at)) for x, at in numbers))
        name = name or f"contact {a} {b}"
        self.elements.append(
            Element(name, "contact", self.node(a), self.node(b), tuple(clauses))
        )
        return len(self.elements) - 1

    def route(self, name: str, *spans: Join, **needs: str) -> None:
        """A route whose spans, 10 mm each, have these left and right rails ("" plastic)."""
        ids = [x.id for x in self.levers]
        points = []
        for lever, at in needs.items():
            x = ids.index(f"m/p/{lever}")
            points.append(Points(x, self.levers[x].positions.index(at), 0, MM))
        rails = [tuple(self.node(n) if n else PLASTIC for n in span) for span in spans]
        self.routes.append(
            Route(
                f"m/p/{name}",
                0,
                0,
                1,
                10 * MM * len(spans),
                tuple(
                    Span(10 * MM * k, 10 * MM * (k + 1), left, right)
                    for k, (left, right) in enumerate(rails)
                ),
                tuple(points),
            )
        )

    def layout(self) -> Layout:
        """What has been built."""
        controls = self.controls
        if controls is None:
            controls = [Control(x.id, (i,), x.positions) for i, x in enumerate(self.levers)]
        sections = tuple(Section(n.rpartition("/")[2]) for n in self.nodes[: self.rails])
        piece = Piece("small", 9.0, sections, (), ())
        routes, levers = range(len(self.routes)), range(len(self.levers))
        return Layout(
            tuple(self.nodes),
            tuple(self.elements),
            tuple(self.supplies),
            tuple(self.districts),
            tuple(self.levers),
            tuple(controls),
            tuple(self.routes),
            (),
            (PlacedPiece("m/p", "m", piece, tuple(routes), (), tuple(levers)),),
            (),
        )

    def case(self, trains: Sequence[Train] = (), throws: Sequence[Throw] = ()) -> Case:
        """The layout as a case."""
        return case_of(self.layout(), trains, throws)


def case_of(layout: Layout, trains: Sequence[Train] = (), throws: Sequence[Throw] = ()) -> Case:
    """A case without assumptions."""
    return Case("small", None, layout, tuple(trains), tuple(throws), Conduct(60.0), ())


@st.composite
def layouts(draw: st.DrawFn, supplies_at_least: int = 0) -> Layout:
    """Random rails, elements, levers, supplies and routes: few of each, any way joined."""
    rails = [f"r{k}" for k in range(draw(st.integers(2, 8)))]
    positions = st.lists(st.sampled_from("abc"), min_size=2, max_size=3, unique=True)
    levers = {f"l{k}": draw(positions) for k in range(draw(st.integers(0, 3)))}
    made = Small(" ".join(rails), levers)
    for k in range(draw(st.integers(supplies_at_least, 3))):
        made.supply(
            "ABC"[k],
            draw(st.sampled_from([12.0, 12.0, 12.0, 14.0])),
            turned=draw(st.booleans()),
            common=draw(st.sampled_from([None, "earth"])),
        )
    _random_elements(draw, made, rails, levers)
    rail = st.sampled_from(["", *rails])
    for k in range(draw(st.integers(0, 4))):
        needs = {x: draw(st.sampled_from(p)) for x, p in levers.items() if draw(st.booleans())}
        spans = draw(st.lists(st.tuples(rail, rail), min_size=1, max_size=5))
        made.route(f"route{k}", *spans, **needs)
    return made.layout()


def _random_elements(
    draw: st.DrawFn, made: Small, rails: Sequence[str], levers: Mapping[str, Sequence[str]]
) -> None:
    rail = st.sampled_from(rails)
    pair = st.tuples(rail, rail)
    for s in made.supplies:
        for sign in "+-":
            for k in range(draw(st.integers(0, 2))):
                made.join(f"{s.name}{sign}", draw(rail), "feeder", f"{s.name}{sign}{k}")
    with_common = [s.name for s in made.supplies if s.common is not None]
    for k, name in enumerate(with_common[1:]):
        made.join(f"{with_common[0]}-", f"{name}-", "common", f"common {k}")
    kinds: list[ElementKind] = ["bond", "joiner", "jumper", "gap"]
    for k in range(draw(st.integers(0, 4))):
        made.join(*draw(pair), draw(st.sampled_from(kinds)), f"e{k}")
    for k in range(draw(st.integers(0, 6)) if levers else 0):
        clauses = []
        for _ in range(draw(st.integers(1, 2))):
            some = draw(st.lists(st.sampled_from(sorted(levers)), min_size=1, unique=True))
            clauses.append({x: draw(st.sampled_from(levers[x])) for x in some})
        made.contact(*draw(pair), *clauses, name=f"c{k}")
