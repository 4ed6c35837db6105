"""A comparison, as a document and as a page."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any

from sim.judge.comparison import CaseResult, Comparison, Difference, Settings
from sim.judge.stats import differ_at_most
from sim.judge.verdict import count, section_named, verdict
from sim.pages.assumptions import print_again, print_assumptions
from sim.pages.documents import Asked, assumptions_list, cause_object, heading
from sim.pages.figures import percent, span
from sim.pages.page import Page
from sim.pages.phrases import cause_lines, finding_line
from sim.pages.phrases_verdict import verdict_lines
from sim.pages.places import Names
from sim.pages.plain import Document, Plain


def compare_document(asked: Asked, comparison: Comparison) -> Document:
    """All cases, the paired differences and what they say."""
    return {
        **heading(asked, scenario=comparison.scenario, seed=comparison.seed),
        **_plain(comparison),
        "verdicts": [
            {"fix": d.fix, "says": list(map(finding_line, verdict(comparison, k)))}
            for k, d in enumerate(comparison.differences)
        ],
        "assumptions": assumptions_list(comparison.assumptions),
    }


def _share(value: float | None) -> float | None:
    """Six digits after the point; never minus zero."""
    return None if value is None else round(float(value), 6) + 0.0


def _case(case: CaseResult) -> Document:
    """With what decides between cases: clean legs of the ideal run's, and the drives."""
    return {
        **_counts(case),
        **({} if case.settings.order is None else _order(case)),
        "by_section": case.by_section,
        "by_piece": case.by_piece,
        "settings": case.settings,
    }


_SHARES = (
    "stall_rate stall_rate_low stall_rate_high clean_share low high stalls_removed p_value "
    "runs_p_value"
)
_shares: dict[str, Callable[[Any], object]] = dict.fromkeys(_SHARES.split(), _share)
_counts = Plain(
    {
        CaseResult: "name note random legs stalled_legs passes stalled_passes stalls "
        "hesitations trips derailments run_throughs stall_rate stall_rate_low=stall_low "
        "stall_rate_high=stall_high clean_legs=clean.legs ideal_legs=clean.ideal "
        "clean_share=clean.share low=clean.low high=clean.high runs_agree=clean.agree "
        "legs_beyond_the_ideal=clean.beyond not_clean=clean.stopped "
        "tripped_legs=clean.stopped"
    },
    {
        **_shares,
        "not_clean": dict,
        "tripped_legs": lambda stopped: dict(stopped)["shorts and trips"],
    },
)
_order = Plain(
    {
        CaseResult: "in_order=settings.order.ok out_of_order=settings.order.why "
        "drive=settings.order.drives"
    }
)
_plain = Plain(
    {
        Comparison: "runs verdict run_seeds=seeds duration_s cases differences",
        CaseResult: _case,
        Settings: "total dead short skipped joined_supplies=joined lever_by_lever=each "
        "joined_districts=districts",
    },
    {**_shares, "cause": cause_object},
)


#: Sections of each case whose causes are told.
CAUSES_TOLD = 3


def print_compare(
    page: Page, comparison: Comparison, command: str, more: Callable[[], None] | None = None
) -> None:
    """Counts first, then the cases, where they stall, the differences, what it means.

    ``more`` prints what comes before the assumptions.
    """
    fixes = len(comparison.cases) - 1
    page.line(
        f"Fixes of '{comparison.scenario}': as built and {count(fixes, 'fix', 'fixes')}, "
        f"{count(comparison.runs, 'run')} of {span(comparison.duration_s)} each, "
        f"seed {comparison.seed}"
    )
    for line in verdict_lines(comparison):
        page.line(line)
    if comparison.runs == 1 and not any(c.random for c in comparison.cases):
        page.line("Nothing in it is left to chance, so one run tells all: no intervals.")
    _print_clean(page, comparison)
    _print_cases(page, comparison)
    _print_verdicts(page, comparison)
    _print_settings(page, comparison)
    _print_places(page, comparison, "section", partial(_sections, page.names))
    _print_places(page, comparison, "piece at fault", partial(_pieces, page.names))
    _print_causes(page, comparison)
    _print_differences(page, comparison)
    if more is not None:
        more()
    print_assumptions(page, comparison.assumptions)
    chance = any(c.random for c in comparison.cases)
    print_again(page, command, comparison.seed if chance else None)
    if chance:
        page.line(
            "Each run has a seed of its own; the first alone, as built: gapwright run with "
            f"--seed {comparison.seeds[0]}.",
            indent=2,
        )


def _print_clean(page: Page, comparison: Comparison) -> None:
    page.heading("Clean legs", "clean")
    page.table(
        ("", "Case", "Clean", "Of", "Share", "95 % interval", "Drives that stop or short"),
        (
            (
                str(k),
                c.name,
                str(c.clean.legs),
                str(c.clean.ideal),
                percent(c.clean.share),
                _interval(c.clean.low, c.clean.high, percent),
                _drives(c),
            )
            for k, c in enumerate(comparison.cases)
        ),
        "rlrrnnr",
    )
    page.line(
        "Clean: finished without being stopped by dead rails, a trip, or a train that was. "
        "Of: the legs that the timetable finishes as built with sound supply everywhere. "
        "Drives: each train alone over each route in use.",
        indent=2,
    )
    if any(c.random and c.clean.agree for c in comparison.cases):
        most = percent(differ_at_most(comparison.runs))
        page.line(
            f"No interval: the same in all {comparison.runs} runs; with 95 % confidence "
            f"fewer than {most} of runs differ.",
            indent=2,
        )


def _drives(case: CaseResult) -> str:
    order = case.settings.order
    if order is None:
        return "-"
    return f"{order.drives.stops + order.drives.shorts} of {order.drives.total}"


def _print_cases(page: Page, comparison: Comparison) -> None:
    page.heading("Stalled legs", "stalled")
    page.table(
        ("", "Case", "Stalled", "Legs", "Rate", "95 % interval", "Stalls", "Trips"),
        (
            (
                str(k),
                c.name,
                str(c.stalled_legs),
                str(c.legs),
                percent(c.stall_rate),
                _interval(c.stall_low, c.stall_high, percent),
                str(c.stalls),
                str(c.trips),
            )
            for k, c in enumerate(comparison.cases)
        ),
        "rlrrnnrr",
    )


def _interval(
    low: float | None, high: float | None, show: Callable[[float | None], str]
) -> str:
    return "-" if low is None or high is None else f"{show(low)} to {show(high)}"


def _print_verdicts(page: Page, comparison: Comparison) -> None:
    if len(comparison.cases) == 1:
        page.line()
        page.line("The scenario states no fix, so there is nothing to compare with.")
        return
    page.heading("What each fix does", "fixes")
    for k, case in enumerate(comparison.cases[1:]):
        note = f": {case.note}" if case.note else ""
        page.line(f"{k + 1} {case.name}{note}", indent=1)
        found = verdict(comparison, k)
        page.items((finding_line(f, page.names.section) for f in found), indent=3)


def _print_settings(page: Page, comparison: Comparison) -> None:
    page.heading("Settings of the levers", "settings")
    each = any(c.settings.each for c in comparison.cases)
    titles = ["", "Case", "Settings", "Dead route", "Shorted"]
    if each:
        titles.append("Each alone")
    page.table(
        tuple(titles),
        (_settings_row(k, c, each) for k, c in enumerate(comparison.cases)),
        "rlrrrr"[: len(titles)],
    )
    if each:
        page.line(
            "Each alone: settings shorted with every lever by itself, as when one does not "
            "follow its gang.",
            indent=2,
        )
    for reason in dict.fromkeys(c.settings.skipped for c in comparison.cases):
        if reason:
            page.line(reason, indent=2)


def _settings_row(number: int, case: CaseResult, each: bool) -> tuple[str, ...]:
    found = case.settings
    row = (str(number), case.name, str(found.total), str(found.dead), str(found.short))
    if not each:
        return row
    alone = found.each
    return (*row, f"{alone.short} of {alone.total}" if alone else "-")


def _sections(names: Names, case: CaseResult) -> dict[str, int]:
    return {section_named(names.section(s.section, "row")): s.stalls for s in case.by_section}


def _pieces(names: Names, case: CaseResult) -> dict[str, int]:
    return {names.piece(p.piece) if p.piece else "no piece": p.stalls for p in case.by_piece}


def _print_places(
    page: Page, comparison: Comparison, what: str, of: Callable[[CaseResult], dict[str, int]]
) -> None:
    """A row a place, a column a case, by the numbers that the cases have above."""
    columns = [of(c) for c in comparison.cases]
    places = sorted({p for column in columns for p in column}, key=lambda p: _rank(columns, p))
    if not places:
        return
    page.heading(f"Stalls by {what}, a column for each case (0 is as built)", "places")
    page.table(
        (what.capitalize(), *(str(k) for k in range(len(columns)))),
        ((p, *(str(column.get(p, 0)) for column in columns)) for p in places),
        "l" + "r" * len(columns),
    )


def _rank(columns: list[dict[str, int]], place: str) -> tuple[object, ...]:
    return (*(-column.get(place, 0) for column in columns), place)


def _print_causes(page: Page, comparison: Comparison) -> None:
    sections = comparison.as_built.by_section
    if not sections:
        return
    page.heading("Why it stalls as built", "causes")
    for section in sections[:CAUSES_TOLD]:
        stalls = count(section.stalls, "stall")
        named = section_named(page.names.section(section.section))
        page.line(f"{named}: {stalls}, {section.kind}", indent=1)
        page.items(cause_lines(section.cause, page.names.say), indent=3, numbered=True)
    if len(sections) > CAUSES_TOLD:
        page.line(f"and {count(len(sections) - CAUSES_TOLD, 'more section')}", indent=1)


def _print_differences(page: Page, comparison: Comparison) -> None:
    if not comparison.differences:
        return
    page.heading("Stalls removed, run by run on the same luck", "differences")
    page.table(
        ("", "Fix", "Per run", "95 % interval", "p", "Legs cured", "Legs harmed"),
        (_difference(k, d) for k, d in enumerate(comparison.differences, 1)),
        "rlrnrrr",
    )
    if not any(d.p_value is not None for d in comparison.differences):
        return
    page.line(
        "p is how often turning the signs of the differences at random does as much "
        "(exact sign-flip test; one run is one unit, because legs of one run share their "
        "luck). Where no leg or every leg stalled, the interval of the rate counts runs "
        "and not legs, so it is wide.",
        indent=2,
    )
    if not all(d.exact for d in comparison.differences):
        page.line("Student's t stands in where the exact sums got too many.", indent=2)
    if comparison.runs < 6:  # 2 of 2^5 sign patterns are already more than 5 %
        page.line("Fewer than six runs cannot give a 95 % interval here.", indent=2)


def _difference(number: int, difference: Difference) -> tuple[str, ...]:
    return (
        str(number),
        difference.fix,
        _mean(difference.stalls_removed),
        _interval(difference.low, difference.high, _mean),
        "-" if difference.p_value is None else f"{difference.p_value:.2g}",
        str(difference.legs_cured),
        str(difference.legs_harmed),
    )


def _mean(value: float | None) -> str:
    return "-" if value is None else f"{value:.2f}"
