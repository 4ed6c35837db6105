"""README.md and DEVELOPERS.md say what is so."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from tests.readme import README, ROOT, examples, output_of

TEXT = README.read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


@pytest.mark.parametrize(("command", "shown"), examples(TEXT), ids=lambda text: text[:50])
def test_an_example_prints_what_the_readme_shows(command: str, shown: str) -> None:
    """If it should print something else now: ``python -m tests.readme``."""
    assert output_of(command) == shown


def test_every_command_of_the_main_job_is_shown() -> None:
    shown = {command.split()[1] for command, _ in examples(TEXT)}
    assert {"check", "states", "run", "compare"} <= shown


def test_the_job_comes_first_then_two_commands() -> None:
    opening, *chapters = re.split(r"^## ", TEXT, flags=re.M)
    assert opening.startswith("# Gapwright\n\nGapwright serves")
    assert opening.strip().count("\n\n") == 1  # a title and one paragraph
    assert chapters[0].startswith("Set up and run")
    commands = re.findall(r"^```sh\n(.*)\n```$", chapters[0], flags=re.M)
    assert len(commands) == 2
    assert commands[0].endswith("gapwright compare scenarios/club-loops.toml")
    assert commands[1].endswith("-m pytest")


def test_the_check_script_finds_the_test_command() -> None:
    found = re.findall(r"^.*-m venv .* -m pytest$", TEXT, flags=re.M)
    assert len(found) == 1
    assert "'-m venv .* -m pytest$'" in (ROOT / ".ci" / "run").read_text(encoding="utf-8")


@pytest.mark.parametrize("text", [TEXT, DEVELOPERS], ids=["README", "DEVELOPERS"])
def test_every_file_that_is_named_is_there(text: str) -> None:
    tops = "sim|viewer|tests|scenarios"
    named = set(re.findall(rf"`((?:{tops})/[\w./-]*|\w+\.(?:md|toml))`", text))
    assert named
    missing = {name for name in named if not (ROOT / name).exists()}
    assert not missing
    for link in re.findall(r"!?\[[^\]]*\]\(([^)#]+)\)", text):
        assert (ROOT / link).exists() or link.startswith("https://")


@pytest.mark.parametrize("text", [TEXT, DEVELOPERS], ids=["README", "DEVELOPERS"])
def test_no_machine_is_named(text: str) -> None:
    assert not re.search(r"(?<![\w.])/(?:tmp|home|work|root|usr|opt)\b", text)
    assert "localhost" not in text


def test_every_demo_is_in_the_table() -> None:
    for path in (ROOT / "scenarios").glob("*.toml"):
        assert f"`scenarios/{path.name}`" in TEXT


def test_developers_know_every_room() -> None:
    from tests.test_rooms import ORDER

    rooms = [room.replace(".", "/") for room in ORDER]
    for room in rooms:
        assert f"| `{room}` |" in DEVELOPERS, f"a line for sim/{room} in DEVELOPERS.md"


def test_the_picture_is_the_one_that_is_drawn(tmp_path: Path) -> None:
    """All but the last digits of numbers, which may differ from machine to machine."""
    command = "gapwright picture scenarios/club-loops.toml --out"
    assert f"`{command} scenarios/club-loops.svg`" in TEXT
    output_of(f"{command} '{tmp_path}/drawn.svg'")
    drawn, shown = (
        re.sub(r"-?\d+(\.\d+)?", "#", path.read_text(encoding="utf-8"))
        for path in (tmp_path / "drawn.svg", ROOT / "scenarios" / "club-loops.svg")
    )
    assert drawn == shown
