"""The version of results is raised when results change, so that kept runs are never mixed.

The hashes are pinned numbers of our own. They say nothing of whether results are right; they
only notice that they are others.
"""

from __future__ import annotations

import json
from dataclasses import replace
from hashlib import blake2b
from pathlib import Path

import pytest

from sim.judge.campaign_plan import Order, Task, do, packed, plan_campaign
from sim.judge.store import CampaignError, checked, open_store, text_of
from sim.layout.traffic import Case
from sim.records.model import Record
from sim.records.version import RESULTS
from sim.run.run import run
from sim.scenario.bands import lasting
from sim.scenario.document import Scenario
from sim.scenario.read import read_scenario

#: Case: file, and how long it runs, s.
CASES = {
    "two boards": ("tests/command/loops.toml", 120.0),
    "dirt and stops": ("tests/campaign/dirty.toml", 120.0),
    "club loops": ("scenarios/club-loops.toml", 240.0),
    "terminus": ("scenarios/branch-terminus.toml", 240.0),
    "loose gang": ("scenarios/loose-gang.toml", 240.0),
    "well fed": ("scenarios/well-fed.toml", 240.0),
}
REPLICATIONS = 2
#: By version of results and case: a hash of the scenario, and one of what its runs leave.
#: A row of a version stays as it is. Where a scenario was changed, its pair may be taken anew.
GOLDEN: dict[int, dict[str, tuple[str, str]]] = {
    1: {
        "two boards": ("217f2b331703c927", "399552c2a74d1d1a"),
        "club loops": ("4e455c3a8ef04c01", "814bce26a5690546"),
        "terminus": ("a794261178170699", "9c7eeb99519c1ecf"),
        "loose gang": ("046b89030143e7dc", "518ad864e49e0a17"),
        "well fed": ("8e9ed1c2b9135d30", "52406175fb94e744"),
    },
    # A stop's place counts from the route's start; dirt is not cut off at a piece's end.
    2: {
        "two boards": ("217f2b331703c927", "399552c2a74d1d1a"),
        "dirt and stops": ("ee5e10853e19e647", "b6273a1894b853cb"),
        "club loops": ("4e455c3a8ef04c01", "814bce26a5690546"),
        "terminus": ("a794261178170699", "9c7eeb99519c1ecf"),
        "loose gang": ("046b89030143e7dc", "518ad864e49e0a17"),
        "well fed": ("8e9ed1c2b9135d30", "52406175fb94e744"),
    },
    # Starting values of practice; causes are facts; a leg tells what it waited for.
    3: {
        "two boards": ("e15a314b31ff1161", "47abc726b02a5f44"),
        "dirt and stops": ("5c011d05cace59c1", "71b2aeb228941da1"),
        "club loops": ("e053d32f359bf4fc", "d67295754e78a2a3"),
        "terminus": ("87ac31468839d7b6", "07d48760550539aa"),
        "loose gang": ("c3c8740f3bc6e464", "efdb8f01a2c0270a"),
        "well fed": ("659e6428fc921264", "835c05eb701ce785"),
    },
}


def hashed(text: str) -> str:
    return blake2b(text.encode(), digest_size=8).hexdigest()


def case_of(name: str) -> Scenario:
    file, seconds = CASES[name]
    return lasting(read_scenario(file), seconds)


def left_by(scenario: Scenario) -> str:
    """Everything that runs of a scenario leave: records, rows and counts."""
    (own,) = plan_campaign(scenario, 1, each_band=False).variants
    every = tuple(range(len(own.cases)))
    parcel = packed(own.cases)
    return "\n".join(
        do(Order(Task(0, k), parcel, every, 1, with_rows=True)) for k in range(REPLICATIONS)
    )


@pytest.mark.parametrize("name", CASES)
def test_results_change_only_with_their_version(name: str) -> None:
    scenario = case_of(name)
    found = hashed(scenario.model_dump_json()), hashed(left_by(scenario))
    known = GOLDEN.get(RESULTS, {}).get(name)
    assert known == found, (
        f"results of {name!r} are others than of version {RESULTS}: raise RESULTS in "
        f"sim/records/version.py and write a row for it here: {name!r}: {found}"
    )


def test_a_last_digit_of_a_record_is_noticed(monkeypatch: pytest.MonkeyPatch) -> None:
    scenario = case_of("two boards")
    before = left_by(scenario)

    def nearly(case: Case, seed: int) -> Record:
        record = run(case, seed)
        first = replace(record.legs[0], end_s=record.legs[0].end_s + 1e-6)
        return replace(record, legs=(first, *record.legs[1:]))

    monkeypatch.setattr("sim.judge.campaign_plan.run", nearly)
    assert hashed(left_by(scenario)) != hashed(before)


def test_runs_of_another_version_are_refused(tmp_path: Path) -> None:
    path = tmp_path / "kept"
    open_store(path, "d", {}, resume=False).close()
    head = json.loads(text_of(path.read_bytes()) or "")
    assert head["results"] == RESULTS
    for other in (RESULTS - 1, RESULTS + 1, None):
        path.write_bytes(checked(json.dumps(head | {"results": other})))
        with pytest.raises(CampaignError, match="another version of this program"):
            open_store(path, "d", {}, resume=True)
    del head["results"]  # kept before there was such a version
    path.write_bytes(checked(json.dumps(head)))
    with pytest.raises(CampaignError, match="another version of this program"):
        open_store(path, "d", {}, resume=True)


def test_the_version_is_part_of_what_names_a_campaign(monkeypatch: pytest.MonkeyPatch) -> None:
    scenario = case_of("two boards")
    before = plan_campaign(scenario, 1, each_band=False).digest
    monkeypatch.setattr("sim.judge.campaign_plan.RESULTS", RESULTS + 1)
    assert plan_campaign(scenario, 1, each_band=False).digest != before
