"""A survey of faults, as a document and as a page.

The document of a survey of faults.

Tired parts on the page of faults: where a standing train no longer starts.

The page of a survey of faults.
"""

from __future__ import annotations

from collections.abc import Sequence

from sim.analyses.survey.harm import Change, FixChange, Harm, RouteHarm, Survey
from sim.analyses.survey.tired import TiredChange, TiredHarm, TiredSurvey
from sim.faults.possible import Fault
from sim.judge.verdict import count
from sim.pages.assumptions import print_again
from sim.pages.documents import FORMAT_VERSION, Asked, Document
from sim.pages.figures import case_name, joined
from sim.pages.page import Page
from sim.pages.phrases import fault_line
from sim.pages.words import KINDS


def faults_document(
    asked: Asked,
    survey: Survey,
    fixes: Sequence[FixChange],
    tired: TiredSurvey,
    starts: Sequence[TiredChange],
) -> Document:
    """Every fault, the most harmful first, and what each fix changes.

    ``starts`` are the changes that each of ``fixes`` makes to tired parts.
    """
    double = survey.double
    return {
        "format_version": FORMAT_VERSION,
        "scenario": survey.scenario,
        "fix": survey.fix,
        "command": asked.command,
        "settings": survey.settings,
        "states": survey.states,
        "skipped": list(survey.skipped),
        "without_fault": _harm(survey.healthy),
        "single": [_harm(h) for h in survey.single],
        "double": None if double is None else [_harm(h) for h in double],
        "tired": _tired(tired),
        "fixes": [
            {**_fix(f), "tired": _tired_change(t)} for f, t in zip(fixes, starts, strict=True)
        ],
    }


def _tired(survey: TiredSurvey) -> Document:
    return {
        "starting_train": {
            "whose": survey.train.whose,
            "ohm": round(survey.train.ohm, 6),
            "starting_a": survey.train.amps,
        },
        "tired_ohm": survey.ohm,
        "tired_joiner_ohm": survey.joiner_ohm,
        "tired_ohm_whose": survey.whose,
        "settings": survey.settings,
        "parts": survey.parts,
        "harms": [_tired_harm(h) for h in survey.harms],
        "skipped": list(survey.skipped),
    }


def _tired_harm(harm: TiredHarm) -> Document:
    return {
        "id": harm.id,
        "part": harm.part,
        "kind": harm.kind,
        "ohm": harm.ohm,
        "lost": harm.lost,
        "volts": harm.volts,
        "needs_v": harm.needs,
        "routes": [{"route": route, "settings": count} for route, count in harm.routes],
    }


def _tired_change(change: TiredChange) -> Document:
    return {
        "harmful": {"before": len(change.before.harms), "after": len(change.after.harms)},
        "cured": list(change.cured),
        "worse": [_tired_harm(h) for h in change.worse],
        "skipped": list(change.after.skipped),
    }


def _harm(harm: Harm) -> Document:
    return {
        "faults": [_fault_row(f) for f in harm.faults],
        "lost": harm.lost,
        "short": harm.short,
        "joined": harm.joined,
        "dead": harm.dead,
        "shorted": harm.shorted,
        "routes_lost": harm.routes_lost,
        "routes": [
            {
                "route": r.route,
                "kinds": list(r.kinds),
                "settings": r.settings,
                "example": dict(r.example),
            }
            for r in harm.routes
        ],
        "joined_supplies": [list(pair) for pair in harm.supplies],
    }


def _fault_row(fault: Fault) -> Document:
    return {"id": fault.id, "part": fault.part, "kind": fault.kind}


def _fix(change: FixChange) -> Document:
    return {
        "fix": change.fix,
        "without_fault": {
            "before": _sum(change.before.healthy),
            "after": _sum(change.after.healthy),
        },
        "harmful_faults": {
            "before": sum(h.harms for h in change.before.single),
            "after": sum(h.harms for h in change.after.single),
        },
        "cured": [_fault_row(c.fault) for c in change.cured],
        "worse": [_change(c) for c in change.worse],
        "skipped": list(change.after.skipped),
    }


def _sum(harm: Harm) -> Document:
    return {"dead": harm.dead, "short": harm.short, "joined": harm.joined}


def _change(change: Change) -> Document:
    before, after = change.toll_before, change.toll_after
    return {
        "fault": _fault_row(change.fault),
        "before": {"dead": before.dead, "short": before.short},
        "after": {"dead": after.dead, "short": after.short},
    }


PARTS_TOLD = 15
TIRED_CHANGES_TOLD = 12
TIRED_ROUTES_NAMED = 3


def print_tired(page: Page, survey: TiredSurvey, said_before: Sequence[str] = ()) -> None:
    """Every tired part behind which a train that stands does not start.

    ``said_before`` is what the page has told of things left out.
    """
    page.heading("Tired parts: a train rolls on, and does not start again", "tired")
    for said in survey.skipped:
        if said not in said_before:
            page.line(said, indent=1)
    if not survey.parts:
        return
    train = survey.train
    page.line(
        f"Each of {count(survey.parts, 'part')} that carries current with {survey.ohm:g} Ω, "
        f"a joiner {survey.joiner_ohm:g} Ω ({survey.whose}), in place of its own; "
        f"one train that starts ({train.whose}: "
        f"{train.ohm:.3g} Ω on DC, {train.amps:g} A on digital), throttles fully open, "
        "and nothing else.",
        indent=1,
    )
    if not survey.harms:
        page.line("None of them keeps it from starting anywhere.", indent=1)
        return
    page.table(
        ("Part, and where no train starts", "Routes", "Left", "Needs"),
        (
            (_part(page, h), str(h.lost), f"{h.volts:.2f} V", f"{h.needs:g} V")
            for h in survey.harms[:PARTS_TOLD]
        ),
        "lrrr",
    )
    if len(survey.harms) > PARTS_TOLD:
        page.line(f"and {len(survey.harms) - PARTS_TOLD} more that do less", indent=1)
    page.line(
        "Routes: those on which the train would not start somewhere, added up over all "
        "settings. Left: what it gets at the worst place.",
        indent=1,
    )


def _id(page: Page, harm: TiredHarm) -> str:
    return fault_line(harm.kind, harm.part, name=page.names.part)


def _part(page: Page, harm: TiredHarm) -> str:
    said = [page.names.route(route) for route, _ in harm.routes[:TIRED_ROUTES_NAMED]]
    more = len(harm.routes) - len(said)
    said += [f"and {more} more"] if more else []
    return "\n".join([_id(page, harm), *(f"   {route}" for route in said)])


def print_tired_change(page: Page, change: TiredChange) -> None:
    """What a fix changes of that."""
    if not change.after.parts:
        return
    page.line(
        f"Tired parts that keep a train from starting: {len(change.after.harms)} (as built "
        f"{len(change.before.harms)}).",
        indent=1,
    )
    if change.worse:
        page.line("More starts fail with the fix behind:", indent=1)
        told = [f"{_id(page, h)}: {h.lost}" for h in change.worse[:TIRED_CHANGES_TOLD]]
        more = len(change.worse) - len(told)
        page.items([*told, *([f"and {more} more"] if more else [])], indent=2)


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
    page.heading("Wrong without any fault", "sound")
    if not healthy.harms:
        page.line("Nothing: every route that is set is live, in every setting.", indent=1)
        return
    page.line(f"{_in_words(healthy)}. This is left out of what follows.", indent=1)
    told = healthy.routes[:HEALTHY_TOLD]
    page.items((_route(page, r) for r in told), indent=2)
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


def _route(page: Page, lost: RouteHarm) -> str:
    settings = count(lost.settings, "setting")
    return f"{page.names.route(lost.route)}: {joined(list(lost.kinds))} in {settings}"


def _fault(page: Page, fault: Fault) -> str:
    """``blade contact ..., scissors on x: contact open``."""
    return fault_line(fault.kind, fault.part, fault.turn, page.names.part)


def _print_single(page: Page, single: Sequence[Harm], harmful: Sequence[Harm]) -> None:
    page.heading("Single faults, the most harmful first", "singles")
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
    page.heading("Two faults that do together what neither does alone", "pairs")
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
                "\n".join(
                    [
                        *(_fault(page, f) for f in h.faults),
                        *(f"   {r}" for r in _routes(page, h)),
                    ]
                ),
                str(h.lost),
                str(h.short),
                str(h.joined),
            )
            for h in harms
        ),
        "lrrr",
    )


def _routes(page: Page, harm: Harm) -> list[str]:
    said = [_with_kinds(page.names.route(r.route), r.kinds) for r in harm.routes[:ROUTES_NAMED]]
    more = harm.routes_lost - len(said)
    if more > 0:
        said.append(f"and {more} more")
    said += [f"{a} with {b}" for a, b in harm.supplies]
    return said


def _with_kinds(route: str, kinds: Sequence[str]) -> str:
    return f"{route} ({joined(kinds)})" if kinds else route


def _print_fix(page: Page, change: FixChange) -> None:
    page.heading(f"With fix '{change.fix}'", "fixes")
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
        page.items(_some([_fault(page, c.fault) for c in change.cured]), indent=2)
    if not change.worse:
        page.line("Under no fault is more wrong than as built.", indent=1)
        return
    page.line("WORSE with the fix:", indent=1)
    page.items(_some([_worse(page, c) for c in change.worse]), indent=2)


def _some(texts: Sequence[str]) -> list[str]:
    more = len(texts) - CHANGES_TOLD
    return [*texts[:CHANGES_TOLD], *([f"and {more} more"] if more > 0 else [])]


def _worse(page: Page, change: Change) -> str:
    before, after = change.toll_before, change.toll_after
    said = [
        f"{what} {now} (as built {was})"
        for what, was, now in (
            ("shorts", before.short, after.short),
            ("dead", before.dead, after.dead),
        )
        if now > was
    ]
    return f"{_fault(page, change.fault)}: {', '.join(said)}"


def _print_notes(page: Page, survey: Survey) -> None:
    page.heading("How to read this", "reading")
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
