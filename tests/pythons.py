"""``python -m tests.pythons``: the default suite with every Python that is here.

Looked for are 3.11 to 3.14: as ``python3.N`` on the path, and among the versions of
pyenv where that is installed.  Each gets a fresh copy of what git knows and a virtual
environment of its own; what was not found is said.  Further arguments go to pytest.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Sequence
from pathlib import Path

WANTED = ("3.11", "3.12", "3.13", "3.14")
ROOT = Path(__file__).resolve().parent.parent


def candidates(version: str) -> Iterator[str]:
    """Commands that may be that Python."""
    if (found := shutil.which(f"python{version}")) is not None:
        yield found
    pyenv = shutil.which("pyenv")
    if pyenv is not None:
        said = subprocess.run([pyenv, "root"], capture_output=True, text=True, check=False)
        versions = Path(said.stdout.strip()) / "versions"
        for folder in sorted(versions.glob(f"{version}.*"), reverse=True):
            yield str(folder / "bin" / "python")


def usable(python: str, version: str) -> bool:
    """Whether it starts, is that version, and can make virtual environments."""
    asks = "import sys, venv, ensurepip; print('%d.%d' % sys.version_info[:2])"
    try:
        said = subprocess.run([python, "-c", asks], capture_output=True, text=True, check=False)
    except OSError:
        return False
    return said.stdout.strip() == version


def python_of(version: str) -> str | None:
    """A Python of that version, if there is one."""
    return next((p for p in candidates(version) if usable(p, version)), None)


def copy_to(folder: Path) -> None:
    """A copy of what git knows, changed files as they are."""
    said = subprocess.run(
        ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"],
        cwd=ROOT, capture_output=True, check=True,
    )  # fmt: skip
    for name in filter(None, said.stdout.decode().split("\0")):
        source = ROOT / name
        if source.is_file():
            target = folder / name
            target.parent.mkdir(parents=True, exist_ok=True)
            shutil.copy2(source, target)


def run_suite(python: str, arguments: Sequence[str]) -> bool:
    """Whether the default suite passes with ``python``."""
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made) / "copy"
        copy_to(folder)
        own = folder / ".venv" / ("Scripts" if sys.platform == "win32" else "bin") / "python"
        steps = (
            [python, "-m", "venv", ".venv"],
            [str(own), "-m", "pip", "install", "-q", "-e", ".[test]"],
            [str(own), "-m", "pytest", *arguments],
        )
        return all(subprocess.run(s, cwd=folder, check=False).returncode == 0 for s in steps)


def main(arguments: Sequence[str]) -> int:
    """0 where the suite passes with all that were found."""
    told = {}
    for version in WANTED:
        python = python_of(version)
        if python is None:
            told[version] = "not here"
            continue
        print(f"== Python {version}", flush=True)
        told[version] = "passes" if run_suite(python, arguments) else "FAILS"
    print("\n".join(f"Python {version}: {what}" for version, what in told.items()))
    return 1 if "FAILS" in told.values() else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
