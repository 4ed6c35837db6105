"""The card that travels with a module: what was changed, how to undo it, where it is safe."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from sim.analyses.handwork.hazards import HeldDown, Refusal
from sim.analyses.handwork.measures import Handwork, handwork
from sim.analyses.handwork.tasks import Task
from sim.analyses.neighbours.board import Board, board_of
from sim.analyses.neighbours.verdicts import Judged, judge
from sim.layout.assemble import assemble
from sim.scenario.document import Scenario
from sim.scenario.fixes import FixTable


@dataclass(frozen=True, slots=True)
class Card:
    """Everything that a stranger needs to know of a module."""

    scenario: str
    module: str
    fix: str | None
    note: str
    length_mm: float | None
    loops: tuple[str, ...]
    steps: tuple[Task, ...]  #: what was done
    judged: Judged
    tests: tuple[Task, ...]
    cautions: tuple[Refusal | HeldDown, ...]


def card(
    scenario: Scenario,
    module: str,
    fix: FixTable | None,
    unknown: tuple[str, ...] = (),
    files: tuple[str, ...] = (),
) -> Card:
    """The card of ``module`` with its part of ``fix``; ``module`` must exist."""
    board = board_of(scenario, module)
    judged = judge(scenario, module, fix, unknown, files)
    work = handwork(assemble(scenario, None if fix is None else fix.name).layout, fix)
    length = next(m.length_mm for m in scenario.module if m.name == module)
    return Card(
        scenario.title,
        module,
        None if fix is None else fix.name,
        "" if fix is None else fix.note,
        length,
        board.loops,
        () if fix is None else tuple(_steps(fix, f"{module}/")),
        judged,
        tuple(_tests(board, fix, judged)),
        tuple(_cautions(work, f"{module}/")),
    )


def _steps(fix: FixTable, prefix: str) -> Iterator[Task]:
    """The fix's changes on the module."""
    for jumper in fix.jumper:
        if jumper.start.startswith(prefix) and jumper.to.startswith(prefix):
            yield Task("wire", ids=(jumper.start, jumper.to), wire=jumper.way or "")
    for feeder in fix.feeder:
        if feeder.plus.startswith(prefix):
            source = feeder.supply or f"bus {feeder.bus}"
            yield Task("feeder", who=source, ids=(feeder.plus, feeder.minus))
    for added in fix.added_length:
        if added.at.startswith(prefix):
            yield Task("length", ids=(added.at,), numbers=(added.length_mm,))
    for gap in fix.gap:
        if gap.at.startswith(prefix):
            yield Task("insulated", who=gap.rails, ids=(gap.at,))
    yield from _other_steps(fix, prefix)


def _other_steps(fix: FixTable, prefix: str) -> Iterator[Task]:
    for changeover in fix.changeover:
        if changeover.section.startswith(prefix):
            ids = changeover.lever, changeover.section
            yield Task("changeover", ids=ids, changes=tuple(changeover.to.items()))
    for name in fix.cut:
        if name.startswith(prefix):
            yield Task("was cut", ids=(name,))
    for name in fix.solder:
        if name.startswith(prefix):
            yield Task("soldered", ids=(name,))
    for name in fix.clean:
        if name.startswith(prefix):
            yield Task("cleaned", ids=(name,))
    for alter in fix.alter:
        if alter.piece.startswith(prefix):
            yield Task("altered", ids=(alter.piece,), changes=tuple(alter.set.items()))


def _tests(board: Board, fix: FixTable | None, judged: Judged) -> Iterator[Task]:
    """What to test when the module is joined to others; common practice, no source."""
    yield Task("all off")
    yield Task("rails apart")
    if len(board.loops) > 1:
        yield Task("loops apart")
    through = [
        (w.end, e.end) for w, e in zip(board.west, board.east, strict=False) if w.loop == e.loop
    ]
    for pair in through if fix is not None else ():
        yield Task("through", ids=pair)
    for edge in board.west + board.east:
        yield Task("edge", who=edge.loop, ids=(edge.end,), wire=edge.north)
    if not judged.anywhere or any(v.standing for v in judged.verdicts):
        yield Task("insulate an edge")
    yield Task("every setting")


def _cautions(work: Handwork, prefix: str) -> Iterator[Refusal | HeldDown]:
    for why in work.refused:
        if why.pad.startswith(prefix):
            yield why
    for name in work.held_down:
        if name.startswith(prefix):
            yield HeldDown(name)
