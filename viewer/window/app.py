"""Open a window and keep it going until it is closed."""

from __future__ import annotations

import os
from collections.abc import Callable
from typing import TYPE_CHECKING

import pygame

from viewer.look import Look

if TYPE_CHECKING:
    from viewer.window.window import Window

FRAMES_PER_S = 60
LEAST_SIZE = (640, 420)
#: Time that one frame may bring forward: after a pause of the machine the run does not leap.
LONGEST_FRAME_S = 0.25
GREETING_PX = 26
#: What SDL draws with where it finds no display: nobody would see it, nor close it.
UNSEEN = ("offscreen", "dummy")
#: Where a user says what SDL is to draw with: then it may well be into memory.
DRIVER_ASKED = ("SDL_VIDEODRIVER", "SDL_VIDEO_DRIVER")


def opened(name: str, look: Look, size: tuple[int, int]) -> pygame.Window:
    """A window that says what is being read, before anything heavy is loaded.

    Raises ``pygame.error`` where no window can be opened.
    """
    pygame.display.init()
    asked = any(os.environ.get(name) for name in DRIVER_ASKED)
    if pygame.display.get_driver() in UNSEEN and not asked:
        raise pygame.error("there is no display here")
    pygame.font.init()
    shell = pygame.Window("Gapwright", size, resizable=True, allow_high_dpi=True)
    shell.minimum_size = LEAST_SIZE
    surface = shell.get_surface()
    surface.fill(look.colour("ground"))
    words = pygame.font.Font(None, GREETING_PX).render(
        f"Reading {name} ...", True, look.colour("ink")
    )
    surface.blit(words, words.get_rect(center=surface.get_rect().center))
    shell.flip()
    return shell


def run_window(
    shell: pygame.Window,
    window: Window,
    scale: float,
    shown: Callable[[], object] = lambda: None,
) -> None:
    """Show ``window`` in ``shell`` until it is closed; its runs are begun here.

    On a high-density screen a point has several pixels; ``scale`` enlarges
    everything besides.  ``shown`` is called once, when the layout is there, and may
    raise what ends it.
    """
    shell.title = f"Gapwright: {window.desk.scenario.title}"
    pygame.key.set_repeat(350, 45)
    _show(shell, window, scale)
    window.desk.begin()  # the layout is there before anything runs
    shown()
    clock = pygame.time.Clock()
    while window.open:
        seconds = min(clock.tick(FRAMES_PER_S) / 1000.0, LONGEST_FRAME_S)
        for event in pygame.event.get():
            window.handle(_in_points(event, scale))
        window.tick(seconds)
        _show(shell, window, scale)


def _show(shell: pygame.Window, window: Window, scale: float) -> None:
    """One frame."""
    surface = shell.get_surface()
    points, ratio = _measures(shell, surface, scale)
    rooms = window.rooms
    if points != (rooms.wide, rooms.high) or ratio != window.painter.ratio:
        window.resize(points, ratio)
    window.paint(surface)
    shell.flip()


def _measures(
    shell: pygame.Window, surface: pygame.Surface, scale: float
) -> tuple[tuple[float, float], float]:
    """(size in points, pixels per point) of the window as it is."""
    wide, high = shell.size
    ratio = surface.get_width() / max(1, wide)
    return (wide / scale, high / scale), ratio * scale


def _in_points(event: pygame.event.Event, scale: float) -> pygame.event.Event:
    """A mouse event with its place in points."""
    if scale == 1.0 or not hasattr(event, "pos"):
        return event
    fields = dict(event.dict)
    fields["pos"] = (event.pos[0] / scale, event.pos[1] / scale)
    return pygame.event.Event(event.type, fields)
