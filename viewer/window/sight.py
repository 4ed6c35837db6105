"""What is looked at: one camera for all views; it zooms, pans and follows a train."""

from __future__ import annotations

from viewer.draw.trains import place_of
from viewer.scene.camera import Camera, fitted
from viewer.scene.scene import Point
from viewer.window.desk import Desk
from viewer.window.rooms import Rooms

ZOOM_STEP = 1.25
MOST_PX_PER_MM = 60.0
#: As far away as this share of the scale at which all is seen.
LEAST_OF_WHOLE = 0.5
PAN_PT = 80.0
#: The gauge is at least this wide where a thing is brought near.
NEAR_PT = 24.0


class Sight:
    """The camera, aimed at the first view; the others look at the same ground."""

    def __init__(self, desk: Desk, rooms: Rooms) -> None:
        self.desk, self.rooms = desk, rooms
        self.following: str | None = None  #: name of the train that is followed
        self.seeing_whole = True
        self.camera = self._whole()

    def _whole(self) -> Camera:
        room = self.rooms.ground(0)
        sheet = self.desk.hand_lane.sheet
        west, south, east, north = sheet.ground.bounds
        gauge = sheet.gauge_mm
        side = 2.2 if sheet.breaks else 0.6
        box = (west - side * gauge, south - 3 * gauge, east + side * gauge, north + 3 * gauge)
        return fitted(box, room.left, room.top, room.wide, room.high, 8.0)

    def on_lane(self, number: int) -> Camera:
        """The camera as one view has it."""
        return self._in_ground(self.camera, number)

    def _in_ground(self, camera: Camera, number: int) -> Camera:
        room = self.rooms.ground(number)
        return camera.within(room.left, room.top, room.wide, room.high)

    def fit(self) -> None:
        """The surface is another, or a second view has come or gone."""
        self.camera = self._whole() if self.seeing_whole else self.on_lane(0)

    def see_whole(self) -> None:
        """Look at the whole layout."""
        self.following, self.seeing_whole, self.camera = None, True, self._whole()

    def _look(self, camera: Camera, stay: bool = False) -> None:
        """Look elsewhere; unless it is to ``stay``, no train is followed any more."""
        self.camera, self.seeing_whole = camera, False
        if not stay:
            self.following = None

    # -- zoom and pan -----------------------------------------------------------

    def zoom(self, factor: float, pointer: Point) -> None:
        """Nearer or further; what lies under ``pointer`` stays there."""
        least = self._whole().px_per_mm * LEAST_OF_WHOLE
        camera = self.on_lane(self.rooms.lane_at(pointer) or 0)
        camera = camera.zoomed(factor, pointer, least, MOST_PX_PER_MM)
        self._look(self._in_ground(camera, 0), stay=True)

    def zoom_middle(self, factor: float) -> None:
        """Nearer to the middle of the view, or further from it."""
        room = self.rooms.ground(0)
        self.zoom(factor, (room.left + room.wide / 2.0, room.top + room.high / 2.0))

    def pan(self, way: str) -> None:
        """A step to one side."""
        dx, dy = {"left": (PAN_PT, 0.0), "right": (-PAN_PT, 0.0), "up": (0.0, PAN_PT),
                  "down": (0.0, -PAN_PT)}[way]  # fmt: skip
        self.drag(dx, dy)

    def drag(self, dx: float, dy: float) -> None:
        """The ground dragged by so many points."""
        self._look(self.camera.moved_px(dx, dy))

    # -- looking at something ---------------------------------------------------

    def bring_in(self, at: Point) -> None:
        """Look at a place that is out of sight."""
        if not self.rooms.ground(0).holds(self.camera.to_px(at)):
            self._look(self.camera.at(*at))

    def bring_near(self, at: Point) -> None:
        """Look at a place from near enough to see all that can be taken there."""
        scale = max(self.camera.px_per_mm, NEAR_PT / self.desk.hand_lane.sheet.gauge_mm)
        room = self.rooms.ground(0)
        self._look(Camera(*at, scale, room.left, room.top, room.wide, room.high))

    def follow_next(self) -> None:
        """Follow the next train, after the last one none."""
        names = [t.name for t in self.desk.built.trains]
        order: list[str | None] = [*names, None]
        here = order.index(self.following) if self.following in order else len(order) - 1
        self.following = order[(here + 1) % len(order)]
        said = f"Following {self.following}." if self.following else "Following no train."
        self.desk.message = said

    def follow(self) -> None:
        """Time has passed: look at where the train is now."""
        if self.following is None:
            return
        lane = self.desk.hand_lane
        moment = lane.at(self.desk.time_s)
        train = next((t for t in moment.trains if t.name == self.following), None)
        if train is not None:
            place = place_of(lane.sheet.ground, train.front)
            self._look(self.camera.at(*place), stay=True)
