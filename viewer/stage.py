"""Moments painted on a surface again and again: for the window, and for film.

The track is kept as it was painted; only pieces whose state has changed are
painted anew.  Trains and notes go on top, each time.  With a budget, painting that
takes longer goes on in the next frames: what is shown meanwhile is the last
complete picture, moved and scaled to where the view is now.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from time import perf_counter

import pygame

from viewer.draw.notes import draw_notes
from viewer.draw.sheet import Sheet
from viewer.draw.track import Detail, draw_board, draw_piece
from viewer.draw.trains import draw_trains
from viewer.draw.wires import draw_wires
from viewer.look import Look
from viewer.scene.bitmap import BitmapScene
from viewer.scene.camera import Camera
from viewer.state.moment import Moment

#: Ground painted around what is seen, as a share of it, so that a pan has something to show.
MARGIN = 0.15


@dataclass(slots=True)
class _Layer:
    """A painted picture of the track and what it shows."""

    surface: pygame.Surface
    camera: Camera
    moment: Moment
    key: tuple[object, ...]


class Stage:
    """One view on a layout. ``ratio`` is pixels per point.

    ``fresh`` are elements (jumpers) that have just been laid by hand.
    """

    def __init__(self, sheet: Sheet, look: Look, ratio: float = 1.0) -> None:
        self.look, self.ratio = look, ratio
        self.fresh: frozenset[int] = frozenset()
        self.detail = Detail()
        self.use(sheet)

    def use(self, sheet: Sheet) -> None:
        """Show another layout from now on."""
        self.sheet = sheet
        self._shown: _Layer | None = None
        self._next: tuple[_Layer, Iterator[None]] | None = None
        self._due: dict[int, None] = {}
        self._around: dict[int, Sheet] = {}
        self._pieces_at: dict[int, list[int]] = {}
        for number, piece in enumerate(sheet.pieces):
            for rail in piece.rails:
                if rail.node >= 0:
                    known = self._pieces_at.setdefault(rail.node, [])
                    if not known or known[-1] != number:
                        known.append(number)

    def paint(
        self, surface: pygame.Surface, camera: Camera, moment: Moment,
        budget_s: float | None = None,
    ) -> None:  # fmt: skip
        """Paint ``moment`` into the camera's window of ``surface``.

        Without a budget everything is painted at once.
        """
        deadline = None if budget_s is None else perf_counter() + budget_s
        self._prepare(camera, moment, deadline)
        window = camera.scaled(self.ratio)
        clip = pygame.Rect(round(window.left_px), round(window.top_px),
                           round(window.wide_px), round(window.high_px))  # fmt: skip
        surface.set_clip(clip)
        self._show(surface, window, clip)
        top = BitmapScene(surface, camera, self.look, self.ratio)
        draw_trains(top, self.sheet, moment)
        draw_notes(top, self.sheet, moment)
        surface.set_clip(None)

    def settled(self) -> bool:
        """Whether what was painted last is complete."""
        return self._next is None and not self._due

    # -- what is kept -----------------------------------------------------------

    def _key(self) -> tuple[object, ...]:
        return self.look.name, self.fresh, self.detail, self.sheet.jumpers

    def _prepare(self, camera: Camera, moment: Moment, deadline: float | None) -> None:
        shown = self._shown
        if shown is None or shown.moment.nets is not moment.nets:
            self._next = None
            self._begin(camera, moment)
            if shown is None:
                deadline = None
        elif self._next is None and (shown.camera != camera or shown.key != self._key()):
            self._begin(camera, moment)
        if self._next is not None:
            layer, painting = self._next
            for _ in painting:
                if deadline is not None and perf_counter() > deadline:
                    return
            self._shown, self._next, self._due = layer, None, {}
            if deadline is None and (layer.camera != camera or layer.key != self._key()):
                self._prepare(camera, moment, None)
                return
        self._mend(moment, deadline)

    def _begin(self, camera: Camera, moment: Moment) -> None:
        room_x, room_y = camera.wide_px * MARGIN, camera.high_px * MARGIN
        large = camera.within(
            0.0, 0.0, camera.wide_px + 2 * room_x, camera.high_px + 2 * room_y
        )
        size = round(large.wide_px * self.ratio), round(large.high_px * self.ratio)
        layer = _Layer(pygame.Surface(size), camera, moment, self._key())
        scene = BitmapScene(layer.surface, large, self.look, self.ratio)
        self._next = layer, self._painting(scene, moment)

    def _painting(self, scene: BitmapScene, moment: Moment) -> Iterator[None]:
        scene.surface.fill(self.look.colour("ground"))
        draw_board(scene, self.sheet)
        west, south, east, north = scene.camera.seen()
        for piece in self.sheet.pieces:
            w, s, e, n = piece.box
            if e >= west and w <= east and n >= south and s <= north:
                draw_piece(scene, piece, moment, self.detail)
                yield
        draw_wires(scene, self.sheet, moment, self.fresh)

    def _mend(self, moment: Moment, deadline: float | None) -> None:
        """Paint anew, in the picture that is shown, the pieces that have changed."""
        shown = self._shown
        assert shown is not None
        for number in self._changed(shown.moment, moment):
            self._due[number] = None
        shown.moment = moment
        if not self._due:
            return
        camera = shown.camera
        large = camera.within(
            0.0, 0.0, camera.wide_px * (1 + 2 * MARGIN), camera.high_px * (1 + 2 * MARGIN)
        )
        scene = BitmapScene(shown.surface, large, self.look, self.ratio)
        for number in list(self._due):
            del self._due[number]
            self._paint_piece(scene, moment, number)
            if deadline is not None and perf_counter() > deadline:
                break
        shown.surface.set_clip(None)

    def _paint_piece(self, scene: BitmapScene, moment: Moment, number: int) -> None:
        """The ground that a piece takes, with all that reaches into it."""
        box = self.sheet.pieces[number].box
        left, top = scene.camera.to_px((box[0], box[3]))
        right, low = scene.camera.to_px((box[2], box[1]))
        clip = pygame.Rect(round(left), round(top), round(right - left) + 1,
                           round(low - top) + 1)  # fmt: skip
        if not clip.colliderect(scene.surface.get_rect()):
            return
        near = self._around.get(number)
        if near is None:
            near = self._around[number] = self.sheet.within(box)
        scene.surface.set_clip(clip)
        scene.surface.fill(self.look.colour("ground"))
        draw_board(scene, near)
        for piece in near.pieces:
            draw_piece(scene, piece, moment, self.detail)
        draw_wires(scene, near, moment, self.fresh)

    def _show(self, surface: pygame.Surface, window: Camera, clip: pygame.Rect) -> None:
        """The picture kept, moved and scaled to the view."""
        shown = self._shown
        assert shown is not None
        kept = shown.camera.scaled(self.ratio)
        wide, high = shown.surface.get_size()
        scale = window.px_per_mm / kept.px_per_mm
        x = clip.centerx + (kept.x_mm - window.x_mm) * window.px_per_mm - wide * scale / 2.0
        y = clip.centery - (kept.y_mm - window.y_mm) * window.px_per_mm - high * scale / 2.0
        if abs(scale - 1.0) < 1e-6:
            if abs(x - round(x)) > 1e-9 or x > clip.left or y > clip.top:
                surface.fill(self.look.colour("ground"), clip)
            surface.blit(shown.surface, (round(x), round(y)))
            return
        surface.fill(self.look.colour("ground"), clip)
        # Only what is seen is scaled: the whole would be too large when zooming in.
        west, north = max(0.0, (clip.left - x) / scale), max(0.0, (clip.top - y) / scale)
        part = pygame.Rect(
            int(west), int(north),
            min(wide - int(west), round(clip.width / scale) + 2),
            min(high - int(north), round(clip.height / scale) + 2),
        )  # fmt: skip
        if part.width <= 0 or part.height <= 0:
            return
        target = (max(1, round(part.width * scale)), max(1, round(part.height * scale)))
        scaled = pygame.transform.scale(shown.surface.subsurface(part), target)
        surface.blit(scaled, (round(x + part.left * scale), round(y + part.top * scale)))

    # -- what has changed -------------------------------------------------------

    def _changed(self, before: Moment, now: Moment) -> list[int]:
        """Pieces that look otherwise than before."""
        if before is now:
            return []
        same_contacts = (before.closed, before.stuck, before.tired, before.held) == (
            now.closed, now.stuck, now.tired, now.held
        )  # fmt: skip
        same_levers = before.positions == now.positions
        if before.power is now.power and same_levers and same_contacts:
            return []
        if before.power.state != now.power.state or before.weak != now.weak:
            return list(range(len(self.sheet.pieces)))
        found: set[int] = set()
        layout = now.layout
        for lever, (a, b) in enumerate(zip(before.positions, now.positions, strict=True)):
            if a != b:
                found.add(layout.levers[lever].piece)
        flipped = before.closed ^ now.closed
        flipped |= (before.stuck ^ now.stuck) | (before.tired ^ now.tired)
        flipped |= before.held.keys() ^ now.held.keys()
        if any(layout.elements[e].piece < 0 for e in flipped):
            return list(range(len(self.sheet.pieces)))  # a joint or wire, between pieces
        found.update(layout.elements[e].piece for e in flipped)
        if before.power is not now.power:
            pairs = zip(before.rails, now.rails, strict=True)
            for node, (old, new) in enumerate(pairs):
                if old != new:
                    found.update(self._pieces_at.get(node, ()))
        return sorted(found - {-1})
