"""Write flat records for use elsewhere: Parquet, or CSV by the file's ending.

Parquet needs the extra ``records``; CSV needs nothing.
"""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterable, Iterator
from dataclasses import astuple, fields
from pathlib import Path
from typing import Any

from sim.records.flat import Row
from sim.records.whole import whole

COLUMNS = tuple(f.name for f in fields(Row))
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


def write_table(path: str, rows: Iterable[Row]) -> int:
    """Write ``rows`` to ``path``, whole or not at all; gives their number.

    Raises :class:`TableError` or ``OSError``.
    """
    write = _writer(path)
    with whole(path) as made:
        return write(made, rows)


def _writer(path: str) -> Callable[[Path, Iterable[Row]], int]:
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


def _write_csv(path: Path, rows: Iterable[Row]) -> int:
    count = 0
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(COLUMNS)
        for row in rows:
            writer.writerow(["" if value is None else value for value in astuple(row)])
            count += 1
    return count


def _write_parquet(path: Path, rows: Iterable[Row]) -> int:
    import pyarrow as pa
    import pyarrow.parquet as pq

    kinds: dict[str, Any] = {"str": pa.string(), "int": pa.int64(), "float": pa.float64()}
    schema = pa.schema(
        [
            pa.field(f.name, kinds[str(f.type).split(" ")[0]], nullable="None" in str(f.type))
            for f in fields(Row)
        ]
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


def _groups(rows: Iterable[Row]) -> Iterator[list[tuple[Any, ...]]]:
    group: list[tuple[Any, ...]] = []
    for row in rows:
        group.append(astuple(row))
        if len(group) == GROUP:
            yield group
            group = []
    if group:
        yield group
