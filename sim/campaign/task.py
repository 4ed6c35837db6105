"""What a worker does: one replication of all cases, made into one line of text."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass, field
from functools import lru_cache
from typing import Any

from pydantic import TypeAdapter, ValidationError

from sim.campaign.plan import Task, unpacked
from sim.judge.seeds import replication_seed
from sim.judge.tally import Tally, tally
from sim.layout.traffic import Case
from sim.motion.run import run
from sim.records.flat import Row, rows_of


@dataclass(frozen=True, slots=True)
class Outcome:
    """What one task left: tallies by number of the case, and rows if they were asked for.

    Cases in which nothing is random are run in replication 0 only.
    """

    task: Task
    tallies: dict[int, Tally]
    rows: dict[int, tuple[Row, ...]] | None = None


@dataclass(frozen=True, slots=True)
class Order:
    """A task with all that it takes to do it, ready to travel."""

    task: Task
    cases: bytes = field(repr=False)  #: from :func:`sim.campaign.plan.packed`
    wanted: tuple[int, ...] = ()
    seed: int = 0
    with_rows: bool = False


@lru_cache(maxsize=4)
def _cases(parcel: bytes) -> tuple[Case, ...]:
    return unpacked(parcel)


def do(order: Order) -> str:
    """Run one replication; gives its line."""
    cases = _cases(order.cases)
    seed = replication_seed(order.seed, order.task.replication)
    tallies: dict[int, Tally] = {}
    rows: dict[int, tuple[Row, ...]] = {}
    for number in order.wanted:
        record = run(cases[number], seed)
        tallies[number] = tally(record)
        if order.with_rows:
            rows[number] = tuple(rows_of(record, order.task.replication))
    return to_line(Outcome(order.task, tallies, rows if order.with_rows else None))


_TALLY = TypeAdapter(Tally)
_ROWS = TypeAdapter(tuple[Row, ...])


def to_line(outcome: Outcome) -> str:
    """One line of JSON, the same for the same outcome."""
    data: dict[str, Any] = {
        "variant": outcome.task.variant,
        "replication": outcome.task.replication,
        "tallies": {str(n): asdict(t) for n, t in outcome.tallies.items()},
    }
    if outcome.rows is not None:
        data["rows"] = {str(n): [asdict(r) for r in rows] for n, rows in outcome.rows.items()}
    return json.dumps(data, ensure_ascii=False, separators=(",", ":"), allow_nan=False)


def from_line(line: str) -> Outcome:
    """The outcome in a line. Raises ``ValueError`` where it holds none."""
    data = json.loads(line)
    try:
        rows = data.get("rows")
        return Outcome(
            Task(int(data["variant"]), int(data["replication"])),
            {int(n): _TALLY.validate_python(t) for n, t in data["tallies"].items()},
            None
            if rows is None
            else {int(n): _ROWS.validate_python(r) for n, r in rows.items()},
        )
    except (AttributeError, KeyError, TypeError, ValidationError) as error:
        raise ValueError("not a finished replication") from error


def is_whole(outcome: Outcome, wanted: Sequence[int], with_rows: bool) -> bool:
    """Whether ``outcome`` has all that is wanted of its task."""
    if set(outcome.tallies) != set(wanted):
        return False
    return not with_rows or outcome.rows is not None
