"""Pictures without a window: one moment or setting, or the chart of all settings.

::

    svg = setting_svg(case, {"board/scissors/AW": "diverging"})
    png = setting_png(case, {...})
    svg = chart_svg(case)
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from io import BytesIO
from typing import TYPE_CHECKING, Protocol

from sim.layout.model import Layout
from sim.layout.traffic import Case
from sim.pages.figures import clock
from sim.power.plan import parts_of
from sim.power.settings import rest_positions
from viewer.draw.legend import draw_legend, entries
from viewer.draw.set_out import sheet_of
from viewer.draw.sheet import Sheet
from viewer.draw.track import Detail, draw_board, draw_piece
from viewer.draw.trains import draw_notes, draw_trains, ring
from viewer.draw.wires import draw_wires
from viewer.look import LIGHT, Look
from viewer.scene.camera import Box, Camera, fitted, flat
from viewer.scene.scene import About, Lettering, Scene, TextScene
from viewer.scene.svg import SvgScene
from viewer.state.moment import Moment, setting
from viewer.state.nets import Nets

if TYPE_CHECKING:
    import pygame

#: What a picture shows unless it is told otherwise.
PLAIN = Detail()
#: Bitmaps are drawn larger and reduced, which smooths them.
SMOOTH = 2
MOST_CHARTED = 64


class CameraScene(Scene, Protocol):
    """A scene whose camera can be moved between the parts of a picture."""

    def aim(self, camera: Camera) -> None:
        """Draw through another camera from now on, and only inside its window."""


def draw_moment(
    scene: Scene, sheet: Sheet, moment: Moment, detail: Detail = PLAIN,
    ringed: Iterable[str] = (),
) -> None:  # fmt: skip
    """Everything on the ground at one moment."""
    draw_board(scene, sheet)
    for piece in sheet.pieces:
        draw_piece(scene, piece, moment, detail)
    draw_wires(scene, sheet, moment)
    for name in ringed:
        if name in sheet.where and sheet.pieces:
            ring(scene, sheet.where[name], sheet.pieces[0].gauge_mm, name)
    draw_trains(scene, sheet, moment)
    draw_notes(scene, sheet, moment)


def as_text(case: Case, moment: Moment | None = None) -> TextScene:
    """The drawing of a moment (by default all levers at rest) as text."""
    scene = TextScene()
    moment = moment or moment_of(case, {})
    draw_moment(scene, sheet_of(case.layout), moment, Detail(pads=True))
    return scene


def moment_of(case: Case, levers: Mapping[str, str], open_contacts: Iterable[str] = (),
              tired: Iterable[str] = ()) -> Moment:  # fmt: skip
    """The setting in which ``levers`` lie so and the others at rest; some contacts failing.

    Raises ``KeyError`` for an unknown id and ``ValueError`` for an unknown position.
    """
    layout = case.layout
    number = {x.id: k for k, x in enumerate(layout.levers)}
    element = {e.id: k for k, e in enumerate(layout.elements)}
    positions = rest_positions(layout)
    for name, position in levers.items():
        lever = number[name]
        positions[lever] = layout.levers[lever].positions.index(position)
    return setting(
        Nets(layout),
        positions,
        (element[name] for name in open_contacts),
        (element[name] for name in tired),
    )


@dataclass(frozen=True, slots=True)
class Frame:
    """The measures of a picture in pixels."""

    wide: int
    high: int
    title: int = 30
    size: int = 13


def part_of(sheet: Sheet, pieces: Iterable[int]) -> Box:
    """The ground that some pieces take, with what is written beside them."""
    boxes = [sheet.pieces[k].box for k in pieces]
    if not boxes:
        return sheet.ground.bounds
    return (
        min(b[0] for b in boxes),
        min(b[1] for b in boxes),
        max(b[2] for b in boxes),
        max(b[3] for b in boxes),
    )


def whole_of(sheet: Sheet) -> Box:
    """All the ground, with room for what is written beside the track."""
    west, south, east, north = sheet.ground.bounds
    gauge = sheet.pieces[0].gauge_mm if sheet.pieces else 9.0
    broken = 2.2 if sheet.ground.breaks else 0.5
    return (
        west - broken * gauge,
        south - 3.0 * gauge,
        east + broken * gauge,
        north + 2.5 * gauge,
    )


def compose(
    scene: CameraScene, sheet: Sheet, moment: Moment, frame: Frame, title: str,
    part: Box | None = None, legend: bool = True, ringed: Iterable[str] = (),
) -> None:  # fmt: skip
    """A whole picture: a line of title, the ground, a legend."""
    signs = entries(sheet.layout, bool(moment.trains)) if legend else []
    measure = flat(0, 0, frame.wide, frame.high)
    below = 0.0
    if signs:
        below = draw_legend(TextScene(), signs, 0.0, 0.0, frame.wide - 24.0, frame.size) + 16.0
    room = frame.high - frame.title - below
    scene.aim(fitted(part or whole_of(sheet), 0, frame.title, frame.wide, room, 12.0))
    draw_moment(scene, sheet, moment, Detail(), ringed)
    scene.aim(measure)
    if title:
        about = About("title", title)
        lettering = Lettering("ink", 0.0, frame.size + 3.0, 0.0, "start", "ground", True)
        scene.words((12.0, -frame.title / 2.0), title, lettering, about)
    if signs:
        draw_legend(scene, signs, 12.0, frame.high - below + 8.0, frame.wide - 24.0, frame.size)


def svg_of(sheet: Sheet, moment: Moment, title: str, frame: Frame, look: Look = LIGHT,
           part: Box | None = None, legend: bool = True,
           ringed: Iterable[str] = ()) -> str:  # fmt: skip
    """A picture of one moment as SVG."""
    scene = SvgScene(flat(0, 0, frame.wide, frame.high), look)
    compose(scene, sheet, moment, frame, title, part, legend, ringed)
    return scene.text(title, describe(moment))


def setting_svg(
    case: Case, levers: Mapping[str, str] | None = None, look: Look = LIGHT,
    wide: int = 1280, high: int = 720, legend: bool = True, ringed: Iterable[str] = (),
    module: str | None = None,
) -> str:  # fmt: skip
    """One setting of the levers as SVG; levers not named are at rest.

    ``ringed`` are ids of elements to ring; with ``module`` only that board is shown.
    """
    sheet, moment = sheet_of(case.layout), moment_of(case, levers or {})
    part = None if module is None else part_of(sheet, pieces_of(case.layout, module))
    title = title_of(case, moment)
    return svg_of(sheet, moment, title, Frame(wide, high), look, part, legend, ringed)


def setting_png(
    case: Case, levers: Mapping[str, str] | None = None, look: Look = LIGHT,
    wide: int = 1280, high: int = 720, legend: bool = True, ringed: Iterable[str] = (),
    module: str | None = None,
) -> bytes:  # fmt: skip
    """The same as PNG (needs pygame)."""
    sheet, moment = sheet_of(case.layout), moment_of(case, levers or {})
    part = None if module is None else part_of(sheet, pieces_of(case.layout, module))
    frame = Frame(wide, high)
    return png_bytes(
        bitmap_of(sheet, moment, title_of(case, moment), frame, look, part, legend, ringed)
    )


def bitmap_of(sheet: Sheet, moment: Moment, title: str, frame: Frame, look: Look = LIGHT,
              part: Box | None = None, legend: bool = True,
              ringed: Iterable[str] = ()) -> pygame.Surface:  # fmt: skip
    """A picture of one moment as a pygame surface."""
    import pygame

    from viewer.scene.bitmap import BitmapScene

    k = SMOOTH
    surface = pygame.Surface((frame.wide * k, frame.high * k))
    surface.fill(look.colour("ground"))
    scene = BitmapScene(surface, flat(0, 0, frame.wide, frame.high), look, float(k))
    compose(scene, sheet, moment, frame, title, part, legend, ringed)
    return pygame.transform.smoothscale(surface, (frame.wide, frame.high))


def png_bytes(surface: pygame.Surface) -> bytes:
    """A surface as PNG."""
    import pygame

    stream = BytesIO()
    pygame.image.save(surface, stream, "picture.png")
    return stream.getvalue()


def pieces_of(layout: Layout, module: str) -> tuple[int, ...]:
    """Numbers of the pieces of a module; none if there is no such module."""
    return next((m.pieces for m in layout.modules if m.name == module), ())


def title_of(case: Case, moment: Moment) -> str:
    """Scenario, fix and the levers that are not at rest."""
    layout = case.layout
    moved = [
        f"{x.id} {moment.lever(k)}"
        for k, x in enumerate(layout.levers)
        if moment.positions[k] != x.rest
    ]
    fix = "as built" if case.fix is None else f"with fix '{case.fix}'"
    levers = ", ".join(moved) if moved else "all levers at rest"
    return f"{case.scenario}, {fix}: {levers}"


def moment_title(case: Case, time_s: float, seed: int) -> str:
    """Scenario, fix, time and seed."""
    fix = "as built" if case.fix is None else f"with fix '{case.fix}'"
    return f"{case.scenario}, {fix}, at {clock(time_s)}, seed {seed}"


def describe(moment: Moment) -> str:
    """The rails of a picture in words, for who cannot see it."""
    by_word: dict[str, list[str]] = {}
    for node, rail in enumerate(moment.rails):
        name = moment.layout.nodes[node]
        if "/" in name:
            by_word.setdefault(rail.word, []).append(name)
    return "; ".join(f"{word}: {', '.join(names)}" for word, names in by_word.items())


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


def _grid(cells: Sequence[object], wide: int, cell_high: int) -> tuple[int, int, int]:
    """(columns, rows, width of a cell)."""
    columns = 1 if len(cells) < 2 else 2 if len(cells) < 9 else 3
    rows = -(-len(cells) // columns)
    return columns, rows, wide // columns


def _compose_chart(
    scene: CameraScene, case: Case, each: bool, wide: int, cell_high: int, size: int
) -> int:
    """Draw the chart of states; gives the height that it takes."""
    sheet, cells = sheet_of(case.layout), chart_cells(case, each)
    columns, rows, cell = _grid(cells, wide, cell_high)
    top = size * 3
    for number, shown in enumerate(cells):
        down, across = divmod(number, columns)
        left, above = across * cell, top + down * cell_high
        _draw_views(scene, sheet, shown, (left, above + size * 3.4, cell, cell_high - size * 4))
        scene.aim(flat(0, 0, wide, top + rows * cell_high))
        words = shortest(f"{number + 1}. {shown.words}", round(cell / size / 0.6))
        scene.words((left + size, -(above + size)), words,
                    Lettering("ink", 0.0, size, strong=True),
                    About("setting", shown.words, verdict_of(shown.moment)))  # fmt: skip
        scene.words((left + size, -(above + size * 2.4)), verdict_of(shown.moment),
                    Lettering("quiet", 0.0, size * 0.92), About("verdict"))  # fmt: skip
    used = top + rows * cell_high
    signs = entries(case.layout, False)
    scene.aim(flat(0, 0, wide, used + 200))
    below = draw_legend(scene, signs, 12.0, used + 8.0, wide - 24.0, size)
    fix = "as built" if case.fix is None else f"with fix '{case.fix}'"
    total = parts_of(case, each, MOST_CHARTED).total
    more = f", {len(cells)} of {total} shown" if total > len(cells) else ""
    title = f"{case.scenario}, {fix}: every setting of the levers{more}"
    scene.words((12.0, -size * 1.5), title, Lettering("ink", 0.0, size + 3.0, strong=True),
                About("title", title))  # fmt: skip
    return round(used + below + 20)


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
    scene.size = wide, _compose_chart(scene, case, each, wide, cell_high, 13)
    return scene.text(f"{case.scenario}: chart of states")


def chart_png(case: Case, each: bool = False, look: Look = LIGHT, wide: int = 1280,
              cell_high: int = 190) -> bytes:  # fmt: skip
    """The same as PNG (needs pygame)."""
    import pygame

    from viewer.scene.bitmap import BitmapScene

    k = SMOOTH
    cells = len(chart_cells(case, each))
    _, rows, _ = _grid(range(cells), wide, cell_high)
    surface = pygame.Surface((wide * k, (13 * 3 + rows * cell_high + 260) * k))
    surface.fill(look.colour("ground"))
    scene = BitmapScene(surface, flat(0, 0, 1, 1), look, float(k))
    high = _compose_chart(scene, case, each, wide, cell_high, 13) * k
    cut = surface.subsurface((0, 0, wide * k, min(high, surface.get_height())))
    return png_bytes(pygame.transform.smoothscale(cut, (wide, cut.get_height() // k)))
