"""The chart of states: every setting of the levers drawn, with its verdict in words.

::

    svg = chart_svg(case)
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from sim.layout.model import Layout
from sim.layout.traffic import Case
from sim.power.parts import parts_of
from sim.power.settings import rest_positions
from viewer.draw.legend import draw_legend, entries
from viewer.draw.set_out import sheet_of
from viewer.draw.sheet import Sheet
from viewer.draw.track import Detail, draw_piece
from viewer.draw.wires import draw_wires
from viewer.look import LIGHT, Look
from viewer.picture import SMOOTH, CameraScene, case_named, part_of, png_bytes
from viewer.scene.camera import fitted, flat
from viewer.scene.scene import About, Lettering
from viewer.scene.svg import SvgScene
from viewer.state.moment import Moment, setting
from viewer.state.nets import Nets

MOST_CHARTED = 64
#: Height of letters, pixels.
SIZE = 13


@dataclass(frozen=True, slots=True)
class Cell:
    """One setting of the chart: in words, as a moment, and the boards to show."""

    words: str
    moment: Moment
    views: tuple[tuple[int, ...], ...]  #: pieces side by side, a view for each module


def chart_cells(case: Case, each: bool = False) -> list[Cell]:
    """Every setting of every independent part, at most :data:`MOST_CHARTED`."""
    nets, layout = Nets(case.layout), case.layout
    cells = []
    for part in parts_of(case, each, MOST_CHARTED).parts:
        controls = part.layout.controls
        views = _views(layout, part.cut.levers)
        for own, positions in zip(part.own_settings, part.settings, strict=True):
            words = ", ".join(
                f"{c.id} {part.layout.levers[c.levers[0]].positions[own[c.levers[0]]]}"
                for c in controls
            )
            if controls:
                cells.append(Cell(words, setting(nets, positions), views))
    if not cells:
        everything = (tuple(range(len(layout.pieces))),)
        rest = setting(nets, rest_positions(layout))
        cells = [Cell("no levers", rest, everything)]
    return cells[:MOST_CHARTED]


def _views(layout: Layout, levers: Iterable[int]) -> tuple[tuple[int, ...], ...]:
    """Pieces with those levers, module by module."""
    pieces = sorted({layout.levers[x].piece for x in levers})
    modules: dict[str, list[int]] = {}
    for piece in pieces:
        modules.setdefault(layout.pieces[piece].module, []).append(piece)
    return tuple(tuple(found) for found in modules.values())


def _grid(count: int, wide: int) -> tuple[int, int, int]:
    """(columns, rows, width of a cell) for so many cells."""
    columns = 1 if count < 2 else 2 if count < 9 else 3
    return columns, -(-count // columns), wide // columns


def _compose(scene: CameraScene, case: Case, each: bool, wide: int, cell_high: int) -> int:
    """Draw the chart of states; gives the height that it takes."""
    sheet, cells = sheet_of(case.layout), chart_cells(case, each)
    columns, rows, cell_wide = _grid(len(cells), wide)
    top = SIZE * 3
    whole = flat(0, 0, wide, top + rows * cell_high)
    for number, cell in enumerate(cells):
        down, across = divmod(number, columns)
        left, above = across * cell_wide, top + down * cell_high
        room = (left, above + SIZE * 3.4, cell_wide, cell_high - SIZE * 4)
        _draw_views(scene, sheet, cell, room)
        scene.aim(whole)
        words = shortest(f"{number + 1}. {cell.words}", round(cell_wide / SIZE / 0.6))
        _draw_words(scene, cell, words, (left + SIZE, above))
    used = top + rows * cell_high
    signs = entries(case.layout, False)
    scene.aim(flat(0, 0, wide, used + 200))
    below = draw_legend(scene, signs, 12.0, used + 8.0, wide - 24.0, SIZE)
    _draw_title(scene, case, len(cells), parts_of(case, each, MOST_CHARTED).total)
    return round(used + below + 20)


def _draw_title(scene: CameraScene, case: Case, shown: int, total: int) -> None:
    more = f", {shown} of {total} shown" if total > shown else ""
    title = f"{case_named(case)}: every setting of the levers{more}"
    lettering = Lettering("ink", 0.0, SIZE + 3.0, strong=True)
    scene.words((12.0, -SIZE * 1.5), title, lettering, About("title", title))


def _draw_views(
    scene: CameraScene, sheet: Sheet, cell: Cell, room: tuple[float, float, float, float]
) -> None:
    left, top, wide, high = room
    each = wide / len(cell.views)
    for number, pieces in enumerate(cell.views):
        part = part_of(sheet, pieces)
        scene.aim(fitted(part, left + number * each, top, each, high, 6.0))
        for k in pieces:
            draw_piece(scene, sheet.pieces[k], cell.moment, Detail())
        draw_wires(scene, sheet, cell.moment)


def _draw_words(scene: CameraScene, cell: Cell, words: str, at: tuple[float, float]) -> None:
    """The setting and its verdict, in two lines below a place."""
    (left, above), verdict = at, verdict_of(cell.moment)
    scene.words((left, -(above + SIZE)), words, Lettering("ink", 0.0, SIZE, strong=True),
                About("setting", cell.words, verdict))  # fmt: skip
    scene.words((left, -(above + SIZE * 2.4)), verdict, Lettering("quiet", 0.0, SIZE * 0.92),
                About("verdict"))  # fmt: skip


def shortest(text: str, characters: int) -> str:
    """``text`` cut to so many characters."""
    return text if len(text) <= characters else text[: max(1, characters - 3)] + "..."


def verdict_of(moment: Moment) -> str:
    """``all set routes live``, ``short``, or which kinds of dead there are."""
    if moment.power.shorted():
        return "short"
    kinds: dict[str, None] = {}
    for number, route in enumerate(moment.layout.routes):
        if not moment.is_set(number):
            continue
        for span in route.spans:
            verdict = moment.power.verdict(span.left, span.right)
            if verdict not in (None, "insulated"):
                kinds[str(verdict)] = None
    return f"dead: {', '.join(kinds)}" if kinds else "all set routes live"


def chart_svg(case: Case, each: bool = False, look: Look = LIGHT, wide: int = 1280,
              cell_high: int = 190) -> str:  # fmt: skip
    """The chart of states as SVG: every setting drawn."""
    scene = SvgScene(flat(0, 0, wide, 100), look)
    scene.size = wide, _compose(scene, case, each, wide, cell_high)
    return scene.text(f"{case.scenario}: chart of states")


def chart_png(case: Case, each: bool = False, look: Look = LIGHT, wide: int = 1280,
              cell_high: int = 190) -> bytes:  # fmt: skip
    """The same as PNG (needs pygame)."""
    import pygame

    from viewer.scene.bitmap import BitmapScene

    k = SMOOTH
    _, rows, _ = _grid(len(chart_cells(case, each)), wide)
    surface = pygame.Surface((wide * k, (SIZE * 3 + rows * cell_high + 260) * k))
    surface.fill(look.colour("ground"))
    scene = BitmapScene(surface, flat(0, 0, 1, 1), look, float(k))
    high = _compose(scene, case, each, wide, cell_high) * k
    cut = surface.subsurface((0, 0, wide * k, min(high, surface.get_height())))
    return png_bytes(pygame.transform.smoothscale(cut, (wide, cut.get_height() // k)))
