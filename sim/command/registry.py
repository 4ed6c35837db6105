"""Which commands there are, without loading any of them.

A command is a module with two functions::

    configure(parser: argparse.ArgumentParser) -> None
    run(options: argparse.Namespace) -> int

Commands of this package are listed here.  Other packages add theirs as entry
points of the group ``gapwright.commands``: the entry point's name is the
command's, its value the module.  What ``--help`` says of such a command is read,
without importing anything, from the line ``name: help`` in a file
``commands.txt`` beside the package's ``__init__.py``.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol, cast

if TYPE_CHECKING:
    from importlib.metadata import EntryPoint

GROUP = "gapwright.commands"


class CommandModule(Protocol):
    """What a command's module offers."""

    def configure(self, parser: argparse.ArgumentParser) -> None:
        """Add the command's arguments."""

    def run(self, options: argparse.Namespace) -> int:
        """Do it and give the exit code."""


@dataclass(frozen=True, slots=True)
class Command:
    """One command: its name, one line of help, and how to load it."""

    name: str
    help: str
    load: Callable[[], CommandModule]


def _own(name: str, help_line: str) -> Command:
    def load() -> CommandModule:
        from importlib import import_module

        return cast(CommandModule, import_module(f"sim.command.{name}"))

    return Command(name, help_line, load)


OWN = (
    _own("new", "ask a few questions and write a first scenario that runs at once"),
    _own("demo", "list the scenarios that are shipped, and compare the fixes of one"),
    _own("check", "find everything that is wrong with a scenario file"),
    _own("states", "chart which rails are fed, dead or shorted in every lever position"),
    _own("run", "run the timetable once and tell every stall and its cause"),
    _own("compare", "run as built and every fix on the same luck, and judge the fixes"),
    _own("campaign", "compare over many runs of a whole day, kept on disk as they end"),
    _own("odds", "work out exactly how likely each route is to go dead, and by what"),
    _own("faults", "find what dies, shorts or joins when one part fails, or two"),
    _own("seek", "find every smallest set of wires, cuts and changeovers that cures it"),
    _own("weigh", "put every fix, and those that a search finds, side by side"),
    _own("card", "print the card that travels with a module: changes, neighbours, tests"),
    _own("learn", "find out how a piece is wired, from readings on the bench"),
    _own("locate", "find the faults that explain readings, and the reading to take next"),
    _own("volts", "tell what is left of the supply at each place, and whether a short trips"),
    _own("netlist", "write the circuit of one setting as a SPICE netlist"),
    _own("schema", "print the JSON Schema of scenario files"),
)


def find(name: str) -> Command | None:
    """The command of that name, or None. Looks elsewhere only if it is none of ours."""
    return next((c for c in OWN if c.name == name), None) or next(
        (c for c in added() if c.name == name), None
    )


def added() -> tuple[Command, ...]:
    """Commands that other packages add, in order of name."""
    from importlib.metadata import entry_points

    own = {c.name for c in OWN}
    points = {p.name: p for p in entry_points(group=GROUP) if p.name not in own}
    return tuple(_added(points[name]) for name in sorted(points))


def _added(point: EntryPoint) -> Command:
    return Command(
        point.name,
        _help_line(point),
        lambda: cast(CommandModule, point.load()),
    )


def _help_line(point: EntryPoint) -> str:
    """The command's line in ``commands.txt`` of its package, empty if there is none."""
    from importlib.util import find_spec
    from pathlib import Path

    package = point.module.partition(".")[0]
    spec = find_spec(package)
    for place in (spec.submodule_search_locations or ()) if spec else ():
        try:
            text = Path(place, "commands.txt").read_text(encoding="utf-8")
        except (OSError, UnicodeDecodeError):
            continue
        for line in text.splitlines():
            name, _, said = line.partition(":")
            if name.strip() == point.name:
                return said.strip().replace("%", "%%")
    return ""
