"""From content to the page: one HTML file that needs nothing else."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from markupsafe import Markup

from sim.judge.verdict import section_named
from sim.pages.assumptions import YOURS
from sim.pages.figures import clock, percent, span
from sim.pages.phrases import cause_lines
from sim.pages.words import changes_in_words, kind_in_words
from viewer.draw.legend import draw_legend, entries
from viewer.draw.notes import nearest_first
from viewer.draw.set_out import sheet_of
from viewer.look import LIGHT
from viewer.report.content import Content, Guilty
from viewer.report.pictures import (
    WIDE,
    colour_rules,
    guilty_svg,
    places_svg,
    settings_svgs,
)
from viewer.scene.camera import flat
from viewer.scene.scene import TextScene
from viewer.scene.svg import SvgScene
from viewer.templates import templates


def report_html(content: Content) -> str:
    """The whole page. Everything from the scenario is escaped by the template."""
    environment = templates(Path(__file__).parent)
    environment.filters |= {"percent": percent, "clock": clock, "span": span}
    case, found = content.cases[0], content.comparison
    sheet = sheet_of(case.layout)
    settings, more = settings_svgs(content)
    return environment.get_template("page.html").render(
        content=content,
        found=found,
        cases=found.cases,
        light=Markup(colour_rules("light")),
        dark=Markup(colour_rules("dark")),
        guilty=[_guilty(content, sheet, g) for g in content.guilty],
        places=Markup(places_svg(case, sheet, content.places, content.runs_marked)),
        settings=[(w, v, Markup(s)) for w, v, s in settings],
        more_settings=more,
        legend=Markup(_legend(content)),
        assumptions=_by_owner(content),
        chance=any(c.random for c in found.cases),
    )


def _guilty(content: Content, sheet: Any, guilty: Guilty) -> dict[str, Any]:
    """One guilty setting: what it is, its picture, the cause and the cures in words."""
    case, stall = content.cases[0], guilty.stall
    words = changes_in_words(case.layout)
    return {
        "section": section_named(stall.section),
        "kind": kind_in_words(stall.kind),
        "count": guilty.count,
        "train": stall.train,
        "time": clock(stall.time_s),
        "seed": guilty.seed,
        "svg": Markup(guilty_svg(case, sheet, guilty)),
        "cause": cause_lines(stall.cause),
        "cures": [" and ".join(words.get(i, i) for i in ids) for ids in nearest_first(stall)],
    }


def _legend(content: Content) -> str:
    signs = entries(content.cases[0].layout)
    high = draw_legend(TextScene(), signs, 0.0, 0.0, WIDE, 13.0) + 8.0
    scene = SvgScene(flat(0, 0, WIDE, high), LIGHT, variables=True)
    draw_legend(scene, signs, 4.0, 4.0, WIDE, 13.0)
    told = "; ".join(e.says for e in signs)
    return scene.text("What the signs in the pictures mean", told)


def _by_owner(content: Content) -> list[tuple[str, list[Any]]]:
    owners: dict[str, list[Any]] = {}
    for a in content.comparison.assumptions:
        owners.setdefault(a.whose, []).append(a)
    return sorted(owners.items(), key=lambda item: item[0] != YOURS)
