"""Resistances at the ends of what a scenario may hold: a run is made all the same."""

from __future__ import annotations

from pathlib import Path

import pytest

from sim.command.main import main

LOOPS = Path("tests/command/loops.toml").read_text(encoding="utf-8")


@pytest.mark.parametrize("rail_ohm_m", ["1e-6", "1e-9", "1e-3", "50"])
@pytest.mark.parametrize("internal_ohm", ["1e-6", "75", "1e4"])
def test_a_supply_and_rails_far_apart_can_be_run(
    rail_ohm_m: str, internal_ohm: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = LOOPS.replace("[assumptions]", f"[assumptions]\nrail_ohm_m = {rail_ohm_m}")
    text = text.replace(
        '[[supply]]\nname = "cab A"',
        f'[[supply]]\nname = "cab A"\ninternal_ohm = {internal_ohm}',
    )
    file = tmp_path / "thin.toml"
    file.write_text(text, encoding="utf-8")
    assert main(["run", str(file)]) == 0
    assert main(["volts", str(file)]) == 0
    assert capsys.readouterr().err == ""
