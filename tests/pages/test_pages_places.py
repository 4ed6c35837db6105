"""Words for places: what a modeller would say, no two alike, no id in them.

The vocabulary is that of the trade: stock rail, blade, closure rail, frog (common
practice, no source).  That words are unique is a rule of this project.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, get_args

import pytest
import tomli_w
from hypothesis import given, settings
from hypothesis import strategies as st

from sim.layout.assemble import assemble
from sim.layout.model import Layout
from sim.pages import part_words
from sim.pages.part_words import name_of, names_in
from sim.pages.places import Ids, Names, spoken
from sim.pieces.described import from_data, to_data
from sim.pieces.kinds import KINDS, build, roles_of
from sim.pieces.model import Piece
from sim.pieces.parameters import PieceError
from sim.pieces.roles import Part, parts_of
from sim.scenario.read import read_scenario, scenario_from_text
from tests.pieces.cases import CAN_CUT, FAMILIES, crossover, pieces, scissors, turnout
from tests.scenario.texts import HEAD

CLUB, BRANCH = "scenarios/club-loops.toml", "scenarios/branch-terminus.toml"


def layout_of(path: str, fix: str | None = None) -> Layout:
    return assemble(read_scenario(path), fix).layout


@pytest.fixture(scope="module")
def club() -> Names:
    return Names([layout_of(CLUB)])


@pytest.fixture(scope="module")
def branch() -> Names:
    return Names([layout_of(BRANCH)])


# --- what a modeller would say ------------------------------------------------------


@pytest.mark.parametrize(
    ("id", "full", "bare"),
    [
        ("A-outer", "outer rail of track A", "A outer"),
        ("A-inner-west", "inner rail of track A, west half", "A inner west"),
        ("A-mid-west", "frog of the north-west turnout", "AW frog"),
        ("B-mid-east", "frog of the south-east turnout", "BE frog"),
    ],
)
def test_sections_of_a_scissors(club: Names, id: str, full: str, bare: str) -> None:
    section = f"south junction/scissors/{id}"
    assert club.section(section) == f"{full}, scissors on south junction"
    assert club.section(section, "bare") == bare
    assert club.section(section, "row") == f"{bare}, scissors on south junction"


@pytest.mark.parametrize(
    ("id", "words"),
    [
        ("gap-A-centre", "centre gap of track A"),
        ("gap-X1-north", "gap of the diagonal from AW to BE, north rail"),
        ("AW-diverging", "blade contact under lever AW, set diverging"),
        ("joiner-A-east-north", "joiner of the north rail at the east end of track A"),
    ],
)
def test_elements_of_a_scissors(club: Names, id: str, words: str) -> None:
    said = club.element(f"south junction/scissors/{id}")
    assert said == f"{words}, scissors on south junction"


def test_what_moves_and_where_a_train_goes(club: Names, branch: Names) -> None:
    assert club.lever("north junction/scissors/AW") == "lever AW of scissors on north junction"
    gang = club.control("north junction/scissors/all")
    assert gang == "levers AW, AE, BW and BE, scissors on north junction"
    across = club.route("north junction/scissors/A-west-B-east")
    assert across == "diagonal from AW to BE, scissors on north junction"
    assert club.route("far board/A/west-east") == "A on far board"
    assert branch.lever("throat/points/lever") == "lever of points on throat"
    assert branch.control("throat/points/lever") == "lever of points on throat"
    assert branch.route("throat/points/points-through") == "through route of points on throat"
    assert branch.end("throat/points/diverging") == "end of the diverging leg, points on throat"


def test_wires_and_poles(club: Names) -> None:
    assert club.element("drop A+") == "feeder drop A, plus wire"
    assert club.element("drop A-", "row") == "drop A-"
    assert (club.pole("cab A+"), club.pole("cab A+", "row")) == ("plus of cab A", "cab A+")
    assert club.section("cab A+") == "plus of cab A"  # a node is a section or a pole
    with_fix = Names([layout_of(CLUB, "two jumpers")])
    assert with_fix.element("north A inner") == "jumper north A inner"
    assert with_fix.part("north A inner") == "jumper north A inner"
    assert with_fix.part("cab A") == "cab A"


def test_a_piece_alone_on_its_board_is_called_by_the_board(branch: Names) -> None:
    assert branch.section("line/plain/north") == "north rail of line"
    assert branch.end("hidden siding/stop/buffer") == "buffer stop of hidden siding"
    assert branch.piece("line/plain") == "line"
    assert branch.piece("station/A") == "A on station"


def test_boards_that_stand_turned_round_are_told_once_they_are_named() -> None:
    names = Names([layout_of(BRANCH)])
    names.section("line/plain/north")
    assert names.notes() == ()
    names.section("hidden siding/stop/north", "bare")
    assert names.notes() == ()  # nothing was said of where
    names.section("hidden siding/stop/north")
    (note,) = names.notes()
    assert "hidden siding" in note


@pytest.mark.parametrize(
    ("family", "said"),
    [
        (
            "live frog",
            ["straight stock rail", "curved stock rail", "frog",
             "blade contact, set through", "blade contact, set diverging"],
        ),
        (
            "insulated frog, power routing",
            ["blade, through route", "closure rail, diverging route",
             "rail past the frog, diverging leg", "gap across the plastic frog, through route",
             "hinge of the blade, through route", "link under the frog, through route",
             "blade contact, set through"],
        ),
        (
            "powered frog",
            ["frog", "gap before the frog, diverging route", "gap past the frog, through route",
             "bond of stock and closure rail, through route",
             "frog contact, set through"],
        ),
    ],
)  # fmt: skip
def test_a_turnout_in_its_families(family: str, said: list[str]) -> None:
    words = {name.long for name in names_in(turnout(family=family)).values()}
    assert words >= set(said)


def test_where_both_legs_curve_no_rail_is_called_straight() -> None:
    names = names_in(turnout(hand="symmetrical", family="insulated frog, all live"))
    words = [name.long for (sort, _), name in names.items() if sort != "contact"]
    assert "north stock rail" in words
    assert "rail past the frog, south leg" in words
    assert not [said for said in words if "straight" in said or "through" in said]


def test_rails_that_are_one_metal_with_a_frog_say_so() -> None:
    one = names_in(crossover(family="live frog"))["section", "A-inner-east"].long
    assert one == "inner rail of track A, east half, with the frog of the north-west turnout"
    mid = names_in(scissors(family="live frog", centre_gap=False))["section", "A-mid"].long
    assert mid == "inner rail of track A between its frogs, with both frogs"
    apart = names_in(scissors(family="powered frog"))
    assert apart["section", "AW-F"].long == "frog of the north-west turnout"
    west = "inner rail of track A between its frogs, west of the centre gap"
    assert apart["section", "A-mid-west"].long == west


# --- no two alike, no id, nothing without a role ------------------------------------


def every_switch() -> Iterator[Piece]:
    """Every family in every piece with blades, in all that changes its parts."""
    for family in FAMILIES:
        for cut in (False, True) if family in CAN_CUT else (False,):
            for hand in ("left", "right", "symmetrical"):
                yield turnout(family=family, hand=hand, frog_gaps=cut)
            for gangs in ("both", "single"):
                yield crossover(family=family, frog_gaps=cut, gangs=gangs)
        for centre in (False, True):
            for corners, gangs in (("plastic", "all"), ("fed", "per diagonal")):
                yield scissors(family=family, centre_gap=centre, corners=corners, gangs=gangs)


def check_names(piece: Piece) -> None:
    names, roles = names_in(piece), roles_of(piece)
    parts = list(parts_of(piece))
    assert list(roles) == parts, "every part of a library piece has a role"
    assert list(names) == parts
    for key, role in roles.items():
        assert names[key] == name_of(role), "no words had to be told apart"
    for said in ([n.long for n in names.values()], [n.short for n in names.values()]):
        again = {words for words in said if said.count(words) > 1}
        # a piece of one route is that route: its words are those of the piece
        assert not again
    own = {name for sort, name in parts if "-" in name or name in ("SN", "BN", "HT")}
    for name in names.values():
        assert "/" not in name.long
        assert not own & set(name.long.replace(",", "").split())


@pytest.mark.parametrize("number", range(len(list(every_switch()))))
def test_every_part_of_every_switch_has_words_of_its_own(number: int) -> None:
    check_names(list(every_switch())[number])


@given(pieces())
@settings(max_examples=60, deadline=None)
def test_every_part_of_any_library_piece_has_words_of_its_own(piece: Piece) -> None:
    check_names(piece)


def test_every_part_that_a_role_may_be_has_a_phrase() -> None:
    assert set(part_words.PHRASES) == set(get_args(Part))


def test_every_kind_of_the_library_says_what_its_parts_are() -> None:
    more: dict[str, dict[str, object]] = {
        "straight": {"length_mm": 100.0},
        "curve": {"radius_mm": 300.0, "angle_deg": 30.0},
        "insulated straight": {"length_mm": 100.0},
        "siding end": {"length_mm": 100.0},
        "single crossover": {"track_centres_mm": 33.0},
        "scissors crossover": {"track_centres_mm": 33.0},
    }
    for kind in KINDS:
        check_names(build(kind, {"gauge_mm": 9.0} | more.get(kind, {})))


# --- pieces described rail by rail --------------------------------------------------


def described(words: dict[str, str]) -> dict[str, Any]:
    return to_data(turnout()) | {"kind": "yard ladder", "words": words}


def test_a_described_piece_is_told_in_its_own_words() -> None:
    piece = from_data(described({"BN": "crossing nose", "through": "slide of road 1"}))
    names = names_in(piece)
    assert names["section", "BN"].long == "crossing nose"
    assert names["section", "SN"].long == "SN"  # the name that its builder gave
    assert names["contact", "through"].long == "slide of road 1"
    assert names["contact", "diverging"].long == "contact diverging"
    assert names["end", "through"].long == "end through"
    assert names["lever", "lever"].long == "lever"
    assert from_data(to_data(piece)) == piece
    assert len({name.long for name in names.values()}) == len(names)


def test_words_that_two_parts_share_are_told_apart() -> None:
    piece = from_data(described({}) | {"words": {"SN": "contact through"}})
    names = names_in(piece)
    assert names["section", "SN"].long == "contact through (section)"
    assert names["contact", "through"].long == "contact through (contact)"


def test_words_of_nothing_and_words_given_twice_are_problems() -> None:
    with pytest.raises(PieceError) as caught:
        from_data(described({"nose": "tip", "SN": "outer", "SS": "outer"}))
    fields = [field for field, _, _ in caught.value.problems]
    assert fields == ["words.nose", "words"]


# --- whole layouts -------------------------------------------------------------------

ODD = ["A", "B", "A on B", "B of A", "1", "2", "frog", "north rail", "x, A", "o'clock", "Ä–1"]
KIND: dict[str, dict[str, object]] = {
    "straight": {"length_mm": 100.0},
    "turnout": {},
    "single crossover": {"track_centres_mm": 33.0, "family": "powered frog"},
    "scissors crossover": {"track_centres_mm": 33.0},
    "diamond crossing": {},
    "yard ladder": {},
}


@st.composite
def layouts(draw: st.DrawFn) -> Layout:
    """Boards with pieces of any kind, names that could be misread, wires between them."""
    boards = draw(st.lists(st.sampled_from(ODD), min_size=1, max_size=4, unique=True))
    modules, sections = [], []
    for board in boards:
        names = draw(st.lists(st.sampled_from(ODD), min_size=1, max_size=3, unique=True))
        kinds = [draw(st.sampled_from(sorted(KIND))) for _ in names]
        table = [{"name": n, "kind": k} | KIND[k] for n, k in zip(names, kinds, strict=True)]
        modules.append({"name": board, "piece": table})
        straight = [n for n, k in zip(names, kinds, strict=True) if k == "straight"]
        sections += [f"{board}/{name}" for name in straight]
    wires: dict[str, Any] = {"supply": [{"name": "cab"}, {"name": "A"}]}
    if sections:
        names = draw(st.lists(st.sampled_from([*ODD, "jumper 1"]), max_size=3, unique=True))
        ends = {"from": f"{sections[0]}/north", "to": f"{sections[0]}/south"}
        wires["jumper"] = [{"name": name} | ends for name in names]
        ends = {"plus": f"{sections[-1]}/north", "minus": f"{sections[-1]}/south"}
        wires["feeder"] = [{"name": "drop", "supply": "cab"} | ends]
    ladder = described({"BN": "crossing nose, of BN", "SN": "north rail of A"})
    data = {"module": modules, "piece": [ladder]} | wires
    return assemble(scenario_from_text(HEAD + tomli_w.dumps(data))).layout


def all_words(names: Names, layout: Layout) -> list[str]:
    gangs = [c.id for c in layout.controls if len(c.levers) > 1]
    return [
        *(names.section(node) for node in layout.nodes),
        *(names.element(element.id) for element in layout.elements),
        *(names.lever(lever.id) for lever in layout.levers),
        *(names.control(gang) for gang in gangs),
        *(names.route(route.id) for route in layout.routes),
        *(names.end(end.id) for end in layout.ends),
        *(names.pad(pad) for pad, _ in layout.pads),
    ]


@given(layouts())
@settings(max_examples=60, deadline=None)
def test_no_two_parts_of_a_layout_have_the_same_words(layout: Layout) -> None:
    said = all_words(Names([layout]), layout)
    assert len(set(said)) == len(said)
    assert not [words for words in said if "/" in words or not words]


@pytest.mark.parametrize("path", [CLUB, BRANCH, "scenarios/well-fed.toml"])
def test_the_demos_with_every_fix(path: str) -> None:
    scenario = read_scenario(path)
    cases = [assemble(scenario, fix).layout for fix in (None, *scenario.fix_names)]
    together = Names(cases)
    for layout in cases:
        said = all_words(together, layout)
        assert len(set(said)) == len(said)
        assert not [words for words in said if "/" in words]


def test_one_id_has_the_same_words_as_built_and_with_fixes() -> None:
    """A length that a fix adds makes a lonely piece one of two: both are named so."""
    added = '[[fix]]\nname = "longer"\n[[fix.added_length]]\nat = "one/P/east"\nname = "Q"\n'
    added += "length_mm = 62\n"
    text = HEAD + '[[module]]\nname = "one"\n[[module.piece]]\nname = "P"\nkind = "straight"\n'
    scenario = scenario_from_text(text + "length_mm = 100\n" + added)
    built, fixed = assemble(scenario).layout, assemble(scenario, "longer").layout
    assert Names([built]).section("one/P/north") == "north rail of one"
    assert Names([built, fixed]).section("one/P/north") == "north rail of P on one"


def test_changeovers_of_a_fix() -> None:
    fix = (
        '[[fix]]\nname = "switch"\n[[fix.changeover]]\nlever = "one/P/lever"\n'
        'section = "one/P/F"\nto = { through = "one/P/SS", diverging = "one/P/SN" }\n'
    )
    text = HEAD + '[[module]]\nname = "one"\n[[module.piece]]\nname = "P"\nkind = "turnout"\n'
    text += 'family = "powered frog"\n'
    names = Names([assemble(scenario_from_text(text + fix), "switch").layout])
    said = names.element("one/P/changeover-F-diverging")
    assert said == "changeover contact of the frog, set diverging, one"


def test_pieces_that_are_alike_are_named_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """The cost of a name does not grow with the boards: nothing is named twice."""
    text = HEAD + "".join(
        f'[[module]]\nname = "board {n}"\n[[module.piece]]\nname = "P"\nkind = "turnout"\n'
        for n in range(200)
    )
    layout = assemble(scenario_from_text(text)).layout
    named: list[Piece] = []
    monkeypatch.setattr(
        part_words, "names_in", lambda piece: (named.append(piece), names_in(piece))[1]
    )
    names = Names([layout])
    assert not named
    said = all_words(names, layout)
    assert len(set(said)) == len(said)
    assert len(named) == 1


# --- ids, and names that could be misread ---------------------------------------------


def test_ids_are_left_as_they_are() -> None:
    ids, section = Ids(), "south junction/scissors/A-mid-west"
    for tell in (ids.section, ids.element, ids.lever, ids.route, ids.end, ids.pad, ids.part):
        assert tell(section) == section
        assert tell(section, "bare") == "A-mid-west"
    assert (ids.piece("a/b"), ids.board("1"), ids.pole("cab+")) == ("a/b", "1", "cab+")
    assert ids.notes() == ()


def test_an_id_of_nothing_is_left_as_it_is(club: Names) -> None:
    assert club.section("nowhere/x/y") == "nowhere/x/y"
    assert club.element("") == ""


@pytest.mark.parametrize(
    ("name", "said"),
    [("far board", "far board"), ("A on B", "'A on B'"), ("7", "'7'"), ("a, b", "'a, b'")],
)
def test_names_that_could_be_misread_are_marked(name: str, said: str) -> None:
    assert spoken(name) == said
