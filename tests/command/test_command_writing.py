"""Where results go: files, links, FIFOs and descriptors; and what happens when they cannot.

Sources: POSIX.1-2017 for what FIFOs, symbolic links, ENOSPC and closed descriptors do;
exit codes and the rest are rules of this project.
"""

from __future__ import annotations

import json
import os
import stat
import subprocess
import sys
import threading
import tomllib
from pathlib import Path

import pytest

from sim.records.invariants import whole

ROOT = Path(__file__).resolve().parents[2]
LOOPS = str(ROOT / "tests" / "command" / "loops.toml")
FULL = Path("/dev/full")


def gapwright(words: list[str], shell: str = '"$@"') -> subprocess.CompletedProcess[str]:
    """Run the command inside a line of shell."""
    return subprocess.run(
        ["bash", "-c", shell, "bash", sys.executable, "-m", "sim.command.main", *words],
        capture_output=True,
        text=True,
        cwd=ROOT,
        timeout=120,
    )


def put(path: Path, text: str) -> None:
    with whole(path) as made:
        made.write_text(text)


def test_a_link_stays_and_its_target_is_written(tmp_path: Path) -> None:
    target, link = tmp_path / "dir" / "target.json", tmp_path / "link.json"
    target.parent.mkdir()
    target.write_text("old")
    target.chmod(0o640)
    link.symlink_to("dir/target.json")
    put(link, "new")
    assert link.is_symlink()
    assert target.read_text() == "new"
    assert stat.S_IMODE(target.stat().st_mode) == 0o640
    assert sorted(p.name for p in tmp_path.iterdir()) == ["dir", "link.json"]


def test_a_link_to_nothing_yet_makes_its_target(tmp_path: Path) -> None:
    link = tmp_path / "link"
    link.symlink_to("target")
    put(link, "new")
    assert link.is_symlink()
    assert (tmp_path / "target").read_text() == "new"


def test_a_fifo_is_written_to_and_stays(tmp_path: Path) -> None:
    fifo = tmp_path / "fifo"
    os.mkfifo(fifo)
    got: list[str] = []
    reader = threading.Thread(target=lambda: got.append(fifo.read_text()), daemon=True)
    reader.start()
    put(fifo, "x" * 200_000)
    reader.join(10)
    assert got == ["x" * 200_000]
    assert stat.S_ISFIFO(fifo.stat().st_mode)


def test_a_device_is_written_to_and_stays(tmp_path: Path) -> None:
    """A node of our own with the numbers of the null device: the real one is left alone."""
    node = tmp_path / "null"
    try:
        os.mknod(node, stat.S_IFCHR | 0o666, os.makedev(1, 3))
        node.read_bytes()
    except OSError:
        pytest.skip("may not make or open devices here")
    put(node, "gone")
    assert stat.S_ISCHR(node.stat().st_mode)
    assert node.read_bytes() == b""


def test_nothing_is_left_of_a_failure(tmp_path: Path) -> None:
    path = tmp_path / "x"
    path.write_text("old")
    with pytest.raises(RuntimeError), whole(path) as made:
        made.write_text("half")
        raise RuntimeError
    assert path.read_text() == "old"
    assert [p.name for p in tmp_path.iterdir()] == ["x"]


def test_an_open_descriptor_is_written_where_it_stands(tmp_path: Path) -> None:
    out = tmp_path / "out"
    told = gapwright(
        ["check", LOOPS, "--json", "/dev/fd/3"], f'echo before > {out}; "$@" 3>>{out}'
    )
    assert told.returncode == 0, told.stderr
    first, _, rest = out.read_text().partition("\n")
    assert first == "before"
    assert json.loads(rest)["format_version"] == 2


def test_a_shells_pipe_gets_the_document(tmp_path: Path) -> None:
    out = tmp_path / "out"
    told = gapwright(
        ["check", LOOPS], f'"$@" --json >(cat > {out}); for i in 1 2 3 4 5 6 7 8 9; do '
        f"[ -s {out} ] && break; sleep 0.2; done"
    )  # fmt: skip
    assert told.returncode == 0, told.stderr
    assert json.loads(out.read_text())["format_version"] == 2


def test_two_results_do_not_go_to_one_file(tmp_path: Path) -> None:
    path, link = tmp_path / "x.csv", tmp_path / "link"
    link.symlink_to(path)
    told = gapwright(["run", LOOPS, "--records", str(path), "--json", str(link)])
    assert told.returncode == 2
    assert "--records: expected another file than --json" in told.stderr
    assert not path.exists()


@pytest.mark.parametrize("option", ["--records", "--json"])
def test_nothing_goes_over_the_scenario(option: str, tmp_path: Path) -> None:
    path = tmp_path / "x.csv"
    path.write_text("format = 1\n")
    told = gapwright(["run", str(path), option, str(path)])
    assert told.returncode == 2
    assert f"{option}: expected another file than the scenario itself" in told.stderr
    assert path.read_text() == "format = 1\n"


# --- standard output ------------------------------------------------------------


@pytest.mark.skipif(not FULL.exists(), reason="no device that is always full")
@pytest.mark.parametrize(
    "words",
    [["schema"], ["check", LOOPS], ["check", LOOPS, "--json", "-"], ["--help"],
     ["check", "--help"]],
)  # fmt: skip
def test_a_full_disk_behind_standard_output_is_told_in_a_line(words: list[str]) -> None:
    told = gapwright(words, f'"$@" > {FULL}')
    assert told.returncode == 2
    assert told.stderr == (
        "gapwright: standard output cannot be written: No space left on device\n"
    )


@pytest.mark.parametrize("words", [["schema"], ["check", LOOPS], ["--version"]])
def test_closed_standard_output_is_told_in_a_line(words: list[str]) -> None:
    told = gapwright(words, '"$@" >&-')
    assert told.returncode == 2
    assert told.stderr == "gapwright: standard output cannot be written: it is closed\n"


def test_closed_standard_error_does_no_harm() -> None:
    told = gapwright(["check", "missing.toml"], '"$@" 2>&-')
    assert told.returncode == 1
    assert "Traceback" not in told.stdout


def test_ctrl_c_before_anything_is_loaded_shows_no_traceback() -> None:
    """The interrupt comes while the command's own modules are being imported."""
    program = (
        "import sys\n"
        "class Interrupts:\n"
        "    def find_spec(self, name, path=None, target=None):\n"
        "        if name == 'sim.command.main': raise KeyboardInterrupt\n"
        "sys.meta_path.insert(0, Interrupts())\n"
        "from sim.command.start import main\n"
        "sys.exit(main())"
    )
    told = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, cwd=ROOT, timeout=60
    )
    assert told.returncode == 130
    assert told.stderr == "gapwright: interrupted\n"


def test_the_installed_command_begins_there() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    assert project["scripts"] == {"gapwright": "sim.command.start:main"}
