"""One view on one case: its headline, its clock and counts, and the track below."""

from __future__ import annotations

from dataclasses import dataclass

import pygame

from sim.layout.traffic import Case
from sim.pages.figures import clock
from sim.records.model import Record
from viewer.draw.breakers import draw_breakers
from viewer.draw.set_out import sheet_of
from viewer.draw.sheet import Sheet
from viewer.look import Look
from viewer.place.ground import WANTED_SHAPE, lay_out
from viewer.scene.bitmap import BitmapScene, text_width
from viewer.scene.camera import Camera, fitted, flat
from viewer.scene.scene import About, Lettering, Style
from viewer.stage import Stage
from viewer.state.moment import Moment
from viewer.state.replay import Replay

HEAD = 46.0  #: height of the headline and the breakers below it, in points
TITLE_ROW, BREAKER_ROW = 13.0, 34.0  #: where their middles are
HEAD_SIZE, BREAKER_SIZE = 14.0, 12.0


@dataclass(frozen=True, slots=True)
class Room:
    """A rectangle of the window, in points."""

    left: float
    top: float
    wide: float
    high: float

    def holds(self, at: tuple[float, float]) -> bool:
        """Whether a point lies within."""
        x, y = at
        return self.left <= x < self.left + self.wide and self.top <= y < self.top + self.high


class View:
    """A case with its record, ready to be painted at any time of the run."""

    def __init__(
        self,
        case: Case,
        record: Record,
        title: str,
        look: Look,
        ratio: float = 1.0,
        shape: float = WANTED_SHAPE,
    ) -> None:
        self.case, self.title = case, title
        self.sheet: Sheet = sheet_of(case.layout, lay_out(case.layout, shape))
        self.replay = Replay(case, record)
        self.stage = Stage(self.sheet, look, ratio)
        self.ratio = ratio

    def ground_room(self, room: Room) -> Room:
        """What of ``room`` the track gets."""
        return Room(room.left, room.top + HEAD, room.wide, room.high - HEAD)

    def whole(self, room: Room) -> Camera:
        """The camera that shows everything in ``room``."""
        ground = self.ground_room(room)
        west, south, east, north = self.sheet.ground.bounds
        gauge = self.sheet.gauge_mm
        side = 2.2 if self.sheet.breaks else 0.5
        box = (west - side * gauge, south - 3 * gauge, east + side * gauge, north + 3 * gauge)
        return fitted(box, ground.left, ground.top, ground.wide, ground.high, 10.0)

    def paint(
        self,
        surface: pygame.Surface,
        room: Room,
        camera: Camera,
        moment: Moment,
        budget_s: float | None = None,
    ) -> None:
        """Paint the headline and the moment."""
        ground = self.ground_room(room)
        inside = camera.within(ground.left, ground.top, ground.wide, ground.high)
        self.stage.paint(surface, inside, moment, budget_s)
        look = self.stage.look
        scene = BitmapScene(surface, flat(0, 0, 1, 1), look, self.ratio)
        scene.aim(
            Camera(room.wide / 2.0, -HEAD / 2.0, 1.0, room.left, room.top, room.wide, HEAD)
        )
        counts = counted(self.replay, moment.time_s)
        draw_head(scene, room.wide, self.title, counts, moment)
        surface.set_clip(None)


def counted(replay: Replay, time_s: float) -> str:
    """The clock and what has been counted so far."""
    legs, stalls, trips = replay.counts(time_s)
    text = f"{clock(time_s)}   legs {legs}   stalls {stalls}"
    return f"{text}   trips {trips}" if replay.record.trips else text


def draw_head(scene: BitmapScene, wide: float, title: str, counts: str, moment: Moment) -> None:
    """A strip: the title on the left, the counts on the right, breakers below."""
    corners = ((0.0, 0.0), (wide, 0.0), (wide, -HEAD), (0.0, -HEAD))
    scene.area(corners, Style("panel"), About("head"))
    room = wide - 40.0 - text_width(counts, round(HEAD_SIZE))
    strong, plain = (
        Lettering("ink", 0.0, HEAD_SIZE, strong=True),
        Lettering("ink", 0.0, HEAD_SIZE, 0.0, "end"),
    )
    shown = cut_to(title, room, round(HEAD_SIZE))
    scene.words((10.0, -TITLE_ROW), shown, strong, About("title", title))
    scene.words((wide - 10.0, -TITLE_ROW), counts, plain, About("counts", "", counts))
    draw_breakers(scene, moment, 10.0, BREAKER_ROW, wide - 20.0, BREAKER_SIZE)


def cut_to(text: str, room: float, size: int) -> str:
    """``text`` cut where it would be wider than ``room``, with dots to say so."""
    if text_width(text, size) <= room:
        return text
    while text and text_width(f"{text} ...", size) > room:
        text = text[:-1]
    return f"{text.rstrip()} ..."
