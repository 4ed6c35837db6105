"""What cannot be written is told before the work, and said of which option."""

from __future__ import annotations

from pathlib import Path

import pytest

from sim.command.main import main

LOOPS = "tests/command/loops.toml"


@pytest.mark.parametrize(
    ("words", "option"),
    [
        (("seek", LOOPS), "--out"),
        (("run", LOOPS), "--records"),
        (("netlist", LOOPS), "--output"),
        (("locate", LOOPS, "--blank"), "--save"),
        (("learn", "no such form.toml"), "--piece"),
        (("worksheet", LOOPS, "--fix", "two jumpers"), "--out"),
        (("states", LOOPS), "--json"),
    ],
)
@pytest.mark.parametrize("place", ["missing/x.html", "folder"])
def test_a_place_that_cannot_be_written_fails_before_the_work(
    words: tuple[str, ...], option: str, place: str, tmp_path: Path,
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    def no_work(*_: object, **__: object) -> None:
        raise AssertionError("worked before it looked")

    for work in ("sim.scenario.read.read_scenario", "sim.bench.learning.form.load_form"):
        monkeypatch.setattr(work, no_work)
    (tmp_path / "folder").mkdir()
    assert main([*words, option, str(tmp_path / place)]) == 2
    said = capsys.readouterr().err
    assert f"{option}: expected" in said
