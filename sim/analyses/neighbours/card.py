"""The card that travels with a module: what was changed, how to undo it, where it is safe."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from sim.analyses.handwork.measures import Handwork, altered_words, handwork
from sim.analyses.neighbours.board import Board
from sim.analyses.neighbours.verdicts import Judged, Neighbours
from sim.layout.project import Project
from sim.scenario.fixes import FixTable


@dataclass(frozen=True, slots=True)
class Step:
    """One change: what was done, and how to undo it."""

    done: str
    undo: str


@dataclass(frozen=True, slots=True)
class Card:
    """Everything that a stranger needs to know of a module."""

    scenario: str
    module: str
    fix: str | None
    note: str
    length_mm: float | None
    loops: tuple[str, ...]
    steps: tuple[Step, ...]
    judged: Judged
    tests: tuple[str, ...]
    cautions: tuple[str, ...]


def card(
    project: Project,
    module: str,
    fix: FixTable | None,
    unknown: tuple[str, ...] = (),
    files: tuple[str, ...] = (),
) -> Card:
    """The card of ``module`` with its part of ``fix``; ``module`` must exist."""
    scenario, neighbours = project.scenario, Neighbours(project)
    board = neighbours.board(module)
    judged = neighbours.judge(module, fix, unknown, files)
    work = handwork(project.case(None if fix is None else fix.name).layout, fix)
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


def _steps(fix: FixTable, prefix: str) -> Iterator[Step]:
    """The fix's changes on the module."""
    for jumper in fix.jumper:
        if jumper.start.startswith(prefix) and jumper.to.startswith(prefix):
            way = f" ({jumper.way})" if jumper.way else ""
            yield Step(
                f"a wire from {jumper.start} to {jumper.to}{way}",
                "unsolder it at both ends and wick the pads clean",
            )
    for feeder in fix.feeder:
        if feeder.plus.startswith(prefix):
            source = feeder.supply or f"bus {feeder.bus}"
            yield Step(
                f"a feeder from {source}: plus to {feeder.plus}, minus to {feeder.minus}",
                "unplug it from the supply, then unsolder both wires",
            )
    for added in fix.added_length:
        if added.at.startswith(prefix):
            yield Step(
                f"a length of {added.length_mm:g} mm at {added.at}",
                "untie its wires, slide the joiners back and lift it out",
            )
    for gap in fix.gap:
        if gap.at.startswith(prefix):
            rails = "both rails" if gap.rails == "both" else f"the {gap.rails} rail"
            done = f"insulated joiners at {gap.at}, {rails}"
            yield Step(done, "put metal joiners back in their place")
    yield from _other_steps(fix, prefix)


def _other_steps(fix: FixTable, prefix: str) -> Iterator[Step]:
    for changeover in fix.changeover:
        if changeover.section.startswith(prefix):
            to = ", ".join(f"{word} to {target}" for word, target in changeover.to.items())
            yield Step(
                f"a changeover contact on {changeover.lever} for {changeover.section}: {to}",
                "unsolder its three wires",
            )
    for name in fix.cut:
        if name.startswith(prefix):
            yield Step(f"{name} cut", "join it again and solder it")
    for name in fix.solder:
        if name.startswith(prefix):
            yield Step(f"joiner {name} soldered", "melt the joint, or cut the rail beside it")
    for name in fix.clean:
        if name.startswith(prefix):
            yield Step(f"contact {name} cleaned", "nothing to undo; clean it again in time")
    for alter in fix.alter:
        if alter.piece.startswith(prefix):
            new = ", ".join(altered_words(key, value) for key, value in alter.set.items())
            yield Step(f"{alter.piece} changed: {new}", "put the old piece back")


def _tests(board: Board, fix: FixTable | None, judged: Judged) -> Iterator[str]:
    """What to test when the module is joined to others; common practice, no source."""
    yield "all supplies off and unplugged, trains lifted"
    yield (
        "module apart from its neighbours: left to right rail of each track reads open in "
        "every lever position; about 0.3 ohm is a short"
    )
    if len(board.loops) > 1:
        yield (
            "module apart, every lever position: no rail of one loop reads joined to a rail of "
            "another"
        )
    through = [
        (w.end, e.end) for w, e in zip(board.west, board.east, strict=False) if w.loop == e.loop
    ]
    for west, east in through if fix is not None else ():
        yield f"module apart: both rails from {west} to {east}, in every lever position"
    for edge in board.west + board.east:
        south = "-" if edge.north == "+" else "+"
        wants = f"{edge.end} wants {edge.loop}, north rail on {edge.north}, south on {south}"
        yield f"joined, before the last joiner closes: {wants}; each joint reads about 0 V"
    if not judged.anywhere or any(v.standing for v in judged.verdicts):
        yield "with unlike neighbours: insulated joiners in both rails at one edge"
    yield "then one engine over every route in every setting, before the doors open"


def _cautions(work: Handwork, prefix: str) -> Iterator[str]:
    for why in work.refused:
        if why.startswith(prefix):
            yield f"not to be done so: {why}"
    for name in work.held_down:
        if name.startswith(prefix):
            yield f"{name} is held down by wires through the board: do not lift it"
