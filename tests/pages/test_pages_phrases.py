"""Every kind of a closed list has its phrase, and what it names is called by its name."""

from __future__ import annotations

from collections.abc import Mapping
from typing import get_args

import pytest

from sim.analyses.handwork.hazards import Caution, CautionKind, Refusal, RefusalKind
from sim.analyses.handwork.tasks import DoneTask, Stage, Task, TaskKind
from sim.analyses.neighbours.verdicts import HarmKind
from sim.judge.criteria import Point, Remark, RemarkKind
from sim.judge.verdict import FindingKind
from sim.pages import phrases

LISTS: dict[str, tuple[object, Mapping[str, object]]] = {
    "refusals": (RefusalKind, phrases.REFUSALS),
    "cautions": (CautionKind, phrases.CAUTIONS),
    "harms": (HarmKind, phrases.HARMS),
    "stages": (Stage, phrases.STAGES),
    "tasks": (TaskKind, phrases.TASKS),
    "undoing": (DoneTask, phrases.UNDO),
    "findings": (FindingKind, phrases.FINDINGS),
    "remarks": (RemarkKind, phrases.REMARKS),
}


@pytest.mark.parametrize("name", LISTS)
def test_the_list_is_closed(name: str) -> None:
    kinds, table = LISTS[name]
    assert set(table) == set(get_args(kinds))


ALTERED = (("frog_gaps", True), ("length_mm", 9))


def called(id: str) -> str:
    return f"<{id}>"


def task_of(kind: str) -> Task:
    """A task of a kind with everything filled in."""
    return Task(
        kind,  # type: ignore[arg-type]
        who="both" if kind in ("insulate", "insulated") else "W",
        ids=("a/b/c", "a/b/d"),
        numbers=(2.0, 3.0),
        wire="+" if kind == "edge" else "AWG 24",
        changes=(("through", "a/b/d"),) if kind == "changeover" else ALTERED,
        settings=("x through",),
        refused=Refusal("no hole", "a/b/c"),
    )


@pytest.mark.parametrize("kind", get_args(TaskKind))
def test_every_task_is_said_in_one_sentence(kind: str) -> None:
    said = phrases.task_line(task_of(kind), called)
    assert said and "Task(" not in said and "Refusal(" not in said and "_" not in said
    if "a/b/c" in said and kind != "clean all":  # a pattern is no name
        assert "<a/b/c>" in said


@pytest.mark.parametrize("kind", get_args(RefusalKind))
def test_every_refusal_names_its_pad(kind: RefusalKind) -> None:
    refusal = Refusal(kind, "a/b/pad", "AWG 24", "metal", (1.5, 0.9))
    assert phrases.refusal_line(refusal, called).startswith("<a/b/pad>: ")
    assert phrases.refusal_words(refusal)


@pytest.mark.parametrize("kind", get_args(CautionKind))
def test_every_caution_names_its_place(kind: CautionKind) -> None:
    assert "<a/b/pad>" in phrases.caution_line(Caution(kind, "a/b/pad", 2.0), called)


def test_a_gap_is_marked_by_what_is_altered_and_not_by_how_it_is_said() -> None:
    """A family may have "gap" in its name: that makes no gap."""
    named = Task("alter", ids=("a/b",), changes=(("family", "no gap at all"),))
    assert "Strokes" not in phrases.task_line(named)
    gapped = Task("alter", ids=("a/b",), changes=(("frog_gaps", True),))
    assert phrases.task_line(gapped) == (
        "Change a/b: with frog gaps. Strokes across its rails are its gaps."
    )


def test_five_criteria_are_named_and_the_others_counted() -> None:
    points = tuple(Point(k, 2.0, "half", 1.0) for k in range(7))
    said = phrases.remark_line(Remark("gives up", points))
    assert said.count("with 'half' 1") == 5
    assert said.endswith("; and 2 more")
    assert "more" not in phrases.remark_line(Remark("gives up", points[:5]))
