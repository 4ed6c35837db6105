"""Paints the desk on a surface: the views, what is in the hand, and what stands around."""

from __future__ import annotations

import pygame

from viewer.draw.sheet import Thing
from viewer.draw.track import Detail
from viewer.draw.wires import draw_jumper
from viewer.look import DARK, LIGHT, Look
from viewer.scene.bitmap import BitmapScene
from viewer.scene.camera import Camera, flat
from viewer.scene.scene import About, Style
from viewer.stage import Stage
from viewer.state.moment import Moment
from viewer.view import HEAD, Room, counted, draw_head
from viewer.window import furniture
from viewer.window.desk import Desk
from viewer.window.hand import Hand
from viewer.window.help import draw_help
from viewer.window.lane import Lane
from viewer.window.mouse import Mouse
from viewer.window.rooms import Rooms
from viewer.window.sight import Sight
from viewer.window.things import PADS_FROM_PT

#: The help stands so far from the sides; less where the surface is not this wide.
HELP_MARGIN_PT, HELP_MARGIN_SMALL_PT, HELP_SMALL_PT = 24.0, 4.0, 700.0
#: Rings round what is in the hand.
RINGS_PT = (10.0, 13.0)


class Painter:
    """Everything that is seen. ``ratio`` is pixels per point."""

    def __init__(
        self, desk: Desk, rooms: Rooms, sight: Sight, hand: Hand, mouse: Mouse,
        look: Look, ratio: float,
    ) -> None:  # fmt: skip
        self.desk, self.rooms, self.sight = desk, rooms, sight
        self.hand, self.mouse = hand, mouse
        self.look, self.ratio = look, ratio
        self._stages: dict[int, tuple[Lane, object, Stage]] = {}
        self._buttons, self._line, self._message = (furniture.Plate() for _ in range(3))

    def other_ground(self) -> None:
        """Dark where it was light, and light where it was dark."""
        self.look = DARK if self.look.name == "light" else LIGHT
        self.forget()

    def on(self, ratio: float) -> None:
        """A surface with so many pixels per point from now on."""
        self.ratio = ratio
        self.forget()

    def forget(self) -> None:
        """Paint every view anew."""
        self._stages.clear()

    def settled(self) -> bool:
        """Whether all views that were painted last are complete."""
        return all(stage.settled() for _, _, stage in self._stages.values())

    def paint(self, surface: pygame.Surface, budget_s: float | None) -> None:
        """Views, what is in the hand, and what stands around; the track within a budget."""
        lanes = self.desk.lanes
        share = None if budget_s is None else budget_s / len(lanes)
        for number, lane in enumerate(lanes):
            camera, moment = self.sight.on_lane(number), lane.at(self.desk.time_s)
            self._stage(number).paint(surface, camera, moment, share)
            self._paint_hand(surface, camera, number)
            self._paint_head(surface, number, moment)
        self._paint_buttons(surface)
        self._paint_line(surface)
        self._paint_message(surface)

    def paint_help(self, surface: pygame.Surface) -> None:
        """The help over everything."""
        wide, high = self.rooms.wide, self.rooms.high
        margin = HELP_MARGIN_PT if wide > HELP_SMALL_PT else HELP_MARGIN_SMALL_PT
        room = Room(margin, margin, wide - 2 * margin, high - 2 * margin)
        draw_help(self._flat_scene(surface), room, self.desk.built.layout)

    def paint_question(self, surface: pygame.Surface, name: str) -> None:
        """The question for a name over everything."""
        scene = self._flat_scene(surface)
        furniture.draw_question(scene, self.rooms.wide, self.rooms.high, name)

    def _flat_scene(self, surface: pygame.Surface) -> BitmapScene:
        """A scene in points of the whole surface."""
        return self._scene(surface, flat(0, 0, self.rooms.wide, self.rooms.high))

    def _scene(self, surface: pygame.Surface, camera: Camera) -> BitmapScene:
        scene = BitmapScene(surface, camera, self.look, self.ratio)
        scene.aim(camera)
        return scene

    # -- views ------------------------------------------------------------------

    def _stage(self, number: int) -> Stage:
        lane = self.desk.lanes[number]
        known = self._stages.get(number)
        if known is None or known[0] is not lane or known[1] is not lane.sheet:
            stage = known[2] if known is not None else Stage(lane.sheet, self.look, self.ratio)
            stage.use(lane.sheet)
            known = self._stages[number] = (lane, lane.sheet, stage)
        stage = known[2]
        stage.fresh = lane.fresh
        gauge_pt = lane.sheet.gauge_mm * self.sight.camera.px_per_mm
        stage.detail = Detail(pads=gauge_pt >= PADS_FROM_PT)
        return stage

    def _paint_hand(self, surface: pygame.Surface, camera: Camera, number: int) -> None:
        """What is taken, and a jumper that is being laid."""
        scene, taken = self._scene(surface, camera), self.hand.taken
        if taken is not None:
            about = About("taken", taken.id, taken.kind)
            for radius in RINGS_PT:
                ring = Style("hand", "solid", 0.0, 2.0)
                scene.disc(taken.at, 0.0, radius, ring, about, filled=False)
        wire = self.mouse.wire(camera)
        if wire is not None and number == len(self.desk.lanes) - 1:
            gauge = self.desk.hand_lane.sheet.gauge_mm
            draw_jumper(scene, Thing(-1, "", *wire), gauge, True)
        surface.set_clip(None)

    def _paint_head(self, surface: pygame.Surface, number: int, moment: Moment) -> None:
        lane, room = self.desk.lanes[number], self.rooms.lane(number)
        camera = flat(0, 0, room.wide, HEAD).within(room.left, room.top, room.wide, HEAD)
        scene = self._scene(surface, camera)
        draw_head(scene, room.wide, lane.title, self._counts(lane), moment)
        surface.set_clip(None)

    def _counts(self, lane: Lane) -> str:
        if lane.replay is None:
            return "running ..." if self.desk.running else "no run"
        text = counted(lane.replay, self.desk.time_s)
        if self.desk.history.now.levers:
            text = f"levers by hand   {text}"
        return f"counts before your changes   {text}" if self.desk.stale else text

    # -- what stands around -----------------------------------------------------

    def _paint_buttons(self, surface: pygame.Surface) -> None:
        dim = () if self.desk.history.now.jumpers else ("save",)
        shown = self.rooms.buttons()
        self._buttons.show(
            surface, self.rooms.button_strip(), self.look, self.ratio, (tuple(shown), dim),
            lambda scene: furniture.draw_buttons(scene, shown, dim),
        )  # fmt: skip

    def _paint_line(self, surface: pygame.Surface) -> None:
        desk, room = self.desk, self.rooms.line()
        marks = [desk.marks(k) for k in range(len(desk.lanes))]
        self._line.show(
            surface, room, self.look, self.ratio, tuple(id(m) for m in marks),
            lambda scene: furniture.draw_line(scene, room, marks, desk.duration_s),
        )  # fmt: skip
        furniture.draw_cursor(self._flat_scene(surface), room, desk.time_s, desk.duration_s)

    def _paint_message(self, surface: pygame.Surface) -> None:
        message, held, room = self.desk.message, self.hand.says(), self.rooms.message()
        self._message.show(
            surface, room, self.look, self.ratio, (message, held),
            lambda scene: furniture.draw_message(scene, room, message, held),
        )  # fmt: skip
