"""What commands share: reading a scenario, giving out page and document.

What a command may raise to end with a sentence and an exit code.

What commands share: reading the scenario, and giving out page and document.
"""

from __future__ import annotations

import argparse
import os
from collections.abc import Callable, Collection, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import sim

if TYPE_CHECKING:
    from sim.layout.project import Project
    from sim.layout.traffic import Case
    from sim.pages.answer import Answer
    from sim.pages.documents import Asked
    from sim.pages.page import Page


DONE = 0
UNUSABLE_INPUT = 1
UNUSABLE_ARGUMENTS = 2
INTERRUPTED = 130


class UsageError(Exception):
    """The arguments cannot be used: exit 2. The message says expected, got, where."""


AS_BUILT = "as built"


def read(options: argparse.Namespace, fixes: Collection[str] | None = None) -> Project:
    """The project that was asked for. Raises ``ScenarioError`` or :class:`UsageError`.

    With ``fixes`` no other fix is put together and checked.
    """
    check_json_path(options)
    from sim.layout.project import load_project

    return load_project(options.scenario, fixes)


def fix_of(options: argparse.Namespace, project: Project | sim.Project) -> str | None:
    """The fix that was asked for, None as built. Raises :class:`UsageError`."""
    fix = None if options.fix in (None, AS_BUILT) else str(options.fix)
    if fix is not None and fix not in project.scenario.fix_names:
        known = ", ".join(repr(name) for name in project.scenario.fix_names) or "none"
        raise UsageError(f"--fix: expected a fix of the scenario ({known}), got {fix!r}")
    return fix


def project(options: argparse.Namespace) -> sim.Project:
    """The project that was asked for, as Python is given it. Raises like :func:`read`."""
    check_json_path(options)
    return sim.load(options.scenario)


def case(options: argparse.Namespace) -> sim.Case:
    """Its case with the fix that was asked for."""
    found = project(options)
    fix_of(options, found)
    return found.case(options.fix)


def build(options: argparse.Namespace) -> Case:
    """The project's case with the fix that was asked for, ready to trace and run."""
    project = read(options)
    return project.case(fix_of(options, project))


#: Options that name something to write, and those that name something that is read.
WRITTEN = ("json", "records", "out", "save", "piece", "output", "keep", "file", "copy")
READ = ("form", "readings", "scenario", "wiring")


def check_json_path(options: argparse.Namespace) -> None:
    """Say before any work that something could not be written.

    The document needs a folder to be in; and no two things go to one file, nor to
    one that is read.
    """
    path = options.json
    if path is not None and path != "-":
        there = Path(path)
        if "\0" in path or there.is_dir() or not there.parent.is_dir():
            expected = "expected a file in a directory that exists"
            raise UsageError(f"--json: {expected}, got {path!r}")
    _check_apart(options)


def _check_apart(options: argparse.Namespace) -> None:
    taken: dict[str, str] = {}
    for name in READ:
        value = getattr(options, name, None)
        if isinstance(value, str) and "\0" not in value:
            taken.setdefault(os.path.realpath(value), _called(name))
    for name in WRITTEN:
        value = getattr(options, name, None)
        if not isinstance(value, str) or value == "-" or "\0" in value:
            continue
        if Path(value).exists() and not Path(value).is_file():
            continue  # several things may go to one device
        there = os.path.realpath(value)
        if name == "save" and taken.get(there) in ("form", "--readings"):
            continue  # filled in, it takes the place of what it was made from
        if there in taken:
            what = "the scenario itself" if taken[there] == "scenario" else taken[there]
            raise UsageError(f"--{name}: expected another file than {what}, got {value!r}")
        taken[there] = f"--{name}"


def _called(name: str) -> str:
    return name if name in ("scenario", "form", "file") else f"--{name}"


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


def answer(options: argparse.Namespace, found: Answer[Any]) -> int:
    """Give out an answer; the exit code."""
    give(options, found.print, found.to_dict)
    return DONE


def write_json(path: str, document: dict[str, Any]) -> None:
    """Write a document; a place that cannot be written to is an unusable argument."""
    from sim.pages.documents import to_json

    write_text("--json", path, to_json(document))


def write_text(option: str, path: str, text: str) -> None:
    """Write what ``option`` asks for; standard output tells of itself when it cannot."""
    from sim.pages.documents import write_text_atomically

    try:
        write_text_atomically(path, text)
    except BrokenPipeError:
        raise
    except OSError as error:
        if path == "-":
            raise
        raise UsageError(f"{option}: cannot write {path!r}: {error.strerror}") from error


def command_line(options: argparse.Namespace, names: Sequence[str], file: str) -> str:
    """The command line that gives the same result: only what changes it is in there."""
    from sim.pages.answer import command_line

    return command_line(options.command, file, ((n, getattr(options, n)) for n in names))


def asked(options: argparse.Namespace, scenario: str | None, names: Sequence[str]) -> Asked:
    """The same for a document. The file is named without its directory.

    So the same question gives the same bytes wherever the file lies.
    """
    from sim.pages.answer import without_folder
    from sim.pages.documents import Asked

    return Asked(scenario, command_line(options, names, without_folder(options.scenario)))
