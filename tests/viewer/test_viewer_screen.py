"""Once in a real window: an X server without a screen (Xvfb), its picture read back.

What is pressed is posted to SDL's queue, since no hand is there; the window, its
surface, its resizing and its pixels are those of the X server.
"""

from __future__ import annotations

import os
import shutil
import struct
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.viewer.demo import CLUB, ROOT
from viewer.look import DARK, LIGHT

np = pytest.importorskip("numpy")
pytest.importorskip("pygame")

XVFB = shutil.which("Xvfb")
pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(XVFB is None, reason="needs Xvfb (Debian package xvfb)"),
]

#: Runs in a process of its own: a script of actions, each when the last has been shown.
HANDS = """
import json, sys, time
import pygame
from sim.layout.project import load_project
from viewer.look import LOOKS
from viewer.window import app, window as windows
from viewer.window.desk import Desk
from viewer.window.runner import Runner

path, fix, ground, scale, steps = json.loads(sys.argv[1])
runner = Runner()
desk = Desk(path, load_project(path), fix, 1, runner, at_once=False)
shell = app.opened("club-loops.toml", LOOKS[ground], (1000, 700))
assert pygame.display.get_driver() == "x11", pygame.display.get_driver()
window = windows.Window(desk, (1000, 700), LOOKS[ground])
tick, wait = window.tick, [0.4]

def post(kind, **fields):
    pygame.event.post(pygame.event.Event(kind, **fields))

def told():
    print(json.dumps({
        "size": shell.size, "at": shell.position, "time": desk.time_s,
        "message": desk.message, "lanes": len(desk.lanes), "playing": desk.playing,
        "levers": dict(desk.history.now.levers), "ratio": window.painter.ratio,
        "stalls": [len(lane.at(desk.time_s).stalls) for lane in desk.lanes],
    }), flush=True)
    sys.stdin.readline()  # the picture is taken meanwhile

def ticked(seconds):
    tick(seconds)
    wait[0] -= seconds
    if desk.running or wait[0] > 0.0:
        return
    wait[0] = 0.3
    if not steps:
        post(pygame.QUIT)
        return
    what, *how = steps.pop(0)
    if what == "key":
        post(pygame.KEYDOWN, key=getattr(pygame, how[0]), mod=0, unicode="")
    elif what == "click":
        thing = next(t for t in window.hand.things() if t.id == how[0])
        lane = len(desk.lanes) - 1
        x, y = window.sight.on_lane(lane).to_px(thing.at)
        for kind in (pygame.MOUSEBUTTONDOWN, pygame.MOUSEBUTTONUP):
            post(kind, button=1, pos=(round(x * scale), round(y * scale)))
    elif what == "size":
        shell.size = how
        wait[0] = 0.8
    elif what == "wait":
        wait[0] = how[0]
    elif what == "tell":
        told()

window.tick = ticked
app.run_window(shell, window, scale)
pygame.quit()
runner.close()
print("closed", flush=True)
"""


class Screen:
    """An X server that keeps its picture in a file."""

    def __init__(self, folder: Path) -> None:
        read, write = os.pipe()
        assert XVFB is not None
        self.folder = folder
        self.server = subprocess.Popen(
            [XVFB, "-displayfd", str(write), "-screen", "0", "1400x1000x24",
             "-fbdir", str(folder), "-nolisten", "tcp"],
            pass_fds=[write], stderr=subprocess.DEVNULL,
        )  # fmt: skip
        os.close(write)
        with os.fdopen(read, "rb") as told:
            self.display = f":{told.readline().decode().strip()}"

    def picture(self, at: list[int], size: list[int]) -> object:
        """Pixels of a rectangle, [y, x, rgb] (X window dump: header, colours, then BGRX)."""
        raw = (self.folder / "Xvfb_screen0").read_bytes()
        head = struct.unpack(">25I", raw[:100])
        high, stride, begin = head[5], head[12], head[0] + head[19] * 12
        whole = np.frombuffer(raw, np.uint8, high * stride, begin).reshape(high, -1, 4)
        return whole[at[1] : at[1] + size[1], at[0] : at[0] + size[0], 2::-1]


@pytest.fixture
def screen(tmp_path: Path) -> Iterator[Screen]:
    shown = Screen(tmp_path)
    yield shown
    shown.server.terminate()
    shown.server.wait(10)


def played(
    screen: Screen, fix: str | None, ground: str, scale: float, steps: list[list[object]]
) -> list[tuple[dict[str, object], object]]:
    """What the window told at each ``tell``, with its picture at that time."""
    import json

    left_out = ("SDL_VIDEODRIVER", "WAYLAND_DISPLAY")
    env = {k: v for k, v in os.environ.items() if k not in left_out}
    env |= {
        "DISPLAY": screen.display,
        "PYTHONPATH": str(ROOT),
        "PYGAME_HIDE_SUPPORT_PROMPT": "1",
    }
    given = json.dumps([str(CLUB), fix, ground, scale, steps])
    window = subprocess.Popen(
        [sys.executable, "-c", HANDS, given], env=env, text=True, cwd=ROOT,
        stdin=subprocess.PIPE, stdout=subprocess.PIPE,
    )  # fmt: skip
    found = []
    assert window.stdin is not None and window.stdout is not None
    with window:
        for line in window.stdout:
            if line.startswith("closed"):
                break
            told = json.loads(line)
            found.append((told, screen.picture(told["at"], told["size"])))
            window.stdin.write("\n")
            window.stdin.flush()
    assert window.returncode == 0
    return found


def share(picture: object, colour: tuple[int, int, int]) -> float:
    """How much of a picture has exactly that colour."""
    return float((picture == np.array(colour, np.uint8)).all(axis=2).mean())  # type: ignore[attr-defined]


def test_before_and_after_in_a_real_window(screen: Screen) -> None:
    """It opens, steps to a stall, plays on, resizes, and shows it all on the screen."""
    steps: list[list[object]] = [
        ["tell"], ["key", "K_n"], ["tell"], ["key", "K_SPACE"], ["wait", 1.0],
        ["key", "K_SPACE"], ["tell"], ["size", 700, 480], ["tell"], ["key", "K_g"], ["tell"],
    ]  # fmt: skip
    start, stall, later, small, dark = played(screen, "two jumpers", "light", 1.0, steps)
    assert start[0]["lanes"] == 2 and start[0]["size"] == [1000, 700]
    for role in ("pole 0", "pole 1", "pole 2", "pole 3"):
        assert share(start[1], LIGHT.colour(role)) > 0.0003, role
    assert share(start[1], LIGHT.colour("alarm fill")) == 0.0
    assert stall[0]["stalls"] == [1, 0]  # stands as built, goes on with the fix
    assert share(stall[1], LIGHT.colour("alarm fill")) > 0.02
    assert float(str(later[0]["time"])) > float(str(stall[0]["time"])) + 0.5
    assert not later[0]["playing"]
    assert small[0]["size"] == [700, 480]
    assert share(small[1], LIGHT.colour("pole 0")) > 0.0003
    assert share(dark[1], DARK.colour("ground")) > 0.2
    assert share(dark[1], DARK.colour("pole 0")) > 0.0003


def test_a_lever_thrown_by_mouse_in_a_real_window(screen: Screen) -> None:
    """Enlarged by a quarter, a click lands where the lever is shown."""
    steps: list[list[object]] = [
        ["click", "north junction/scissors/AW"], ["tell"], ["key", "K_u"], ["tell"],
        ["key", "K_h"], ["tell"],
    ]  # fmt: skip
    thrown, undone, helped = played(screen, None, "dark", 1.25, steps)
    assert thrown[0]["ratio"] == 1.25
    assert "diverging" in str(thrown[0]["message"]) and thrown[0]["levers"]
    assert not undone[0]["levers"]
    assert (thrown[1] != undone[1]).any()  # type: ignore[attr-defined]
    assert share(helped[1], DARK.colour("panel")) > 0.5
