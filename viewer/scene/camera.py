"""From the ground to a surface: which mm lie under which pixel."""

from __future__ import annotations

from dataclasses import dataclass

from viewer.scene.scene import ANYWHERE, BlockRoom, Point

Box = tuple[float, float, float, float]
#: A block of text stays this far from a place that must be seen.
CLEAR_PX = 14.0
#: It goes so many of its own sizes away so as not to cover one place more of the track.
AWAY_FOR_ONE = 0.5


@dataclass(frozen=True, slots=True)
class Camera:
    """Shows the ground around (x_mm, y_mm) in a window of pixels.

    The window's top left corner is (left_px, top_px); ``px_per_mm`` is the scale.
    """

    x_mm: float
    y_mm: float
    px_per_mm: float
    left_px: float
    top_px: float
    wide_px: float
    high_px: float

    def to_px(self, at: Point) -> Point:
        """The pixel of a place."""
        return (
            self.left_px + self.wide_px / 2.0 + (at[0] - self.x_mm) * self.px_per_mm,
            self.top_px + self.high_px / 2.0 - (at[1] - self.y_mm) * self.px_per_mm,
        )

    def to_mm(self, pixel: Point) -> Point:
        """The place under a pixel."""
        return (
            self.x_mm + (pixel[0] - self.left_px - self.wide_px / 2.0) / self.px_per_mm,
            self.y_mm - (pixel[1] - self.top_px - self.high_px / 2.0) / self.px_per_mm,
        )

    def seen(self) -> Box:
        """West, south, east and north of what is shown, mm."""
        half_x, half_y = (
            self.wide_px / self.px_per_mm / 2.0,
            self.high_px / self.px_per_mm / 2.0,
        )
        return self.x_mm - half_x, self.y_mm - half_y, self.x_mm + half_x, self.y_mm + half_y

    def sees(self, at: Point) -> bool:
        """Whether a place lies within the window."""
        west, south, east, north = self.seen()
        return west <= at[0] <= east and south <= at[1] <= north

    def moved_px(self, dx: float, dy: float) -> Camera:
        """The ground dragged by so many pixels."""
        return self.at(self.x_mm - dx / self.px_per_mm, self.y_mm + dy / self.px_per_mm)

    def at(self, x_mm: float, y_mm: float) -> Camera:
        """The same, looking at another place."""
        return Camera(
            x_mm, y_mm, self.px_per_mm, self.left_px, self.top_px, self.wide_px, self.high_px
        )

    def zoomed(self, factor: float, pixel: Point, least: float, most: float) -> Camera:
        """Nearer or further; what lies under ``pixel`` stays there."""
        scale = min(most, max(least, self.px_per_mm * factor))
        x, y = self.to_mm(pixel)
        share = self.px_per_mm / scale
        return Camera(
            x + (self.x_mm - x) * share, y + (self.y_mm - y) * share, scale,
            self.left_px, self.top_px, self.wide_px, self.high_px,
        )  # fmt: skip

    def scaled(self, ratio: float) -> Camera:
        """The same on a surface with ``ratio`` times as many pixels each way."""
        return Camera(
            self.x_mm, self.y_mm, self.px_per_mm * ratio, self.left_px * ratio,
            self.top_px * ratio, self.wide_px * ratio, self.high_px * ratio,
        )  # fmt: skip

    def within(self, left: float, top: float, wide: float, high: float) -> Camera:
        """The same place and scale in another window."""
        return Camera(self.x_mm, self.y_mm, self.px_per_mm, left, top, wide, high)


def fitted(bounds: Box, left: float, top: float, wide: float, high: float,
           margin_px: float = 24.0) -> Camera:  # fmt: skip
    """The camera that shows all of ``bounds`` with a margin."""
    west, south, east, north = bounds
    room_x, room_y = max(1.0, wide - 2 * margin_px), max(1.0, high - 2 * margin_px)
    scale = min(room_x / max(east - west, 1e-6), room_y / max(north - south, 1e-6))
    return Camera((west + east) / 2.0, (south + north) / 2.0, scale, left, top, wide, high)


def flat(left: float, top: float, wide: float, high: float) -> Camera:
    """A camera for what is placed in points: x to the right, -y downwards, from 0."""
    return Camera(wide / 2.0, -high / 2.0, 1.0, left, top, wide, high)


def kept_within(camera: Camera, x: float, left: float, wide: float, pad: float) -> float:
    """Left pixel of words that are ``wide``, moved into the window if ``x`` lies in it."""
    first, last = camera.left_px + pad, camera.left_px + camera.wide_px - wide - pad
    if not first - pad <= x <= last + wide + pad or last < first:
        return left
    return min(max(left, first), last)


def clear_place(
    camera: Camera, at: Point, size: tuple[float, float], taken: list[Box],
    room: BlockRoom = ANYWHERE,
) -> Point:  # fmt: skip
    """Top left pixel for a box below (or above) a place, within the window.

    Of some places the first is chosen that covers nothing: no box in ``taken``,
    which the new one is added to, and no place that ``room`` keeps clear; then as few
    as it can of what it would rather not cover, as long as it need not go far for that.
    """
    wide, high = size
    spots = [_around(camera.to_px(p)) for p in room.clear_of]
    soft = [camera.to_px(p) for p in room.rather_not]
    x, y = camera.to_px(at)
    home = x - wide / 2.0, y - high if room.up else y

    def burden(p: Box) -> tuple[int, int, float]:
        away = abs(p[0] - home[0]) / wide + abs(p[1] - home[1]) / high
        under = sum(p[0] < sx < p[2] and p[1] < sy < p[3] for sx, sy in soft)
        return (
            sum(_cover(p, other) for other in taken),
            sum(_cover(p, spot) for spot in spots),
            under * AWAY_FOR_ONE + away,
        )

    chosen = min(_places(camera, home, size), key=burden)
    taken.append(chosen)
    return chosen[0], chosen[1]


def _places(camera: Camera, home: Point, size: tuple[float, float]) -> list[Box]:
    """Boxes in steps of their own size around ``home``, and at the sides of the window."""
    wide, high = size
    west, north = camera.left_px + 4.0, camera.top_px + 4.0
    east = max(west, camera.left_px + camera.wide_px - wide - 4.0)
    south = max(north, camera.top_px + camera.high_px - high - 4.0)
    steps = (0.0, -1.0, 1.0, -2.0, 2.0, -3.0, 3.0)
    tops = [min(max(home[1] + n * high * 1.05, north), south) for n in steps]
    lefts = [min(max(home[0] + n * wide * 1.05, west), east) for n in steps[:5]]
    tops, lefts = [*tops, (north + south) / 2.0], [*lefts, west, east]
    pairs = dict.fromkeys((left, top) for left in lefts for top in tops)
    return [(left, top, left + wide, top + high) for left, top in pairs]


def _around(p: Point) -> Box:
    return (p[0] - CLEAR_PX, p[1] - CLEAR_PX, p[0] + CLEAR_PX, p[1] + CLEAR_PX)


def lines_that_fit(camera: Camera, step: float, more: float) -> int:
    """How many lines of text the window has room for; one at least."""
    return max(1, int((camera.high_px - 8.0 - more) / step))


def nearest_on(p: Point, box: Box) -> Point:
    """The place of a box that is nearest to ``p``."""
    return min(max(p[0], box[0]), box[2]), min(max(p[1], box[1]), box[3])


def _cover(a: Box, b: Box) -> bool:
    return a[2] > b[0] and a[0] < b[2] and a[3] > b[1] and a[1] < b[3]
