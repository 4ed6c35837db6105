"""Which key does what. The help, the buttons and the handling all read this table."""

from __future__ import annotations

from dataclasses import dataclass

import pygame

CTRL = pygame.KMOD_CTRL | pygame.KMOD_META
SHIFT = pygame.KMOD_SHIFT


@dataclass(frozen=True, slots=True)
class Binding:
    """An action, the keys for it as shown, what it does, and a button's label if it has one."""

    action: str
    keys: str
    does: str
    button: str = ""


BINDINGS = (
    Binding("play", "Space", "play, or pause", "Play"),
    Binding("slower", ",", "slower", "Slower"),
    Binding("faster", ".", "faster", "Faster"),
    Binding("last mark", "[", "back to the last event", "Last event"),
    Binding("next mark", "]", "on to the next event", "Next event"),
    Binding("last stall", "B", "back to the last stall"),
    Binding("next stall", "N", "on to the next stall", "Next stall"),
    Binding("back", "Page up", "10 s back"),
    Binding("on", "Page down", "10 s on"),
    Binding("start", "Ctrl Home", "to the start of the run"),
    Binding("end", "Ctrl End", "to the end of the run"),
    Binding("undo", "U, Ctrl Z", "undo what the hand did last", "Undo"),
    Binding("redo", "Y, Ctrl Y", "do it again", "Redo"),
    Binding("run", "R", "run the timetable again with the changes", "Run again"),
    Binding("save", "S, Ctrl S", "save the jumpers as a fix in the scenario file", "Save fix"),
    Binding("after", "Tab", "take the next thing into the hand"),
    Binding("before", "Shift Tab", "take the thing before"),
    Binding("near", "arrows", "take the nearest thing that way"),
    Binding("act", "Enter", "lever: throw it with its gang; contact: open, tired"),
    Binding("act", "", "pad: begin or end a jumper; new jumper: take it off"),
    Binding("act alone", "Shift Enter", "throw the lever alone"),
    Binding("let go", "Esc", "leave a jumper begun; give levers back; close this"),
    Binding("zoom in", "+", "nearer"),
    Binding("zoom out", "-", "further away"),
    Binding("to hand", "Z", "bring what is in the hand near"),
    Binding("pan", "Shift arrows", "move the ground"),
    Binding("whole", "W", "see the whole layout", "Whole"),
    Binding("follow", "F", "follow the next train, or none", "Follow"),
    Binding("ground", "G", "light or dark ground", "Ground"),
    Binding("help", "H, F1", "this help", "Help"),
    Binding("quit", "Q", "close the window"),
)  # fmt: skip

MOUSE = (
    ("click a lever", "throw it with its gang; with Shift alone"),
    ("click a contact", "open, tired, good again"),
    ("drag from pad to pad", "lay a jumper (come near until the pads show)"),
    ("click a new jumper", "take it off"),
    ("wheel", "nearer, further away"),
    ("drag the ground", "move it"),
    ("drag on the time line", "go to any time"),
)

_PLAIN = {
    pygame.K_SPACE: "play", pygame.K_COMMA: "slower", pygame.K_PERIOD: "faster",
    pygame.K_LEFTBRACKET: "last mark", pygame.K_RIGHTBRACKET: "next mark",
    pygame.K_b: "last stall", pygame.K_n: "next stall",
    pygame.K_PAGEUP: "back", pygame.K_PAGEDOWN: "on",
    pygame.K_u: "undo", pygame.K_y: "redo", pygame.K_r: "run", pygame.K_s: "save",
    pygame.K_TAB: "after", pygame.K_RETURN: "act", pygame.K_KP_ENTER: "act",
    pygame.K_ESCAPE: "let go", pygame.K_PLUS: "zoom in", pygame.K_EQUALS: "zoom in",
    pygame.K_KP_PLUS: "zoom in", pygame.K_MINUS: "zoom out", pygame.K_KP_MINUS: "zoom out",
    pygame.K_z: "to hand", pygame.K_w: "whole", pygame.K_f: "follow", pygame.K_g: "ground",
    pygame.K_h: "help", pygame.K_F1: "help", pygame.K_q: "quit",
    pygame.K_LEFT: "near left", pygame.K_RIGHT: "near right",
    pygame.K_UP: "near up", pygame.K_DOWN: "near down",
}  # fmt: skip
_SHIFTED = {
    pygame.K_TAB: "before", pygame.K_RETURN: "act alone", pygame.K_KP_ENTER: "act alone",
    pygame.K_LEFT: "pan left", pygame.K_RIGHT: "pan right",
    pygame.K_UP: "pan up", pygame.K_DOWN: "pan down",
}  # fmt: skip
_CTRL = {
    pygame.K_z: "undo", pygame.K_y: "redo", pygame.K_s: "save", pygame.K_q: "quit",
    pygame.K_HOME: "start", pygame.K_END: "end",
}  # fmt: skip


def action_of(key: int, modifiers: int) -> str | None:
    """The action of a key press, or None."""
    if modifiers & CTRL:
        if key == pygame.K_z and modifiers & SHIFT:
            return "redo"
        return _CTRL.get(key)
    if modifiers & SHIFT and key in _SHIFTED:
        return _SHIFTED[key]
    return _PLAIN.get(key)
