"""First steps: every combination of answers gives a file that is in order and runs."""

from __future__ import annotations

import io
import json
from itertools import product
from pathlib import Path

import pytest

from sim.begin.first import TooShortError, scenario_text
from sim.begin.questions import FAMILIES, FED, PIECES, QUESTIONS, SCALES, Answers, understood
from sim.begin.shipped import shipped
from sim.command.main import main
from sim.layout.assemble import assemble
from sim.run.run import run
from tests.checked import check_scenario, read_scenario

BOARDS = {"N": 620.0, "TT": 900.0, "HO": 1200.0, "0": 2400.0}


@pytest.mark.parametrize("piece", PIECES)
@pytest.mark.parametrize("scale", SCALES)
def test_every_answer_gives_a_clean_file(tmp_path: Path, piece: str, scale: str) -> None:
    for family, gap, fed in product(FAMILIES, (True, False), FED):
        answers = Answers(scale, piece, family, gap, BOARDS[scale], fed)
        path = tmp_path / "first.toml"
        path.write_text(scenario_text(answers, 'a "title" \\'), encoding="utf-8")
        assert check_scenario(str(path)) == []
        assert read_scenario(str(path)).title == 'a "title" \\'
        assert '{"' not in path.read_text("utf-8")  # nothing left to be filled in


@pytest.mark.parametrize("piece", PIECES)
@pytest.mark.parametrize("family", FAMILIES)
def test_it_runs_at_once(tmp_path: Path, piece: str, family: str) -> None:
    path = tmp_path / "first.toml"
    path.write_text(
        scenario_text(Answers("N", piece, family, True, 620.0, "west"), "t"), "utf-8"
    )
    scenario = read_scenario(str(path))
    for fix in (None, *scenario.fix_names):
        record = run(assemble(scenario, fix), 1)
        assert any(x.outcome == "clean" for x in record.legs)
        assert not record.derailments


def test_a_ring_fed_on_one_side_needs_no_second_feed(tmp_path: Path) -> None:
    """A ring fed on one side, a centre gap: nothing dead, for the ring feeds it from both."""
    path = tmp_path / "first.toml"
    answers = Answers(
        "N", "scissors crossover", "insulated frog, all live", True, 620.0, "west"
    )
    path.write_text(scenario_text(answers, "t"), "utf-8")
    from sim.power.chart import chart

    through = chart(assemble(read_scenario(str(path)), None)).settings[0]
    assert not through.dead


def test_a_piece_that_does_not_fit_is_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(TooShortError):
        scenario_text(Answers("0", "scissors crossover", "live frog", True, 310.0, "west"), "t")
    argv = [
        "new",
        str(tmp_path / "x.toml"),
        "--gauge",
        "0",
        "--piece",
        "scissors",
        "--board",
        "310",
        "--family",
        "live",
        "--fed",
        "west",
        "--centre-gap",
        "yes",
    ]
    assert main(argv) == 2
    assert "does not fit the board" in capsys.readouterr().err
    assert not list(tmp_path.iterdir())


def test_answers_may_be_short_numbers_or_nothing() -> None:
    by = {q.key: q for q in QUESTIONS}
    assert understood(by["piece"], "2") == "single crossover"
    assert understood(by["piece"], "sci") == "scissors crossover"
    assert understood(by["piece"], "s") is None
    assert understood(by["gauge"], "") == "N"
    assert understood(by["gauge"], "0") == "0"
    assert understood(by["board"], "620 mm") == "620"
    assert understood(by["board"], "12,5") is None
    assert understood(by["board"], "nan") is None


def test_questions_are_asked_until_they_are_answered(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("sys.stdin", io.StringIO("HO\nnope\n1\n3\n\nboth\n"))
    path = tmp_path / "mine.toml"
    assert main(["new", str(path), "--board", "1200"]) == 0
    said = capsys.readouterr().out
    assert "got 'nope'" in said and said.count("Which piece") == 2
    scenario = read_scenario(str(path))
    assert scenario.gauge_mm == 16.5 and scenario.title == "mine"
    assert f"gapwright view {path}" in said


def test_the_end_of_input_means_the_rest_as_proposed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("sys.stdin", io.StringIO(""))
    assert main(["new", str(tmp_path / "x.toml")]) == 0


@pytest.mark.parametrize(("name", "word"), [("x.txt", ".toml"), ("no/x.toml", "directory")])
def test_a_name_that_cannot_be_used(
    tmp_path: Path, name: str, word: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["new", str(tmp_path / name)]) == 2
    assert word in capsys.readouterr().err


def test_no_file_is_written_over(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "x.toml"
    path.write_text("mine", encoding="utf-8")
    assert main(["new", str(path)]) == 2
    assert main(["demo", "club-loops", "--copy", str(path)]) == 2
    assert path.read_text(encoding="utf-8") == "mine"


def test_the_demos_are_listed_copied_and_run(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["demo"]) == 0
    said = capsys.readouterr().out
    assert all(s.name in said for s in shipped()) and len(shipped()) >= 4
    copy = tmp_path / "copy.toml"
    assert main(["demo", "well-fed", "--copy", str(copy)]) == 0
    assert copy.read_text(encoding="utf-8") == shipped()[-1].path.read_text(encoding="utf-8")
    assert main(["demo", "well-fed", "--runs", "1", "--workers", "1"]) == 0
    assert "Stalled legs" in capsys.readouterr().out
    assert main(["demo", "nope"]) == 2


@pytest.mark.parametrize("family", ["live frog", "switched frog, bonded blades"])
@pytest.mark.parametrize("fed", FED)
def test_a_turnout_with_a_live_frog_is_cured_by_gaps_and_a_feed_only(
    tmp_path: Path, family: str, fed: str
) -> None:
    """Fed from beyond it shorts, gaps alone leave it dead (common practice, no source)."""
    path = tmp_path / "first.toml"
    path.write_text(
        scenario_text(Answers("HO", "turnout", family, True, 1200, fed), "t"), "utf-8"
    )
    scenario = read_scenario(str(path))

    def outcomes(fix: str | None) -> set[str]:
        return {x.outcome for x in run(assemble(scenario, fix), 1).legs} - {"not finished"}

    assert "tripped" in outcomes(None) and "stalled" in outcomes("gaps past the frogs")
    assert outcomes("gaps and a feed") == {"clean"}


def test_jumpers_are_offered_where_there_is_a_gap_to_bridge(tmp_path: Path) -> None:
    for gap, fed in product((True, False), FED):
        answers = Answers("N", "scissors crossover", "live frog", gap, 620.0, fed)
        assert ('name = "two jumpers"' in scenario_text(answers, "t")) is gap


def test_a_name_that_is_too_long_is_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    long = str(tmp_path / ("a" * 300 + ".toml"))
    for argv in (["new", long], ["demo", "well-fed", "--copy", long]):
        assert main(argv) == 2
        err = capsys.readouterr().err
        assert "file name that can be used" in err and "defect" not in err


def test_documents_of_first_steps(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Questions go elsewhere when the document has standard output."""
    monkeypatch.setattr("sys.stdin", io.StringIO(""))
    path = tmp_path / "first.toml"
    assert main(["new", str(path), "--gauge", "N", "--piece", "turnout", "--json", "-"]) == 0
    said = capsys.readouterr()
    told = json.loads(said.out)
    assert (told["written"], told["answers"]["piece"]) == ("first.toml", "turnout")
    assert "[" in said.err
    assert main(["demo", "--json", "-"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert [s["name"] for s in told["scenarios"]] == [s.name for s in shipped()]


@pytest.mark.parametrize(
    "more", [("--json", "x.toml"), ("--json", "none/x.json"), ("--title", "t" * 300)]
)
def test_what_cannot_be_used_is_told_before_anything_is_written(
    more: tuple[str, str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("sys.stdin", io.StringIO(""))
    assert main(["new", "x.toml", *more]) == 2
    assert more[0].removeprefix("--") in capsys.readouterr().err
    assert not list(tmp_path.iterdir())
