"""Put aside what the schema refuses, so that the rest can be checked in the same go.

Nothing that was put aside is ever used: a scenario with any error is refused.
The names of what was put aside are kept, so that references to them are not
reported as a second mistake.
"""

from __future__ import annotations

import copy
import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

from sim.scenario.explain import Path

_STUBS: dict[str, Any] = {"format": 1, "title": "?", "scale_ratio": 160.0, "gauge_mm": 9.0}
#: Without a name, one of these may be what any reference means.
_REFERRED_TO = ("supply", "bus", "module", "train", "piece")
_INNER = {"module": ("piece",), "train": ("orders",)}
_OPTIONAL_OF_MODULE = ("length_mm", "ends", "joins")
_INNER_OF_FIX = (
    "jumper", "feeder", "added_length", "gap", "cut", "alter", "changeover", "solder",
    "reverse", "energy_store", "clean", "rewire",
)  # fmt: skip


@dataclass
class Mended:
    """What is left of a file, and what it takes to speak of it in the file's own words."""

    raw: dict[str, Any]
    broken: set[str] = field(default_factory=set)
    #: by path of a list as left: the place that each entry has in the file
    places: dict[str, list[int]] = field(default_factory=dict)

    def in_the_file(self, where: str) -> str:
        """``where`` with the places that its entries have in the file."""
        prefix, path = _split(where)
        done_before, done = "", ""
        for part in re.split(r"(\[\d+\])", path):
            if part.startswith("[") and done_before in self.places:
                places = self.places[done_before]
                number = int(part[1:-1])
                done += f"[{places[number]}]" if number < len(places) else part
            else:
                done += part
            done_before += part
        return prefix + done


def _split(where: str) -> tuple[str, str]:
    prefix, mark, path = where.rpartition("': ")
    return prefix + mark, path


def mend(raw: dict[str, Any], refused: Iterable[Path]) -> Mended:
    """A copy of ``raw`` without the smallest entries that hold the ``refused`` paths."""
    mended = Mended(copy.deepcopy(raw))
    away: set[Path] = set()
    for path in refused:
        entry = _entry(path)
        if entry and isinstance(entry[-1], int) and len(entry) != 3:
            away.add(entry)
        elif len(entry) == 3:
            _drop(mended.raw, entry)
            if entry[2] in ("ends", "joins"):  # how it joins is not known any more
                mended.broken.add(f"{raw['module'][entry[1]].get('name')}/?")
        elif entry and entry[0] in _STUBS:
            mended.raw[str(entry[0])] = _STUBS[str(entry[0])]
        else:
            _drop(mended.raw, entry)
    for entry in away:
        mended.broken |= _names(mended.raw, entry)
    _take_away(mended, away)
    return mended


def unknown_key(raw: dict[str, Any], path: Path) -> None:
    """Drop one key that the schema does not know: the rest of its table stands."""
    _drop(raw, path)


def _entry(path: Path) -> Path:
    """The smallest part of the file that can be left out to be rid of ``path``."""
    if len(path) >= 2 and isinstance(path[1], int):
        inner = _INNER_OF_FIX if path[0] == "fix" else _INNER.get(str(path[0]), ())
        if len(path) >= 4 and path[2] in inner and isinstance(path[3], int):
            return path[:4]
        if path[0] == "module" and len(path) >= 3 and path[2] in _OPTIONAL_OF_MODULE:
            return path[:3]
        return path[:2]
    return path[:1]


def _drop(raw: dict[str, Any], path: Path) -> None:
    here: Any = raw
    for step in path[:-1]:
        try:
            here = here[step]
        except (KeyError, IndexError, TypeError):
            return
    if path and isinstance(here, dict):
        here.pop(path[-1], None)


def _names(raw: dict[str, Any], entry: Path) -> set[str]:
    owner = raw[str(entry[0])][entry[1]]
    item = owner[entry[2]][entry[3]] if len(entry) == 4 else owner
    name = item.get("name", item.get("kind")) if isinstance(item, dict) else None
    if len(entry) == 4 and entry[0] == "module":
        named = isinstance(name, str)
        return {f"{owner.get('name')}/{name}"} if named else {"", f"{owner.get('name')}/?"}
    if not isinstance(name, str):
        return {""} if entry[0] in _REFERRED_TO else set()
    if len(entry) == 4 and entry[2] == "added_length":
        return {f"{str(item.get('at')).split('/')[0]}/{name}"}
    return {name}


def _take_away(mended: Mended, away: set[Path]) -> None:
    inner = sorted({entry[:3] for entry in away if len(entry) == 4}, key=str)
    for path in inner:
        owner = mended.raw[str(path[0])][path[1]]
        gone = {entry[3] for entry in away if entry[:3] == path and len(entry) == 4}
        left = [n for n in range(len(owner[path[2]])) if n not in gone]
        owner[path[2]] = [owner[path[2]][n] for n in left]
        # the owner's own place may change below, so it is written as it will be
        gone_before = sum((path[0], n) in away for n in range(int(path[1])))
        mended.places[f"{path[0]}[{int(path[1]) - gone_before}].{path[2]}"] = left
    for name in sorted({str(entry[0]) for entry in away if len(entry) == 2}):
        gone_here = {entry[1] for entry in away if len(entry) == 2 and entry[0] == name}
        left = [n for n in range(len(mended.raw[name])) if n not in gone_here]
        mended.raw[name] = [mended.raw[name][n] for n in left]
        mended.places[name] = left
