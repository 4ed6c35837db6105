"""The window: turns keys and gestures into what the desk does, and paints it.

It draws on a surface that is given, so that tests need no screen.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

import pygame

from viewer.look import LIGHT, Look
from viewer.scene.scene import Point
from viewer.window.desk import Desk
from viewer.window.hand import Hand
from viewer.window.keys import action_of
from viewer.window.mouse import Mouse
from viewer.window.painter import Painter
from viewer.window.rooms import Rooms
from viewer.window.sight import ZOOM_STEP, Sight

#: Painting of the track may take so long in one frame, all views together.
BUDGET_S = 0.006
JUMP_S = 10.0
LONGEST_NAME = 60
#: The name that is offered for a new fix.
OFFERED_NAME = "my jumpers"
#: Left, middle and right.
BUTTONS = (1, 2, 3)
WAYS = ("left", "right", "up", "down")
#: After these there may be another number of views.
CHANGE_LANES = ("undo", "redo", "run", "play")

Actions = dict[str, Callable[[], object]]


class Window:
    """Everything between the desk and a surface of ``size`` points."""

    def __init__(
        self, desk: Desk, size: tuple[float, float], look: Look = LIGHT, ratio: float = 1.0
    ) -> None:
        self.desk = desk
        self.open = True
        self.helping = False
        self.name: str | None = None  #: what has been typed while a name is asked for
        self.rooms = Rooms(desk, size)
        self.sight = Sight(desk, self.rooms)
        self.hand = Hand(desk, self.sight)
        self.mouse = Mouse(desk, self.rooms, self.sight, self.hand)
        self.painter = Painter(desk, self.rooms, self.sight, self.hand, self.mouse, look, ratio)
        self._actions = self._of_time() | self._of_desk() | self._of_hand() | self._of_sight()

    def resize(self, size: tuple[float, float], ratio: float | None = None) -> None:
        """The surface is another size now."""
        self.rooms.resize(size)
        if ratio is not None:
            self.painter.on(ratio)
        self.sight.fit()

    def tick(self, seconds: float) -> None:
        """Time has passed: the run goes on, the view follows its train."""
        before = len(self.desk.lanes)
        self.desk.tick(seconds)
        if len(self.desk.lanes) != before:
            self.sight.fit()
        self.sight.follow()

    def paint(self, surface: pygame.Surface, budget_s: float | None = BUDGET_S) -> None:
        """Paint everything on ``surface``."""
        self.painter.paint(surface, budget_s)
        if self.helping:
            self.painter.paint_help(surface)
        if self.name is not None:
            self.painter.paint_question(surface, self.name)
        surface.set_clip(None)

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
            self.mouse.move(_place(event))
        elif event.type == pygame.MOUSEBUTTONDOWN and event.button in BUTTONS:
            self._down(_place(event), event.button)
        elif event.type == pygame.MOUSEBUTTONUP and event.button in BUTTONS:
            self.mouse.up(_place(event))
        elif event.type == pygame.MOUSEWHEEL and not self.helping:
            self.mouse.wheel(event.y)

    def _key(self, event: pygame.event.Event) -> None:
        if self.name is not None:
            self._name_key(event.key, self.name)
            return
        action = action_of(event.key, event.mod)
        if action is not None:
            self.do(action)

    def _name_key(self, key: int, typed: str) -> None:
        if key == pygame.K_ESCAPE:
            self.name = None
        elif key == pygame.K_BACKSPACE:
            self.name = typed[:-1]
        elif key in (pygame.K_RETURN, pygame.K_KP_ENTER) and self.desk.save(typed):
            self.name = None

    def _down(self, at: Point, button: int) -> None:
        if self.helping:
            self.helping = False
            return
        if self.name is not None:
            return
        action = next((b.action for b in self.rooms.buttons() if b.room.holds(at)), None)
        if action is None:
            self.mouse.down(at, button)
        else:
            self.do(action)

    # -- actions ----------------------------------------------------------------

    def do(self, action: str) -> None:
        """Any action of the table of keys."""
        self._actions[action]()
        if action in CHANGE_LANES:
            self.sight.fit()

    def _of_time(self) -> Actions:
        desk = self.desk
        return {
            "play": desk.play,
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
        }

    def _of_desk(self) -> Actions:
        desk = self.desk
        return {
            "undo": desk.undo,
            "redo": desk.redo,
            "run": desk.run_again,
            "save": self._ask_name,
            "help": self._help,
            "quit": self._quit,
        }

    def _of_hand(self) -> Actions:
        hand = self.hand
        ways = {f"near {way}": partial(hand.take_beyond, way) for way in WAYS}
        return ways | {
            "after": lambda: hand.take_beside(1),
            "before": lambda: hand.take_beside(-1),
            "act": lambda: hand.act(False),
            "act alone": lambda: hand.act(True),
            "let go": self._let_go,
        }

    def _of_sight(self) -> Actions:
        sight = self.sight
        ways = {f"pan {way}": partial(sight.pan, way) for way in WAYS}
        return ways | {
            "zoom in": lambda: sight.zoom_middle(ZOOM_STEP),
            "zoom out": lambda: sight.zoom_middle(1.0 / ZOOM_STEP),
            "whole": sight.see_whole,
            "follow": sight.follow_next,
            "to hand": self.hand.bring_near,
            "ground": self.painter.other_ground,
        }

    def _ask_name(self) -> None:
        self.name = OFFERED_NAME if self.desk.can_save() else None

    def _help(self) -> None:
        self.helping = not self.helping

    def _let_go(self) -> None:
        if self.helping:
            self.helping = False
        else:
            self.hand.let_go()

    def _quit(self) -> None:
        self.open = False


def _place(event: pygame.event.Event) -> Point:
    return float(event.pos[0]), float(event.pos[1])
