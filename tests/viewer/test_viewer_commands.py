"""The commands: done on a demo, told on bad input, nothing heavy before it is needed."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from sim.command.main import main
from tests.viewer.demo import CLUB, LOOPS, ROOT

pytest.importorskip("pygame")


def told(capsys: pytest.CaptureFixture[str], *argv: str) -> tuple[int, str]:
    code = main(list(argv))
    return code, capsys.readouterr().err


@pytest.mark.parametrize("ending", ["svg", "png"])
@pytest.mark.parametrize("more", [(), ("--chart",), ("--module", "board"), ("--ground", "dark"),
                                  ("--set", "board/scissors/X1=diverging"), ("--at", "12"),
                                  ("--fix", "two jumpers")])  # fmt: skip
def test_a_picture(tmp_path: Path, ending: str, more: tuple[str, ...]) -> None:
    out = tmp_path / f"x.{ending}"
    assert main(["picture", str(LOOPS), "--out", str(out), "--size", "640x360", *more]) == 0
    start = out.read_bytes()[:4]
    assert start == (b"<svg" if ending == "svg" else b"\x89PNG")
    assert [p.name for p in tmp_path.iterdir()] == [out.name]


@pytest.mark.parametrize(
    ("argv", "expected"),
    [
        (("picture", "--out", "x.bmp"), "ends in .svg, .png"),
        (("picture", "--out", "nowhere/x.svg"), "existing directory"),
        (("picture", "--out", "x.svg", "--module", "nope"), "'board'"),
        (("picture", "--out", "x.svg", "--set", "nope=through"), "expected a lever or gang"),
        (("picture", "--out", "x.svg", "--set", "board/scissors/AW=up"), "through, diverging"),
        (("picture", "--out", "x.svg", "--fix", "nope"), "'two jumpers'"),
        (("picture", "--out", "x.svg", "--at", "5", "--set", "board/scissors/AW=through"),
         "--set"),
        (("film", "--out", "x.avi"), "ends in .png, .gif, .webp, .mp4"),
        (("film", "--out", "x.gif", "--both"), "--fix NAME"),
        (("film", "--out", "x.gif", "--speed", "0"), "--speed"),
        (("film", "--out", "x.gif", "--from", "50", "--to", "40"), "before the end"),
        (("film", "--out", "x.gif", "--from", "0", "--to", "120", "--fps", "60", "--size",
          "4000x4000"), "at most"),
        (("report", "--out", "x.txt"), "ends in .html"),
        (("view", "--fix", "nope"), "'two jumpers'"),
        (("view", "--scale", "9"), "--scale"),
    ],
)  # fmt: skip
def test_arguments_that_cannot_be_used(
    argv: tuple[str, ...], expected: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    monkeypatch.chdir(tmp_path)
    code, said = told(capsys, argv[0], str(LOOPS), *argv[1:])
    assert code == 2
    assert expected in said
    assert "Traceback" not in said and not list(tmp_path.iterdir())


@pytest.mark.parametrize("command", ["picture", "film", "report"])
def test_a_bad_file_is_told(
    command: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    bad = tmp_path / "bad.toml"
    bad.write_text("format = 1\ntitle = 3\n", encoding="utf-8")
    out = {"picture": "x.svg", "film": "x.gif", "report": "x.html"}[command]
    code, said = told(capsys, command, str(bad), "--out", str(tmp_path / out))
    assert code == 1 and "expected" in said
    assert [p.name for p in tmp_path.iterdir()] == ["bad.toml"]


def test_the_scenario_is_never_written_over(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    copy = tmp_path / "scenario.svg"
    shutil.copy(LOOPS, copy)
    code, said = told(capsys, "picture", str(copy), "--out", str(copy))
    assert code == 2 and "another file" in said


def test_help_loads_no_pygame() -> None:
    """Nor does a picture as SVG, nor a report."""
    script = (
        "import sys; from sim.command.main import main\n"
        f"main(['picture', {str(LOOPS)!r}, '--out', 'x.svg'])\n"
        f"main(['report', {str(LOOPS)!r}, '--out', 'x.html', '--runs', '1'])\n"
        "main(['--help'])\n"
        "assert 'pygame' not in sys.modules\n"
    )
    import tempfile

    with tempfile.TemporaryDirectory() as folder:
        subprocess.run(
            [sys.executable, "-c", script], check=True, cwd=folder, timeout=120,
            env={**os.environ, "PYTHONPATH": str(ROOT)}, stdout=subprocess.DEVNULL,
        )  # fmt: skip


def test_a_film_of_both(tmp_path: Path) -> None:
    pytest.importorskip("PIL.Image")
    out = tmp_path / "x.gif"
    argv = ["film", str(CLUB), "--out", str(out), "--fix", "two jumpers", "--both",
            "--from", "9", "--to", "10", "--fps", "4", "--size", "480x360"]  # fmt: skip
    assert main(argv) == 0
    assert out.read_bytes()[:3] == b"GIF"


def test_a_report(tmp_path: Path) -> None:
    out = tmp_path / "x.html"
    argv = ["report", str(LOOPS), "--out", str(out), "--runs", "2", "--workers", "1"]
    assert main(argv) == 0
    assert f"gapwright report {LOOPS} --runs 2 --seed 1" in out.read_text(encoding="utf-8")


def test_without_a_screen_the_window_says_so(capsys: pytest.CaptureFixture[str]) -> None:
    """A driver that does not exist: a sentence and exit 2, no traceback."""
    script = (
        f"from sim.command.main import main; raise SystemExit(main(['view', {str(LOOPS)!r}]))"
    )
    done = subprocess.run(
        [sys.executable, "-c", script], timeout=120, capture_output=True, text=True,
        env={**os.environ, "PYTHONPATH": str(ROOT), "SDL_VIDEODRIVER": "no-such-driver"},
    )  # fmt: skip
    assert done.returncode == 2
    assert "no window could be opened" in done.stderr and "Traceback" not in done.stderr


def test_a_window_that_nobody_would_see_is_not_opened() -> None:
    """Without a display SDL draws into memory, and the command would never end."""
    script = (
        f"from sim.command.main import main; raise SystemExit(main(['view', {str(LOOPS)!r}]))"
    )
    unset = ("SDL_VIDEODRIVER", "SDL_VIDEO_DRIVER", "DISPLAY", "WAYLAND_DISPLAY")
    env = {k: v for k, v in os.environ.items() if k not in unset}
    done = subprocess.run(
        [sys.executable, "-c", script], timeout=120, capture_output=True, text=True,
        env={**env, "PYTHONPATH": str(ROOT)},
    )  # fmt: skip
    assert done.returncode == 2
    assert "there is no display here" in done.stderr and "Traceback" not in done.stderr


def test_an_error_in_a_fix_that_is_not_shown_ends_the_window_too(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The layout is shown first, but nobody works on with a file that is wrong."""
    monkeypatch.setenv("SDL_VIDEODRIVER", "dummy")
    wrong = '\n[[fix]]\nname = "wrong"\n[[fix.jumper]]\nfrom = "board/nothing"\nto = "x"\n'
    path = tmp_path / "x.toml"
    path.write_text(LOOPS.read_text(encoding="utf-8") + wrong, encoding="utf-8")
    code, err = told(capsys, "view", str(path))
    assert code == 1 and "fix 'wrong'" in err and "board/nothing" in err


def test_opening_loads_nothing_that_it_can_do_without() -> None:
    """Each of these takes about a tenth of the time until the layout is there."""
    code = (
        "import os, sys; from viewer.window import app; show = app._show\n"
        "def once(*given):\n"
        "    show(*given)\n"
        "    print([m for m in ('networkx', 'numpy', 'scipy', 'simpy', 'rich') "
        "if m in sys.modules], flush=True)\n"
        "    os._exit(0)\n"
        "app._show = once\n"
        f"from sim.command.main import main; main(['view', {str(CLUB)!r}])"
    )
    env = {**os.environ, "SDL_VIDEODRIVER": "dummy", "PYTHONPATH": str(ROOT)}
    done = subprocess.run([sys.executable, "-c", code], env=env, capture_output=True, text=True,
                          timeout=60, check=True)  # fmt: skip
    assert done.stdout.splitlines()[-1] == "[]"


def test_documents_of_what_was_drawn(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)

    def document(*argv: str) -> dict[str, Any]:
        assert main([argv[0], str(LOOPS), *argv[1:], "--json", "-"]) == 0
        found: dict[str, Any] = json.loads(capsys.readouterr().out)
        assert found["scenario"] == "Two loops on one feed"
        return found

    lever = "board/scissors/AW"
    still = document("picture", "--out", "a.svg", "--set", f"{lever}=diverging")
    assert still["levers"][lever] == "diverging"
    assert f"--set {lever}=diverging" in still["command"]
    assert document("picture", "--out", "b.svg", "--chart")["chart"]
    film = document("film", "--out", "c.png", "--from", "1", "--to", "2", "--fps", "4")
    assert film["frames"] == len(list(tmp_path.glob("c-*.png")))
    page = document("report", "--out", "d.html", "--runs", "2")
    assert (page["written"], page["runs"]) == ("d.html", 2)
