"""Arguments that the picture commands share, and what they check before any work."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from sim.command import options
from sim.command.frame import UsageError

if TYPE_CHECKING:
    from viewer.look import Look

LEAST_SIDE, MOST_SIDE = 160, 8192


def add_ground(parser: argparse.ArgumentParser) -> None:
    """Light or dark."""
    parser.add_argument(
        "--ground",
        choices=("light", "dark"),
        default="light",
        help="draw on a light ground (default) or a dark one",
    )


def add_size(parser: argparse.ArgumentParser, default: str) -> None:
    """Width and height."""
    parser.add_argument(
        "--size",
        type=size,
        default=size(default),
        metavar="WxH",
        help=f"width and height in pixels (default {default})",
    )


def add_out(parser: argparse.ArgumentParser, kinds: str) -> None:
    """Where the result goes."""
    parser.add_argument(
        "--out", required=True, metavar="FILE", help=f"the file to write: {kinds}"
    )
    options.add_json(parser, "what was drawn and where it went")


def give(
    given: argparse.Namespace,
    scenario: str,
    fix: str | None,
    again: Sequence[str],
    **told: object,
) -> None:
    """The document, where one is asked for: what was drawn, and the file it went to.

    ``again`` names the arguments that the picture depends on.
    """
    if given.json is None:
        return
    from sim.command import frame
    from sim.pages.documents import FORMAT_VERSION

    asked = frame.asked(given, scenario, again)
    head = {"format_version": FORMAT_VERSION, "scenario": scenario, "fix": fix}
    frame.write_json(
        given.json, {**head, "command": asked.command, "written": Path(given.out).name, **told}
    )


def size(text: str) -> tuple[int, int]:
    """An argument type: ``1280x720``."""
    wide, _, high = text.partition("x")
    if wide.isascii() and wide.isdecimal() and high.isascii() and high.isdecimal():
        found = int(wide[:6]), int(high[:6])
        if all(LEAST_SIDE <= side <= MOST_SIDE for side in found):
            return found
    raise argparse.ArgumentTypeError(
        f"expected WIDTHxHEIGHT, each from {LEAST_SIDE} to {MOST_SIDE}, got {text[:40]!r}"
    )


def seconds(text: str) -> float:
    """An argument type: a time in s, 0 or more."""
    try:
        value = float(text)
    except ValueError:
        value = -1.0
    if not 0.0 <= value <= 1e6:
        raise argparse.ArgumentTypeError(f"expected seconds, 0 or more, got {text[:40]!r}")
    return value


def look_of(given: argparse.Namespace) -> Look:
    """The look that was asked for."""
    from viewer.look import LOOKS

    return LOOKS["dark" if given.ground == "dark" else "light"]


def kind_of(given: argparse.Namespace, known: Sequence[str]) -> str:
    """The ending of ``--out``, if it is one of ``known``; the place must be writable."""
    path = Path(given.out)
    ending = path.suffix.lower().removeprefix(".")
    if ending not in known:
        ways = ", ".join(f".{k}" for k in known)
        raise UsageError(f"--out: expected a file that ends in {ways}, got {given.out!r}")
    check_place(given)
    return ending


def check_place(given: argparse.Namespace) -> None:
    """Say before any work that nothing could be written there."""
    path, scenario = Path(given.out), Path(given.scenario)
    if not path.parent.is_dir():
        raise UsageError(f"--out: expected an existing directory, got {str(path.parent)!r}")
    if path.is_dir():
        raise UsageError(f"--out: expected a file, got the directory {given.out!r}")
    if path.exists() and scenario.exists() and path.samefile(scenario):
        raise UsageError("--out: expected another file than the scenario itself")


def write(given: argparse.Namespace, write_it: Callable[[str], None]) -> None:
    """Write to ``--out``; a place that cannot be written to is an unusable argument."""
    try:
        write_it(given.out)
    except OSError as error:
        why = error.strerror or error  # an encoder gives a sentence and no number
        raise UsageError(f"--out: cannot write {given.out!r}: {why}") from error


def need_pygame() -> None:
    """Say how to get pygame where it is missing."""
    import os

    os.environ.setdefault("PYGAME_HIDE_SUPPORT_PROMPT", "1")
    try:
        import pygame  # noqa: F401
    except ImportError:
        raise UsageError(
            "this needs pygame: install it with  pip install '.[viewer]'  in the clone"
        ) from None
