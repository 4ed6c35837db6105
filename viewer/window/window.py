"""The window: paints the desk and turns keys and gestures into what the desk does.

It draws on a surface that is given, so that tests need no screen.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import hypot

import pygame

from viewer.draw.sheet import Thing
from viewer.draw.track import Detail
from viewer.draw.trains import place_of
from viewer.draw.wires import draw_jumper
from viewer.look import DARK, LIGHT, Look
from viewer.scene.bitmap import BitmapScene
from viewer.scene.camera import Camera, fitted, flat
from viewer.scene.scene import About, Point, Style
from viewer.stage import Stage
from viewer.state.moment import Moment
from viewer.view import HEAD, Room, draw_head
from viewer.window import furniture
from viewer.window.desk import Desk
from viewer.window.help import draw_help
from viewer.window.keys import SHIFT, action_of
from viewer.window.lane import Lane
from viewer.window.things import (
    CONTACTS_FROM_PT,
    PADS_FROM_PT,
    Takeable,
    beside,
    beyond,
    takeable,
    under,
)

#: Painting of the track may take so long in one frame, all views together.
BUDGET_S = 0.006
ZOOM_STEP = 1.25
MOST_PX_PER_MM = 60.0
PAN_PT = 80.0
#: A press that has moved less is a click.
CLICK_PT = 5.0
JUMP_S = 10.0
LONGEST_NAME = 60
#: However small the window, a view is this high; what stands below then covers it.
LEAST_GROUND_PT = 40.0


@dataclass(slots=True)
class Press:
    """A mouse button held down: where it began, on what, and what it has become."""

    at: Point
    last: Point
    lane: int
    thing: Takeable | None
    on_line: bool
    moved: bool = False


class Window:
    """Everything between the desk and a surface of ``size`` points."""

    def __init__(
        self, desk: Desk, size: tuple[float, float], look: Look = LIGHT, ratio: float = 1.0
    ) -> None:
        self.desk, self.look, self.ratio = desk, look, ratio
        self.wide, self.high = size
        self.open = True
        self.helping = False
        self.name: str | None = None  #: what has been typed while a name is asked for
        self.taken: Takeable | None = None
        self.following: str | None = None
        self.press: Press | None = None
        self.pointer: Point = (0.0, 0.0)
        self._stages: dict[int, tuple[Lane, object, Stage]] = {}
        self._things: tuple[object, list[Takeable]] = (None, [])
        self._plates = {"buttons": furniture.Plate(), "line": furniture.Plate(),
                        "message": furniture.Plate()}  # fmt: skip
        self._buttons_for, self._buttons_high = 0.0, 0.0
        self.seeing_whole = True
        self.camera = self._whole()

    # -- where things are -------------------------------------------------------

    def resize(self, size: tuple[float, float], ratio: float | None = None) -> None:
        """The surface is another size now."""
        self.wide, self.high = max(320.0, size[0]), max(240.0, size[1])
        if ratio is not None:
            self.ratio = ratio
            self._stages.clear()
        self._keep_whole()

    def _buttons_top(self) -> float:
        if self._buttons_for != self.wide:
            self._buttons_for, self._buttons_high = self.wide, furniture.buttons_high(self.wide)
        return self.high - self._buttons_high

    def line_room(self) -> Room:
        """The time line."""
        high = furniture.line_high(len(self.desk.lanes))
        top = self.message_room().top - high
        return Room(0.0, top, self.wide, high)

    def message_room(self) -> Room:
        """The message."""
        top = self._buttons_top() - furniture.MESSAGE_HIGH
        return Room(0.0, top, self.wide, furniture.MESSAGE_HIGH)

    def lane_room(self, number: int) -> Room:
        """One view with its headline."""
        lanes = len(self.desk.lanes)
        high = max(self.line_room().top / lanes, HEAD + LEAST_GROUND_PT)
        return Room(0.0, number * high, self.wide, high)

    def ground_room(self, number: int) -> Room:
        """The track of one view."""
        room = self.lane_room(number)
        return Room(room.left, room.top + HEAD, room.wide, room.high - HEAD)

    def _whole(self) -> Camera:
        room = self.ground_room(0)
        sheet = self.desk.hand_lane.sheet
        west, south, east, north = sheet.ground.bounds
        gauge = sheet.pieces[0].gauge_mm if sheet.pieces else 9.0
        side = 2.2 if sheet.breaks else 0.6
        box = (west - side * gauge, south - 3 * gauge, east + side * gauge, north + 3 * gauge)
        return fitted(box, room.left, room.top, room.wide, room.high, 8.0)

    def _in_ground(self, camera: Camera, number: int = 0) -> Camera:
        room = self.ground_room(number)
        return camera.within(room.left, room.top, room.wide, room.high)

    def lane_at(self, at: Point) -> int | None:
        """The view whose track a point lies on."""
        return next(
            (k for k in range(len(self.desk.lanes)) if self.ground_room(k).holds(at)), None
        )

    def things(self) -> list[Takeable]:
        """What can be taken at this zoom."""
        lane = self.desk.hand_lane
        key = (id(lane), lane.draft, self.camera.px_per_mm >= 0.0, self._zoom_class())
        if self._things[0] != key:
            self._things = key, takeable(lane, self.camera.px_per_mm)
            if self.taken is not None:
                ids = {(t.kind, t.id): t for t in self._things[1]}
                self.taken = ids.get((self.taken.kind, self.taken.id))
        return self._things[1]

    def _zoom_class(self) -> tuple[bool, ...]:
        gauges = {p.gauge_mm for p in self.desk.hand_lane.sheet.pieces}
        scale = self.camera.px_per_mm
        return tuple(g * scale >= limit for g in sorted(gauges)
                     for limit in (CONTACTS_FROM_PT, PADS_FROM_PT))  # fmt: skip

    # -- events -----------------------------------------------------------------

    def handle(self, event: pygame.event.Event) -> None:
        """One event of pygame."""
        if event.type in (pygame.QUIT, pygame.WINDOWCLOSE):
            self.open = False
        elif event.type == pygame.TEXTINPUT and self.name is not None:
            typed = "".join(c for c in event.text if c.isprintable())
            self.name = (self.name + typed)[:LONGEST_NAME]
        elif event.type == pygame.KEYDOWN:
            self._key(event)
        elif event.type == pygame.MOUSEMOTION:
            self._motion(self._point(event.pos))
        elif event.type == pygame.MOUSEBUTTONDOWN and event.button in (1, 2, 3):
            self._down(self._point(event.pos), event.button)
        elif event.type == pygame.MOUSEBUTTONUP and event.button in (1, 2, 3):
            self._up(self._point(event.pos))
        elif event.type == pygame.MOUSEWHEEL and not self.helping:
            self._zoom(ZOOM_STEP**event.y, self.pointer)

    def _point(self, pos: tuple[int, int]) -> Point:
        return float(pos[0]), float(pos[1])

    def _key(self, event: pygame.event.Event) -> None:
        if self.name is not None:
            self._name_key(event.key)
            return
        action = action_of(event.key, event.mod)
        if action is not None:
            self.do(action)

    def _name_key(self, key: int) -> None:
        assert self.name is not None
        if key == pygame.K_ESCAPE:
            self.name = None
        elif key == pygame.K_BACKSPACE:
            self.name = self.name[:-1]
        elif key in (pygame.K_RETURN, pygame.K_KP_ENTER) and self.desk.save(self.name):
            self.name = None

    def do(self, action: str) -> None:
        """Any action of the table of keys."""
        desk = self.desk
        word, _, way = action.partition(" ")
        simple: dict[str, Callable[[], None]] = {
            "play": desk.play,
            "undo": desk.undo,
            "redo": desk.redo,
            "run": desk.run_again,
            "slower": lambda: desk.change_speed(-1),
            "faster": lambda: desk.change_speed(1),
            "last mark": lambda: desk.step(False),
            "next mark": lambda: desk.step(True),
            "last stall": lambda: desk.step(False, "stall"),
            "next stall": lambda: desk.step(True, "stall"),
            "back": lambda: desk.go_to(desk.time_s - JUMP_S),
            "on": lambda: desk.go_to(desk.time_s + JUMP_S),
            "start": lambda: desk.go_to(0.0),
            "end": lambda: desk.go_to(desk.duration_s),
            "whole": self._see_whole,
            "follow": self._follow_next,
            "ground": self._other_ground,
            "to hand": self._to_hand,
            "zoom in": lambda: self._zoom(ZOOM_STEP, self._centre()),
            "zoom out": lambda: self._zoom(1.0 / ZOOM_STEP, self._centre()),
            "act": lambda: self._act(False),
            "act alone": lambda: self._act(True),
        }
        if self.helping and action in ("help", "let go"):
            self.helping = False
        elif action == "help":
            self.helping = True
        elif action == "quit":
            self.open = False
        elif action == "save":
            self.name = "my jumpers" if desk.can_save() else None
        elif action == "let go":
            self.taken = None if desk.wire_from is None else self.taken
            desk.let_go()
        elif action in ("after", "before"):
            self._take(beside(self.things(), self.taken, 1 if action == "after" else -1))
        elif word == "near":
            self._take(beyond(self.things(), self.taken, way, self.camera) or self.taken)
        elif word == "pan":
            self._pan(way)
        else:
            simple[action]()
            if action in ("undo", "redo", "run", "play"):
                self._keep_whole()

    # -- the view ---------------------------------------------------------------

    def _centre(self) -> Point:
        room = self.ground_room(0)
        return room.left + room.wide / 2.0, room.top + room.high / 2.0

    def _keep_whole(self) -> None:
        """A second view has come or gone: the camera's window is another."""
        self.camera = self._whole() if self.seeing_whole else self._in_ground(self.camera)

    def _see_whole(self) -> None:
        self.following, self.seeing_whole, self.camera = None, True, self._whole()

    def _look(self, camera: Camera, stay: bool = False) -> None:
        """Look elsewhere; unless it is to ``stay``, no train is followed any more."""
        self.camera, self.seeing_whole = camera, False
        if not stay:
            self.following = None

    def _other_ground(self) -> None:
        self.look = DARK if self.look.name == "light" else LIGHT
        self._stages.clear()

    def _follow_next(self) -> None:
        names = [t.name for t in self.desk.built.trains]
        order: list[str | None] = [*names, None]
        here = order.index(self.following) if self.following in order else len(order) - 1
        self.following = order[(here + 1) % len(order)]
        said = f"Following {self.following}." if self.following else "Following no train."
        self.desk.message = said

    def _least(self) -> float:
        return self._whole().px_per_mm * 0.5

    def _zoom(self, factor: float, pointer: Point) -> None:
        lane = self.lane_at(pointer) or 0
        camera = self._in_ground(self.camera, lane)
        camera = camera.zoomed(factor, pointer, self._least(), MOST_PX_PER_MM)
        self._look(self._in_ground(camera), stay=True)

    def _pan(self, way: str) -> None:
        dx, dy = {"left": (PAN_PT, 0.0), "right": (-PAN_PT, 0.0), "up": (0.0, PAN_PT),
                  "down": (0.0, -PAN_PT)}[way]  # fmt: skip
        self._look(self.camera.moved_px(dx, dy))

    def _take(self, thing: Takeable | None) -> None:
        """Take a thing into the hand, and bring it into view."""
        self.taken = thing
        if thing is None:
            self.desk.message = "Nothing to take here: come nearer with +."
            return
        x, y = self.camera.to_px(thing.at)
        if not self.ground_room(0).holds((x, y)):
            self._look(self.camera.at(*thing.at))

    def _to_hand(self) -> None:
        if self.taken is None:
            self.desk.message = "Nothing in the hand: Tab takes the first thing."
            return
        gauge = self.desk.hand_lane.sheet.pieces[0].gauge_mm
        scale = max(self.camera.px_per_mm, 24.0 / gauge)
        room = self.ground_room(0)
        self._look(Camera(*self.taken.at, scale, room.left, room.top, room.wide, room.high))

    # -- the hand ---------------------------------------------------------------

    def _act(self, alone: bool) -> None:
        if self.taken is None:
            self.desk.message = "Nothing in the hand: Tab takes the first thing."
        else:
            self._act_on(self.taken, alone)

    def _act_on(self, thing: Takeable, alone: bool) -> None:
        desk = self.desk
        if thing.kind == "lever":
            desk.throw(thing.number, alone)
        elif thing.kind == "contact":
            desk.fault(thing.number)
        elif thing.kind == "pad":
            desk.touch_pad(thing.id)
        else:
            desk.take_off(thing.number)
            self.taken = None

    def _down(self, at: Point, button: int) -> None:
        if self.helping:
            self.helping = False
            return
        if self.name is not None:
            return
        for shown in self._buttons():
            if shown.room.holds(at):
                self.do(shown.action)
                return
        line = self.line_room()
        if line.holds(at):
            self.desk.playing = False
            self.desk.go_to(furniture.time_at(line, at[0], self.desk.duration_s))
            self.press = Press(at, at, 0, None, True)
            return
        lane = self.lane_at(at)
        if lane is None:
            return
        thing = None
        if button == 1:
            thing = under(self.things(), self._in_ground(self.camera, lane), at)
        self.press = Press(at, at, lane, thing, False)

    def _motion(self, at: Point) -> None:
        self.pointer = at
        press = self.press
        if press is None:
            return
        if press.on_line:
            self.desk.go_to(furniture.time_at(self.line_room(), at[0], self.desk.duration_s))
            return
        if hypot(at[0] - press.at[0], at[1] - press.at[1]) > CLICK_PT:
            press.moved = True
        if press.moved and not self._drags_wire():
            self._look(self.camera.moved_px(at[0] - press.last[0], at[1] - press.last[1]))
        press.last = at

    def _drags_wire(self) -> bool:
        return (
            self.press is not None
            and self.press.thing is not None
            and (self.press.thing.kind == "pad")
        )

    def _up(self, at: Point) -> None:
        press, self.press = self.press, None
        if press is None or press.on_line:
            return
        if press.moved:
            if press.thing is not None and press.thing.kind == "pad":
                self._end_wire(press.thing, at)
            return
        if press.thing is None:
            self.taken = None
            return
        self.taken = press.thing
        shift = bool(pygame.key.get_mods() & SHIFT)
        self._act_on(press.thing, shift)

    def _end_wire(self, start: Takeable, at: Point) -> None:
        lane = self.lane_at(at)
        pads = [t for t in self.things() if t.kind == "pad"]
        end = None if lane is None else under(pads, self._in_ground(self.camera, lane), at)
        if end is None or end.id == start.id:
            self.desk.message = "No pad there: nothing laid."
        else:
            self.desk.lay(start.id, end.id)

    # -- painting ---------------------------------------------------------------

    def tick(self, seconds: float) -> None:
        """Time has passed: the run goes on, the view follows its train."""
        before = len(self.desk.lanes)
        self.desk.tick(seconds)
        if len(self.desk.lanes) != before:
            self._keep_whole()
        if self.following is not None:
            lane = self.desk.hand_lane
            moment = lane.at(self.desk.time_s)
            train = next((t for t in moment.trains if t.name == self.following), None)
            if train is not None:
                place = place_of(lane.sheet.ground, train.front)
                self._look(self.camera.at(*place), stay=True)

    def _stage(self, number: int) -> Stage:
        lane = self.desk.lanes[number]
        known = self._stages.get(number)
        if known is None or known[0] is not lane or known[1] is not lane.sheet:
            stage = known[2] if known is not None else Stage(lane.sheet, self.look, self.ratio)
            stage.use(lane.sheet)
            known = self._stages[number] = (lane, lane.sheet, stage)
        stage = known[2]
        stage.fresh = lane.fresh
        gauge = lane.sheet.pieces[0].gauge_mm if lane.sheet.pieces else 9.0
        stage.detail = Detail(pads=gauge * self.camera.px_per_mm >= PADS_FROM_PT)
        return stage

    def paint(self, surface: pygame.Surface, budget_s: float | None = BUDGET_S) -> None:
        """Paint everything on ``surface``."""
        desk, lanes = self.desk, self.desk.lanes
        for number, lane in enumerate(lanes):
            room, camera = self.lane_room(number), self._in_ground(self.camera, number)
            share = None if budget_s is None else budget_s / len(lanes)
            moment = lane.at(desk.time_s)
            self._stage(number).paint(surface, camera, moment, share)
            self._paint_hand(surface, camera, number)
            self._paint_head(surface, room, lane, moment)
        self._paint_furniture(surface)
        scene = self._flat_scene(surface)
        furniture.draw_cursor(scene, self.line_room(), desk.time_s, desk.duration_s)
        if self.helping:
            margin = 24.0 if self.wide > 700 else 4.0
            room = Room(margin, margin, self.wide - 2 * margin, self.high - 2 * margin)
            draw_help(scene, room, desk.built.layout)
        if self.name is not None:
            furniture.draw_question(scene, self.wide, self.high, self.name)
        surface.set_clip(None)

    def _flat_scene(self, surface: pygame.Surface) -> BitmapScene:
        scene = BitmapScene(surface, flat(0, 0, 1, 1), self.look, self.ratio)
        scene.aim(flat(0, 0, self.wide, self.high))
        return scene

    def _paint_head(
        self, surface: pygame.Surface, room: Room, lane: Lane, moment: Moment
    ) -> None:
        scene = BitmapScene(surface, flat(0, 0, 1, 1), self.look, self.ratio)
        scene.aim(flat(0, 0, room.wide, HEAD).within(room.left, room.top, room.wide, HEAD))
        draw_head(scene, room.wide, lane.title, self._counts(lane), moment)
        surface.set_clip(None)

    def _counts(self, lane: Lane) -> str:
        time_s = self.desk.time_s
        if lane.replay is None:
            return "running ..." if self.desk.running else "no run"
        legs, stalls, trips = lane.replay.counts(time_s)
        text = f"{furniture.clock(time_s)}   legs {legs}   stalls {stalls}"
        if lane.replay.record.trips:
            text += f"   trips {trips}"
        hand = self.desk.history.now
        if hand.levers:
            text = f"levers by hand   {text}"
        return f"counts before your changes   {text}" if self.desk.stale else text

    def _paint_hand(self, surface: pygame.Surface, camera: Camera, number: int) -> None:
        """What is taken, and a jumper that is being laid."""
        scene = BitmapScene(surface, camera, self.look, self.ratio)
        scene.aim(camera)
        hand = Style("hand", "solid", 0.0, 2.0)
        if self.taken is not None:
            about = About("taken", self.taken.id, self.taken.kind)
            for radius in (10.0, 13.0):
                scene.disc(self.taken.at, 0.0, radius, hand, about, filled=False)
        start = self._wire_start()
        if start is not None and number == len(self.desk.lanes) - 1:
            end = camera.to_mm(self.pointer)
            if self.press is None and self.taken is not None:
                end = self.taken.at
            gauge = self.desk.hand_lane.sheet.pieces[0].gauge_mm
            draw_jumper(scene, Thing(-1, "", start, end), gauge, True)
        surface.set_clip(None)

    def _wire_start(self) -> Point | None:
        press = self.press
        if press is not None and press.moved and press.thing is not None and self._drags_wire():
            return press.thing.at
        if self.desk.wire_from is not None:
            return self.desk.hand_lane.sheet.where.get(self.desk.wire_from)
        return None

    def _buttons(self) -> list[furniture.Button]:
        return furniture.buttons(
            self.wide, self._buttons_top(), self.desk.playing, self.desk.speed
        )

    def _paint_furniture(self, surface: pygame.Surface) -> None:
        desk, look, ratio = self.desk, self.look, self.ratio
        top = self._buttons_top()
        room = Room(0.0, top, self.wide, self.high - top)
        dim = () if desk.history.now.jumpers else ("save",)
        shown = self._buttons()
        self._plates["buttons"].show(
            surface, room, look, ratio, (tuple(shown), dim),
            lambda scene: furniture.draw_buttons(scene, shown, dim),
        )  # fmt: skip
        marks = [desk.marks(k) for k in range(len(desk.lanes))]
        line = self.line_room()
        self._plates["line"].show(
            surface, line, look, ratio, tuple(id(m) for m in marks),
            lambda scene: furniture.draw_line(scene, line, marks, desk.duration_s),
        )  # fmt: skip
        below, held = self.message_room(), self._held()
        self._plates["message"].show(
            surface, below, look, ratio, (desk.message, held),
            lambda scene: furniture.draw_message(scene, below, desk.message, held),
        )  # fmt: skip

    def _held(self) -> str:
        """What is in the hand, how it is, and what Enter would do."""
        thing = self.taken
        if thing is None:
            return ""
        lane = self.desk.hand_lane
        moment = lane.at(self.desk.time_s)
        if thing.kind == "lever":
            return f"In hand: lever {thing.id}, {moment.lever(thing.number)}. Enter throws it."
        if thing.kind == "contact":
            word = moment.contact(thing.number)
            return f"In hand: contact {thing.id}, {word}. Enter: open, tired, good."
        if thing.kind == "pad":
            rail = moment.rails[thing.number].word
            does = "begins a jumper" if self.desk.wire_from is None else "ends the jumper here"
            return f"In hand: pad {thing.id}, on a rail that is {rail}. Enter {does}."
        return f"In hand: {thing.id}. Enter takes it off."
