"""Entry of the ``gapwright`` command.

Exit codes: 0 done (a layout that shorts or stalls is a valid answer), 1 unusable
input, 2 unusable arguments or a place that cannot be written to, 130 interrupted.
Nothing heavy is imported before a command needs it, and no traceback reaches the user.
"""

from __future__ import annotations

import argparse
import errno
import os
import sys
from collections.abc import Sequence
from typing import TYPE_CHECKING

from sim.command.frame import DONE, INTERRUPTED, UNUSABLE_ARGUMENTS, UNUSABLE_INPUT, UsageError
from sim.command.registry import OWN, Command, added, find

if TYPE_CHECKING:
    from _typeshed import SupportsWrite

PROGRAM = "gapwright"
UNWRITABLE = "standard output cannot be written"
UNWRITABLE_BECAUSE = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG, errno.EIO, errno.EBADF)
DESCRIPTION = (
    "Find out why trains stall on a model-railway module, and which wire cures it, "
    "before the piece is opened."
)


def main(argv: Sequence[str] | None = None) -> int:
    """Run the command line ``argv`` (by default the process's own); give the exit code."""
    if sys.stderr is None:  # closed by whoever started us; Python would print elsewhere
        sys.stderr = open(os.devnull, "w")  # noqa: PTH123, SIM115
    if sys.stdout is None:
        return _say(f"{UNWRITABLE}: it is closed", UNUSABLE_ARGUMENTS)
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    try:
        code = _guarded(list(sys.argv[1:] if argv is None else argv))
        sys.stdout.flush()
    except BrokenPipeError:
        return _nobody_reads()
    except OSError as error:
        if not _of_output(error):
            return _unusable(error)
        _nobody_reads()
        return _say(f"{UNWRITABLE}: {error.strerror}", UNUSABLE_ARGUMENTS)
    return code


def _guarded(argv: list[str]) -> int:
    """The exit code, whatever happens, but for output that cannot be written."""
    try:
        return _run(argv)
    except SystemExit as end:  # argparse has said what is to be said
        return end.code if isinstance(end.code, int) else UNUSABLE_ARGUMENTS
    except UsageError as error:
        return _say(str(error), UNUSABLE_ARGUMENTS)
    except KeyboardInterrupt:
        return _say("interrupted", INTERRUPTED)
    except BrokenPipeError:
        raise
    except Exception as error:
        if isinstance(error, OSError) and _of_output(error):
            raise
        return _unusable(error)


def _of_output(error: OSError) -> bool:
    """Whether it comes from standard output: anything else is opened by its name first."""
    return error.filename is None and error.errno in UNWRITABLE_BECAUSE


def _run(argv: list[str]) -> int:
    parser = _parser()
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", title="commands")
    name = next((a for a in argv if not a.startswith("-")), None)
    chosen = find(name) if name else None
    if chosen is None:
        for command in (*OWN, *added()):
            _add(commands, command)
        options = parser.parse_args(argv)
        if options.version:
            print(_version())
            return DONE
        if not argv:
            parser.print_help()
            return UNUSABLE_ARGUMENTS
        parser.error("expected a command, got none")
    module = chosen.load()
    module.configure(_add(commands, chosen))
    return module.run(parser.parse_args(argv))


class _Parser(argparse.ArgumentParser):
    """One that does not pass over help that could not be written."""

    def _print_message(self, message: str, file: SupportsWrite[str] | None = None) -> None:
        (file or sys.stderr).write(message)


def _parser() -> argparse.ArgumentParser:
    parser = _Parser(PROGRAM, description=DESCRIPTION, allow_abbrev=False)
    parser.add_argument("--version", action="store_true", help="print the version")
    return parser


def _add(
    commands: argparse._SubParsersAction[argparse.ArgumentParser], command: Command
) -> argparse.ArgumentParser:
    return commands.add_parser(
        command.name,
        help=command.help,
        description=command.help[:1].upper() + command.help[1:] + ".",
        allow_abbrev=False,
    )


def _version() -> str:
    from importlib.metadata import PackageNotFoundError, version

    try:
        return f"{PROGRAM} {version(PROGRAM)}"
    except PackageNotFoundError:
        return f"{PROGRAM} (not installed)"


def _say(text: str, code: int) -> int:
    print(f"{PROGRAM}: {text}", file=sys.stderr)
    return code


def _nobody_reads() -> int:
    """Whoever read our output has closed it: end quietly, with nothing left to flush."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    return DONE


def _unusable(error: Exception) -> int:
    """Tell a scenario's problems all at once; anything else is a defect of ours."""
    from sim.scenario.problems import ScenarioError

    if isinstance(error, ScenarioError):
        _say(f"the {error.file} cannot be used:", UNUSABLE_INPUT)
        for problem in error.problems:
            print(f"  {_one_line(str(problem))}", file=sys.stderr)
        return UNUSABLE_INPUT
    if isinstance(error, OSError) and isinstance(error.filename, str):
        # a name that is too long, a round of links: whatever was to be done with it
        shown = repr(error.filename[:200])
        return _say(
            f"expected a file name that can be used, got {shown}: {error.strerror}",
            UNUSABLE_ARGUMENTS,
        )
    from sim.circuit.nodal import CircuitError

    if isinstance(error, CircuitError):
        return _say(
            f"the circuit of this scenario cannot be solved: {_one_line(str(error))}. Expected "
            "resistances nearer to each other; see internal_ohm, wires, and [assumptions]",
            UNUSABLE_INPUT,
        )
    from sim.judge.workers import WorkersLostError

    if isinstance(error, WorkersLostError):
        return _say(_one_line(str(error)), UNUSABLE_ARGUMENTS)
    what = _one_line(f"{type(error).__name__}: {error}")
    return _say(
        f"a defect of this program, not yours ({what}). Please report this line "
        "together with the scenario file.",
        UNUSABLE_INPUT,
    )


def _one_line(text: str) -> str:
    """``text`` on one line, with nothing in it that a terminal would obey."""
    return "".join(c if c.isprintable() else " " for c in text)[:2000]


if __name__ == "__main__":
    sys.exit(main())
