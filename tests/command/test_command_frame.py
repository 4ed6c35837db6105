"""The command's frame: arguments, exit codes, laziness, commands of other packages."""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import time
from collections.abc import Sequence
from importlib.metadata import EntryPoint
from pathlib import Path

import pytest

from sim.command import frame, main, options, registry
from sim.command.frame import UsageError
from sim.scenario.problems import Problem, ScenarioError

ROOT = Path(__file__).resolve().parents[2]


def gapwright(*words: str, **more: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "sim.command.main", *words],
        capture_output=True,
        text=True,
        cwd=ROOT,
        timeout=120,
        env={**os.environ, "COLUMNS": "80", **more},
    )


def test_help_names_every_command() -> None:
    told = gapwright("--help")
    assert told.returncode == 0
    for command in ("check", "states", "run", "compare", "schema"):
        assert command in told.stdout
        assert gapwright(command, "--help").returncode == 0


@pytest.mark.parametrize(
    "words",
    [
        (),
        ("nonsense",),
        ("--nonsense",),
        ("run",),
        ("run", "x.toml", "--seed", "-1"),
        ("run", "x.toml", "--seed", "1.5"),
        ("run", "x.toml", "--seed", "9" * 5000),
        ("run", "x.toml", "--see", "1"),
        ("compare", "x.toml", "--runs", "0"),
        ("compare", "x.toml", "--workers", "two"),
        ("states", "x.toml", "--levers", "some"),
        ("run", "x.toml", "y.toml"),
        ("run", "x.toml", "--json", "no/such/directory/x.json"),
        ("run", "x.toml", "--json", "."),
    ],
)
def test_unusable_arguments_exit_2_without_traceback(words: tuple[str, ...]) -> None:
    told = gapwright(*words)
    assert told.returncode == 2
    assert "Traceback" not in told.stderr
    assert told.stdout == "" or words == ()


def test_help_loads_nothing_heavy() -> None:
    program = (
        "import sys; from sim.command.main import main; main(['--help'])\n"
        "heavy = {'numpy', 'scipy', 'rich', 'pydantic', 'networkx', 'simpy', 'viewer'}\n"
        "print(sorted(heavy & set(sys.modules)))"
    )
    told = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, cwd=ROOT
    )
    assert told.stdout.splitlines()[-1] == "[]"


@pytest.mark.bench
def test_help_starts_fast() -> None:
    """Within 15 starts of a bare interpreter (a ratio: machines differ)."""

    def least(words: Sequence[str]) -> float:
        taken = []
        for _ in range(5):
            begun = time.perf_counter()
            subprocess.run([sys.executable, *words], capture_output=True, cwd=ROOT)
            taken.append(time.perf_counter() - begun)
        return min(taken)

    assert least(["-m", "sim.command.main", "--help"]) < 15 * least(["-c", "pass"])


# --- what the top of the command catches ----------------------------------------


def failing(monkeypatch: pytest.MonkeyPatch, error: BaseException) -> int:
    class Module:
        def configure(self, parser: argparse.ArgumentParser) -> None:
            pass

        def run(self, given: argparse.Namespace) -> int:
            raise error

    command = registry.Command("fails", "fail", Module)
    monkeypatch.setattr(main, "find", lambda name: command)
    return main.main(["fails"])


@pytest.mark.parametrize(
    ("error", "code", "says"),
    [
        (UsageError("expected a, got b"), 2, "gapwright: expected a, got b"),
        (KeyboardInterrupt(), 130, "gapwright: interrupted"),
        (ZeroDivisionError("made\nhere\x1b[31m"), 1, "(ZeroDivisionError: made here [31m)"),
        (RecursionError("too deep"), 1, "Please report this line"),
        (MemoryError(), 1, "(MemoryError: )"),
        (
            ScenarioError([Problem("title", "text", "5"), Problem("x", "y", "z")]),
            1,
            "  title: expected text, found 5\n  x: expected y, found z\n",
        ),
    ],
)
def test_errors_become_sentences(
    error: BaseException,
    code: int,
    says: str,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert failing(monkeypatch, error) == code
    told = capsys.readouterr()
    assert says in told.err
    assert told.out == ""
    assert "Traceback" not in told.err


def test_a_reader_that_leaves_is_no_error() -> None:
    """`gapwright schema | head -1`, as a program: close the pipe and see what is said."""
    process = subprocess.Popen(
        [
            sys.executable,
            "-c",
            "import sys; from sim.command import main, registry\n"
            "class M:\n"
            "    def configure(self, parser): pass\n"
            "    def run(self, given):\n"
            "        print('word ' * 1000000); return 0\n"
            "main.find = lambda name: registry.Command('x', 'x', M)\n"
            "sys.exit(main.main(['x']))",
        ],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        cwd=ROOT,
    )
    assert process.stdout is not None
    assert process.stderr is not None
    process.stdout.read(10)
    process.stdout.close()
    assert process.stderr.read() == b""
    process.stderr.close()
    assert process.wait() == 0


# --- commands of other packages -------------------------------------------------


def test_added_commands_are_listed_without_being_loaded(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    package = tmp_path / "otherpackage"
    package.mkdir()
    (package / "__init__.py").write_text("raise RuntimeError('loaded')\n")
    (package / "commands.txt").write_text("sing: sing 100 % of a song\n")
    monkeypatch.syspath_prepend(str(tmp_path))
    points = [
        EntryPoint("sing", "otherpackage.sing", registry.GROUP),
        EntryPoint("hum", "missingpackage.hum", registry.GROUP),
        EntryPoint("run", "otherpackage.run", registry.GROUP),
    ]
    monkeypatch.setattr("importlib.metadata.entry_points", lambda group: points)
    assert [(c.name, c.help) for c in registry.added()] == [
        ("hum", ""),
        ("sing", "sing 100 %% of a song"),
    ]
    assert "otherpackage" not in sys.modules


def test_an_added_command_runs(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    package = tmp_path / "singers"
    package.mkdir()
    (package / "__init__.py").write_text("")
    (package / "sing.py").write_text(
        "def configure(parser):\n"
        "    parser.add_argument('tune')\n"
        "def run(given):\n"
        "    print(given.tune)\n"
        "    return 0\n"
    )
    monkeypatch.syspath_prepend(str(tmp_path))
    points = [EntryPoint("sing", "singers.sing", registry.GROUP)]
    monkeypatch.setattr("importlib.metadata.entry_points", lambda group: points)
    assert main.main(["sing", "la"]) == 0
    assert capsys.readouterr().out == "la\n"


# --- shared pieces --------------------------------------------------------------


def test_the_command_line_holds_what_the_result_depends_on() -> None:
    given = argparse.Namespace(
        command="run", scenario="dir/my file.toml", fix="two wires", seed=3, json="x"
    )
    line = frame.command_line(given, ("fix", "seed"), given.scenario)
    assert line == "gapwright run 'dir/my file.toml' --fix 'two wires' --seed 3"
    document = frame.asked(given, "Title", ("fix", "seed"))
    assert document.command == "gapwright run 'my file.toml' --fix 'two wires' --seed 3"


def test_the_scenario_is_never_overwritten(tmp_path: Path) -> None:
    path = tmp_path / "x.toml"
    path.write_text("format = 1\n")
    told = gapwright("check", str(path), "--json", str(path))
    assert told.returncode == 2
    assert path.read_text() == "format = 1\n"


@pytest.mark.parametrize("text", ["", "-0", "+1", " 1", "1_0", "٣", "1e3", "0x1"])
def test_whole_numbers_are_plain_digits(text: str) -> None:
    with pytest.raises(argparse.ArgumentTypeError, match="expected a whole number"):
        options.whole_number(0, 10)(text)
    assert options.whole_number(0, 10)("10") == 10


def test_every_command_gives_a_document() -> None:
    for command in (*registry.OWN, *registry.added()):
        parser = argparse.ArgumentParser(prog=command.name)
        command.load().configure(parser)
        assert "--json" in parser.format_help(), command.name
