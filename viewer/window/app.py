"""Open a window and keep it going until it is closed."""

from __future__ import annotations

import pygame

from viewer.look import Look
from viewer.window.desk import Desk
from viewer.window.window import Window

FRAMES_PER_S = 60
LEAST_SIZE = (640, 420)
#: Time that one frame may bring forward: after a pause of the machine the run does not leap.
LONGEST_FRAME_S = 0.25


def run_window(desk: Desk, look: Look, size: tuple[int, int], scale: float) -> None:
    """Show ``desk`` in a window of ``size`` points until it is closed.

    On a high-density screen a point has several pixels; ``scale`` enlarges
    everything besides.
    """
    pygame.display.init()
    pygame.font.init()
    shell = pygame.Window(
        f"Gapwright: {desk.scenario.title}", size, resizable=True, allow_high_dpi=True
    )
    shell.minimum_size = LEAST_SIZE
    pygame.key.set_repeat(350, 45)
    try:
        _loop(shell, desk, look, scale)
    finally:
        desk.runner.close()
        pygame.quit()


def _loop(shell: pygame.Window, desk: Desk, look: Look, scale: float) -> None:
    surface = shell.get_surface()
    window = Window(desk, *_measures(shell, surface, look, scale))
    clock = pygame.time.Clock()
    while window.open:
        seconds = min(clock.tick(FRAMES_PER_S) / 1000.0, LONGEST_FRAME_S)
        for event in pygame.event.get():
            window.handle(_in_points(event, scale))
        now = shell.get_surface()
        points, _, ratio = _measures(shell, now, look, scale)
        if points != (window.wide, window.high) or ratio != window.ratio:
            window.resize(points, ratio)
        window.tick(seconds)
        window.paint(now)
        shell.flip()


def _measures(
    shell: pygame.Window, surface: pygame.Surface, look: Look, scale: float
) -> tuple[tuple[float, float], Look, float]:
    """(size in points, look, pixels per point) of the window as it is."""
    wide, high = shell.size
    ratio = surface.get_width() / max(1, wide)
    return (wide / scale, high / scale), look, ratio * scale


def _in_points(event: pygame.event.Event, scale: float) -> pygame.event.Event:
    """A mouse event with its place in points."""
    if scale == 1.0 or not hasattr(event, "pos"):
        return event
    fields = dict(event.dict)
    fields["pos"] = (event.pos[0] / scale, event.pos[1] / scale)
    return pygame.event.Event(event.type, fields)
