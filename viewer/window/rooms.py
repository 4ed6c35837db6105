"""Where everything stands on the surface. In points."""

from __future__ import annotations

from viewer.scene.scene import Point
from viewer.view import HEAD, Room
from viewer.window import furniture
from viewer.window.desk import Desk

#: However small the window, a view is this high; what stands below then covers it.
LEAST_GROUND_PT = 40.0
LEAST_WIDE_PT, LEAST_HIGH_PT = 320.0, 240.0


class Rooms:
    """The rooms of a surface of ``size``: views above, time line, message and buttons below."""

    def __init__(self, desk: Desk, size: tuple[float, float]) -> None:
        self.desk = desk
        self.wide, self.high = size
        self._buttons_for, self._buttons_high = 0.0, 0.0

    def resize(self, size: tuple[float, float]) -> None:
        """The surface is another size now."""
        self.wide, self.high = max(LEAST_WIDE_PT, size[0]), max(LEAST_HIGH_PT, size[1])

    def button_strip(self) -> Room:
        """All buttons."""
        if self._buttons_for != self.wide:
            self._buttons_for, self._buttons_high = self.wide, furniture.buttons_high(self.wide)
        top = self.high - self._buttons_high
        return Room(0.0, top, self.wide, self.high - top)

    def buttons(self) -> list[furniture.Button]:
        """Every button where it stands."""
        top = self.button_strip().top
        return furniture.buttons(self.wide, top, self.desk.playing, self.desk.speed)

    def message(self) -> Room:
        """The message."""
        top = self.button_strip().top - furniture.MESSAGE_HIGH
        return Room(0.0, top, self.wide, furniture.MESSAGE_HIGH)

    def line(self) -> Room:
        """The time line."""
        high = furniture.line_high(len(self.desk.lanes))
        return Room(0.0, self.message().top - high, self.wide, high)

    def lane(self, number: int) -> Room:
        """One view with its headline."""
        lanes = len(self.desk.lanes)
        high = max(self.line().top / lanes, HEAD + LEAST_GROUND_PT)
        return Room(0.0, number * high, self.wide, high)

    def ground(self, number: int) -> Room:
        """The track of one view."""
        room = self.lane(number)
        return Room(room.left, room.top + HEAD, room.wide, room.high - HEAD)

    def lane_at(self, at: Point) -> int | None:
        """The view whose track a point lies on."""
        lanes = range(len(self.desk.lanes))
        return next((k for k in lanes if self.ground(k).holds(at)), None)
