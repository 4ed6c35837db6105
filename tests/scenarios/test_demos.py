"""Every demo is in order, and different from the others."""

from __future__ import annotations

import json

import pytest

from tests.checked import check_scenario
from tests.scenarios.demos import DEMOS, FOLDER, case, record, scenario, states, text

EVERY_CASE = [(demo, fix) for demo in DEMOS for fix in (None, *scenario(demo).fix_names)]


def test_all_that_is_shipped_is_looked_at_here() -> None:
    assert {path.stem for path in FOLDER.glob("*.toml")} == set(DEMOS)


@pytest.mark.parametrize("demo", DEMOS)
def test_check_finds_nothing(demo: str) -> None:
    assert check_scenario(FOLDER / f"{demo}.toml") == []


@pytest.mark.parametrize("demo", DEMOS)
def test_a_demo_says_what_it_shows_and_what_is_invented(demo: str) -> None:
    header = text(demo).split("\n\nformat = 1")[0]
    assert all(line.startswith("#") for line in header.splitlines())
    assert "What it shows." in header
    assert "invented" in header.lower()
    assert text(demo).lower().count("# invented") + text(demo).count("(invented)") >= 3


@pytest.mark.parametrize("demo", DEMOS)
def test_two_to_six_fixes_each_told_in_words(demo: str) -> None:
    fixes = scenario(demo).fix
    assert 2 <= len(fixes) <= 6
    for fix in fixes:
        assert len(fix.note.split()) > 8, fix.name


def test_gauges_differ_and_fit_their_scales() -> None:
    """NMRA S-1.2 / NEM 010, from memory: N 9 mm, TT 12 mm, HO 16.5 mm, 0 32 mm."""
    found = {(scenario(demo).gauge_mm, scenario(demo).scale_ratio) for demo in DEMOS}
    assert found == {(9.0, 160.0), (12.0, 120.0), (16.5, 87.1), (32.0, 45.0)}


def test_every_kind_of_supply_is_shown() -> None:
    assert {s.kind for demo in DEMOS for s in scenario(demo).supply} == {"dc", "digital"}


@pytest.mark.parametrize(("demo", "fix"), EVERY_CASE)
def test_every_case_can_be_charted_and_run(demo: str, fix: str | None) -> None:
    found = states(demo, fix)
    assert found.skipped is None
    assert len(found.settings) == found.total
    done = record(demo, fix)
    assert done.duration_s == case(demo, fix).conduct.duration_s
    assert done.legs
    assert not done.derailments
    assert not done.reversals


def test_schema_file_is_named_by_no_demo_and_fits_all() -> None:
    """The published schema takes each demo, so that editors do not mark them."""
    import tomllib

    import jsonschema

    schema = json.loads((FOLDER / "scenario.schema.json").read_text(encoding="utf-8"))
    for demo in DEMOS:
        jsonschema.validate(tomllib.loads(text(demo)), schema)
