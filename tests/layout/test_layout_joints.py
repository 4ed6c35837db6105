"""Which rail meets which: walked by hand, and compared with where the rails lie."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from sim.layout.assemble import assemble
from sim.layout.model import Layout
from tests.checked import scenario_from_text
from tests.scenario.texts import BRANCH, HEAD, ONE


def joiners(layout: Layout) -> dict[str, tuple[str, str]]:
    return {
        e.id: (layout.nodes[e.a], layout.nodes[e.b])
        for e in layout.elements
        if e.kind == "joiner"
    }


def board(name: str, kind: str = "scissors crossover") -> str:
    return (
        f'[[module]]\nname = "{name}"\n[[module.piece]]\nname = "P"\nkind = "{kind}"\n'
        "track_centres_mm = 33\nlength_mm = 310\n"
    )


def line(names: list[str], turned: list[str], ring: bool) -> str:
    return f"[[line]]\nmodules = {names}\nturned = {turned}\nring = {str(ring).lower()}\n"


def layout_of(text: str) -> Layout:
    return assemble(scenario_from_text(text)).layout


def test_two_boards_end_to_end() -> None:
    layout = layout_of(HEAD + board("w") + board("e") + line(["w", "e"], [], False))
    assert joiners(layout) == {
        "w/P/joiner-A-east-north": ("w/P/A-outer", "e/P/A-outer"),
        "w/P/joiner-A-east-south": ("w/P/A-inner-east", "e/P/A-inner-west"),
        "w/P/joiner-B-east-north": ("w/P/B-inner-east", "e/P/B-inner-west"),
        "w/P/joiner-B-east-south": ("w/P/B-outer", "e/P/B-outer"),
    }


def test_the_second_board_turned_round() -> None:
    """Track A meets track B; the outer rail of A goes on as the outer rail of B."""
    layout = layout_of(HEAD + board("w") + board("e") + line(["w", "e"], ["e"], False))
    assert joiners(layout) == {
        "w/P/joiner-A-east-north": ("w/P/A-outer", "e/P/B-outer"),
        "w/P/joiner-A-east-south": ("w/P/A-inner-east", "e/P/B-inner-east"),
        "w/P/joiner-B-east-north": ("w/P/B-inner-east", "e/P/A-inner-east"),
        "w/P/joiner-B-east-south": ("w/P/B-outer", "e/P/A-outer"),
    }


def test_a_ring_of_one_board() -> None:
    layout = layout_of(HEAD + board("w") + line(["w"], [], True))
    assert joiners(layout) == {
        "w/P/joiner-A-east-north": ("w/P/A-outer", "w/P/A-outer"),
        "w/P/joiner-A-east-south": ("w/P/A-inner-east", "w/P/A-inner-west"),
        "w/P/joiner-B-east-north": ("w/P/B-inner-east", "w/P/B-inner-west"),
        "w/P/joiner-B-east-south": ("w/P/B-outer", "w/P/B-outer"),
    }


def test_a_wye_joins_left_to_right() -> None:
    """Both legs of a turnout joined: a reversing loop, whose rails change sides.

    Seen from the points, the left rail of the through leg comes back as the right
    rail of the diverging one.
    """
    text = (
        HEAD
        + '[[module]]\nname="m"\njoins=[["T/through", "T/diverging"]]\n'
        + '[[module.piece]]\nname="T"\nkind="turnout"\nfamily="insulated frog, all live"\n'
    )
    layout = layout_of(text)
    piece = layout.pieces[0].piece
    ends = {end.name: end for end in piece.ends}
    met = joiners(layout)
    through, diverging = ends["through"], ends["diverging"]
    assert met["m/T/joiner-through-north"] == (f"m/T/{through.north}", f"m/T/{diverging.south}")
    assert met["m/T/joiner-through-south"] == (f"m/T/{through.south}", f"m/T/{diverging.north}")


def test_joins_within_a_module_and_by_name() -> None:
    text = ONE + BRANCH + '[[join]]\na = "one/P/east"\nb = "fork/T/points"\n'
    layout = layout_of(text)
    ends = {end.id: layout.ends[end.joined].id for end in layout.ends if end.joined >= 0}
    assert ends == {
        "one/P/east": "fork/T/points",
        "fork/T/points": "one/P/east",
        "fork/T/through": "fork/main/west",
        "fork/main/west": "fork/T/through",
        "fork/T/diverging": "fork/side/west",
        "fork/side/west": "fork/T/diverging",
    }
    assert "one/P/joiner-east-north" in joiners(layout)


def test_ends_given_from_north_to_south() -> None:
    text = (
        ONE.replace('name = "one"', 'name = "one"\nends.east = ["Q/east", "P/east"]')
        + '[[module.piece]]\nname = "Q"\nkind = "straight"\nlength_mm = 200\n'
        + ONE[ONE.index("[[module]]") :].replace('"one"', '"two"')
        + '[[module.piece]]\nname = "Q"\nkind = "straight"\nlength_mm = 200\n'
        + line(["one", "two"], [], False)
    )
    assert joiners(layout_of(text))["one/Q/joiner-east-north"] == ("one/Q/north", "two/P/north")


Point = tuple[float, float]


def rail_points(layout: Layout, turned: set[str]) -> dict[tuple[str, str], list[Point]]:
    """Where the rail ends of each section lie on the floor, by (section, end of piece).

    Each board is 310 mm long and turns about the middle of its two tracks; this
    knows nothing of joints, only of drawings.
    """
    found: dict[tuple[str, str], list[Point]] = {}
    for place, placed in enumerate(layout.pieces):
        gauge = placed.piece.gauge_mm
        middle = sum(end.y_mm for end in placed.piece.ends) / len(placed.piece.ends)
        for end in placed.piece.ends:
            for section, y in ((end.north, gauge / 2), (end.south, -gauge / 2)):
                x, across = end.x_mm, end.y_mm + y - middle
                if placed.module in turned:
                    x, across = 310.0 - x, -across
                key = (f"{placed.id}/{section}", f"{placed.id}/{end.name}")
                found.setdefault(key, []).append((310.0 * place + x, across))
    return found


@settings(max_examples=40, deadline=None)
@given(
    st.lists(
        st.tuples(st.booleans(), st.sampled_from(["scissors crossover", "single crossover"])),
        min_size=2,
        max_size=6,
    ),
    st.booleans(),
)
def test_rails_meet_where_they_lie(boards: list[tuple[bool, str]], ring: bool) -> None:
    """Every joiner joins two rail ends that lie in the same place, and all do meet."""
    names = [f"m{n}" for n in range(len(boards))]
    turned = [name for name, (round_, _) in zip(names, boards, strict=True) if round_]
    text = HEAD + "".join(board(n, kind) for n, (_, kind) in zip(names, boards, strict=True))
    layout = layout_of(text + line(names, turned, ring))
    points = rail_points(layout, set(turned))
    whole = 310.0 * len(boards)

    def spots(section: str) -> set[Point]:
        return {
            (round(x, 3) % whole, round(y, 3))
            for (name, _), places in points.items()
            if name == section
            for x, y in places
        }

    met = joiners(layout)
    assert len(met) == 4 * (len(boards) - (0 if ring else 1))
    for one, other in met.values():
        assert spots(one) & spots(other), (one, other)
    sides: dict[str, int] = {}
    for name in met:
        sides[name.rsplit("-", 1)[1]] = sides.get(name.rsplit("-", 1)[1], 0) + 1
    assert sides["north"] == sides["south"]
