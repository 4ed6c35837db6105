"""The scene on a pygame surface. Opens no window: the surface is given.

This module, and what imports it, is loaded only when a bitmap or window is wanted.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from functools import lru_cache

import pygame

from viewer.look import Look
from viewer.scene.camera import (
    Box,
    Camera,
    clear_place,
    kept_within,
    lines_that_fit,
    nearest_on,
)
from viewer.scene.dashes import RHYTHM, bars, dashes, zigzag
from viewer.scene.scene import (
    ANYWHERE,
    BLOCK,
    TIE,
    About,
    BlockRoom,
    Lettering,
    Line,
    Point,
    Style,
)

#: A dash shorter than this on the screen is not drawn as one.
LEAST_DASH_PX = 1.6


@lru_cache(maxsize=64)
def font(size_px: int) -> pygame.font.Font:
    """The font that pygame brings, the same on every machine."""
    if not pygame.font.get_init():
        pygame.font.init()
    pygame.register_quit(font.cache_clear)  # fonts do not outlive pygame
    return pygame.font.Font(None, max(6, round(size_px * 1.45)))


@lru_cache(maxsize=4096)
def lettered(text: str, size_px: int, colour: tuple[int, int, int]) -> pygame.Surface:
    """A line of text, drawn once."""
    return font(size_px).render(text, True, colour)


def text_width(text: str, size_px: int) -> int:
    """How wide a line of text is in pixels."""
    return font(size_px).size(text)[0]


class BitmapScene:
    """Draws on ``surface`` through ``camera``, whose window is in points.

    ``ratio`` is how many pixels a point has (2 on a high-density screen).  With
    ``fine`` False lines are not smoothed: for while the view is moving.
    """

    def __init__(
        self,
        surface: pygame.Surface,
        camera: Camera,
        look: Look,
        ratio: float = 1.0,
        fine: bool = True,
    ) -> None:
        self.surface = surface
        self.look = look
        self.ratio = ratio
        self.fine = fine
        self.camera = camera.scaled(ratio)
        self.taken: list[Box] = []  #: where blocks of text are

    def aim(self, camera: Camera) -> None:
        """Draw through another camera, in points, and only inside its window."""
        self.camera, self.taken = camera.scaled(self.ratio), []
        window = self.camera
        self.surface.set_clip(
            pygame.Rect(round(window.left_px), round(window.top_px),
                        round(window.wide_px), round(window.high_px))
        )  # fmt: skip

    def line(self, line: Line, style: Style, about: About) -> None:
        """See :class:`viewer.scene.scene.Scene`."""
        width = self._width(style)
        pixels = self._pixels(line)
        if not self._visible(pixels, width * 3.0):
            return
        colour = self.look.colour(style.role)
        rhythm = RHYTHM.get(style.pattern)
        if rhythm is not None and rhythm[-1] * width >= LEAST_DASH_PX:
            self._dashes(pixels, rhythm, width, colour)
        elif style.pattern == "zigzag":
            self._stroke(zigzag(pixels, width), max(1.0, width * 0.7), colour)
        else:
            self._stroke(pixels, width, colour)
        if style.bars:
            for a, b in bars(pixels, width, style.bars):
                self._stroke([a, b], max(1.0, width * 0.6), colour)

    def _dashes(
        self, pixels: list[Point], rhythm: tuple[float, ...], width: float,
        colour: tuple[int, int, int],
    ) -> None:  # fmt: skip
        clip = self.surface.get_clip()
        seen = (clip.left - width, clip.top - width, clip.right + width, clip.bottom + width)
        surface, thick, draw = self.surface, max(1, round(width)), pygame.draw.line
        smooth = self.fine and thick < 8
        for a, b in dashes(pixels, rhythm, width, seen):
            if smooth and abs(a[1] - b[1]) > 1.0 and abs(a[0] - b[0]) > 1.0:
                pygame.draw.aaline(surface, colour, a, b, thick)
            else:
                draw(surface, colour, a, b, thick)

    def _stroke(self, pixels: list[Point], width: float, colour: tuple[int, int, int]) -> None:
        if len(pixels) < 2:
            return
        thick = max(1, round(width))
        if thick >= 8:
            self._broad(pixels, width, colour)
            return
        for (ax, ay), (bx, by) in itertools.pairwise(pixels):
            level = abs(ay - by) < 0.5 or abs(ax - bx) < 0.5
            if level or not self.fine:
                pygame.draw.line(self.surface, colour, (ax, ay), (bx, by), thick)
            else:
                pygame.draw.aaline(self.surface, colour, (ax, ay), (bx, by), thick)

    def _broad(self, pixels: list[Point], width: float, colour: tuple[int, int, int]) -> None:
        """A wide band as polygons, its bends rounded."""
        half = width / 2.0
        for number, ((ax, ay), (bx, by)) in enumerate(itertools.pairwise(pixels)):
            long = ((bx - ax) ** 2 + (by - ay) ** 2) ** 0.5
            if long == 0.0:
                continue
            nx, ny = -(by - ay) / long * half, (bx - ax) / long * half
            corners = [(ax + nx, ay + ny), (bx + nx, by + ny), (bx - nx, by - ny),
                       (ax - nx, ay - ny)]  # fmt: skip
            pygame.draw.polygon(self.surface, colour, corners)
            if number:
                pygame.draw.circle(self.surface, colour, (ax, ay), half)

    def area(self, line: Line, style: Style, about: About) -> None:
        """See :class:`viewer.scene.scene.Scene`."""
        pixels = self._pixels(line)
        if self._visible(pixels, 1.0):
            pygame.draw.polygon(self.surface, self.look.colour(style.role), pixels)

    def disc(
        self, at: Point, radius_mm: float, least_px: float, style: Style, about: About,
        filled: bool = True,
    ) -> None:  # fmt: skip
        """See :class:`viewer.scene.scene.Scene`."""
        centre = self.camera.to_px(at)
        radius = max(radius_mm * self.camera.px_per_mm, least_px * self.ratio)
        if not self._visible([centre], radius + 2.0):
            return
        colour = self.look.colour(style.role)
        width = max(1, round(self._width(style)))
        if filled:
            pygame.draw.aacircle(self.surface, colour, centre, radius)
        else:
            pygame.draw.aacircle(self.surface, colour, centre, radius, width)

    def words(self, at: Point, text: str, lettering: Lettering, about: About) -> None:
        """See :class:`viewer.scene.scene.Scene`."""
        size = lettering.size_mm * self.camera.px_per_mm
        if size < lettering.hide_px * self.ratio:
            return
        height = round(max(size, lettering.least_px * self.ratio))
        x, y = self.camera.to_px(at)
        if not self._visible([(x, y)], height * (1.0 + len(text))):
            return
        written = lettered(text or " ", height, self.look.colour(lettering.role))
        wide, high = written.get_size()
        left = x - {"start": 0.0, "middle": wide / 2.0, "end": float(wide)}[lettering.anchor]
        top = y - high / 2.0
        if lettering.box:
            pad = height * 0.25
            left = kept_within(self.camera, x, left, float(wide), pad)
            box = pygame.Rect(left - pad, top - pad * 0.4, wide + 2 * pad, high + pad * 0.8)
            pygame.draw.rect(
                self.surface, self.look.colour(lettering.box), box, border_radius=round(pad)
            )
        self.surface.blit(written, (round(left), round(top)))

    def block(
        self, at: Point, lines: Sequence[str], about: About, room: BlockRoom = ANYWHERE
    ) -> None:
        """See :class:`viewer.scene.scene.Scene`."""
        size = round(BLOCK.least_px * self.ratio)
        step = size * 1.35
        lines = lines[: lines_that_fit(self.camera, step, size * 0.6)]
        wide = max(text_width(line, size) for line in lines) + size
        high = len(lines) * step + size * 0.6
        x, y = clear_place(self.camera, at, (wide, high), self.taken, room)
        if room.tie is not None:
            end = nearest_on(self.camera.to_px(room.tie), (x, y, x + wide, y + high))
            self.line((room.tie, self.camera.to_mm(end)), TIE, About("tie"))
        box = pygame.Rect(round(x), round(y), round(wide), round(high))
        pygame.draw.rect(self.surface, self.look.colour("alarm fill"), box, border_radius=4)
        pygame.draw.rect(self.surface, self.look.colour("alarm"), box, 2, border_radius=4)
        ink = self.look.colour("ink")
        for number, line in enumerate(lines):
            written = lettered(line, size, ink)
            top = y + size * 0.4 + number * step
            self.surface.blit(written, (round(x + size * 0.5), round(top)))

    def sees(self, at: Point) -> bool:
        """See :class:`viewer.scene.scene.Scene`."""
        return self.camera.sees(at)

    def shows(self, size_mm: float) -> bool:
        """Something of at least a pixel and a half."""
        return size_mm * self.camera.px_per_mm >= 1.5 * self.ratio

    def _pixels(self, line: Line) -> list[Point]:
        camera = self.camera
        scale = camera.px_per_mm
        left = camera.left_px + camera.wide_px / 2.0 - camera.x_mm * scale
        top = camera.top_px + camera.high_px / 2.0 + camera.y_mm * scale
        return [(left + x * scale, top - y * scale) for x, y in line]

    def _visible(self, pixels: list[Point], margin: float) -> bool:
        clip = self.surface.get_clip()
        xs, ys = [p[0] for p in pixels], [p[1] for p in pixels]
        return (
            max(xs) >= clip.left - margin
            and min(xs) <= clip.right + margin
            and max(ys) >= clip.top - margin
            and min(ys) <= clip.bottom + margin
        )

    def _width(self, style: Style) -> float:
        return max(style.width_mm * self.camera.px_per_mm, style.least_px * self.ratio)
