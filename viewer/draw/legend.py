"""What the signs mean, drawn by the same strokes as the things themselves."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from sim.layout.model import Layout
from sim.power.graph import pole_name
from viewer.look import floating_style, off_style, plastic_style, pole_style, short_style
from viewer.scene.scene import About, Lettering, Pattern, Point, Scene, Style

#: A legend names this many poles at most.
POLES_AT_MOST = 8


@dataclass(frozen=True, slots=True)
class Entry:
    """One sign: how to draw it at a place in a given size, and what it means."""

    says: str
    draw: Callable[[Scene, Point, float], None]


def entries(layout: Layout, trains: bool = True) -> list[Entry]:
    """Everything that a picture of ``layout`` may show."""
    poles = min(POLES_AT_MOST, 2 * len(layout.supplies))
    found = [
        _stroke(f"rail on {pole_name(layout, p)}", pole_style(p, 0.0)) for p in range(poles)
    ]
    found += [
        _stroke("rail fed by nothing (floating)", floating_style(0.0)),
        _stroke("rail in a short", short_style(0.0)),
        _stroke("rail on a tripped supply", off_style(0, 0.0)),
        Entry("no current between the rails", _band),
        _stroke("plastic", plastic_style(0.0)),
        Entry("gap", _gap),
        Entry("frog", _frog),
        Entry("contact closed", _closed),
        Entry("contact open", _open),
        Entry("contact that should close and stays open", _stuck),
        _stroke("jumper", Style("wire", "solid", 0.0, 2.0)),
    ]
    if layout.levers:
        found += [Entry("lever at rest", _resting), Entry("lever thrown", _thrown)]
    if trains:
        found += [
            Entry("pickup with supply", _lit),
            Entry("pickup on a pole, no current", _half),
            Entry("pickup without supply", _hollow),
            Entry("a train stands here", _stands),
            Entry("what is to blame", _blamed),
        ]
    return found


def draw_legend(
    scene: Scene, found: Iterable[Entry], left: float, top: float, wide: float, size: float
) -> float:
    """Entries in columns from (left, top) downwards; gives the height that they took.

    The scene's camera must be flat: pixels to the right and, negative, downwards.
    """
    listed = list(found)
    longest = max((len(e.says) for e in listed), default=1)
    column = size * (longest * 0.54 + 5.0)
    columns = max(1, int(wide // column))
    rows = -(-len(listed) // columns)
    step = size * 1.6
    for number, entry in enumerate(listed):
        across, down = divmod(number, rows)
        x, y = left + across * column, top + (down + 0.5) * step
        entry.draw(scene, (x + size * 1.6, -y), size)
        scene.words((x + size * 3.8, -y), entry.says, Lettering("ink", 0.0, size),
                    About("legend", entry.says))  # fmt: skip
    return rows * step


def _stroke(says: str, style: Style) -> Entry:
    def draw(scene: Scene, at: Point, size: float) -> None:
        wide = Style(style.role, style.pattern, 0.0, max(2.0, size * 0.22), style.bars)
        line = ((at[0] - size * 1.6, at[1]), (at[0] + size * 1.6, at[1]))
        scene.line(line, wide, About("sign", says))

    return Entry(says, draw)


_THIN = Style("ink", "solid", 0.0, 1.2)


def _gap(scene: Scene, at: Point, size: float) -> None:
    for side in (-1.0, 1.0):
        line = ((at[0] - size * 1.4 * side, at[1]), (at[0] - size * 0.15 * side, at[1]))
        scene.line(line, Style("quiet", "solid", 0.0, 2.0), About("sign", "gap"))
        x = at[0] + size * 0.15 * side
        scene.line(((x, at[1] - size * 0.4), (x, at[1] + size * 0.4)), _THIN, About("sign"))


def _band(scene: Scene, at: Point, size: float) -> None:
    line = ((at[0] - size * 1.6, at[1]), (at[0] + size * 1.6, at[1]))
    scene.line(line, Style("dead bed", "solid", 0.0, size * 0.9), About("sign", "dead"))
    scene.line(line, Style("dead", "dots", 0.0, max(1.5, size * 0.16)), About("sign"))


def _frog(scene: Scene, at: Point, size: float) -> None:
    r, (x, y) = size * 0.5, at
    scene.line(((x - r, y), (x, y + r), (x + r, y), (x, y - r), (x - r, y)), _THIN,
               About("sign", "frog"))  # fmt: skip


def _closed(scene: Scene, at: Point, size: float) -> None:
    scene.disc(at, 0.0, size * 0.28, Style("ink"), About("sign", "contact closed"))


def _open(scene: Scene, at: Point, size: float) -> None:
    scene.disc(at, 0.0, size * 0.28, _THIN, About("sign", "contact open"), filled=False)


def _stuck(scene: Scene, at: Point, size: float) -> None:
    _open(scene, at, size)
    r = size * 0.42
    for s in (-1.0, 1.0):
        scene.line(((at[0] - r, at[1] - s * r), (at[0] + r, at[1] + s * r)),
                   Style("alarm", "solid", 0.0, 1.5), About("sign", "stays open"))  # fmt: skip


def _lit(scene: Scene, at: Point, size: float) -> None:
    scene.disc(at, 0.0, size * 0.34, Style("pole 0"), About("sign", "pickup lit"))
    scene.disc(at, 0.0, size * 0.34, _THIN, About("sign"), filled=False)


def _half(scene: Scene, at: Point, size: float) -> None:
    scene.disc(at, 0.0, size * 0.17, Style("pole 0"), About("sign", "pickup half"))
    scene.disc(at, 0.0, size * 0.34, _THIN, About("sign"), filled=False)


def _hollow(scene: Scene, at: Point, size: float) -> None:
    scene.disc(at, 0.0, size * 0.34, _THIN, About("sign", "pickup dark"), filled=False)


def _lever(scene: Scene, at: Point, size: float, pattern: Pattern) -> None:
    r, (x, y) = size * 0.55, at
    box = ((x - r, y - r), (x + r, y - r), (x + r, y + r), (x - r, y + r))
    scene.area(box, Style("key"), About("sign", "lever"))
    scene.line((*box, box[0]), Style("ink", pattern, 0.0, 1.2), About("sign"))


def _resting(scene: Scene, at: Point, size: float) -> None:
    _lever(scene, at, size, "solid")


def _thrown(scene: Scene, at: Point, size: float) -> None:
    _lever(scene, at, size, "dashes")


def _stands(scene: Scene, at: Point, size: float) -> None:
    scene.disc(at, 0.0, size * 0.6, Style("alarm fill"), About("sign", "stands"))
    edge, r = Style("alarm", "solid", 0.0, 1.5), size * 0.28
    scene.disc(at, 0.0, size * 0.6, edge, About("sign"), filled=False)
    for s in (-1.0, 1.0):
        scene.line(((at[0] - r, at[1] - s * r), (at[0] + r, at[1] + s * r)), edge,
                   About("sign"))  # fmt: skip


def _blamed(scene: Scene, at: Point, size: float) -> None:
    outer = Style("alarm", "solid", 0.0, 2.5)
    scene.disc(at, 0.0, size * 0.65, outer, About("sign", "to blame"), filled=False)
