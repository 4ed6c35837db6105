"""Compare two writings of the guard, byte by byte."""

from __future__ import annotations

import difflib
from collections.abc import Iterator
from pathlib import Path

#: A file that marks a quick writing, which lacks inputs that others have.
QUICK = "quick"
#: Lines of difference that are shown of one file, and how much of a line.
SHOWN, WIDTH = 12, 160


def differences(one: Path, other: Path) -> Iterator[str]:
    """What differs, a paragraph for each file; nothing where all bytes are the same.

    Where one is a quick writing, only inputs that both have are looked at.
    """
    before, after = _files(one), _files(other)
    if (one / QUICK).exists() or (other / QUICK).exists():
        both = {_input(name) for name in before} & {_input(name) for name in after}
        before, after = (
            {name: path for name, path in files.items() if _input(name) in both}
            for files in (before, after)
        )
    for name in sorted(before.keys() | after.keys()):
        if name not in after:
            yield f"missing: {name} is not in {other}"
        elif name not in before:
            yield f"extra: {name} is in {other} only"
        else:
            old, new = before[name].read_bytes(), after[name].read_bytes()
            if old != new:
                yield f"differs: {name}\n{_short_diff(old, new)}"


def _input(name: str) -> str:
    """The folder of ``inputs/FOLDER/...`` or ``outputs/FOLDER/...``."""
    return name.split("/")[1]


def _files(folder: Path) -> dict[str, Path]:
    parts = (folder / part for part in ("inputs", "outputs"))
    found = (path for part in parts for path in part.rglob("*") if path.is_file())
    return {path.relative_to(folder).as_posix(): path for path in found}


def _short_diff(old: bytes, new: bytes) -> str:
    if b"\x00" in old + new:
        return f"    {len(old)} bytes, then {len(new)} bytes"
    lines = difflib.unified_diff(_lines(old), _lines(new), lineterm="", n=0)
    told = [f"    {line[:WIDTH]}" for line in lines if not line.startswith(("---", "+++"))]
    more = [f"    and {len(told) - SHOWN} more lines"] if len(told) > SHOWN else []
    return "\n".join(told[:SHOWN] + more)


def _lines(data: bytes) -> list[str]:
    """Lines in which even a changed line end can be seen."""
    return [ascii(line)[1:-1] for line in data.decode("utf-8", "replace").split("\n")]
