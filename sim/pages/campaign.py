"""A campaign, as a document and as a page."""

from __future__ import annotations

from collections.abc import Sequence

from sim.judge.campaign import Campaign, End, RunShare, Swing, Trouble
from sim.judge.stats import Interval
from sim.pages.compare import compare_document, print_compare
from sim.pages.documents import Asked
from sim.pages.figures import joined, percent
from sim.pages.page import Page
from sim.pages.plain import Document, Plain


def campaign_document(asked: Asked, campaign: Campaign) -> Document:
    """Everything that :func:`compare_document` has, then whole runs and assumptions."""
    return {**compare_document(asked, campaign.comparison), **_plain(campaign)}


_plain = Plain(
    {
        Campaign: "runs_asked=asked until_width width run_shares=shares ranking "
        "sensitivity=swings",
        RunShare: "case runs stalled_runs=stalled wilson clopper_pearson=exact",
        Interval: lambda found: [found.low, found.high],
        Trouble: "case trouble_per_run=per_run",
        Swing: "assumption=band.field what=band.what value=band.value low=band.low "
        "high=band.high whose=band.whose runs ranking=own ends changes_choice=changes",
        End: "value ranking changes_choice=changes",
    }
)


def print_campaign(page: Page, campaign: Campaign, command: str) -> None:
    """The comparison, whole runs, and how far the assumptions reach."""
    print_compare(page, campaign.comparison, command, lambda: _print_more(page, campaign))


def _print_more(page: Page, campaign: Campaign) -> None:
    _print_stop(page, campaign)
    _print_shares(page, campaign.shares)
    _print_swings(page, campaign.swings)


def _print_stop(page: Page, campaign: Campaign) -> None:
    wanted, reached = campaign.until_width, campaign.width
    if wanted is None or reached is None:
        return
    page.heading("When it stopped", "end")
    runs = campaign.comparison.runs
    if reached <= wanted:
        page.line(
            f"After {runs} runs the widest interval of a stall rate is {percent(reached)} "
            f"wide; {percent(wanted)} was wanted. It was looked at several times, so the "
            "level of 95 % holds approximately.",
            indent=1,
        )
    else:
        page.line(
            f"The {runs} runs were used up: the widest interval of a stall rate is "
            f"{percent(reached)} wide, {percent(wanted)} was wanted.",
            indent=1,
        )


def _print_shares(page: Page, shares: Sequence[RunShare]) -> None:
    page.heading("Runs in which anything stalled", "runs")
    page.table(
        ("Case", "Runs", "With a stall", "Wilson 95 %", "Clopper-Pearson 95 %"),
        (
            (s.case, str(s.runs), str(s.stalled), _interval(s.wilson), _interval(s.exact))
            for s in shares
        ),
        "lrrrr",
    )
    page.line(
        "Runs are independent, so these intervals need no correction. A case with one run "
        "leaves nothing to chance.",
        indent=1,
    )


def _interval(found: Interval | None) -> str:
    return "-" if found is None else f"{percent(found.low)} to {percent(found.high)}"


def _print_swings(page: Page, swings: Sequence[Swing]) -> None:
    if not swings:
        return
    page.heading("How far the assumptions reach", "bands")
    page.line(
        f"Each over its band, in {swings[0].runs} runs on the same luck; a case's number is "
        "its stalls, trips and derailments per run. The choice changes where other cases "
        "are best, alone or level with others.",
        indent=1,
    )
    for swing in swings:
        band = swing.band
        page.line()
        page.line(
            f"{band.what}: assumed {band.value:g}, band "
            f"{band.low:g} to {band.high:g} ({band.whose})",
            indent=1,
        )
        page.table(
            ("At", "Cases, the least trouble first", "Changes the choice"),
            (
                (f"{band.value:g} (assumed)", _order(swing.own), "-"),
                *(_end(end) for end in swing.ends),
            ),
            "rll",
            indent=2,
        )
    changing = [s.band.what for s in swings if s.changes]
    page.line()
    if changing:
        page.line(
            f"The choice hangs on how often it happens that {joined(changing, 'or')}: count "
            "that on your own layout first.",
            indent=1,
        )
    else:
        page.line("No assumption changes the choice within its band.", indent=1)


def _end(end: End) -> tuple[str, str, str]:
    return f"{end.value:g}", _order(end.ranking), "YES" if end.changes else "no"


def _order(ranking: Sequence[Trouble]) -> str:
    return ", ".join(f"{t.case} {t.per_run:.3g}" for t in ranking)
