"""``gapwright new``: a few questions, and a commented scenario that runs at once."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from sim.command import frame
from sim.command.errors import DONE, UNUSABLE_INPUT, UsageError


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


def run(given: argparse.Namespace) -> int:
    """Ask what was not given, write the file, and check it."""
    target = Path(given.file)
    if target.suffix != ".toml":
        raise UsageError(f"FILE: expected a name that ends in .toml, got {given.file!r}")
    if target.exists():
        raise UsageError(f"FILE: expected a new file, got {given.file!r}, which exists")
    if not target.parent.is_dir():
        raise UsageError(f"FILE: expected an existing directory, got {str(target.parent)!r}")
    from sim.begin.first import TooShortError, scenario_text
    from sim.begin.questions import answers_of

    answers = answers_of(_ask(given))
    try:
        text = scenario_text(answers, given.title or target.stem)
    except TooShortError as error:
        raise UsageError(f"--board: the piece does not fit the board: {error}") from None
    frame.write_text("FILE", str(target), text)
    return _tell(target)


def _ask(given: argparse.Namespace) -> dict[str, str]:
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
            line = _read(question.text, question.choices, question.default, question.help)
            meant = understood(question, line)
            if meant is None:
                print(f"  Expected {expected(question)}, got {line[:40]!r}.")
        said[question.key] = meant
    return said


def _read(text: str, choices: tuple[str, ...], default: str, more: str) -> str:
    print(text)
    if more:
        print(f"  {more}")
    for number, choice in enumerate(choices, 1):
        print(f"  {number}. {choice}")
    print(f"  [{default}] ", end="", flush=True)
    line = sys.stdin.readline()
    if not line:  # the end of input: the rest is as proposed
        print(default)
    return line.rstrip("\n")


def _tell(target: Path) -> int:
    import shlex

    from sim.scenario.read import check_scenario

    errors = [p for p in check_scenario(target) if p.severity == "error"]
    for problem in errors:
        print(problem, file=sys.stderr)
    if errors:
        return UNUSABLE_INPUT
    name = shlex.quote(str(target))
    print(f"Written: {target}. It is yours to change; these run at once:")
    for command in ("check", "states", "run", "compare", "view"):
        print(f"  gapwright {command} {name}")
    return DONE
