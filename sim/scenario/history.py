"""What was done to boards: entries of a history, and the ids in them.

An entry states changes as a fix does.  In a board's own file its ids begin with the
piece, since what the board is called is the show's business.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

Change = Callable[[str], str]

#: By list of a fix: the keys of its tables that hold ids.
_IDS = {
    "jumper": ("from", "to"),
    "feeder": ("plus", "minus"),
    "added_length": ("at",),
    "gap": ("at",),
    "alter": ("piece",),
    "changeover": ("section", "lever"),
}
#: Lists of ids; an id without a slash is a wire's name, and stays.
_LISTS = ("cut", "solder", "clean")


def with_ids(table: dict[str, Any], change: Change) -> dict[str, Any]:
    """``table``, a fix or a part of one as it is written, with every id changed.

    What is not of the right form is left for the schema to refuse.
    """
    done = dict(table)
    for key, names in _IDS.items():
        entries = done.get(key)
        if isinstance(entries, (list, tuple)):
            done[key] = [_entry(e, names, change) for e in entries]
    for key in _LISTS:
        entries = done.get(key)
        if isinstance(entries, (list, tuple)):
            done[key] = [_id(e, change) if "/" in str(e) else e for e in entries]
    return done


def on_board(table: dict[str, Any], board: str) -> dict[str, Any]:
    """The same with ids of the show: ``board`` goes before each."""
    return with_ids(table, lambda name: f"{board}/{name}")


def entry_on_board(table: Any, key: str, board: str) -> Any:
    """One table of the list ``key`` of a board's file, with ids of the show."""
    return _entry(table, _IDS.get(key, ("at",)), lambda name: f"{board}/{name}")


def _entry(table: Any, names: tuple[str, ...], change: Change) -> Any:
    if not isinstance(table, dict):
        return table
    done = {key: _id(item, change) if key in names else item for key, item in table.items()}
    if isinstance(done.get("to"), dict):  # of a changeover: by position
        done["to"] = {position: _id(item, change) for position, item in done["to"].items()}
    return done


def _id(name: Any, change: Change) -> Any:
    return change(name) if isinstance(name, str) else name
