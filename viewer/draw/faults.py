"""Draw what has failed: one mark for each kind of fault, at the part that has it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

from viewer.scene.scene import About, Point, Scene, Style

#: How a fault is seen.  ``cross``, ``bar`` and ``ring`` are drawn over its part; the others
#: are what the part itself looks like: a ``breaker`` that stands off, a ``lever`` with the
#: position that it has kept, rail like ``plastic``, a hollow ``pickup``; a part that has no
#: place on the ground is marked by its ``moment`` on the time line alone, as all are.
Mark = Literal["cross", "bar", "ring", "breaker", "lever", "plastic", "pickup", "moment"]
MARKS: Mapping[str, Mark] = {
    "contact open": "cross",
    "contact tired": "bar",
    "contact never opens": "ring",
    "contact touched": "ring",
    "joiner open": "cross",
    "joiner tired": "bar",
    "feeder off": "cross",
    "feeder tired": "bar",
    "bus off": "moment",
    "bus tired": "moment",
    "jumper off": "cross",
    "jumper tired": "bar",
    "supply off": "breaker",
    "lever does not follow": "lever",
    "rail dirty": "plastic",
    "wheel dirty": "pickup",
}


def draw_mark(scene: Scene, mark: Mark, place: Point, gauge: float) -> None:
    """A cross where nothing conducts, a bar where it does badly, a ring that holds on."""
    x, y = place
    r = gauge * 0.13 * 1.6
    alarm = Style("alarm", "solid", gauge * 0.07, 2.0)
    if mark == "cross":
        scene.line(((x - r, y - r), (x + r, y + r)), alarm, About("cross"))
        scene.line(((x - r, y + r), (x + r, y - r)), alarm, About("cross"))
    elif mark == "bar":
        thin = Style("ink", "solid", gauge * 0.05, 1.0)
        scene.line(((x - r, y), (x + r, y)), thin, About("bar"))
    elif mark == "ring":
        scene.disc(place, r, 4.0, alarm, About("ring"), filled=False)


def draw_fault(scene: Scene, fault: str, id: str, place: Point, gauge: float) -> None:
    """The mark of a kind of fault, on a ground of its own; nothing where it is good."""
    mark = MARKS.get(fault)
    if mark is None or mark not in ("cross", "bar", "ring"):
        return
    scene.disc(place, gauge * 0.26, 4.0, Style("ground"), About("fault", id, fault))
    draw_mark(scene, mark, place, gauge)
