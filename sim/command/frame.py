"""What commands share: reading the scenario, and giving out page and document."""

from __future__ import annotations

import argparse
import shlex
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sim.command.errors import UsageError

if TYPE_CHECKING:
    from sim.layout.traffic import Case
    from sim.pages.documents import Asked
    from sim.pages.page import Page
    from sim.scenario.document import Scenario

AS_BUILT = "as built"


def read(options: argparse.Namespace) -> Scenario:
    """The scenario that was asked for. Raises ``ScenarioError`` or :class:`UsageError`."""
    check_json_path(options)
    from sim.scenario.read import read_scenario

    return read_scenario(options.scenario)


def build(options: argparse.Namespace) -> Case:
    """The scenario with the fix that was asked for, ready to trace and run."""
    scenario = read(options)
    fix = None if options.fix in (None, AS_BUILT) else str(options.fix)
    if fix is not None and fix not in scenario.fix_names:
        known = ", ".join(repr(name) for name in scenario.fix_names) or "none"
        raise UsageError(f"--fix: expected a fix of the scenario ({known}), got {fix!r}")
    from sim.layout.assemble import assemble

    return assemble(scenario, fix)


def check_json_path(options: argparse.Namespace) -> None:
    """Say before any work that the document could not be written."""
    if options.json is None or options.json == "-":
        return
    path = Path(options.json)
    if "\0" in options.json or path.is_dir() or not path.parent.is_dir():
        raise UsageError(
            f"--json: expected a file in a directory that exists, got {options.json!r}"
        )
    scenario = Path(getattr(options, "scenario", path.parent))
    if path.exists() and scenario.exists() and path.samefile(scenario):
        raise UsageError("--json: expected another file than the scenario itself")


def give(
    options: argparse.Namespace,
    page: Callable[[Page], None],
    document: Callable[[], dict[str, Any]],
) -> None:
    """The page on standard output, the document where it was asked for, or both."""
    if options.json is not None:
        write_json(options.json, document())
    if options.json == "-":
        return
    from sim.pages.page import Page

    page(Page())


def write_json(path: str, document: dict[str, Any]) -> None:
    """Write a document; a place that cannot be written to is an unusable argument."""
    from sim.pages.write import to_json, write_text_atomically

    text = to_json(document)
    try:
        write_text_atomically(path, text)
    except BrokenPipeError:
        raise
    except OSError as error:
        raise UsageError(f"--json: cannot write {path!r}: {error.strerror}") from error


def command_line(options: argparse.Namespace, names: Sequence[str], file: str) -> str:
    """The command line that gives the same result: only what changes it is in there."""
    words = ["gapwright", options.command, file]
    for name in names:
        value = getattr(options, name)
        if value is not None:
            words += [f"--{name.replace('_', '-')}", str(value)]
    return shlex.join(words)


def asked(options: argparse.Namespace, scenario: str | None, names: Sequence[str]) -> Asked:
    """The same for a document. The file is named without its directory.

    So the same question gives the same bytes wherever the file lies.
    """
    from sim.pages.documents import Asked

    file = Path(options.scenario).name.encode("utf-8", "replace").decode()
    return Asked(scenario, command_line(options, names, file))
