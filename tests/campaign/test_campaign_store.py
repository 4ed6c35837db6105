"""What is on disk survives, and what does not is noticed."""

from __future__ import annotations

import errno
import json
import os
from pathlib import Path

import pytest

from sim.judge.campaign_plan import Outcome, Task, to_line
from sim.judge.store import CampaignError, Store, checked, open_store
from sim.judge.tally import StallPlace, Tally
from sim.records.causes import Cause, Reason

CAUSE = Cause(
    "left",
    (Reason("gap parts", elements=("a gap – “é”",), sections=("a", "b"), numbers=(1.5,)),),
)
PLACE = StallPlace("board/scissors/A-mid", "floating", CAUSE, "")
TALLY = Tally(3, (("local", "1"),), 4, 1, ((PLACE, 2),), 5, 6, 0, 1, True)


def line(replication: int) -> str:
    return to_line(Outcome(Task(0, replication), {0: TALLY, 2: TALLY}))


def filled(path: Path, count: int = 3) -> None:
    with open_store(path, "d", {"scenario": "é"}, resume=False) as store:
        for k in range(count):
            store.append(line(k))


def again(path: Path) -> Store:
    return open_store(path, "d", {}, resume=True)


def test_what_was_written_is_read(tmp_path: Path) -> None:
    path = tmp_path / "c"
    filled(path)
    with again(path) as store:
        assert sorted(store.places) == [Task(0, k) for k in range(3)]
        assert store.read(Task(0, 1)) == Outcome(Task(0, 1), {0: TALLY, 2: TALLY})
        store.append(line(7))
        assert store.read(Task(0, 7)).task == Task(0, 7)
    with again(path) as store:
        assert len(store.places) == 4


@pytest.mark.parametrize("cut", [1, 2, 40, 200])
def test_a_last_line_cut_short_is_dropped(cut: int, tmp_path: Path) -> None:
    path = tmp_path / "c"
    filled(path)
    whole = path.read_bytes()
    path.write_bytes(whole[:-cut])
    with again(path) as store:
        assert sorted(store.places) == [Task(0, 0), Task(0, 1)]
        assert store.damaged == 0
        store.append(line(2))
    assert path.read_bytes() == whole


def test_a_file_cut_within_its_first_line_begins_again(tmp_path: Path) -> None:
    path = tmp_path / "c"
    filled(path, 0)
    whole = path.read_bytes()
    for length in (5, 16, 17, len(whole) - 1):
        path.write_bytes(whole[:length])
        with open_store(path, "d", {"scenario": "é"}, resume=True) as store:
            store.append(line(0))
        with again(path) as store:
            assert list(store.places) == [Task(0, 0)]


def test_a_damaged_line_is_left_out_and_counted(tmp_path: Path) -> None:
    path = tmp_path / "c"
    filled(path)
    raw = bytearray(path.read_bytes())
    second = raw.index(b"\n", raw.index(b"\n") + 1) + 60
    raw[second] ^= 1
    path.write_bytes(bytes(raw))
    with again(path) as store:
        assert sorted(store.places) == [Task(0, 0), Task(0, 2)]
        assert store.damaged == 1


def test_a_line_that_is_checked_but_holds_no_run_is_damage_too(tmp_path: Path) -> None:
    path = tmp_path / "c"
    filled(path, 1)
    with path.open("ab") as file:
        file.write(checked('{"variant": 0}'))
        file.write(checked("[]"))
        file.write(checked("not json"))
    with again(path) as store:
        assert (len(store.places), store.damaged) == (1, 3)


def test_another_campaign_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "c"
    filled(path)
    with pytest.raises(CampaignError, match="another campaign: expected the same scenario"):
        open_store(path, "other", {}, resume=True)
    with pytest.raises(CampaignError, match="there already"):
        open_store(path, "d", {}, resume=False)
    with pytest.raises(CampaignError, match="cannot write"):
        open_store(tmp_path / "none" / "c", "d", {}, resume=False)
    path.write_text("a letter\nto nobody\n")
    with pytest.raises(CampaignError, match="expected a campaign's file"):
        again(path)


def test_a_file_of_an_older_format_is_refused_with_the_reason(tmp_path: Path) -> None:
    """Format 1 kept causes as sentences."""
    path = tmp_path / "c"
    head = {"format_version": 1, "digest": "d"}
    path.write_bytes(checked(json.dumps(head)) + checked('{"variant": 0}'))
    with pytest.raises(CampaignError, match="by another version"):
        again(path)
    assert path.read_bytes().count(b"\n") == 2  # nothing of it is lost


def test_two_campaigns_cannot_write_one_file(tmp_path: Path) -> None:
    pytest.importorskip("fcntl")
    path = tmp_path / "c"
    filled(path)
    with again(path), pytest.raises(CampaignError, match="another campaign is writing"):
        again(path)


def test_a_full_disk_loses_only_what_was_not_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "c"
    filled(path)
    write = os.write

    def half_then_full(handle: int, data: bytes) -> int:
        if len(data) < 50:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        return write(handle, data[: len(data) // 2])

    with again(path) as store:
        monkeypatch.setattr(os, "write", half_then_full)
        with pytest.raises(CampaignError, match="3 finished replications are safe"):
            store.append(line(3))
        monkeypatch.undo()
    with again(path) as store:
        assert sorted(store.places) == [Task(0, k) for k in range(3)]
