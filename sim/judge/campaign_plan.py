"""What a campaign has to run, and what one worker does of it.

What a campaign has to run: the case as assumed, and with other assumptions.

What a worker does: one replication of all cases, made into one line of text.
"""

from __future__ import annotations

import json
import pickle
import zlib
from collections.abc import Sequence
from dataclasses import asdict, dataclass, field
from functools import lru_cache
from hashlib import blake2b
from typing import Any

from pydantic import TypeAdapter, ValidationError

from sim.judge.tally import Tally, replication_seed, tally
from sim.layout.project import Project
from sim.layout.traffic import Case
from sim.records.table import Row, rows_of
from sim.run.run import is_random, run
from sim.scenario.bands import Band, assuming, bands_of
from sim.scenario.document import Scenario


@dataclass(frozen=True, slots=True, order=True)
class Task:
    """Replication ``replication`` of all cases of variant ``variant``."""

    variant: int
    replication: int


@dataclass(frozen=True, slots=True)
class Variant:
    """As built and every fix, under one set of assumptions.

    ``band`` and ``value`` tell which assumption differs from the scenario's, and
    its value; None for the scenario's own.
    """

    cases: tuple[Case, ...]
    band: Band | None = None
    value: float | None = None

    @property
    def random(self) -> tuple[bool, ...]:
        """By case: whether anything in it is left to chance."""
        return tuple(is_random(case) for case in self.cases)


@dataclass(frozen=True, slots=True)
class Plan:
    """All variants, the scenario's own first, and the seed of all chance."""

    variants: tuple[Variant, ...]
    seed: int
    digest: str  #: the same where results are the same


def plan_campaign(project: Project, seed: int, each_band: bool = True) -> Plan:
    """The variants of ``project``: its own, and both ends of each band that matters.

    An assumption that no part of any case uses makes no variants.  Raises
    ``ScenarioError`` where a fix cannot be built.
    """
    scenario, own = project.scenario, Variant(project.cases())
    variants = [own]
    for band in bands_of(scenario) if each_band else ():
        for value in (band.low, band.high):
            if value == band.value:
                continue
            cases = Project(assuming(scenario, band.field, value)).cases()
            if [(c.layout, c.wear) for c in cases] != [(c.layout, c.wear) for c in own.cases]:
                variants.append(Variant(cases, band, value))
    return Plan(tuple(variants), seed, _digest(scenario, seed))


def _digest(scenario: Scenario, seed: int) -> str:
    from importlib.metadata import PackageNotFoundError, version

    try:
        made_by = version("gapwright")
    except PackageNotFoundError:
        made_by = "?"
    text = f"{made_by}/{seed}/{scenario.model_dump_json()}"
    return blake2b(text.encode("utf-8", "replace"), digest_size=16).hexdigest()


def packed(cases: Sequence[Case]) -> bytes:
    """Cases in a form that travels to a worker: small, and the same every time."""
    return zlib.compress(pickle.dumps(tuple(cases), protocol=4), 1)


def unpacked(parcel: bytes) -> tuple[Case, ...]:
    """The cases of :func:`packed`. Only for what this program has packed itself."""
    cases: tuple[Case, ...] = pickle.loads(zlib.decompress(parcel))
    return cases


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
    cases: bytes = field(repr=False)  #: from :func:`sim.judge.campaign_plan.packed`
    wanted: tuple[int, ...] = ()
    seed: int = 0
    with_rows: bool = False


@lru_cache(maxsize=4)
def _cases_of(parcel: bytes) -> tuple[Case, ...]:
    return unpacked(parcel)


def do(order: Order) -> str:
    """Run one replication; gives its line."""
    cases = _cases_of(order.cases)
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
