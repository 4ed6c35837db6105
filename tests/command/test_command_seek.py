"""``seek``, ``weigh`` and ``card`` as a user calls them: demo, bad file, bad arguments."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

import pytest

from tests.checked import scenario_from_text
from tests.command.test_command_scenario import LOOPS, gapwright
from tests.seek.boards import between_text


@pytest.fixture(scope="module")
def dead(tmp_path_factory: pytest.TempPathFactory) -> str:
    """A board that passes no supply on: two wires cure it."""
    path = tmp_path_factory.mktemp("seek") / "dead.toml"
    path.write_text(between_text(gangs="all"), encoding="utf-8")
    return str(path)


def told(*words: str) -> dict:  # type: ignore[type-arg]
    result = gapwright(*words, "--json", "-")
    assert (result.returncode, result.stderr) == (0, "")
    made: dict = json.loads(result.stdout)  # type: ignore[type-arg]
    assert made["format_version"] == 1
    return made


def test_seek_prints_sets_ways_and_proof(dead: str) -> None:
    result = gapwright("seek", dead, "--settings", "gangs")
    assert (result.returncode, result.stderr) == (0, "")
    text = " ".join(result.stdout.split())
    for words in (
        "The smallest cure takes 2 changes; there is 1 set of that size",
        "board/scissors/A-inner-west to board/scissors/A-inner-east",
        "inside: board/scissors/pad-A-inner-west",
        "under the board: ",
        "The search is complete up to 4 changes in each independent part and 2 cuts",
        "a moving contact slides over it",
        "gapwright seek",
    ):
        assert words in text


def test_seek_gives_the_same_bytes_each_time(dead: str) -> None:
    runs = {
        gapwright(
            "seek", dead, "--settings", "gangs", "--json", "-", PYTHONHASHSEED=seed
        ).stdout
        for seed in ("1", "2")
    }
    assert len(runs) == 1


def test_found_fixes_go_to_a_file_that_can_be_pasted(dead: str, tmp_path: Path) -> None:
    out = tmp_path / "found.toml"
    made = told("seek", dead, "--settings", "gangs", "--out", str(out))
    names = [fix["name"] for one in made["sets"] for fix in one["fixes"]]
    text = out.read_text(encoding="utf-8")
    assert [fix["name"] for fix in tomllib.loads(text)["fix"]] == names
    whole = Path(dead).read_text(encoding="utf-8") + text
    assert scenario_from_text(whole).fix_names == tuple(names)
    assert list(tmp_path.iterdir()) == [out]  # nothing half-written is left


def test_seek_names_the_conflict(dead: str) -> None:
    words = ("--settings", "gangs", "--survive", "both", "--use", "jumper")
    made = told("seek", dead, *words)
    assert made["size"] is None
    assert [c["demands"] for c in made["conflicts"]] == [["contact", "lever"]]
    text = " ".join(gapwright("seek", dead, *words).stdout.split())
    assert "No cure" in text
    assert "cannot be had together" in text


def test_what_needs_no_cure_gets_none() -> None:
    made = told("seek", LOOPS)
    assert (made["size"], made["sets"][0]["changes"], made["conflicts"]) == (0, [], [])


@pytest.mark.parametrize(
    "words",
    [
        ("seek", LOOPS, "--use", "glue"),
        ("seek", LOOPS, "--most", "99"),
        ("seek", LOOPS, "--out", LOOPS),
        ("seek", LOOPS, "--out", "no/such/folder/x.toml"),
        ("seek", LOOPS, "--fix", "nothing"),
        ("weigh", LOOPS, "--weight", "beauty=3"),
        ("weigh", LOOPS, "--weight", "joints=-1"),
        ("card", LOOPS, "--module", "nowhere"),
        ("card", LOOPS),
    ],
)
def test_unusable_arguments_exit_2_with_a_sentence(words: tuple[str, ...]) -> None:
    result = gapwright(*words)
    assert result.returncode == 2
    assert "Traceback" not in result.stderr
    assert (
        "expected" in result.stderr or "required" in result.stderr or "cannot" in result.stderr
    )


@pytest.mark.parametrize("command", ["seek", "weigh", "card"])
def test_a_bad_file_exits_1(command: str, tmp_path: Path) -> None:
    path = tmp_path / "bad.toml"
    path.write_text(between_text().replace("gauge_mm = 9", "gauge_mm = -9"))
    more = ("--module", "board") if command == "card" else ()
    result = gapwright(command, str(path), *more)
    assert result.returncode == 1
    assert "gauge_mm" in result.stderr
    assert "Traceback" not in result.stderr


def test_an_unknown_parameter_of_the_card_exits_1_and_says_what_was_expected(dead: str) -> None:
    result = gapwright("card", dead, "--module", "board", "--unknown", "hinge")
    assert result.returncode == 1
    assert "a piece of the module has" in result.stderr


def test_weigh_prints_the_table_and_gives_it_as_a_document() -> None:
    made = told("weigh", LOOPS, "--runs", "1", "--weight", "joints=2,stalled=1")
    names = [c["name"] for c in made["criteria"]]
    assert all(set(case["values"]) == set(names) for case in made["cases"])
    assert [case["name"] for case in made["cases"]][:2] == ["as built", "two jumpers"]
    assert any(case["undominated"] for case in made["cases"])
    assert made["weights"] == {"joints": 2.0, "stalled": 1.0}
    text = " ".join(gapwright("weigh", LOOPS, "--runs", "1", "--found", "0").stdout.split())
    assert "What nothing beats, and what each gives up" in text
    assert "no criterion is weighed here unless you give it a weight" in text
    assert "weights (0 is best)" not in text


def test_card_prints_what_travels_with_the_board() -> None:
    told_text = gapwright("card", LOOPS, "--module", "board", "--fix", "two jumpers").stdout
    text = " ".join(told_text.split())
    for words in ("Module card: board", "To undo:", "Only here", "What to test when joining"):
        assert words in text
    made = told("card", LOOPS, "--module", "board", "--fix", "two jumpers")
    assert made["safe_anywhere"] is False
    assert {n["name"] for n in made["neighbourhoods"]} >= {
        "fed from both sides",
        "turned round",
    }
    assert len(made["changes"]) == 2


def test_a_pattern_that_fits_nothing_is_no_proof_that_nothing_cures() -> None:
    for command in ("seek", "weigh"):
        result = gapwright(command, LOOPS, "--at", "board,nowhere*")
        assert result.returncode == 2
        assert "--at: expected modules ('west', 'board', 'east')" in result.stderr
        assert "'nowhere*', which fits none" in result.stderr


def test_a_wiring_that_is_not_there_is_named_as_a_piece_file() -> None:
    result = gapwright("card", LOOPS, "--module", "board", "--wiring", "nowhere.toml")
    assert result.returncode == 1
    assert "--wiring nowhere.toml: expected a piece file" in result.stderr
