"""Records as flat rows, and the columns and files that these are kept in.

Records as one flat table: everything that happened, one row each.

A row has a column for every fact that any kind of happening has; what a kind has
not is None.  Times are seconds, places mm from the route's start, currents A.

Write flat records for use elsewhere: Parquet, or CSV by the file's ending.

Parquet needs the extra ``records``; CSV needs nothing.
"""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any

from sim.records.causes import Cause, DerailReason
from sim.records.invariants import whole
from sim.records.model import Record


@dataclass(frozen=True, slots=True)
class Row:
    """One happening.

    ``what`` is ``leg``, ``pass``, ``stall``, ``hesitation``, ``dropout``, ``trip``,
    ``derailment``, ``run-through``, ``reversal`` or ``event``.  ``name`` is the
    leg's name, the lever, the supply, or who an event is about; ``detail`` says
    more in a word, and of what has a ``cause`` in whole sentences, once the table is
    written.  ``case`` is the fix, or ``as built``.
    """

    case: str
    replication: int
    seed: int
    what: str
    time_s: float
    end_s: float | None = None
    duration_s: float | None = None
    train: str | None = None
    route: str | None = None
    section: str | None = None
    place_mm: float | None = None
    side: str | None = None
    outcome: str | None = None
    kind: str | None = None
    name: str | None = None
    detail: str | None = None
    piece: str | None = None
    nudges: int | None = None
    current_a: float | None = None
    cause: Cause | DerailReason | None = None


def rows_of(record: Record, replication: int = 0) -> Iterator[Row]:
    """All rows of a record: kind by kind, each in order of time."""
    about = (record.fix if record.fix is not None else "as built", replication, record.seed)
    for leg in record.legs:
        yield Row(*about, "leg", leg.start_s, leg.end_s, round(leg.end_s - leg.start_s, 6),
                  leg.train, outcome=leg.outcome, name=leg.leg)  # fmt: skip
    for p in record.passes:
        took = None if p.leave_s is None else round(p.leave_s - p.enter_s, 6)
        yield Row(*about, "pass", p.enter_s, p.leave_s, took, p.train, p.route,
                  outcome=p.outcome)  # fmt: skip
    for s in record.stalls:
        yield Row(*about, "stall", s.time_s, train=s.train, route=s.route, section=s.section,
                  place_mm=s.place_mm, side=s.side, kind=s.kind, piece=s.charged_to,
                  nudges=s.nudges, cause=s.cause)  # fmt: skip
    for h in record.hesitations:
        end_s = round(h.time_s + h.duration_s, 6)
        yield Row(*about, "hesitation", h.time_s, end_s, h.duration_s, h.train, h.route,
                  h.section)  # fmt: skip
    for d in record.dropouts:
        end_s = round(d.time_s + d.duration_s, 6)
        yield Row(*about, "dropout", d.time_s, end_s, d.duration_s, d.train, kind=d.kind,
                  name=d.where)  # fmt: skip
    yield from _incidents(record, about)


def _incidents(record: Record, about: tuple[str, int, int]) -> Iterator[Row]:
    for t in record.trips:
        yield Row(*about, "trip", t.time_s, name=t.supply, current_a=t.current_a,
                  cause=t.cause)  # fmt: skip
    for x in record.derailments:
        yield Row(*about, "derailment", x.time_s, train=x.train, route=x.route, name=x.lever,
                  cause=x.cause)  # fmt: skip
    for r in record.run_throughs:
        yield Row(*about, "run-through", r.time_s, train=r.train, route=r.route, name=r.lever,
                  detail=r.then)  # fmt: skip
    for v in record.reversals:
        yield Row(*about, "reversal", v.time_s, train=v.train, route=v.route,
                  place_mm=v.place_mm, name=v.supply)  # fmt: skip
    for e in record.events:
        yield Row(*about, "event", e.time_s, kind=e.what, name=e.who, detail=e.detail)


#: Columns of plain values, as rows have them.
_PLAIN = tuple(f.name for f in fields(Row) if f.name != "cause")
#: Then what a cause is, and the ids of the elements in it, a blank between them.
COLUMNS = (*_PLAIN, "cause", "elements")
Say = Callable[[Cause | DerailReason], str]
Flat = tuple[str | int | float | None, ...]
#: Rows written to a Parquet file at a time.
GROUP = 50_000


class TableError(Exception):
    """The table cannot be written. The message says what was expected."""


def check_table_path(path: str) -> None:
    """Say before any work that ``path`` could not be written. Raises :class:`TableError`."""
    _writer(path)
    folder = Path(path).parent
    if not folder.is_dir():
        raise TableError(f"expected a folder, got {str(folder)!r}")


def write_table(path: str, rows: Iterable[Row], say: Say) -> int:
    """Write ``rows`` to ``path``, whole or not at all; gives their number.

    ``say`` puts a cause into words.  Raises :class:`TableError` or ``OSError``.
    """
    write = _writer(path)
    with whole(path) as made:
        return write(made, (_flat(row, say) for row in rows))


def _flat(row: Row, say: Say) -> Flat:
    """The values of all columns."""
    cause = row.cause
    values = {name: getattr(row, name) for name in _PLAIN}
    if cause is None:
        return (*values.values(), None, None)
    values["detail"] = say(cause)
    if isinstance(cause, Cause):
        return (*values.values(), cause.kind, " ".join(cause.elements))
    return (*values.values(), cause, None)


def _writer(path: str) -> Callable[[Path, Iterable[Flat]], int]:
    ending = Path(path).suffix.lower()
    if ending == ".csv":
        return _write_csv
    if ending != ".parquet":
        raise TableError(f"expected a file that ends in .parquet or .csv, got {path!r}")
    try:
        import pyarrow  # noqa: F401
    except ImportError as error:
        raise TableError(
            "Parquet needs a library that is not installed: pip install '.[records]' in "
            "the clone, or write a file that ends in .csv"
        ) from error
    return _write_parquet


def _write_csv(path: Path, rows: Iterable[Flat]) -> int:
    count = 0
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(COLUMNS)
        for row in rows:
            writer.writerow(["" if value is None else value for value in row])
            count += 1
    return count


def _write_parquet(path: Path, rows: Iterable[Flat]) -> int:
    import pyarrow as pa
    import pyarrow.parquet as pq

    kinds: dict[str, Any] = {"str": pa.string(), "int": pa.int64(), "float": pa.float64()}
    schema = pa.schema(
        [
            pa.field(f.name, kinds[str(f.type).split(" ")[0]], nullable="None" in str(f.type))
            for f in fields(Row)
            if f.name in _PLAIN
        ]
        + [pa.field(name, pa.string()) for name in COLUMNS[len(_PLAIN) :]]
    )
    count = 0
    with pq.ParquetWriter(path, schema, compression="zstd") as writer:
        for group in _groups(rows):
            count += len(group)
            columns = list(zip(*group, strict=True))
            arrays = [
                pa.array(column, field.type)
                for column, field in zip(columns, schema, strict=True)
            ]
            writer.write_table(pa.table(arrays, schema=schema))
    return count


def _groups(rows: Iterable[Flat]) -> Iterator[list[Flat]]:
    group: list[Flat] = []
    for row in rows:
        group.append(row)
        if len(group) == GROUP:
            yield group
            group = []
    if group:
        yield group
