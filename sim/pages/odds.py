"""Exact odds, as a document and as a page."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from sim.analyses.odds.odds import Odds, RouteOdds, SettingOdds
from sim.judge.verdict import count
from sim.pages.assumptions import print_again, print_assumptions
from sim.pages.documents import Asked, assumptions_list, heading
from sim.pages.figures import case_name
from sim.pages.page import Page
from sim.pages.plain import Document, Plain


def odds_document(asked: Asked, odds: Odds, others: Sequence[Odds]) -> Document:
    """Odds of every route in every setting; ``others`` are the cases to compare with."""
    return {
        **heading(asked, scenario=odds.scenario, fix=odds.fix),
        **_plain(odds),
        "cases": [{"name": o.fix or "as built", **_overall(o)} for o in (odds, *others)],
        "settings": _plain(odds.settings),
        "parts": _plain(odds.weights),
        "assumptions": assumptions_list(odds.assumptions),
    }


_OVERALL = "odds short_odds=short routes_not_live=expected dead_anyway=anyway"
_overall = Plain({Odds: _OVERALL})
_plain = Plain(
    {
        Odds: f"skipped left_out {_OVERALL}",
        SettingOdds: "levers=setting in_timetable=used odds short_odds=short routes",
        RouteOdds: "route odds short_odds=short dead_anyway=anyway other_places_odds=beyond "
        "cut_sets=cuts cut_set_count=cut_count path_sets=paths path_set_count=path_count",
    },
    {"levers": dict},
)


#: What is told of long lists; the document has them all.
SETTINGS_TOLD = 8
SETS_TOLD = 4
PARTS_TOLD = 20


def print_odds(page: Page, odds: Odds, others: Sequence[Odds], command: str) -> None:
    """The event, the cases, the routes of each setting, and the parts that decide."""
    page.line(f"Exact odds of '{odds.scenario}' {case_name(odds.fix)}")
    page.line(
        "The odds that some metal place of a route that the levers are set for is not "
        "live, or its supply shorted, because something has failed. Nothing is sampled; "
        "whether a train gets over a dead place is a matter of runs, not of this."
    )
    for said in odds.skipped:
        page.line(said)
    if odds.left_out:
        page.line("Left out, because only runs can tell what they do ('campaign'):")
        page.items(odds.left_out, indent=1)
    _print_cases(page, (odds, *others))
    _print_settings(page, odds.settings)
    _print_parts(page, odds)
    print_assumptions(page, odds.assumptions)
    print_again(page, command)


def chance(odds: float) -> str:
    """A probability for people: ``0``, ``1 in 340``, ``12.3 %``."""
    if odds <= 0.0:
        return "0"
    if odds >= 0.01:
        return f"{100 * odds:.3g} %"
    return f"1 in {1 / odds:.3g}" if odds >= 1e-4 else f"1 in {1 / odds:.2e}"


def _print_cases(page: Page, cases: Sequence[Odds]) -> None:
    page.heading(
        "Any route of a setting, every setting that counts as likely as the others", "cases"
    )
    page.table(
        ("Case", "Goes dead or shorts", "Any short", "Routes not live", "Dead anyway"),
        (
            (
                o.fix or "as built",
                chance(o.odds),
                chance(o.short),
                f"{o.expected:.3f}",
                str(o.anyway),
            )
            for o in cases
        ),
        "lrrrr",
    )
    page.line(
        "Goes dead or shorts: a place of a set route that is live with everything good is "
        "not. What is dead or shorted with everything good is left out.",
        indent=1,
    )
    page.line(
        "Any short: of a supply, on a set route or not, those that need no failure counted; "
        "so it can be the greater of the two.",
        indent=1,
    )
    page.line(
        "Routes not live: how many of a setting's routes, on average, dead ones counted. "
        "Dead anyway: routes of all these settings that are dead with everything good.",
        indent=1,
    )


def _print_settings(page: Page, settings: Sequence[SettingOdds]) -> None:
    told = sorted(settings, key=lambda s: (not s.used, -s.odds))
    for setting in told[:SETTINGS_TOLD]:
        words = "; ".join(f"{lever} {position}" for lever, position in setting.setting)
        used = "" if setting.used else " (not in the timetable)"
        page.heading(f"{words or 'No levers'}{used}: {chance(setting.odds)}", "settings")
        doubtful = [r for r in setting.routes if r.beyond > 0.0]
        page.table(
            ("Route", "Odds", "Any short", "Enough to cause it"),
            ((r.route, _odds(r), chance(r.short), "\n".join(_sets(r))) for r in doubtful),
            "lrr",
            indent=1,
        )
        sure = sum(r.beyond == 0.0 and not r.anyway for r in setting.routes)
        dead = sum(r.beyond == 0.0 and r.anyway for r in setting.routes)
        if sure:
            hang = "hangs" if sure == 1 else "hang"
            page.line(f"{count(sure, 'route')} {hang} on nothing that may fail.", indent=1)
        if dead:
            page.line(f"{count(dead, 'route')} dead anyway.", indent=1)
    if len(settings) > SETTINGS_TOLD:
        page.line()
        page.line(
            f"{len(settings) - SETTINGS_TOLD} more settings are in the document (--json)."
        )


def _odds(route: RouteOdds) -> str:
    return f"{chance(route.beyond)} (dead elsewhere)" if route.anyway else chance(route.odds)


def _sets(route: RouteOdds) -> Iterator[str]:
    for parts in route.cuts[:SETS_TOLD]:
        yield " + ".join(parts)
    if route.cut_count > SETS_TOLD:
        yield f"and {count(route.cut_count - SETS_TOLD, 'more set')}"


def _print_parts(page: Page, odds: Odds) -> None:
    parts = [w for w in odds.weights if w.birnbaum or w.fussell_vesely]
    page.heading("The parts that decide", "parts")
    if not parts:
        page.line("Nothing makes a difference that has a chance to fail.", indent=1)
        return
    page.table(
        ("Part", "Chance to fail", "Birnbaum", "Fussell-Vesely"),
        (
            (w.part, chance(w.chance), f"{w.birnbaum:.4f}", f"{w.fussell_vesely:.4f}")
            for w in parts[:PARTS_TOLD]
        ),
        "lrrr",
    )
    if len(parts) > PARTS_TOLD:
        page.line(f"and {len(parts) - PARTS_TOLD} more", indent=1)
    page.items(
        [
            "Birnbaum: the odds with that part failed, less the odds with it good.",
            "Fussell-Vesely: the share of the odds in which some smallest set of failures "
            "with that part in it has come about.",
        ]
    )
