"""The vocabulary: text first; dashes; cameras; SVG that any reader takes."""

from __future__ import annotations

import itertools
from dataclasses import replace
from math import hypot
from xml.etree import ElementTree

from hypothesis import given
from hypothesis import strategies as st

from tests.viewer.demo import CLUB, LOOPS, case_of
from viewer.chart import chart_svg
from viewer.draw.set_out import sheet_of
from viewer.draw.wires import draw_wires
from viewer.look import LIGHT
from viewer.picture import as_text, moment_of, setting_svg
from viewer.place.lines import places_along
from viewer.scene.camera import Camera, clear_place, fitted, flat, nearest_on
from viewer.scene.dashes import RHYTHM, dashes
from viewer.scene.scene import About, BlockRoom, Lettering, Style, TextScene
from viewer.scene.svg import SvgScene

places = st.tuples(st.floats(-500, 500), st.floats(-500, 500))
everywhere = (-1e6, -1e6, 1e6, 1e6)


def test_the_first_scene_writes_what_is_drawn() -> None:
    scene = TextScene()
    scene.line(((0, 0), (10, 5)), Style("pole 0"), About("rail", "b/p/north", "cab A+"))
    scene.words((1, 2), "it's", Lettering(), About("note"))
    assert scene.lines == [
        "line rail 'b/p/north' is 'cab A+': pole 0 solid at 0.0,0.0 10.0,5.0",
        "words note: ink 'it\\'s' at 1.0,2.0",
    ]


@given(st.lists(places, min_size=2, max_size=6), st.sampled_from(sorted(RHYTHM)))
def test_dashes_cover_their_share_of_a_line(line: list[tuple[float, float]], name: str) -> None:
    """What is drawn is never more than the line, nor less than its rhythm's share of it."""
    rhythm = RHYTHM[name]  # type: ignore[index]
    long = sum(hypot(b[0] - a[0], b[1] - a[1]) for a, b in itertools.pairwise(line))
    drawn = sum(
        hypot(b[0] - a[0], b[1] - a[1]) for a, b in dashes(line, rhythm, 2.0, everywhere)
    )
    share, period = sum(rhythm[::2]) / sum(rhythm), sum(rhythm) * 2.0
    assert drawn <= long + 1e-6
    assert abs(drawn - share * long) <= period + 1e-6


@given(st.lists(places, min_size=2, max_size=5), places, places)
def test_dashes_do_not_move_when_less_is_seen(
    line: list[tuple[float, float]], one: tuple[float, float], other: tuple[float, float]
) -> None:
    """Each dash drawn for a part of the view is a piece of one drawn for all of it."""
    seen = (min(one[0], other[0]), min(one[1], other[1]), max(one[0], other[0]),
            max(one[1], other[1]))  # fmt: skip
    whole = list(dashes(line, RHYTHM["dashes"], 3.0, everywhere))
    for a, b in dashes(line, RHYTHM["dashes"], 3.0, seen):
        middle = (a[0] + b[0]) / 2.0, (a[1] + b[1]) / 2.0
        assert min(_off(middle, c, d) for c, d in whole) < 1e-4


def _off(p: tuple[float, float], a: tuple[float, float], b: tuple[float, float]) -> float:
    dx, dy = b[0] - a[0], b[1] - a[1]
    square = dx * dx + dy * dy
    t = 0.0 if square == 0 else ((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / square
    t = min(1.0, max(0.0, t))
    return hypot(a[0] + t * dx - p[0], a[1] + t * dy - p[1])


@given(places, places, st.floats(0.01, 50), st.floats(0.2, 5))
def test_a_camera_goes_there_and_back_and_zooms_about_the_pointer(
    at: tuple[float, float], pixel: tuple[float, float], scale: float, factor: float
) -> None:
    camera = Camera(at[0], at[1], scale, 10.0, 20.0, 800.0, 600.0)
    x, y = camera.to_mm(camera.to_px(pixel))
    assert abs(x - pixel[0]) < 1e-6 and abs(y - pixel[1]) < 1e-6
    nearer = camera.zoomed(factor, pixel, 1e-9, 1e9)
    x, y = nearer.to_px(camera.to_mm(pixel))
    assert abs(x - pixel[0]) < 1e-3 and abs(y - pixel[1]) < 1e-3


def test_blocks_of_text_keep_clear_of_each_other_and_of_what_they_speak_of() -> None:
    camera = fitted((0, 0, 800, 600), 0, 0, 800, 600, 0.0)
    taken: list[tuple[float, float, float, float]] = []
    for _ in range(4):
        clear_place(camera, (400, 300), (200, 80), taken, BlockRoom(clear_of=[(400, 300)]))
    for k, a in enumerate(taken):
        assert a[0] >= 0 and a[2] <= 800 and a[1] >= 0 and a[3] <= 600
        assert not (a[0] < 400 < a[2] and a[1] < 300 < a[3])
        for b in taken[k + 1 :]:
            assert a[2] <= b[0] or a[0] >= b[2] or a[3] <= b[1] or a[1] >= b[3]


def test_svg_is_well_formed_and_names_are_escaped() -> None:
    scene = SvgScene(flat(0, 0, 100, 50), LIGHT)
    evil = '<script>alert("&")</script>'
    scene.line(((0, 0), (5, -5)), Style("ink"), About("rail", evil, evil))
    scene.words((0, 0), evil, Lettering(box="ground"), About("note", evil))
    scene.block((50, -20), [evil, "two"], About("cause", evil))
    text = scene.text(evil, evil)
    root = ElementTree.fromstring(text)
    assert root.attrib["role"] == "img"
    assert "<script" not in text
    assert evil in "".join(root.itertext())


def test_the_same_picture_as_text_and_as_svg() -> None:
    """Every rail that the text tells is an element of the SVG, with its state."""
    case = case_of(LOOPS)
    text = as_text(case)
    svg = setting_svg(case, legend=False)
    titles = {t.text for t in ElementTree.fromstring(svg).iter() if t.tag.endswith("title")}
    for who, states in text.states("rail").items():
        assert f"rail {who} {next(iter(states))}" in titles


def test_no_line_reaches_beyond_its_ends() -> None:
    """A bed with a round end would cover the rails of the piece before: a gap that is none."""
    svg = setting_svg(case_of(CLUB), legend=False)
    assert "stroke-linecap" not in svg and "<polyline" in svg


def test_the_chart_of_states_draws_every_setting() -> None:
    root = ElementTree.fromstring(chart_svg(case_of(CLUB)))
    words = [t.text or "" for t in root.iter() if t.tag.endswith("text")]
    text = " ".join("".join(t.itertext()) for t in root.iter() if t.tag.endswith("text"))
    assert words and all(f"{k}. north junction" in text for k in (1, 2, 3, 4))


def test_the_same_picture_is_the_same_bytes() -> None:
    assert setting_svg(case_of(CLUB)) == setting_svg(case_of(CLUB))


def test_a_block_goes_where_it_covers_less_of_the_track() -> None:
    """Below its place lies a row of track, beside it nothing does."""
    camera = fitted((0, 0, 800, 600), 0, 0, 800, 600, 0.0)
    track = [(300.0 + 10.0 * k, 250.0) for k in range(20)]
    x, y = clear_place(camera, (400, 300), (200, 80), [], BlockRoom(rather_not=track))
    assert not any(x < camera.to_px(p)[0] < x + 200 and y < camera.to_px(p)[1] < y + 80
                   for p in track)  # fmt: skip


def test_a_block_stays_where_it_is_when_all_places_are_alike() -> None:
    """One covered place more or less is not worth a long way."""
    camera = fitted((0, 0, 800, 600), 0, 0, 800, 600, 0.0)
    assert clear_place(camera, (400, 300), (200, 80), []) == (300.0, 300.0)
    one = BlockRoom(rather_not=[(400.0, 260.0)])
    x, y = clear_place(camera, (400, 300), (200, 80), [], one)
    assert abs(x - 300.0) <= 210.0 and abs(y - 300.0) <= 90.0


def test_a_low_window_shows_the_first_lines_of_a_block() -> None:
    scene = SvgScene(flat(0, 0, 400, 50), LIGHT)
    scene.block((200, -20), ["one", "two", "three", "four"], About("cause", "t"))
    text = scene.text("t")
    assert "one" in text and "four" not in text


def test_a_block_is_tied_to_what_it_speaks_of() -> None:
    """The line ends at the edge of the box that is nearest."""
    assert nearest_on((0.0, 30.0), (10.0, 20.0, 50.0, 40.0)) == (10.0, 30.0)
    scene = TextScene()
    scene.block((5, 5), ["a"], About("cause", "t"), BlockRoom(tie=(0.0, 0.0)))
    assert [about.what for _, about, _ in scene.marks] == ["tie", "cause"]


def test_places_along_a_line_with_a_corner() -> None:
    line = ((0.0, 0.0), (25.0, 0.0), (25.0, 30.0))
    assert places_along(line, 10.0) == [
        (0.0, 0.0), (10.0, 0.0), (20.0, 0.0), (25.0, 5.0), (25.0, 15.0), (25.0, 25.0)
    ]  # fmt: skip
    assert places_along(((0.0, 0.0),), 10.0) == []


def test_names_of_feeders_give_way_to_rails_where_all_is_small() -> None:
    """On a layout far away they would hide more than they tell."""
    case = case_of(CLUB)
    sheet, moment = sheet_of(case.layout), moment_of(case, {})
    for scale, named in ((1.0, True), (0.1, False)):
        scene = SvgScene(Camera(0.0, 0.0, scale, 0.0, 0.0, 9000.0, 9000.0), LIGHT)
        draw_wires(scene, sheet, moment)
        assert (">cab A+<" in scene.text("t")) is named


def test_a_feeder_comes_from_the_side_of_the_rail_that_it_feeds() -> None:
    """Else a name would stand beside the rail of the other pole, and the wires would cross."""
    case = case_of(CLUB)
    sheet, moment = sheet_of(case.layout), moment_of(case, {})
    pairs = [(t, t.far[1] - t.at[1]) for t in sheet.feeders if t.far[1] != t.at[1]]
    assert pairs
    for thing, apart in pairs:
        other_way = replace(thing, at=thing.far, far=thing.at)
        for drawn, toward in ((thing, apart), (other_way, -apart)):
            scene = TextScene()
            draw_wires(scene, replace(sheet, feeders=(drawn,), joiners=(), breaks=()), moment)
            line = next(text for text in scene.lines if text.startswith("line feeder"))
            first, last = (at.split(",") for at in line.rpartition(" at ")[2].split(" "))
            assert (float(last[1]) - float(first[1])) * toward < 0
