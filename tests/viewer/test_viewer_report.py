"""The report: one file that needs nothing, says the verdict first, and can be read by all."""

from __future__ import annotations

import re
import shutil
from dataclasses import replace
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path

import pytest

from sim.layout.project import load_project
from tests.viewer.demo import CLUB, LOOPS, ROOT
from viewer.report.content import Content, best_fix, gather, headline
from viewer.report.render import report_html

VOID = {"meta", "link", "br", "hr", "img", "input"}


def content_of(path: Path, runs: int = 2) -> Content:
    again = f"gapwright report {path.name} --out x"
    return gather(load_project(path), runs, 1, 1, False, again)


@pytest.fixture(scope="module")
def club() -> Content:
    return content_of(CLUB)


@pytest.fixture(scope="module")
def page(club: Content) -> str:
    return report_html(club)


class Reader(HTMLParser):
    """Collects tags with what encloses them, and fails on tags that do not close."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.open: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None], tuple[str, ...]]] = []
        self.text: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs), tuple(self.open)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs), tuple(self.open)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if "style" not in self.open:
            self.text.append(data)


def read(page: str) -> Reader:
    reader = Reader()
    reader.feed(page)
    reader.close()
    assert not reader.open
    return reader


def test_nothing_is_fetched_and_nothing_runs(page: str) -> None:
    found = read(page)
    assert not [t for t, _, _ in found.tags if t in ("script", "iframe", "object", "img")]
    for tag, attrs, _ in found.tags:
        for name in ("src", "href", "xlink:href", "action"):
            value = attrs.get(name)
            assert value is None or value.startswith(("#", "data:")), (tag, value)
        assert not [n for n in attrs if n.startswith("on")]
    assert "url(" not in page and "@import" not in page


def test_the_verdict_comes_first(club: Content, page: str) -> None:
    text = " ".join(" ".join(read(page).text).split())
    places = [text.index(sentence) for sentence in club.headline]
    assert places == sorted(places)
    assert places[0] < text.index("95 % interval")
    assert club.best is not None
    best = club.comparison.cases[club.best + 1]
    assert best.stalls == min(c.stalls for c in club.comparison.cases)
    assert f"'{best.name}'" in text


def test_the_table_says_what_the_comparison_counts(club: Content, page: str) -> None:
    for case in club.comparison.cases:
        row = next(
            r for r in re.findall(r"<tr.*?</tr>", page, re.S) if f'"row">{case.name}' in r
        )
        assert f"{case.stalled_legs} of {case.legs}" in row
        assert f'"n">{case.stalls}<' in row


def test_every_guilty_section_has_its_picture_cause_and_cure(club: Content, page: str) -> None:
    assert club.guilty
    for guilty in club.guilty:
        assert f"{guilty.stall.section}: {guilty.count} stall" in page
        title = f"<title>{guilty.stall.train} stands on {guilty.stall.section}"
        assert title in page
        assert re.search(r"<title>guilty [^<]* ringed</title>", page)
    assert sum(p.count for p in club.places) == club.comparison.as_built.stalls


def test_it_tells_how_to_get_it_again_and_what_it_rests_on(club: Content, page: str) -> None:
    assert club.command in page
    assert f"The seed is {club.comparison.seed}" in page
    text = " ".join(" ".join(read(page).text).split())
    for a in club.comparison.assumptions:
        assert " ".join(f"{a.what}: {a.value}".split()) in text


def test_other_chances_give_other_stalls(club: Content) -> None:
    """As assumed are the runs of the comparison; contacts that never fail change them."""
    rows = {(s.what, s.value): s.stalls for s in club.swings}
    what = "contacts that stay open"
    assert rows[what, "as assumed"][0] == club.comparison.cases[0].stalls
    assert rows[what, "never"][0] != rows[what, "as assumed"][0]
    # The four jumpers feed every frog twice: they leave nothing to a contact.
    assert {rows[what, v][-1] for v in ("never", "as assumed", "twice as often")} == {0}


def test_headings_go_down_step_by_step_and_tables_have_headers(page: str) -> None:
    found = read(page)
    levels = [int(t[1]) for t, _, _ in found.tags if re.fullmatch("h[1-6]", t)]
    assert levels[0] == 1 and levels.count(1) == 1
    assert all(b - a <= 1 for a, b in pairwise(levels))
    assert [t for t, _, _ in found.tags].count("table") == page.count("<caption>")
    heads = [a for t, a, _ in found.tags if t == "th"]
    assert heads and all(a.get("scope") in ("col", "row") for a in heads)
    ids = [a["id"] for _, a, _ in found.tags if "id" in a]
    assert len(ids) == len(set(ids))
    for _, attrs, _ in found.tags:
        href = attrs.get("href") or ""
        assert not href.startswith("#") or href[1:] in ids


def test_every_drawing_has_a_title_and_a_role(page: str) -> None:
    found = read(page)
    outer = [(a, within) for t, a, within in found.tags if t == "svg" and "svg" not in within]
    assert outer
    assert all(a.get("role") == "img" for a, _ in outer)
    assert page.count('role="img"') == len(outer)


def test_colours_follow_the_reader_and_paper_is_light(page: str) -> None:
    assert "prefers-color-scheme: dark" in page and "@media print" in page
    body = page[page.index("<body") :]
    assert not re.search(r'(fill|stroke)="#', body)  # every colour is a variable
    used = set(re.findall(r"var\((--[\w-]+)\)", page))
    declared = set(re.findall(r"(--[\w-]+):", page))
    assert used <= declared


def test_names_are_escaped(tmp_path: Path) -> None:
    evil = '<script>alert(1)<img src=x> & "quoted"'
    quoted = evil.replace('"', '\\"')
    text = LOOPS.read_text(encoding="utf-8")
    text = text.replace('title = "Two loops on one feed"', f'title = "{quoted}"')
    text = text.replace('name = "two jumpers"', f'name = "{quoted}"', 1)
    text = text.replace('name = "local"', 'name = "<b>local"')
    path = tmp_path / "evil.toml"
    path.write_text(text, encoding="utf-8")
    page = report_html(content_of(path, 2))
    assert "<script" not in page and "<img" not in page and "<b>local" not in page
    assert evil in "".join(read(page).text)


def test_a_layout_that_wants_nothing_is_told_so() -> None:
    found = content_of(ROOT / "scenarios" / "well-fed.toml", 1)
    assert found.best is None
    assert found.headline[0].startswith("Nothing stalls")
    page = report_html(found)
    assert "None of the fixes is needed" in page
    assert "nothing rests on an assumed probability" in page or found.swings


def test_a_train_without_contact_stands_on_no_section(tmp_path: Path) -> None:
    """All wheels dirty: there is no metal under them whose name could be told."""
    dirty = '\n[[fault]]\non = "local"\nwhat = "dirt"\nchance = 1.0\nper = "run"\n'
    path = tmp_path / "dirty.toml"
    path.write_text(LOOPS.read_text(encoding="utf-8") + dirty, encoding="utf-8")
    found = content_of(path, 1)
    assert any(g.stall.section == "" for g in found.guilty)
    text = "".join(read(report_html(found)).text)
    assert "plastic or dirt: insulated" in text
    assert "stands on plastic or dirt: insulated" in text


def test_trips_are_told_where_nothing_stalls(club: Content) -> None:
    built = replace(club.comparison.as_built, stalls=0, stalled_legs=0, trips=3)
    found = replace(club.comparison, cases=(built, *club.comparison.cases[1:]))
    said = headline(found, None)
    assert said[0] == "Nothing stalls as built, in 2 runs, but supplies trip 3 times."
    assert said[1] == "None of the fixes compared makes it better."


def test_a_fix_that_halts_the_trains_is_not_called_best(club: Content) -> None:
    """What stands on a tripped supply does not stall; that is no cure."""
    built, *fixes = club.comparison.cases
    few = replace(fixes[0], stalls=0, legs=built.legs // 10)
    short = replace(few, legs=built.legs, settings=replace(few.settings, short=1))
    good = replace(few, legs=built.legs)
    for case, best in ((few, None), (short, None), (good, 0)):
        found = replace(club.comparison, cases=(built, case))
        assert best_fix(found) == best
        said = headline(found, best)[2]
        assert said.startswith("Fixes that take stalls away short") == (best is None)


def test_the_same_report_is_the_same_bytes(club: Content, page: str) -> None:
    assert report_html(club) == page


# -- in a browser -------------------------------------------------------------------

CHROMIUM = shutil.which("chromium")
#: What the page's margins of 14 mm leave of A4, in CSS pixels (96 to the inch).
A4_WIDE = round((210 - 2 * 14) / 25.4 * 96)
#: Words and drawings that run out at the side.
OUTSIDE = """[...document.querySelectorAll("p, li, th, td, h1, h2, h3, figure, pre")]
    .filter(e => e.getBoundingClientRect().right > window.innerWidth + 1)
    .map(e => e.textContent.slice(0, 60))"""


@pytest.mark.slow
@pytest.mark.skipif(CHROMIUM is None, reason="needs chromium")
@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("wide", [1280, 390])
def test_in_chromium(page: str, tmp_path: Path, scheme: str, wide: int) -> None:
    """No console errors, no requests, axe finds nothing, nothing runs out at the side."""
    playwright = pytest.importorskip("playwright.sync_api")
    axe = pytest.importorskip("axe_playwright_python.sync_playwright")
    file = tmp_path / "report.html"
    file.write_text(page, encoding="utf-8")
    said: list[str] = []
    asked: list[str] = []
    quiet = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
             "--disable-background-networking", "--disable-component-update",
             "--disable-sync"]  # fmt: skip
    with playwright.sync_playwright() as play:
        browser = play.chromium.launch(executable_path=CHROMIUM, args=quiet)
        context = browser.new_context(
            viewport={"width": wide, "height": 900},
            color_scheme=scheme,
            java_script_enabled=True,
        )
        tab = context.new_page()
        tab.on("console", lambda m: said.append(m.text))
        tab.on("pageerror", lambda e: said.append(str(e)))
        tab.on("request", lambda r: asked.append(r.url))
        tab.goto(file.as_uri())
        width = tab.evaluate("document.documentElement.scrollWidth")
        found = axe.Axe().run(tab).response["violations"]
        tab.keyboard.press("Tab")
        focused = tab.evaluate("document.activeElement.className")
        tab.emulate_media(media="print")
        tab.set_viewport_size({"width": A4_WIDE, "height": 1000})
        outside = tab.evaluate(OUTSIDE)
        browser.close()
    assert [u for u in asked if not u.startswith(("file:", "data:"))] == []
    assert said == []
    assert [(v["id"], v["help"]) for v in found] == []
    assert width <= wide
    assert outside == []  # nothing is cut off on paper
    assert focused == "skip"  # the first stop of the Tab key leads past the contents
