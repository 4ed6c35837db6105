"""The guard itself: it sees every changed byte, and what it asks can be answered."""

from __future__ import annotations

import gc
import re
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.guard.__main__ import main
from tests.guard.calls import SCENARIO, Call, calls_for, groups_of
from tests.guard.comparing import differences
from tests.guard.inputs import LAYOUTS, make_inputs, spoiled_text, take_inputs
from tests.guard.layouts import FAMILIES, layout_text
from tests.guard.writing import entry, perform


@pytest.fixture(autouse=True)
def as_before() -> Iterator[None]:
    """The program's entry asks for fewer searches for rubbish: not for other tests."""
    kept = gc.get_threshold()
    yield
    gc.set_threshold(*kept)


def written(folder: Path, **texts: bytes) -> Path:
    (folder / "outputs" / "demo").mkdir(parents=True)
    for name, text in texts.items():
        (folder / "outputs" / "demo" / name).write_bytes(text)
    return folder


def told(call: Call, folder: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    monkeypatch.chdir(folder)
    perform(call, entry())
    return (folder / f"{call.name}.txt").read_text("utf-8")


def test_what_is_the_same_is_not_told(tmp_path: Path) -> None:
    one = written(tmp_path / "one", run=b"a\nb\n", states=b"c")
    other = written(tmp_path / "other", run=b"a\nb\n", states=b"c")
    assert list(differences(one, other)) == []


def test_a_changed_byte_a_missing_and_an_extra_file(tmp_path: Path) -> None:
    one = written(tmp_path / "one", run=b"same\nlive\n", gone=b"", odds=b"1\n", pic=b"\0a")
    other = written(
        tmp_path / "other", run=b"same\nlife\n", new=b"", odds=b"1\r\n", pic=b"\x00b"
    )
    assert [said.split(" is ")[0] for said in differences(one, other)] == [
        "missing: outputs/demo/gone",
        "extra: outputs/demo/new",
        "differs: outputs/demo/odds\n    @@ -1 +1 @@\n    -1\n    +1\\r",
        "differs: outputs/demo/pic\n    2 bytes, then 2 bytes",
        "differs: outputs/demo/run\n    @@ -2 +2 @@\n    -live\n    +life",
    ]


def test_bytes_that_are_no_text_are_told_too(tmp_path: Path) -> None:
    one = written(tmp_path / "one", run=b"\xff")
    other = written(tmp_path / "other", run=b"\xfe")
    assert len(list(differences(one, other))) == 1


def test_a_quick_writing_lacks_inputs_but_no_outputs(tmp_path: Path) -> None:
    one, other = written(tmp_path / "one", run=b"a", odds=b"b"), written(tmp_path / "two")
    (one / "inputs" / "demo").mkdir(parents=True)
    (one / "inputs" / "random-49").mkdir(parents=True)
    (one / "inputs" / "demo" / SCENARIO).touch()
    (one / "inputs" / "random-49" / SCENARIO).touch()
    take_inputs(other / "inputs", one, quick=True)
    (other / "outputs" / "demo" / "run").write_bytes(b"a")
    told = [said.split(" is ")[0] for said in differences(one, other)]
    assert told == ["missing: inputs/random-49/scenario.toml", "missing: outputs/demo/odds"]
    (other / "quick").touch()
    told = [said.split(" is ")[0] for said in differences(one, other)]
    assert told == ["missing: outputs/demo/odds"]


def test_the_exit_code_says_whether_bytes_differ(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    one, other = written(tmp_path / "one", run=b"a"), written(tmp_path / "other", run=b"b")
    for pair, code in (((one, one), 0), ((one, other), 1)):
        monkeypatch.setattr("sys.argv", ["guard", "compare", *map(str, pair)])
        assert main() == code
    assert "files that differ: 1" in capsys.readouterr().out


@pytest.mark.parametrize("seed", range(12))
def test_what_is_drawn_can_be_used(
    seed: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / SCENARIO).write_text(layout_text(seed), "utf-8")
    said = told(Call("check", ("check", SCENARIO)), tmp_path, monkeypatch)
    assert "[exit 0]" in said, said


@pytest.mark.parametrize("seed", range(8))
def test_what_is_spoiled_is_no_defect_of_the_program(
    seed: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / SCENARIO).write_text(spoiled_text(seed), "utf-8")
    said = told(Call("check", ("check", SCENARIO)), tmp_path, monkeypatch)
    assert "[exit 0]" in said or "[exit 1]" in said
    assert "defect of this program" not in said


def test_a_program_that_fails_is_told_in_the_output(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def program() -> int:
        raise ZeroDivisionError("no")

    monkeypatch.chdir(tmp_path)
    perform(Call("run", ("run",)), program)
    assert "[exit raised ZeroDivisionError('no')]" in (tmp_path / "run.txt").read_text()


def test_the_layouts_show_what_they_are_for() -> None:
    """Each of these would be lost without a sound if the drawing went astray."""
    texts = [layout_text(seed) for seed in range(LAYOUTS)]
    assert len(set(texts)) == LAYOUTS and texts == [layout_text(s) for s in range(LAYOUTS)]
    parts = {
        *(f'family = "{family}"' for family in FAMILIES),
        *(f'kind = "{kind}"' for kind in ("dc", "digital", "turnout", "diamond crossing")),
        *(f'kind = "{kind}"' for kind in ("single crossover", "switched length")),
        *("centre_gap = true", "centre_gap = false", 'gangs = "single"', 'corners = "fed"'),
        *("common = ", "[[bus]]", "[[jumper]]", "[[throw]]", "ring = true", "turned = ["),
        *(f'what = "{what}"' for what in ("open", "tired", "stays", "off", "dirt")),
        *(f"[[fix.{name}]]" for name in ("feeder", "jumper", "gap", "rewire", "changeover")),
        *("[[fix.added_length]]", "[[fix.energy_store]]", "reverse = [", "solder = ["),
        *("cut = [", "alter = [", "clean = ["),
    }
    assert {part for part in parts if not any(part in text for text in texts)} == set()


def test_every_command_is_asked(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    make_inputs(tmp_path / "inputs", quick=True)
    asked = {
        call.words[0]
        for folder in (tmp_path / "inputs").iterdir()
        for group in groups_of(folder)
        for call in calls_for(folder, group)
        if call.words
    }
    said = told(Call("help", ("--help",)), tmp_path, monkeypatch)
    commands = set(re.findall(r"^    (\w+)(?:  |$)", said, re.MULTILINE))
    assert "states" in commands and commands <= asked


def test_outputs_of_one_input_have_names_of_their_own(tmp_path: Path) -> None:
    make_inputs(tmp_path / "inputs", quick=True)
    for folder in (tmp_path / "inputs").iterdir():
        names = [c.name for group in groups_of(folder) for c in calls_for(folder, group)]
        assert len(set(names)) == len(names)
        if (folder / SCENARIO).exists() and not folder.name.startswith("bad"):
            fixes = tomllib.loads((folder / SCENARIO).read_text("utf-8")).get("fix", [])
            assert len(groups_of(folder)) == 2 + len(fixes)
