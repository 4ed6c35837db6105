"""Arguments that several commands share."""

from __future__ import annotations

import argparse
from collections.abc import Callable

DEFAULT_SEED = 1
DEFAULT_RUNS = 10
GREATEST_SEED = 2**63 - 1
MOST_RUNS = 10_000
MOST_WORKERS = 256


def add_scenario(parser: argparse.ArgumentParser) -> None:
    """The scenario file."""
    parser.add_argument("scenario", metavar="SCENARIO", help="the scenario file (TOML)")


def add_fix(parser: argparse.ArgumentParser) -> None:
    """One fix of the scenario."""
    parser.add_argument(
        "--fix", metavar="NAME", help="apply this fix of the scenario (default: as built)"
    )


def add_levers(parser: argparse.ArgumentParser) -> None:
    """How levers are charted."""
    parser.add_argument(
        "--levers",
        choices=("gangs", "each"),
        default="gangs",
        help="chart gangs moving together (default), or each lever by itself",
    )


def add_seed(parser: argparse.ArgumentParser) -> None:
    """The seed."""
    parser.add_argument(
        "--seed",
        type=whole_number(0, GREATEST_SEED),
        default=DEFAULT_SEED,
        metavar="N",
        help=f"seed of all chance (default {DEFAULT_SEED})",
    )


def add_runs(parser: argparse.ArgumentParser) -> None:
    """Replications and the processes that share them."""
    parser.add_argument(
        "--runs",
        type=whole_number(1, MOST_RUNS),
        default=DEFAULT_RUNS,
        metavar="N",
        help=f"runs of each case (default {DEFAULT_RUNS}); one where nothing is random",
    )
    parser.add_argument(
        "--workers",
        type=whole_number(1, MOST_WORKERS),
        metavar="N",
        help="processes that share the work (default: one for each processor)",
    )


def add_json(parser: argparse.ArgumentParser, what: str = "the result") -> None:
    """Where the document goes."""
    parser.add_argument(
        "--json",
        metavar="PATH",
        help=f"write {what} for other programs as JSON; - is standard output, "
        "and then nothing else is printed there",
    )


def whole_number(least: int, most: int) -> Callable[[str], int]:
    """An argument type: a whole number from ``least`` to ``most``."""

    def read(text: str) -> int:
        number = int(text) if text.isascii() and text.isdecimal() and len(text) < 20 else -1
        if not least <= number <= most:
            raise argparse.ArgumentTypeError(
                f"expected a whole number from {least} to {most}, got {text[:40]!r}"
            )
        return number

    return read
