"""Buttons, time line and message: what stands around the track. In points."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from textwrap import wrap

import pygame

from viewer.look import Look
from viewer.scene.bitmap import BitmapScene, text_width
from viewer.scene.camera import flat
from viewer.scene.scene import About, Lettering, Scene, Style
from viewer.state.replay import MarkKind, TimeMark
from viewer.view import Room
from viewer.window.keys import BINDINGS

BUTTONS_HIGH = 34.0
LINE_ROW = 14.0
LINE_TOP = 6.0
LABELS_WIDE = 112.0
MESSAGE_HIGH = 62.0
MESSAGE_LINES = 3
SIZE = 13.0

#: Rows of the time line and the kinds of mark in each.
ROWS: tuple[tuple[str, tuple[MarkKind, ...]], ...] = (
    ("stalls, trips", ("stall", "trip", "accident")),
    ("dropouts", ("dropout", "hesitation")),
    ("throws, faults", ("throw", "fault")),
)


@dataclass(frozen=True, slots=True)
class Button:
    """A button and the action that it stands for."""

    action: str
    label: str
    room: Room


def buttons(wide: float, top: float, playing: bool, speed: float) -> list[Button]:
    """The buttons from left to right, in as many rows as they need."""
    made: list[Button] = []
    left, row = 8.0, 0
    for binding in BINDINGS:
        if not binding.button:
            continue
        label = "Pause" if binding.action == "play" and playing else binding.button
        if binding.action == "faster":
            label = f"Faster  {speed:g}x"
        long = text_width(label, round(SIZE)) + 18.0
        if binding.action == "play":
            long = text_width("Pause", round(SIZE)) + 18.0
        if binding.action == "faster":
            long = text_width("Faster  0.05x", round(SIZE)) + 18.0
        if left + long > wide - 8.0 and left > 8.0:
            left, row = 8.0, row + 1
        above = top + 4.0 + row * BUTTONS_HIGH
        made.append(Button(binding.action, label, Room(left, above, long, BUTTONS_HIGH - 8.0)))
        left += long + 6.0
    return made


def buttons_high(wide: float) -> float:
    """Height of all rows of buttons."""
    lowest = max(b.room.top for b in buttons(wide, 0.0, False, 1.0))
    return lowest + BUTTONS_HIGH - 4.0


def draw_buttons(scene: Scene, shown: Sequence[Button], dim: Sequence[str]) -> None:
    """The buttons; those in ``dim`` can do nothing at the moment."""
    for button in shown:
        room = button.room
        box = ((room.left, -room.top), (room.left + room.wide, -room.top),
               (room.left + room.wide, -room.top - room.high),
               (room.left, -room.top - room.high))  # fmt: skip
        state = "dim" if button.action in dim else "ready"
        about = About("button", button.action, state)
        scene.area(box, Style("key"), about)
        edge = Style("edge", "dots" if state == "dim" else "solid", 0.0, 1.0)
        scene.line((*box, box[0]), edge, About("edge"))
        lettering = Lettering("quiet" if state == "dim" else "ink", 0.0, SIZE, 0.0, "middle")
        at = (room.left + room.wide / 2.0, -room.top - room.high / 2.0)
        scene.words(at, button.label, lettering, about)


def line_high(lanes: int) -> float:
    """Height of the time line."""
    return LINE_TOP * 2 + LINE_ROW * (len(ROWS) + max(0, lanes - 1))


def x_of(room: Room, time_s: float, duration_s: float) -> float:
    """Where a time lies on the time line."""
    return (
        room.left
        + LABELS_WIDE
        + (room.wide - LABELS_WIDE - 16.0) * time_s / max(duration_s, 1e-9)
    )


def time_at(room: Room, x: float, duration_s: float) -> float:
    """The time at a place of the time line."""
    share = (x - room.left - LABELS_WIDE) / max(1.0, room.wide - LABELS_WIDE - 16.0)
    return max(0.0, min(1.0, share)) * duration_s


def draw_line(
    scene: Scene, room: Room, lanes: Sequence[Sequence[TimeMark]], duration_s: float
) -> None:
    """The time line with its marks, without the cursor."""
    rows: list[tuple[str, list[TimeMark]]] = []
    for label, kinds in ROWS:
        rows.append((label, [m for m in (lanes[0] if lanes else ()) if m.kind in kinds]))
        if label == ROWS[0][0]:
            rows += [
                ("... in the lower view", [m for m in marks if m.kind in kinds])
                for marks in lanes[1:]
            ]
    for number, (label, marks) in enumerate(rows):
        y = room.top + LINE_TOP + LINE_ROW * (number + 0.5)
        start, end = x_of(room, 0.0, duration_s), x_of(room, duration_s, duration_s)
        scene.words(
            (room.left + 8.0, -y), label, Lettering("quiet", 0.0, 11.0), About("row", label)
        )
        scene.line(((start, -y), (end, -y)), Style("bed", "solid", 0.0, 1.0), About("row"))
        drawn: set[tuple[int, str]] = set()
        for mark in marks:
            x = x_of(room, mark.time_s, duration_s)
            if (round(x), mark.kind) in drawn:
                continue  # what lies on one pixel is drawn once
            drawn.add((round(x), mark.kind))
            draw_mark(scene, x, y, mark)


def draw_mark(scene: Scene, x: float, y: float, mark: TimeMark) -> None:
    """Each kind has a shape of its own."""
    about = About("mark", mark.kind, f"{mark.time_s:.3f}")
    thin, r = Style("ink", "solid", 0.0, 1.5), 4.5
    down = ((x - r, -y + r), (x + r, -y + r), (x, -y - r))
    if mark.kind == "stall":
        scene.area(down, Style("ink"), about)
    elif mark.kind == "hesitation":
        scene.line((*down, down[0]), Style("ink", "solid", 0.0, 1.0), about)
    elif mark.kind == "dropout":
        scene.line(((x, -y + 3.0), (x, -y - 3.0)), Style("ink", "solid", 0.0, 1.0), about)
    elif mark.kind == "throw":
        box = (
            (x - 2.5, -y + 2.5),
            (x + 2.5, -y + 2.5),
            (x + 2.5, -y - 2.5),
            (x - 2.5, -y - 2.5),
        )
        scene.area(box, Style("quiet"), about)
    elif mark.kind == "trip":
        scene.area(
            ((x, -y + 5.5), (x + 4.5, -y), (x, -y - 5.5), (x - 4.5, -y)), Style("ink"), about
        )
    else:
        cross = ((-r, -r), (r, r)), ((-r, r), (r, -r))
        if mark.kind == "accident":
            cross = ((-r, 0.0), (r, 0.0)), ((0.0, -r), (0.0, r))
        for (ax, ay), (bx, by) in cross:
            scene.line(((x + ax, -y + ay), (x + bx, -y + by)), thin, about)


def draw_cursor(scene: Scene, room: Room, time_s: float, duration_s: float) -> None:
    """Where in the run we are."""
    x = x_of(room, time_s, duration_s)
    line = ((x, -room.top - 2.0), (x, -room.top - room.high + 2.0))
    scene.line(line, Style("hand", "solid", 0.0, 2.0), About("cursor", "", f"{time_s:.3f}"))
    for end, way in ((room.top + 2.0, 1.0), (room.top + room.high - 2.0, -1.0)):
        tip = ((x - 5.0, -end), (x + 5.0, -end), (x, -end - 6.0 * way))
        scene.area(tip, Style("hand"), About("cursor"))


def draw_message(scene: Scene, room: Room, message: str, held: str) -> None:
    """What has just happened, and what is in the hand."""
    characters = max(20, int(room.wide / (SIZE * 0.56)))
    lines = [*([held] if held else []), *wrap(message, characters)]
    if len(lines) > MESSAGE_LINES:
        lines = [
            *lines[: MESSAGE_LINES - 1],
            lines[MESSAGE_LINES - 1][: characters - 3] + "...",
        ]
    for number, text in enumerate(lines):
        y = room.top + 12.0 + number * 18.0
        about = About("held" if held and number == 0 else "message", "", text)
        scene.words((room.left + 10.0, -y), text, Lettering("ink", 0.0, SIZE), about)


def draw_question(scene: Scene, wide: float, high: float, text: str) -> None:
    """Ask for a name; what has been typed so far is shown with a bar behind it."""
    w, h = min(620.0, wide - 40.0), 92.0
    left, top = (wide - w) / 2.0, (high - h) / 2.0
    box = ((left, -top), (left + w, -top), (left + w, -top - h), (left, -top - h))
    scene.area(box, Style("panel"), About("question"))
    scene.line((*box, box[0]), Style("ink", "solid", 0.0, 2.0), About("edge"))
    scene.words(
        (left + 16.0, -top - 20.0),
        "Name of the new fix",
        Lettering("ink", 0.0, 14.0, strong=True),
        About("asked"),
    )
    scene.words((left + 16.0, -top - 46.0), f"{text}|", Lettering("ink", 0.0, 16.0),
                About("answer", "", text))  # fmt: skip
    scene.words(
        (left + 16.0, -top - 74.0),
        "Enter saves it into the scenario file, Esc leaves it",
        Lettering("quiet", 0.0, 12.0),
        About("hint"),
    )


class Plate:
    """A part of the window that is drawn again only when what it shows has changed."""

    def __init__(self) -> None:
        self._surface: pygame.Surface | None = None
        self._key: object = None

    def show(
        self, surface: pygame.Surface, room: Room, look: Look, ratio: float, key: object,
        draw: object,
    ) -> None:  # fmt: skip
        """Blit the part to ``room``; call ``draw(scene)`` first where ``key`` is new."""
        size = max(1, round(room.wide * ratio)), max(1, round(room.high * ratio))
        whole = (key, size, look.name, ratio, room)
        if self._surface is None or self._key != whole:
            self._surface, self._key = pygame.Surface(size), whole
            self._surface.fill(look.colour("panel"))
            scene = BitmapScene(self._surface, flat(0, 0, 1, 1), look, ratio)
            camera = flat(0, 0, room.wide, room.high)
            scene.aim(camera.at(camera.x_mm + room.left, camera.y_mm - room.top))
            draw(scene)  # type: ignore[operator]
        surface.blit(self._surface, (round(room.left * ratio), round(room.top * ratio)))
