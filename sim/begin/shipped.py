"""The scenarios that come with the program, wherever it was installed."""

from __future__ import annotations

import site
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

FOLDER = "scenarios"
#: Where an installed copy keeps them, below the environment's own folder.
SHARED = Path("share") / "gapwright" / FOLDER


@dataclass(frozen=True, slots=True)
class Shipped:
    """One scenario: its short name, its file and the first sentence of its comment."""

    name: str
    path: Path
    says: str


def shipped() -> tuple[Shipped, ...]:
    """All of them in order of name; none where they were not installed."""
    for folder in _folders():
        found = sorted(folder.glob("*.toml"))
        if found:
            return tuple(Shipped(p.stem, p, _first_comment(p)) for p in found)
    return ()


def _folders() -> Iterator[Path]:
    yield Path(__file__).resolve().parent.parent.parent / FOLDER
    yield Path(sys.prefix) / SHARED
    yield Path(site.getuserbase()) / SHARED


def _first_comment(path: Path) -> str:
    """The first sentence of the comment that the file opens with."""
    words: list[str] = []
    for line in path.read_text(encoding="utf-8").splitlines():
        if not line.startswith("#") or not line.strip("# "):
            break
        words.append(line.lstrip("# ").strip())
    text = " ".join(words)
    sentence, stop, _ = text.partition(". ")
    return sentence + "." if stop else text
