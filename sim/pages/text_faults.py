"""The page of a survey of faults."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from sim.faults.harm import Change, FixChange, Harm, Survey
from sim.faults.tired_model import TiredChange, TiredSurvey
from sim.judge.verdict import count
from sim.pages.page import Page, case_name, joined
from sim.pages.text_assumptions import print_again
from sim.pages.text_tired import print_tired, print_tired_change
from sim.pages.words import KINDS

#: Lines of each list that are told; the document has them all.
SINGLES_TOLD = 25
DOUBLES_TOLD = 15
CHANGES_TOLD = 12
ROUTES_NAMED = 3
HEALTHY_TOLD = 20


def print_faults(
    page: Page,
    survey: Survey,
    fixes: Sequence[FixChange],
    tired: TiredSurvey,
    starts: Sequence[TiredChange],
    command: str,
) -> None:
    """What is wrong anyway, the faults by harm, and what each fix makes of them.

    ``starts`` are the changes that each of ``fixes`` makes to tired parts.
    """
    page.line(f"Faults of '{survey.scenario}' {case_name(survey.fix)}")
    harmful = [h for h in survey.single if h.harms]
    page.line(
        f"{count(len(survey.single), 'single fault')} in {count(survey.settings, 'setting')}, "
        f"{survey.states} states traced; {len(harmful)} of them do harm that was not there "
        "before."
    )
    for said in survey.skipped:
        page.line(said)
    _print_healthy(page, survey.healthy)
    _print_single(page, survey.single, harmful)
    if survey.double is not None:
        _print_double(page, survey.double)
    print_tired(page, tired, survey.skipped)
    for change, start in zip(fixes, starts, strict=True):
        _print_fix(page, change)
        print_tired_change(page, start)
    _print_notes(page, survey)
    print_again(page, command)


def _print_healthy(page: Page, healthy: Harm) -> None:
    page.heading("Wrong without any fault")
    if not healthy.harms:
        page.line("Nothing: every route that is set is live, in every setting.", indent=1)
        return
    page.line(f"{_in_words(healthy)}. This is left out of what follows.", indent=1)
    told = healthy.routes[:HEALTHY_TOLD]
    page.items((_route(r.route, r.kinds, r.settings) for r in told), indent=2)
    if healthy.routes_lost > len(told):
        page.line(f"and {healthy.routes_lost - len(told)} more", indent=4)


def _in_words(harm: Harm) -> str:
    said = []
    if harm.lost:
        said.append(
            f"{count(harm.routes_lost, 'route')} not live, {harm.lost} over all settings"
        )
    if harm.short:
        said.append(f"a short in {count(harm.short, 'setting')}")
    if harm.joined:
        pairs = joined([" with ".join(pair) for pair in harm.supplies])
        said.append(f"{pairs} joined in {count(harm.joined, 'setting')}")
    return "; ".join(said)


def _route(route: str, kinds: Iterable[str], settings: int) -> str:
    return f"{route}: {joined(list(kinds))} in {count(settings, 'setting')}"


def _print_single(page: Page, single: Sequence[Harm], harmful: Sequence[Harm]) -> None:
    page.heading("Single faults, the most harmful first")
    if not harmful:
        page.line("None does any harm.", indent=1)
    _print_harms(page, harmful[:SINGLES_TOLD])
    if len(harmful) > SINGLES_TOLD:
        page.line(f"and {len(harmful) - SINGLES_TOLD} more that do less", indent=1)
    tame = len(single) - len(harmful)
    if tame:
        alone = "itself" if tame == 1 else "themselves"
        page.line(f"{count(tame, 'fault')} would go unnoticed by {alone}.", indent=1)


def _print_double(page: Page, double: Sequence[Harm]) -> None:
    page.heading("Two faults that do together what neither does alone")
    if not double:
        page.line("There are none.", indent=1)
    _print_harms(page, double[:DOUBLES_TOLD])
    if len(double) > DOUBLES_TOLD:
        page.line(f"and {len(double) - DOUBLES_TOLD} more that do less", indent=1)


def _print_harms(page: Page, harms: Sequence[Harm]) -> None:
    page.table(
        ("Fault, and the routes that it takes", "Dead", "Shorts", "Joins"),
        (
            (
                "\n".join([*(f.id for f in h.faults), *(f"   {r}" for r in _routes(h))]),
                str(h.lost),
                str(h.short),
                str(h.joined),
            )
            for h in harms
        ),
        "lrrr",
    )


def _routes(harm: Harm) -> list[str]:
    said = [_with_kinds(r.route, r.kinds) for r in harm.routes[:ROUTES_NAMED]]
    more = harm.routes_lost - len(said)
    if more > 0:
        said.append(f"and {more} more")
    said += [f"{a} with {b}" for a, b in harm.supplies]
    return said


def _with_kinds(route: str, kinds: Sequence[str]) -> str:
    return f"{route} ({joined(kinds)})" if kinds else route


def _print_fix(page: Page, change: FixChange) -> None:
    page.heading(f"With fix '{change.fix}'")
    before, after = change.before.healthy, change.after.healthy
    page.line(
        f"Without any fault: dead {after.lost} (as built {before.lost}), shorts {after.short} "
        f"(as built {before.short}).",
        indent=1,
    )
    page.line(
        f"Faults that do harm: {sum(h.harms for h in change.after.single)} (as built "
        f"{sum(h.harms for h in change.before.single)}).",
        indent=1,
    )
    for said in change.after.skipped:
        page.line(said, indent=1)
    if change.cured:
        page.line("No longer harmful:", indent=1)
        page.items(_some([c.fault.id for c in change.cured]), indent=2)
    if not change.worse:
        page.line("Under no fault is more wrong than as built.", indent=1)
        return
    page.line("WORSE with the fix:", indent=1)
    page.items(_some([_worse(c) for c in change.worse]), indent=2)


def _some(texts: Sequence[str]) -> list[str]:
    more = len(texts) - CHANGES_TOLD
    return [*texts[:CHANGES_TOLD], *([f"and {more} more"] if more > 0 else [])]


def _worse(change: Change) -> str:
    before, after = change.toll_before, change.toll_after
    said = [
        f"{what} {now} (as built {was})"
        for what, was, now in (
            ("shorts", before.short, after.short),
            ("dead", before.dead, after.dead),
        )
        if now > was
    ]
    return f"{change.fault.id}: {', '.join(said)}"


def _print_notes(page: Page, survey: Survey) -> None:
    page.heading("How to read this")
    kinds = {k for h in (survey.healthy, *survey.single) for r in h.routes for k in r.kinds}
    page.items(
        [
            "Dead: routes that the levers are set for and of which some place is not live "
            "that is live without the fault, added up over all settings. Shorts, Joins: "
            "settings in which a supply is shorted, or two supplies are joined.",
            "A lever that does not follow stays where it was while the others of its gang "
            "move; the route is judged as the gang was meant to set it.",
            "A tired contact or joiner still conducts: a train that rolls passes it, and one "
            "that stands beyond it may not start. The circuit says where.",
            *(f"{k}: {KINDS[k]}" for k in sorted(kinds) if k in KINDS),
        ]
    )
