"""Flat records: every happening one row, in CSV and in Parquet alike."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from sim.pages.phrases import cause_line
from sim.records.table import (
    COLUMNS,
    TableError,
    _flat,
    check_table_path,
    rows_of,
    write_table,
)
from tests.made import record


def test_every_happening_is_a_row() -> None:
    made = record()
    rows = list(rows_of(made, 4))
    counts = {w: sum(r.what == w for r in rows) for w in dict.fromkeys(r.what for r in rows)}
    assert counts == {
        "leg": len(made.legs),
        "pass": len(made.passes),
        "stall": len(made.stalls),
        "hesitation": len(made.hesitations),
        "dropout": len(made.dropouts),
        "trip": len(made.trips),
        "derailment": len(made.derailments),
        "run-through": len(made.run_throughs),
        "reversal": len(made.reversals),
        "event": len(made.events),
    }
    stall = next(r for r in rows if r.what == "stall")
    assert (stall.case, stall.replication, stall.seed) == ("as built", 4, 7)
    assert (stall.section, stall.kind, stall.nudges) == (
        "board/scissors/A-mid",
        "floating",
        2,
    )
    assert stall.cause == made.stalls[0].cause


def test_csv(tmp_path: Path) -> None:
    rows = list(rows_of(record(fix='a "fix", é')))
    path = tmp_path / "r.csv"
    assert write_table(str(path), rows, cause_line) == len(rows)
    with path.open(encoding="utf-8", newline="") as file:
        read = list(csv.DictReader(file))
    assert tuple(read[0]) == COLUMNS
    assert [r["what"] for r in read] == [r.what for r in rows]
    assert read[0]["case"] == 'a "fix", é'
    assert float(read[0]["time_s"]) == rows[0].time_s
    assert read[0]["route"] == ""
    stall = next(r for r in read if r["what"] == "stall")
    assert (stall["cause"], stall["elements"]) == ("stayed open", "board/scissors/AW-through")
    assert stall["detail"].endswith(
        "stayed open at its last throw (board/scissors/AW is through)"
    )


def test_parquet(tmp_path: Path) -> None:
    parquet = pytest.importorskip("pyarrow.parquet")
    rows = list(rows_of(record()))
    path = tmp_path / "r.parquet"
    assert write_table(str(path), rows, cause_line) == len(rows)
    table = parquet.read_table(path)
    assert tuple(table.column_names) == COLUMNS
    columns = [table.column(name).to_pylist() for name in COLUMNS]
    assert list(zip(*columns, strict=True)) == [_flat(r, cause_line) for r in rows]
    assert str(table.schema.field("replication").type) == "int64"
    assert str(table.schema.field("place_mm").type) == "double"
    assert write_table(str(tmp_path / "none.parquet"), [], cause_line) == 0
    assert parquet.read_table(tmp_path / "none.parquet").num_rows == 0


def test_paths_are_checked_first(tmp_path: Path) -> None:
    with pytest.raises(TableError, match=r"ends in \.parquet or \.csv"):
        check_table_path(str(tmp_path / "r.xls"))
    with pytest.raises(TableError, match="expected a folder"):
        check_table_path(str(tmp_path / "none" / "r.csv"))
    check_table_path(str(tmp_path / "r.csv"))


def test_a_table_is_written_whole_or_not_at_all(tmp_path: Path) -> None:
    path = tmp_path / "r.csv"
    path.write_text("before")

    def breaks() -> object:
        yield next(iter(rows_of(record())))
        raise RuntimeError

    with pytest.raises(RuntimeError):
        write_table(str(path), breaks(), cause_line)  # type: ignore[arg-type]
    assert path.read_text() == "before"
    assert list(tmp_path.iterdir()) == [path]
