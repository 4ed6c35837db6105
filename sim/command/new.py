"""``gapwright new``: a few questions, and a commented scenario that runs at once."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any, TextIO

from sim.command import frame, options
from sim.command.frame import DONE, UsageError

if TYPE_CHECKING:
    from sim.begin.questions import Answers, Question


def configure(parser: argparse.ArgumentParser) -> None:
    """Add the arguments: the file, and an option for each question."""
    from sim.begin.questions import QUESTIONS

    parser.add_argument("file", metavar="FILE", help="the scenario file to write (TOML)")
    for question in QUESTIONS:
        parser.add_argument(
            f"--{question.key.replace('_', '-')}",
            dest=question.key,
            metavar="ANSWER",
            help=f"{question.text} (asked if not given)",
        )
    parser.add_argument("--title", help="title of the scenario (default: the file's name)")
    options.add_json(parser, "the answers and the file")


def run(given: argparse.Namespace) -> int:
    """Ask what was not given, write the file, and check it."""
    target = Path(given.file)
    if target.suffix != ".toml":
        raise UsageError(f"FILE: expected a name that ends in .toml, got {given.file!r}")
    if target.exists():
        raise UsageError(f"FILE: expected a new file, got {given.file!r}, which exists")
    if not target.parent.is_dir():
        raise UsageError(f"FILE: expected an existing directory, got {str(target.parent)!r}")
    frame.check_json_path(given)
    from sim.begin.first import TooShortError, scenario_text
    from sim.begin.questions import answers_of

    # Where the document goes to standard output nothing else may.
    asks = sys.stderr if given.json == "-" else sys.stdout
    answers = answers_of(_ask(given, asks))
    try:
        text = scenario_text(answers, given.title or target.stem)
    except TooShortError as error:
        raise UsageError(f"--board: the piece does not fit the board: {error}") from None
    _check(text)
    frame.write_text("FILE", str(target), text)
    if given.json is not None:
        frame.write_json(given.json, _document(given, answers, target))
    if given.json != "-":
        _tell(target)
    return DONE


def _check(text: str) -> None:
    """Nothing is written that could not be used: only the title is anybody's words."""
    from sim.layout.project import project_from_text
    from sim.scenario.problems import ScenarioError

    try:
        project_from_text(text)
    except ScenarioError as error:
        raise UsageError("; ".join(map(str, error.problems))) from None


def _document(given: argparse.Namespace, answers: Answers, target: Path) -> dict[str, Any]:
    from dataclasses import asdict

    from sim.pages.documents import FORMAT_VERSION

    return {
        "format_version": FORMAT_VERSION,
        "scenario": given.title or target.stem,
        "answers": asdict(answers),
        "written": target.name,
    }


def _ask(given: argparse.Namespace, asks: TextIO) -> dict[str, str]:
    """Answers from the options, and from standard input for the rest."""
    from sim.begin.questions import QUESTIONS, expected, is_asked, understood

    said: dict[str, str] = {}
    for question in QUESTIONS:
        option = getattr(given, question.key)
        if option is not None:
            meant = understood(question, option)
            if meant is None:
                flag = question.key.replace("_", "-")
                raise UsageError(f"--{flag}: expected {expected(question)}, got {option!r}")
            said[question.key] = meant
            continue
        if not is_asked(question, said):
            continue
        meant = None
        while meant is None:
            line = _read(question, asks)
            meant = understood(question, line)
            if meant is None:
                print(f"  Expected {expected(question)}, got {line[:40]!r}.", file=asks)
        said[question.key] = meant
    return said


def _read(question: Question, asks: TextIO) -> str:
    print(question.text, file=asks)
    if question.help:
        print(f"  {question.help}", file=asks)
    for number, choice in enumerate(question.choices, 1):
        print(f"  {number}. {choice}", file=asks)
    print(f"  [{question.default}] ", end="", flush=True, file=asks)
    line = sys.stdin.readline()
    if not line:  # the end of input: the rest is as proposed
        print(question.default, file=asks)
    return line.rstrip("\n")


def _tell(target: Path) -> None:
    import shlex

    name = shlex.quote(str(target))
    print(f"Written: {target}. It is yours to change; these run at once:")
    for command in ("check", "states", "run", "compare", "view"):
        print(f"  gapwright {command} {name}")
