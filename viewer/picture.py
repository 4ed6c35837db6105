"""Pictures without a window: one moment or setting.

::

    svg = setting_svg(case, {"board/scissors/AW": "diverging"})
    png = setting_png(case, {...})
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from io import BytesIO
from typing import TYPE_CHECKING, Protocol

from sim.layout.model import Layout
from sim.layout.traffic import Case
from sim.pages.figures import clock
from sim.power.settings import rest_positions
from viewer.draw.legend import draw_legend, entries
from viewer.draw.notes import draw_notes, ring
from viewer.draw.set_out import sheet_of
from viewer.draw.sheet import Sheet
from viewer.draw.track import Detail, draw_board, draw_piece
from viewer.draw.trains import draw_trains
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
            ring(scene, sheet.where[name], sheet.gauge_mm, name)
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
    gauge = sheet.gauge_mm
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


def case_named(case: Case) -> str:
    """Scenario and fix."""
    fix = "as built" if case.fix is None else f"with fix '{case.fix}'"
    return f"{case.scenario}, {fix}"


def title_of(case: Case, moment: Moment) -> str:
    """Scenario, fix and the levers that are not at rest."""
    layout = case.layout
    moved = [
        f"{x.id} {moment.lever(k)}"
        for k, x in enumerate(layout.levers)
        if moment.positions[k] != x.rest
    ]
    levers = ", ".join(moved) if moved else "all levers at rest"
    return f"{case_named(case)}: {levers}"


def moment_title(case: Case, time_s: float, seed: int) -> str:
    """Scenario, fix, time and seed."""
    return f"{case_named(case)}, at {clock(time_s)}, seed {seed}"


def describe(moment: Moment) -> str:
    """The rails of a picture in words, for who cannot see it."""
    by_word: dict[str, list[str]] = {}
    for node, rail in enumerate(moment.rails):
        name = moment.layout.nodes[node]
        if "/" in name:
            by_word.setdefault(rail.word, []).append(name)
    return "; ".join(f"{word}: {', '.join(names)}" for word, names in by_word.items())
