"""The picture and the chart never disagree, nor either with the tests' brute-force twin.

Every setting of every library piece is drawn as text, and the state of every
section is read back from the drawing calls.
"""

from __future__ import annotations

from itertools import product
from pathlib import Path

import pytest

from sim.layout.model import PLASTIC
from sim.pieces.model import Piece
from sim.power.chart import chart
from tests import twin
from tests.checked import read_scenario
from tests.viewer.demo import CLUB, TERMINUS
from tests.viewer.demo import case_of as demo_case
from tests.viewer.one_piece import case_of, feeds_of, library
from viewer.draw.set_out import sheet_of
from viewer.draw.track import Detail, draw_piece
from viewer.scene.scene import Style, TextScene
from viewer.state.moment import MOVING, Moment, setting
from viewer.state.nets import Nets

LIBRARY = dict(library())


#: How each state has to look, whatever the drawing code says of it.
LOOKS_LIKE = {
    "cab+": ("pole 0", "solid"),
    "cab-": ("pole 1", "long dashes"),
    "floating": ("floating", "dots"),
    "short": ("short", "zigzag"),
}


def drawn(sheet: object, moment: Moment) -> dict[str, str]:
    """What the picture says of every section, read back from its drawing calls.

    What it says in words and what it shows by colour role and pattern must agree.
    """
    scene = TextScene()
    draw_piece(scene, sheet.pieces[0], moment, Detail(pads=True))  # type: ignore[attr-defined]
    found: dict[str, str] = {}
    for what in ("rail", "blade"):
        for who, states in scene.states(what).items():
            name = who.rpartition("/")[2]
            assert len(states | {found.get(name, next(iter(states)))}) == 1, who
            found[name] = next(iter(states))
    for _, about, style in scene.marks:
        if about.what in ("rail", "blade"):
            assert isinstance(style, Style)
            assert (style.role, style.pattern) == LOOKS_LIKE[about.state], about
    return found


def settings(piece: Piece) -> list[dict[str, str]]:
    """Every setting of every lever by itself, moving included."""
    ways = [(*x.positions, "moving") for x in piece.levers]
    names = [x.name for x in piece.levers]
    return [dict(zip(names, choice, strict=True)) for choice in product(*ways)]


@pytest.mark.parametrize("name", LIBRARY)
def test_every_setting_is_drawn_as_the_twin_says(name: str) -> None:
    """Fed from the first end, from the last, and from all, which shorts live frogs."""
    piece = LIBRARY[name]
    for fed in dict.fromkeys((piece.ends[0].name, piece.ends[-1].name, "all")):
        case, _ = case_of(piece, fed)
        # Feeders of one pole join their sections; so each pole is told by its first.
        feeds = feeds_of(piece, fed)
        feeders = {feeds[0][0]: "cab+", feeds[1][0]: "cab-"}
        joins = [(section, feeds[pole == "cab-"][0]) for section, pole in feeds]
        nets, sheet = Nets(case.layout), sheet_of(case.layout)
        for levers in settings(piece):
            positions = [
                MOVING if levers[x.name] == "moving" else x.positions.index(levers[x.name])
                for x in piece.levers
            ]
            expected = twin.poles(piece, levers, feeders, joins)
            assert drawn(sheet, setting(nets, positions)) == expected, (fed, levers)


def test_the_library_shows_every_state() -> None:
    """The walk above meets shorts too: a live frog fed from all its ends."""
    piece = LIBRARY["turnout live frog right False"]
    case, _ = case_of(piece, "all")
    nets, sheet = Nets(case.layout), sheet_of(case.layout)
    assert "short" in drawn(sheet, setting(nets, [0])).values()


@pytest.mark.parametrize("path", [CLUB, TERMINUS], ids=lambda p: p.stem)
def test_a_whole_layout_is_drawn_as_the_twin_says(path: Path) -> None:
    """As built and with every fix, two supplies in the loops: poles and shorts."""
    for fix in (None, *read_scenario(str(path)).fix_names):
        layout = demo_case(path, fix).layout
        nets, sheet = Nets(layout), sheet_of(layout)
        for choice in product(*(c.positions for c in layout.controls)):
            positions = [x.rest for x in layout.levers]
            for control, word in zip(layout.controls, choice, strict=True):
                for lever in control.levers:
                    positions[lever] = layout.levers[lever].positions.index(word)
            closed = [
                i for i, e in enumerate(layout.elements)
                if e.kind not in ("gap", "contact")
                or any(all(positions[x] == p for x, p in clause) for clause in e.when)
            ]  # fmt: skip
            moment = setting(nets, positions)
            expected = twin.LayoutTwin(layout, closed)
            bad = {f"{layout.supplies[s].name}{w}" for s in expected.shorted() for w in "+-"}
            scene = TextScene()
            for piece in sheet.pieces:
                draw_piece(scene, piece, moment, Detail())
            for node, name in enumerate(layout.nodes):
                states = scene.states("rail").get(name, set())
                poles = expected.fed_by(node)
                word = " and ".join(poles) or "floating"
                if bad.intersection(poles):
                    word = "short"
                assert states <= {word}, (fix, choice, name)


@pytest.mark.parametrize("name", LIBRARY)
def test_a_contact_made_open_is_drawn_as_the_twin_says(name: str) -> None:
    piece = LIBRARY[name]
    case, feeders = case_of(piece)
    nets, sheet = Nets(case.layout), sheet_of(case.layout)
    number = {e.id.rpartition("/")[2]: k for k, e in enumerate(case.layout.elements)}
    rest = {x.name: x.rest for x in piece.levers}
    positions = [x.positions.index(x.rest) for x in piece.levers]
    for contact in piece.contacts:
        expected = twin.poles(piece, rest, feeders, open_contacts=[contact.name])
        moment = setting(nets, positions, [number[contact.name]])
        assert drawn(sheet, moment) == expected, contact.name


@pytest.mark.parametrize("name", [n for n in LIBRARY if "scissors" in n or "turnout" in n])
def test_the_chart_says_the_same_of_sections_and_of_dead_stretches(name: str) -> None:
    case, _ = case_of(LIBRARY[name])
    layout = case.layout
    nets, sheet = Nets(layout), sheet_of(layout)
    for charted in chart(case, each=True).settings:
        if not charted.levers:
            continue
        words = dict(charted.levers)
        moment = setting(nets, [x.positions.index(words[x.id]) for x in layout.levers])
        shorted = {p for s in charted.shorts for p in s.poles}
        said = drawn(sheet, moment)
        for section, poles in charted.fed_by:
            word = "floating" if not poles else " and ".join(poles)
            word = "short" if shorted & set(poles) else word
            assert said[section.rpartition("/")[2]] == word, section
        scene = TextScene()
        draw_piece(scene, sheet.pieces[0], moment, Detail())
        bands = scene.states("dead stretch")
        for route in charted.routes:
            kinds = {d.kind for d in route.dead} if route.set else set()
            if route.set and route.state == "short":
                kinds |= {"short"}
            assert bands.get(route.route, set()) == kinds, route.route


def test_a_kind_of_dead_is_told_for_each_pair_of_rails() -> None:
    """Live frog, the leg not set: both its rails on one pole (the design's own table)."""
    case, _ = case_of(LIBRARY["turnout live frog right False"])
    moment = setting(Nets(case.layout), [0])
    verdicts = {
        (s.left, s.right): moment.power.verdict(s.left, s.right)
        for s in case.layout.routes[1].spans
    }
    assert "same pole" in verdicts.values()
    assert moment.power.verdict(PLASTIC, 0) == "insulated"
