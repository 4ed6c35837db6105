"""The frames of a film, one after the other."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import pygame

from sim.layout.traffic import Case
from sim.run.run import run
from viewer.look import Look
from viewer.place.ground import SHARED_SHAPE, WANTED_SHAPE
from viewer.view import Room, View

BEFORE_STALL_S = 8.0
AFTER_STALL_S = 6.0
WITHOUT_STALL_S = 20.0
#: Frames are painted this much larger and reduced, which smooths them.
SMOOTH = 2


@dataclass(frozen=True, slots=True)
class Shot:
    """What to film: from when to when (s of the run), how fast, how many frames a second."""

    from_s: float
    to_s: float
    speed: float
    per_second: int

    @property
    def times(self) -> list[float]:
        """Time of the run in each frame."""
        step = self.speed / self.per_second
        count = max(1, round((self.to_s - self.from_s) / step))
        return [self.from_s + k * step for k in range(count)]


def views_of(cases: list[Case], seed: int, look: Look) -> list[View]:
    """Run every case on the same seed."""
    titles = ["as built" if c.fix is None else f"with fix '{c.fix}'" for c in cases]
    shape = SHARED_SHAPE if len(cases) > 1 else WANTED_SHAPE
    return [
        View(
            case,
            run(case, seed, motions=True),
            f"{case.scenario}, {title}",
            look,
            SMOOTH,
            shape,
        )
        for case, title in zip(cases, titles, strict=True)
    ]


def stretch_of(
    views: list[View], from_s: float | None, to_s: float | None
) -> tuple[float, float]:
    """What is worth filming where nobody says: the first stall of the first view."""
    record = views[0].replay.record
    first = min((s.time_s for s in record.stalls), default=None)
    start = max(0.0, (first or 0.0) - BEFORE_STALL_S)
    end = WITHOUT_STALL_S if first is None else first + AFTER_STALL_S
    begin = start if from_s is None else from_s
    finish = (end if begin < end else begin + WITHOUT_STALL_S) if to_s is None else to_s
    return begin, min(finish, record.duration_s)


def frames(views: list[View], shot: Shot, wide: int, high: int) -> Iterator[pygame.Surface]:
    """The frames, views under each other, all of the track in view."""
    large = pygame.Surface((wide * SMOOTH, high * SMOOTH))
    rooms = [
        Room(0.0, k * high / len(views), wide, high / len(views)) for k in range(len(views))
    ]
    cameras = [view.whole(room) for view, room in zip(views, rooms, strict=True)]
    for time_s in shot.times:
        for view, room, camera in zip(views, rooms, cameras, strict=True):
            view.paint(large, room, camera, view.replay.at(time_s))
        yield pygame.transform.smoothscale(large, (wide, high))
