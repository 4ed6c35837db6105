"""What a verdict rests on: the facts about every case of a comparison."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from sim.analyses.handwork.measures import Handwork, handwork
from sim.judge.comparison import CaseResult, Comparison
from sim.judge.judgement import AfterFault, CaseFacts, Survive, Verdict, Work, judge
from sim.layout.traffic import Case
from sim.scenario.document import Scenario
from sim.scenario.fixes import FixTable
from sim.scenario.supplies import FeederTable

#: What single faults make of a case.
Faults = Callable[[Case], Sequence[AfterFault]]


def verdict_of(
    scenario: Scenario,
    cases: Sequence[Case],
    comparison: Comparison,
    faults: Faults | None = None,
    survive: Survive | None = None,
) -> Verdict:
    """The verdict on a comparison of ``cases``, the first of which is as built."""
    fixes = [None, *scenario.fix]
    facts = [
        case_facts(scenario, case, fix, result, () if faults is None else faults(case))
        for case, fix, result in zip(cases, fixes, comparison.cases, strict=True)
    ]
    return judge(facts, survive)


def case_facts(
    scenario: Scenario,
    case: Case,
    fix: FixTable | None,
    result: CaseResult,
    faults: Sequence[AfterFault],
) -> CaseFacts:
    """The facts about one case."""
    hands = handwork(case.layout, fix)
    order = result.settings.order
    return CaseFacts(
        name=result.name,
        in_order=order is not None and order.ok,
        shorts=order is not None and order.shorts,
        clean=result.clean.by_run,
        random=result.random,
        work=work_of(scenario, fix, hands),
        short_of_mm=0.0 if hands.fits else -(hands.board_spare_mm or 0.0),
        faults=tuple(faults),
    )


def work_of(scenario: Scenario, fix: FixTable | None, hands: Handwork) -> Work:
    """The work of a fix, in the order in which work is compared."""
    if fix is None:
        return Work()
    return Work(
        wires_at_every_show=wires_at_every_show(scenario, fix),
        held_down=len(hands.held_down),
        holes=hands.holes,
        replaced=len(hands.replaced),
        opened=len(hands.opened),
        joints=hands.joints,
        cuts=hands.cuts,
        wire_mm=round(hands.wire_mm),
    )


def wires_at_every_show(scenario: Scenario, fix: FixTable) -> int:
    """Feeders of a fix that lead to a board where their supply had none.

    A supply stands beside the board that it feeds; to another one its wires are laid
    anew at every show, unless the feeder is ``permanent``.  Drops from a bus are not:
    the bus runs under the boards.
    """
    at: dict[str, set[str]] = {}
    for feeder in scenario.feeder:
        if feeder.supply is not None:
            at.setdefault(feeder.supply, set()).update(_boards(feeder))
    return sum(
        feeder.supply is not None
        and not feeder.permanent
        and not _boards(feeder) <= at.get(feeder.supply, set())
        for feeder in fix.feeder
    )


def _boards(feeder: FeederTable) -> set[str]:
    """The modules that the two wires of a feeder lead to."""
    return {ref.partition("/")[0] for ref in (feeder.plus, feeder.minus)}
