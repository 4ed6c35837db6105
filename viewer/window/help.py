"""The help: every key and gesture, and what the signs mean. In points."""

from __future__ import annotations

from collections.abc import Sequence

from sim.layout.model import Layout
from viewer.draw.legend import Entry, draw_legend, entries
from viewer.scene.scene import About, Lettering, Scene, Style, TextScene
from viewer.state.replay import MarkKind, TimeMark
from viewer.view import Room, cut_to
from viewer.window.furniture import SIZE, draw_mark
from viewer.window.keys import BINDINGS, MOUSE

#: The smallest letters there are, and those that can be read with ease.
LEAST_SIZE, READABLE = 6.5, 9.0
KEYS_WIDE = 12.5  #: what the keys take, in sizes of the letters


def line_signs() -> list[Entry]:
    """What the marks of the time line mean."""

    def sign(kind: MarkKind, says: str) -> Entry:
        mark = TimeMark(0.0, kind, says)
        return Entry(says, lambda scene, at, _: draw_mark(scene, at[0], -at[1], mark))

    return [
        sign("stall", "time line: stall"),
        sign("hesitation", "time line: hesitation"),
        sign("dropout", "time line: dropout"),
        sign("trip", "time line: trip"),
        sign("throw", "time line: throw"),
        sign("fault", "time line: fault"),
        sign("accident", "time line: derailed, run through"),
    ]


def draw_help(scene: Scene, room: Room, layout: Layout) -> None:
    """All keys and gestures, and what the signs mean."""
    box = (
        (room.left, -room.top),
        (room.left + room.wide, -room.top),
        (room.left + room.wide, -room.top - room.high),
        (room.left, -room.top - room.high),
    )
    scene.area(box, Style("panel"), About("help"))
    scene.line((*box, box[0]), Style("ink", "solid", 0.0, 2.0), About("edge"))
    rows = [(b.keys, b.does) for b in BINDINGS]
    half = -(-len(rows) // 2)
    columns = [
        [("Keys", ""), *rows[:half]],
        [("", ""), *rows[half:], ("", ""), ("Mouse", ""), *MOUSE],
    ]
    lines = max(len(c) for c in columns)
    signs = [*entries(layout), *line_signs()]
    size = _largest(room, lines, signs)
    if size < READABLE:  # rather larger, and without the marks of the time line
        signs = entries(layout)
        size = _largest(room, lines, signs)
    step = size * 1.4
    aside = size * KEYS_WIDE
    lowest = room.top
    for number, column in enumerate(columns):
        left = room.left + 16.0 + number * (room.wide - 16.0) / 2.0
        for k, (keys, does) in enumerate(column):
            y = room.top + 18.0 + k * step
            strong = Lettering("ink", 0.0, size, strong=True)
            scene.words((left, -y), keys, strong, About("key", keys))
            text = cut_to(does, room.wide / 2.0 - aside - 16.0, round(size))
            scene.words(
                (left + aside, -y), text, Lettering("ink", 0.0, size), About("does", does)
            )
            lowest = max(lowest, y)
    draw_legend(scene, signs, room.left + 16.0, lowest + 16.0, room.wide - 32.0,
                min(12.0, size))  # fmt: skip


def _largest(room: Room, lines: int, signs: Sequence[Entry]) -> float:
    """The size of letters in which that many lines and the signs below them fit."""
    size = LEAST_SIZE
    while size < SIZE:
        larger = size + 0.5
        legend = draw_legend(TextScene(), signs, 0.0, 0.0, room.wide - 32.0, min(12.0, larger))
        if 18.0 + lines * larger * 1.4 + 24.0 + legend > room.high:
            break
        size = larger
    return size
