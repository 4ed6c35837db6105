"""The worksheet drawn: mirrored underside, a page that needs nothing else, pages of PDF."""

from __future__ import annotations

import re
import shutil
from html.parser import HTMLParser
from itertools import combinations
from math import hypot
from pathlib import Path

import pytest

from sim.bench.worksheet.make import make_worksheet
from sim.bench.worksheet.model import Spot, Worksheet
from sim.layout.assemble import assemble
from sim.layout.project import Project
from sim.pieces.kinds import build
from sim.pieces.model import Face, Piece
from tests.checked import read_scenario, scenario_from_text
from tests.pieces.cases import FAMILIES, crossover, scissors, turnout
from viewer.scene.scene import About, Lettering, Line, Point, Style
from viewer.worksheet.drawing import draw_side
from viewer.worksheet.render import worksheet_html, worksheet_pdf

DEMO = "scenarios/club-loops.toml"


class Recorder:
    """A scene that keeps where everything is drawn."""

    def __init__(self) -> None:
        self.lines: list[tuple[About, Line]] = []
        self.discs: dict[str, Point] = {}
        self.filled: dict[str, bool] = {}
        self.texts: list[tuple[str, Point]] = []

    def line(self, line: Line, style: Style, about: About) -> None:
        self.lines.append((about, line))

    def area(self, line: Line, style: Style, about: About) -> None:
        self.lines.append((about, line))

    def disc(
        self, at: Point, radius_mm: float, least_px: float, style: Style, about: About,
        filled: bool = True,
    ) -> None:  # fmt: skip
        if about.what == "place":
            self.discs[about.who] = at
            self.filled[about.who] = filled

    def words(self, at: Point, text: str, lettering: Lettering, about: About) -> None:
        self.texts.append((text, at))

    def block(self, *rest: object) -> None:
        raise AssertionError("no blocks in a worksheet")

    def shows(self, size_mm: float) -> bool:
        return True


def pads_of(piece: Piece) -> list[Spot]:
    return [
        Spot(n, pad.name, pad.section, "p", pad.x_mm, pad.y_mm, pad.face, True, 2.0)
        for n, pad in enumerate(piece.pads, 1)
    ]


def drawn(piece: Piece, face: Face) -> Recorder:
    scene = Recorder()
    draw_side(scene, piece, pads_of(piece), (), face)  # type: ignore[arg-type]
    return scene


def turn(a: Point, b: Point, c: Point) -> float:
    """Positive where a, b, c go anticlockwise."""
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


PIECES = [turnout(), turnout(hand="left"), crossover(family=FAMILIES[3]), scissors()]


@pytest.mark.parametrize("piece", PIECES, ids=["right", "left", "crossover", "scissors"])
def test_the_underside_is_the_mirror_image_of_the_top(piece: Piece) -> None:
    """Turned over its long side: every three places change their hand, west stays left.

    The definition of a reflection: distances stay, orientation is reversed.
    """
    top, under = drawn(piece, "top"), drawn(piece, "underside")
    assert top.discs.keys() == under.discs.keys()
    for a, b, c in combinations(sorted(top.discs)[:12], 3):
        one = turn(top.discs[a], top.discs[b], top.discs[c])
        other = turn(under.discs[a], under.discs[b], under.discs[c])
        assert one == pytest.approx(-other, abs=1e-6)
    for who, (x, _) in top.discs.items():
        assert under.discs[who][0] == pytest.approx(x)
    for scene, up in ((top, "NORTH EDGE"), (under, "SOUTH EDGE")):
        at = dict(scene.texts)
        assert at["WEST"][0] < at["EAST"][0]
        assert max(("NORTH EDGE", "SOUTH EDGE"), key=lambda word: at[word][1]) == up


@pytest.mark.parametrize("face", ["top", "underside"])
def test_numbers_of_two_rails_stand_on_the_far_side_of_each(face: Face) -> None:
    """Pads on both rails of a straight at one place: a number between them would lie on
    the other rail's dot, and the iron would go to the wrong rail.  Literal: the rails of
    16.5 mm gauge are 8.25 mm from the middle."""
    piece = build("straight", {"gauge_mm": 16.5, "length_mm": 500.0})
    scene = Recorder()
    spots = [
        Spot(1, "north", "north", "p", 250.0, 8.25, "underside", True, 2.0),
        Spot(2, "south", "south", "p", 250.0, -8.25, "underside", True, 2.0),
        Spot(3, "west end", "north", "p", 0.0, 8.25, "top", False, 0.0),
        Spot(4, "east end", "north", "p", 500.0, 8.25, "top", False, 0.0),
    ]
    draw_side(scene, piece, spots, (), face)  # type: ignore[arg-type]
    at = dict(scene.texts)
    up = 1.0 if face == "top" else -1.0
    assert at["1"][1] * up > 8.25
    assert at["2"][1] * up < -8.25
    assert at["3"][0] < 0.0
    assert at["4"][0] > 500.0


@pytest.mark.parametrize("piece", PIECES, ids=["right", "left", "crossover", "scissors"])
def test_no_number_lies_on_another_place(piece: Piece) -> None:
    """By the drawing's own sizes: a dot is 0.2 gauges, a digit 0.75 high."""
    for face in ("top", "underside"):
        scene = drawn(piece, face)
        for text, (x, y) in scene.texts:
            for who, (dot_x, dot_y) in scene.discs.items():
                if text in scene.discs:
                    assert hypot(x - dot_x, y - dot_y) > piece.gauge_mm * 0.3, (text, who)


def test_rails_are_mirrored_with_the_places_on_them() -> None:
    piece = turnout()
    top, under = drawn(piece, "top"), drawn(piece, "underside")
    rails = [[line for about, line in s.lines if about.what == "rail"] for s in (top, under)]
    assert len(rails[0]) == len(rails[1]) > 0
    for one, other in zip(*rails, strict=True):
        assert [(x, -y) for x, y in one] == [(x, y) for x, y in other]


def test_dots_are_full_on_the_side_where_the_pad_is() -> None:
    piece = scissors()
    assert all(pad.face == "underside" for pad in piece.pads)
    assert not any(drawn(piece, "top").filled.values())
    assert all(drawn(piece, "underside").filled.values())


def page(name: str = "two jumpers") -> tuple[Worksheet, str]:
    scenario = read_scenario(DEMO)
    sheet = make_worksheet(Project(scenario), next(f for f in scenario.fix if f.name == name))
    return sheet, worksheet_html(sheet, assemble(scenario, name).layout, "gapwright worksheet")


class Checker(HTMLParser):
    """Counts tags and keeps text; fails on what is not closed."""

    VOID = ("meta", "link", "br", "rect", "polyline", "polygon", "circle", "path")

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.text: list[str] = []
        self.links: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.links += [v for k, v in attrs if k in ("src", "href") and v]
        if tag not in self.VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        return

    def handle_endtag(self, tag: str) -> None:
        if tag in self.VOID:
            return
        assert self.open and self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.text.append(data)


def test_the_page_is_whole_and_needs_nothing_from_outside() -> None:
    sheet, html = page()
    checker = Checker()
    checker.feed(html)
    assert not checker.open
    assert checker.links == ["data:,"]
    text = " ".join(checker.text)
    for wire in sheet.wires:
        assert wire.name in text
    for spot in sheet.spots:
        assert spot.words in text
    assert html.count("<svg") == 2 * len(sheet.pieces)
    assert "must read open" in text.lower() and "changed places" in text


def test_names_are_shown_as_they_are_never_as_markup() -> None:
    text = Path(DEMO).read_text(encoding="utf-8")
    text = text.replace('name = "two jumpers"', 'name = "<b>&two"')
    text = text.replace('name = "north A inner"', 'name = "<script>x"')
    scenario = scenario_from_text(text)
    fix = next(f for f in scenario.fix if f.name == "<b>&two")
    html = worksheet_html(
        make_worksheet(Project(scenario), fix), assemble(scenario, fix.name).layout, "x"
    )
    assert "<script" not in html and "<b>" not in html
    assert "&lt;script&gt;x" in html


@pytest.mark.slow
@pytest.mark.parametrize("name", ["two jumpers", "feeder lengths"])
def test_pages_of_the_pdf_hold_all_the_words_and_nothing_is_cut_off(name: str) -> None:
    """Rendered pages: no ink in the margin outside the page's own footer."""
    pytest.importorskip("weasyprint")
    pdfium = pytest.importorskip("pypdfium2")
    sheet, html = page(name)
    document = pdfium.PdfDocument(worksheet_pdf(html))
    words = ""
    for number in range(len(document)):
        one = document[number]
        words += one.get_textpage().get_text_bounded()
        image = one.render(scale=1.0).to_pil().convert("L")
        wide, high = image.size
        edge = round(8 * 72 / 25.4)  # the margins are 13 mm and more
        for box in ((0, 0, edge, high), (wide - edge, 0, wide, high), (0, 0, wide, edge)):
            assert image.crop(box).getextrema()[0] > 200
    flat = re.sub(r"\s+", "", words)
    for wire in sheet.wires:
        assert re.sub(r"\s+", "", wire.name) in flat
    for spot in sheet.spots:
        assert re.sub(r"\s+", "", spot.words) in flat


@pytest.mark.slow
@pytest.mark.parametrize("wide", [420, 1000, 1600])
def test_nothing_is_clipped_in_a_real_browser(wide: int, tmp_path: Path) -> None:
    playwright = pytest.importorskip("playwright.sync_api")
    axe = pytest.importorskip("axe_playwright_python.sync_playwright")
    chromium = shutil.which("chromium")
    if chromium is None:
        pytest.skip("no Chromium here")
    _, html = page("feeder lengths")
    file = tmp_path / "sheet.html"
    file.write_text(html, encoding="utf-8")
    with playwright.sync_playwright() as p:
        browser = p.chromium.launch(
            executable_path=chromium, args=["--no-sandbox", "--disable-gpu"]
        )
        # axe is put into the page as a script, which the page's own policy forbids.
        shown = browser.new_page(viewport={"width": wide, "height": 900})
        shown.goto(file.as_uri())
        over = shown.evaluate("document.documentElement.scrollWidth - window.innerWidth")
        assert over <= 0
        cut = shown.evaluate(
            """() => [...document.querySelectorAll('svg')].flatMap(svg => {
                 const box = svg.getBoundingClientRect();
                 return [...svg.querySelectorAll('text')].filter(t => {
                   const b = t.getBoundingClientRect();
                   return b.left < box.left - 1 || b.right > box.right + 1
                     || b.top < box.top - 1 || b.bottom > box.bottom + 1;
                 }).map(t => t.textContent);
               })"""
        )
        assert cut == []
        free = browser.new_context(bypass_csp=True, viewport={"width": wide, "height": 900})
        other = free.new_page()
        other.goto(file.as_uri())
        found = axe.Axe().run(other)
        assert found.violations_count == 0, found.generate_report()
        browser.close()
