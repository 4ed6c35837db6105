"""Arguments that several commands share."""

from __future__ import annotations

import argparse
import math
from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING

import sim
from sim.command.frame import UsageError

if TYPE_CHECKING:
    from sim.records.table import Row

DEFAULT_SEED, DEFAULT_RUNS = sim.DEFAULT_SEED, sim.DEFAULT_RUNS
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


def add_runs(parser: argparse.ArgumentParser, default: int = DEFAULT_RUNS) -> None:
    """Replications and the processes that share them."""
    parser.add_argument(
        "--runs",
        type=whole_number(1, MOST_RUNS),
        default=default,
        metavar="N",
        help=f"runs of each case (default {default}); one where nothing is random",
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


def add_records(parser: argparse.ArgumentParser) -> None:
    """Where the flat table of everything that happened goes."""
    parser.add_argument(
        "--records",
        metavar="PATH",
        help="write everything that happened as one flat table; PATH ends in .parquet or .csv",
    )


def check_records(given: argparse.Namespace) -> None:
    """Say before any work that the table could not be written."""
    if given.records is None:
        return
    from sim.records.table import TableError, check_table_path

    try:
        check_table_path(given.records)
    except TableError as error:
        raise UsageError(f"--records: {error}") from error


def write_records(given: argparse.Namespace, rows: Iterable[Row]) -> None:
    """Write the table; a place that cannot be written to is an unusable argument."""
    from sim.records.table import write_table

    try:
        write_table(given.records, rows)
    except OSError as error:
        raise UsageError(
            f"--records: cannot write {given.records!r}: {error.strerror}"
        ) from error


def number(least: float, most: float) -> Callable[[str], float]:
    """An argument type: a number from ``least`` to ``most``."""

    def read(text: str) -> float:
        try:
            found = float(text) if text.isascii() and len(text) < 40 else math.nan
        except ValueError:
            found = math.nan
        if not least <= found <= most:
            raise argparse.ArgumentTypeError(
                f"expected a number from {least:g} to {most:g}, got {text[:40]!r}"
            )
        return found

    return read


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
