"""What a verdict says, in at most six lines: facts in, sentences out."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from sim.judge.comparison import AS_BUILT, CaseResult, Comparison
from sim.judge.judgement import Fact, FactKind, Verdict
from sim.pages.figures import joined

#: A verdict takes no more lines than this.
LINES = 6

_WHY = {
    "short": "metal shorts",
    "short when crossing": "a train shorts two supplies, or its own, where it crosses",
    "train stops": "rails are dead under trains",
    "districts joined": "rails of two districts are joined",
    "not kept live": "rails that are to stay live are dead",
}


def verdict_lines(comparison: Comparison) -> list[str]:
    """As built, what is enough, what more work buys, what is out: the answer first."""
    found = comparison.verdict
    if found is None:
        return []
    by_name = {case.name: case for case in comparison.cases}
    built = comparison.cases[0]
    lines = [_built(built, found), _answer(found, by_name)]
    lines += _more(found)
    lines += _rest(found, "more work", "As good with more work")
    lines += _rest(found, "does less", "Fewer clean legs")
    lines += _rest(found, "out of order", "Not enough")
    lines += _rest(found, "shorts in use", "Never", "shorts in use")
    lines += _no_room(found)
    if not found.told_apart:
        lines.append(
            f"Too few runs to tell cases apart by their clean legs: make at least 6 "
            f"(--runs), not {comparison.runs}."
        )
    return [line for line in lines if line][:LINES]


def _clean(case: CaseResult) -> str:
    clean = case.clean
    if not clean.ideal:
        return "no leg is finished even with sound supply everywhere"
    return f"{clean.legs} of {clean.ideal} legs run clean"


def _built(built: CaseResult, found: Verdict) -> str:
    order = built.settings.order
    if order is None or order.ok:
        state = "everything in use is in order"
    else:
        state = joined([_WHY[why] for why in order.why])
    return f"As built: {_clean(built)}; {state}."


def _answer(found: Verdict, by_name: dict[str, CaseResult]) -> str:
    if len(by_name) == 1:
        return "The scenario states no fix: 'gapwright seek' looks for the smallest." * (
            found.enough is None
        )
    if found.choice is None:
        return "Nothing offered helps: 'gapwright seek' looks for what does."
    if found.enough is None:
        case = by_name[found.choice]
        return (
            f"Helps most: {found.choice}, {_clean(case)}; it leaves something out of order, "
            "and 'gapwright seek' looks for what does not."
        )
    if found.enough == found.order[0] and _kind(found, found.enough) == "in order":
        return "Nothing has to be done."
    chosen = ""
    if found.choice != found.enough:
        chosen = f" Chosen, as asked: {found.choice}, {_clean(by_name[found.choice])}."
    return f"Enough: {found.enough}, {_clean(by_name[found.enough])}.{chosen}"


def _kind(found: Verdict, name: str) -> FactKind:
    return next(fact.kind for fact in found.facts if fact.case == name)


def _facts(found: Verdict, kind: FactKind) -> list[Fact]:
    return [fact for fact in found.facts if fact.kind == kind]


def _more(found: Verdict) -> Iterator[str]:
    """What more work buys, and what that costs."""
    for fact in _facts(found, "survives more"):
        shorts = [f for f in _facts(found, "shorts by metal") if f.case == fact.case]
        but = ""
        if shorts:
            number = round(shorts[0].number or 0.0)
            but = f", but shorts all by metal alone after {number} others"
        number = round(fact.number or 0.0)
        yield f"More: {fact.case} survives {number} more single faults{but}."


def _rest(found: Verdict, kind: FactKind, words: str, why: str = "") -> list[str]:
    told = {fact.case for fact in _facts(found, "survives more")}
    told |= {AS_BUILT}
    names = [fact.case for fact in _facts(found, kind) if fact.case not in told]
    tail = f" ({why})" if why else ""
    return [f"{words}: {_list(names)}{tail}."] if names else []


def _no_room(found: Verdict) -> list[str]:
    facts = _facts(found, "does not fit")
    said = [f"{f.case}, {f.number:g} mm too long for a board" for f in facts]
    return [f"Not here: {'; '.join(said)}."] if said else []


def _list(names: Sequence[str]) -> str:
    return "; ".join(names)
