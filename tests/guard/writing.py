"""Write what every command says of every input, through the installed command's entry."""

from __future__ import annotations

import contextlib
import importlib
import io
import os
import sys
import tomllib
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path

from tests.guard.calls import Call, calls_for, groups_of
from tests.guard.comparing import QUICK
from tests.guard.inputs import ROOT, make_inputs, take_inputs

#: Whose work takes longest begins first.
_HEAVY = ("demo-club-loops", "demo-loose-gang", "demo-well-fed", "demo-branch-terminus")


def write(folder: Path, inputs: Path | None, quick: bool, workers: int) -> int:
    """Write inputs and outputs into ``folder``, which may not be there; give their number."""
    folder.mkdir(parents=True)
    if quick:
        (folder / QUICK).touch()
    if inputs is None:
        make_inputs(folder / "inputs", quick)
    else:
        take_inputs(folder / "inputs", inputs, quick)
    jobs = [
        (folder.resolve(), name.name, group)
        for name in sorted((folder / "inputs").iterdir(), key=_weight)
        for group in groups_of(name)
    ]
    with ProcessPoolExecutor(workers, get_context("spawn")) as pool:
        return sum(pool.map(_do, jobs))


def _weight(folder: Path) -> tuple[int, str]:
    heavy = _HEAVY.index(folder.name) if folder.name in _HEAVY else len(_HEAVY)
    return heavy, folder.name


def _do(job: tuple[Path, str, str]) -> int:
    folder, name, group = job
    calls = calls_for(folder / "inputs" / name, group)
    outputs = folder / "outputs" / name
    outputs.mkdir(parents=True, exist_ok=True)
    program = entry()
    with contextlib.chdir(outputs):
        for call in calls:
            perform(call, program)
    return len(calls)


def entry() -> Callable[[], object]:
    """The function that the installed command runs, wherever it is by now."""
    scripts = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]["scripts"]
    module, _, function = scripts["gapwright"].partition(":")
    if str(ROOT) not in sys.path:
        sys.path.insert(0, str(ROOT))
    found: Callable[[], object] = getattr(importlib.import_module(module), function)
    return found


def perform(call: Call, program: Callable[[], object]) -> None:
    """Call the program in this folder and write ``NAME.txt``: words, code, what was said."""
    os.environ["COLUMNS"], os.environ["LINES"] = "80", "24"
    with _as_a_pipe(call) as (out, err):
        try:
            code: object = program()
        except SystemExit as end:
            code = end.code
        except BaseException as error:  # told in the output, as any other answer
            code = f"raised {error!r}"
        parts = [
            f"$ gapwright {' '.join(call.argv)}\n[exit {code}]\n".encode(),
            _all_of(out),
            b"\n--- standard error\n",
            _all_of(err),
        ]
    Path(f"{call.name}.txt").write_bytes(b"".join(parts))


def _all_of(stream: io.TextIOWrapper) -> bytes:
    """All that was written to ``stream``, which :func:`_as_a_pipe` made."""
    stream.flush()
    assert isinstance(stream.buffer, io.BytesIO)
    return stream.buffer.getvalue()


@contextlib.contextmanager
def _as_a_pipe(call: Call) -> Iterator[tuple[io.TextIOWrapper, io.TextIOWrapper]]:
    """Standard streams that are no terminal, and the call's words as arguments."""
    kept = sys.argv, sys.stdin, sys.stdout, sys.stderr
    out = io.TextIOWrapper(io.BytesIO(), "utf-8", newline="\n")
    err = io.TextIOWrapper(io.BytesIO(), "utf-8", newline="\n")
    sys.argv = ["gapwright", *call.argv]
    sys.stdin, sys.stdout, sys.stderr = io.StringIO(call.typed), out, err
    try:
        yield out, err
    finally:
        sys.argv, sys.stdin, sys.stdout, sys.stderr = kept
