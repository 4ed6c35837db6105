"""The mouse: clicks, drags of the ground and of wires, scrubbing on the time line."""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot

import pygame

from viewer.scene.camera import Camera
from viewer.scene.scene import Point
from viewer.window.desk import Desk
from viewer.window.furniture import time_at
from viewer.window.hand import Hand
from viewer.window.keys import SHIFT
from viewer.window.rooms import Rooms
from viewer.window.sight import ZOOM_STEP, Sight
from viewer.window.things import Takeable

#: A press that has moved less is a click.
CLICK_PT = 5.0


@dataclass(slots=True)
class Press:
    """A mouse button held down: where it began, on what, and what it has become."""

    at: Point
    last: Point
    thing: Takeable | None
    on_line: bool
    moved: bool = False

    @property
    def pad(self) -> Takeable | None:
        """The pad that a jumper is drawn from."""
        return self.thing if self.thing is not None and self.thing.kind == "pad" else None


class Mouse:
    """Where the pointer is and what it drags."""

    def __init__(self, desk: Desk, rooms: Rooms, sight: Sight, hand: Hand) -> None:
        self.desk, self.rooms, self.sight, self.hand = desk, rooms, sight, hand
        self.at: Point = (0.0, 0.0)
        self.press: Press | None = None

    def down(self, at: Point, button: int) -> None:
        """A button pressed on the time line or on a view."""
        if self.rooms.line().holds(at):
            self.desk.playing = False
            self._scrub(at)
            self.press = Press(at, at, None, True)
            return
        lane = self.rooms.lane_at(at)
        if lane is not None:
            thing = self.hand.thing_at(at, lane) if button == 1 else None
            self.press = Press(at, at, thing, False)

    def _scrub(self, at: Point) -> None:
        self.desk.go_to(time_at(self.rooms.line(), at[0], self.desk.duration_s))

    def move(self, at: Point) -> None:
        """The pointer moved, with a button held or not."""
        self.at = at
        press = self.press
        if press is None:
            return
        if press.on_line:
            self._scrub(at)
            return
        if hypot(at[0] - press.at[0], at[1] - press.at[1]) > CLICK_PT:
            press.moved = True
        if press.moved and press.pad is None:
            self.sight.drag(at[0] - press.last[0], at[1] - press.last[1])
        press.last = at

    def up(self, at: Point) -> None:
        """A button let go."""
        press, self.press = self.press, None
        if press is None or press.on_line:
            return
        if press.moved:
            if press.pad is not None:
                self.hand.wire(press.pad, at, self.rooms.lane_at(at))
        elif press.thing is None:
            self.hand.taken = None
        else:
            self.hand.act_on(press.thing, bool(pygame.key.get_mods() & SHIFT))

    def wheel(self, steps: float) -> None:
        """Nearer or further, about the pointer."""
        self.sight.zoom(ZOOM_STEP**steps, self.at)

    def wire(self, camera: Camera) -> tuple[Point, Point] | None:
        """Start and end (mm) of a jumper that is being laid, seen through ``camera``."""
        press, desk = self.press, self.desk
        if press is not None and press.moved and press.pad is not None:
            start: Point | None = press.pad.at
        elif desk.wire_from is not None:
            start = desk.hand_lane.sheet.where.get(desk.wire_from)
        else:
            start = None
        if start is None:
            return None
        held = self.hand.taken if press is None else None
        return start, camera.to_mm(self.at) if held is None else held.at
