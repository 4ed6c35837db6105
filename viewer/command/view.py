"""``gapwright view``: the window."""

from __future__ import annotations

import argparse
import gc
from pathlib import Path
from typing import TYPE_CHECKING

from sim.command import frame, options
from sim.command.frame import DONE, UsageError
from viewer.command import common

if TYPE_CHECKING:
    import pygame

    from sim.scenario.document import Scenario
    from viewer.window.desk import Desk

SCALES = (0.5, 4.0)


def configure(parser: argparse.ArgumentParser) -> None:
    """Add the arguments."""
    options.add_scenario(parser)
    parser.add_argument(
        "--fix", metavar="NAME", help="show this fix below, as built above, on the same luck"
    )
    options.add_seed(parser)
    common.add_ground(parser)
    common.add_size(parser, "1280x720")
    parser.add_argument(
        "--scale", type=float, default=1.0, metavar="X", help="enlarge everything (default 1)"
    )
    options.add_json(parser, "the fixes that were saved in the window")


def run(given: argparse.Namespace) -> int:
    """Open the window."""
    if not SCALES[0] <= given.scale <= SCALES[1]:
        raise UsageError(
            f"--scale: expected {SCALES[0]:g} to {SCALES[1]:g}, got {given.scale:g}"
        )
    common.need_pygame()
    import pygame

    from viewer.window import app

    try:
        shell = app.opened(Path(given.scenario).name, common.look_of(given), given.size)
    except pygame.error as error:
        raise UsageError(f"view: no window could be opened: {error}") from None
    try:
        _show(shell, given)
    finally:
        gc.enable()
        gc.unfreeze()
        pygame.quit()
    return DONE


def _show(shell: pygame.Window, given: argparse.Namespace) -> None:
    """Everything that is heavy comes after the window is there.

    The collector rests while all is loaded: it would look at the same modules again
    and again, a third of the time that opening takes.  What is there by then stays,
    so it is not looked at in later frames either.
    """
    gc.disable()
    fix = None if given.fix in (None, frame.AS_BUILT) else str(given.fix)
    project = frame.read(given, () if fix is None else (fix,))
    scenario, fix = project.scenario, frame.fix_of(given, project)
    from viewer.window.app import run_window
    from viewer.window.desk import Desk
    from viewer.window.runner import Runner
    from viewer.window.window import Window

    runner = Runner()
    try:
        desk = Desk(given.scenario, project, fix, given.seed, runner, at_once=False)
        window = Window(desk, given.size, common.look_of(given))
        gc.freeze()
        gc.enable()
        # All other fixes are looked at once the layout is there: an error in any of
        # them ends it as it ends every command.
        run_window(shell, window, given.scale, project.require)
    finally:
        runner.close()
    if given.json is not None:
        _give(given, scenario, fix, desk)


def _give(given: argparse.Namespace, scenario: Scenario, fix: str | None, desk: Desk) -> None:
    """What has come of it, once the window is closed."""
    from sim.pages.documents import FORMAT_VERSION

    asked = frame.asked(given, scenario.title, ("fix", "seed"))
    saved = [name for name in desk.scenario.fix_names if name not in scenario.fix_names]
    frame.write_json(
        given.json,
        {
            "format_version": FORMAT_VERSION,
            "scenario": scenario.title,
            "fix": fix,
            "seed": given.seed,
            "command": asked.command,
            "saved_fixes": saved,
        },
    )
