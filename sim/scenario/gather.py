"""A show with the files that it names: boards, trains and kinds of piece, put in place.

What comes out is the data of one file, as if everything had been written into it.

A board or a train is a thing: its file is named once in a show.  ``like`` is for another
thing of the same kind, which shares what is described, and not the history.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from sim.scenario.fields import free_name
from sim.scenario.history import entry_on_board, on_board
from sim.scenario.load import KeyPath
from sim.scenario.problems import UNKNOWN, Problem, ScenarioError, nearest, shown
from sim.scenario.refusals import where as path_in_words
from sim.scenario.shelf import Shelf, SourceFile
from sim.scenario.whereabouts import Home, Part, Whereabouts

#: Keys of a board's file whose tables belong beside the boards of a show.
BESIDE = ("gap", "joiner", "jumper", "described")
#: What another thing that is ``like`` it does not share.
_OF_FILE = ("format", "gauge_mm")  #: keys of a board's file that say nothing of the board
_ITS_OWN = ("name", "file", "like", "turned", "done")
_A_BOARD = "the file of one board, with its 'name' and [[piece]]"
_A_TRAIN = "the file of one train, with its 'name' and [[vehicle]]"


@dataclass
class Gathered:
    """A show's data with everything that its files hold.

    What could not be read is left out; ``broken`` has names that may be about it.
    """

    data: dict[str, Any]
    whereabouts: Whereabouts
    problems: list[Problem] = field(default_factory=list)
    broken: set[str] = field(default_factory=set)


def gather(
    data: dict[str, Any], text: str, folder: Path, folders: Sequence[Path] = ()
) -> Gathered:
    """``data`` of the show whose text is ``text``, with the files that it names put in.

    They lie in ``folder``, below it, or in one of ``folders``.  Raises
    :class:`ScenarioError` where the file is no show at all.
    """
    if "name" in data and "piece" in data and not {"module", "title"} & set(data):
        found = f"the file of one board, {shown(data['name'])}: name it in a show"
        raise ScenarioError([Problem("file", "a scenario", found)])
    made = Gathered(dict(data), Whereabouts(text))
    shelf = Shelf(folder, folders)
    _put_kinds(made, shelf)
    _put_boards(made, shelf)
    _put_trains(made, shelf)
    return made


def _tables(data: dict[str, Any], key: str) -> list[Any]:
    found = data.get(key)
    return found if isinstance(found, list) else []


# --- kinds of piece -------------------------------------------------------------------


def _put_kinds(made: Gathered, shelf: Shelf) -> None:
    """Every kind of piece that names a file, with what the file holds."""
    tables = _tables(made.data, "piece")
    if not any(isinstance(t, dict) and "file" in t for t in tables):
        return
    done: list[Any] = []
    for n, table in enumerate(tables):
        done.append(table)
        if isinstance(table, dict) and "file" in table:
            part = _kind(made, shelf, Part.of(table, (None, ("piece", n))))
            made.whereabouts.put(("piece", n), part)
            done[n] = part.data
    made.data["piece"] = done


def _kind(made: Gathered, shelf: Shelf, own: Part) -> Part:
    near, place = own.homes["file"]
    own_rest = own.without(("file",))
    try:
        file = shelf.take(own.data["file"], near, path_in_words(place))
    except ScenarioError as error:
        made.problems += _told_in(near, error)
        made.broken.add("")  # a kind that could not be read may be used anywhere
        return own_rest
    return Part.of(file.data, (file, ())).under(own_rest)


def _told_in(near: SourceFile | None, error: ScenarioError) -> list[Problem]:
    """The problems of ``error``: those of no file of their own are in ``near``."""
    if near is None:
        return list(error.problems)
    located = Whereabouts(near.text).located(error.problems)
    return [p if p.file else replace(p, file=near.name) for p in located]


# --- things: boards and trains ----------------------------------------------------------


class _Things:
    """The boards, or the trains, of a show while they are put together."""

    def __init__(self, key: str, made: Gathered, shelf: Shelf, entries: list[Part]) -> None:
        self._key, self._made, self._shelf, self._entries = key, made, shelf, entries
        self._parts: dict[int, Part | None] = {}
        self._named: dict[str, int] = {}  #: by file: the entry that names it
        self._open: list[int] = []  #: entries that are being put together

    def all(self) -> list[Part | None]:
        """Every entry with what its file, or what it is like, holds; None: unreadable."""
        return [self._part(n) for n in range(len(self._entries))]

    def _part(self, n: int) -> Part | None:
        if n not in self._parts:
            self._open.append(n)
            self._parts[n] = self._put_together(n, self._entries[n])
            self._open.pop()
        return self._parts[n]

    def _put_together(self, n: int, own: Part) -> Part | None:
        if not {"file", "like"} & set(own.data):
            return own
        if {"file", "like"} <= set(own.data):
            return self._refuse(own, "like", "either 'file' or 'like'", "both")
        key = "file" if "file" in own.data else "like"
        try:
            if key == "file":
                return self._filed(n, own)
            below = self._alike(own)
        except ScenarioError as error:
            self._made.problems += _told_in(own.homes[key][0], error)
            return self._give_up(own)
        return None if below is None else below.under(own)

    def _filed(self, n: int, own: Part) -> Part | None:
        near, place = own.homes["file"]
        where = path_in_words(place)
        file = self._shelf.take(own.data["file"], near, where)
        before = self._named.setdefault(file.real, n)
        if before == n:
            return self._of_file(file, near, where, []).under(own)
        if _is_of_line(own) and not _is_of_line(self._entries[before]):
            return self._part(before)  # the line says by its file which board it means
        what = "board" if self._key == "module" else "train"
        expected = (
            f"each {what}'s file once, as it is one {what}; for another of its kind give a "
            "'name', and the name of this one as 'like'"
        )
        return self._refuse(own, "file", expected, f"{shown(file.name)}, named before")

    def _of_file(
        self, file: SourceFile, near: SourceFile | None, where: str, before: list[SourceFile]
    ) -> Part:
        """What a file holds, with that of the file which it is like."""
        names = [f.name for f in (*before, file)]
        if file in before:
            raise ScenarioError([Problem(where, "no circle of files", " -> ".join(names))])
        wanted = "vehicle" if self._key == "train" else "piece"
        own = Part.of(file.data, (file, ()))
        if (wanted not in file.data and "like" not in file.data) or "module" in file.data:
            what = (
                "a whole show" if "module" in file.data else f"{shown(file.name)} without them"
            )
            expected = _A_TRAIN if self._key == "train" else _A_BOARD
            raise ScenarioError([Problem(where, expected, what)])
        if "like" not in file.data:
            return own
        try:
            other = self._shelf.take(file.data["like"], file, "like")
            below = self._of_file(other, file, "like", [*before, file])
        except ScenarioError as error:
            raise ScenarioError(_told_in(file, error)) from None
        return below.without(_ITS_OWN).under(own.without(("like",)))

    def _alike(self, own: Part) -> Part | None:
        name, (near, place) = own.data["like"], own.homes["like"]
        if isinstance(name, str) and "/" in name:
            where = path_in_words(place)
            other = self._of_file(self._shelf.take(name, near, where), near, where, [])
            return other.without(_ITS_OWN)
        found = self._called(name)
        if found in self._open:
            names = [str(self._entries[n].data.get("name")) for n in self._open]
            circle = " -> ".join([*names[self._open.index(found) :], str(name)])
            return self._refuse(own, "like", "no circle", circle)
        if found is None:
            if self._any_unreadable():
                return self._give_up(own)
            what = "a board" if self._key == "module" else "a train"
            hint = nearest(str(name), self._names())
            return self._refuse(
                own, "like", f"the name of {what} of this show{hint}", shown(name)
            )
        part = self._part(found)
        return self._give_up(own) if part is None else part.without(_ITS_OWN)

    def _called(self, name: object) -> int | None:
        """The entry of that name; names that stand in files are looked up in them."""
        for n, entry in enumerate(self._entries):
            if entry.data.get("name") == name:
                return n
        for n, entry in enumerate(self._entries):
            if "file" in entry.data and "name" not in entry.data and n not in self._open:
                part = self._part(n)
                if part is not None and part.data.get("name") == name:
                    return n
        return None

    def _names(self) -> list[str]:
        parts = [*self._parts.values(), *self._entries]
        return [str(p.data["name"]) for p in parts if p is not None and "name" in p.data]

    def _any_unreadable(self) -> bool:
        return any(part is None for part in self._parts.values())

    def _refuse(self, own: Part, key: str, expected: str, found: str) -> Part | None:
        near, place = own.homes[key]
        problem = Problem(path_in_words(place), expected, found)
        self._made.problems += _told_in(near, ScenarioError([problem]))
        return self._give_up(own)

    def _give_up(self, own: Part) -> Part | None:
        """None, with a note that what refers to it may mean this."""
        name = own.data.get("name")
        self._made.broken.add(name if isinstance(name, str) else UNKNOWN)
        return None


def _is_of_line(own: Part) -> bool:
    return own.homes["file"][1][0] == "line"


def _entries(made: Gathered, key: str) -> list[Part] | None:
    """The tables of ``key``; None where they are no tables, or nothing is elsewhere."""
    tables = _tables(made.data, key)
    if not all(isinstance(table, dict) for table in tables):
        return None
    return [Part.of(table, (None, (key, n))) for n, table in enumerate(tables)]


def _put(made: Gathered, key: str, parts: Sequence[Part | None]) -> None:
    kept = [part for part in parts if part is not None]
    made.data[key] = [part.data for part in kept]
    for n, part in enumerate(kept):
        made.whereabouts.put((key, n), part)


def _put_trains(made: Gathered, shelf: Shelf) -> None:
    entries = _entries(made, "train")
    if entries is not None and any({"file", "like"} & set(e.data) for e in entries):
        _put(made, "train", _Things("train", made, shelf, entries).all())


def _put_boards(made: Gathered, shelf: Shelf) -> None:
    own = _entries(made, "module")
    if own is None:
        return
    named = _named_in_lines(made, shelf)
    entries = [*own, *named]
    parts = _Things("module", made, shelf, entries).all()
    _put_lines(made, entries, parts)
    if not any({"file", "like"} & set(entry.data) for entry in entries):
        return
    kept = list({id(part): part for part in parts if part is not None}.values())
    _put(made, "module", [part.without(_of_files(part)) for part in kept])
    for n, part in enumerate(kept):
        _check_gauge(made, n, part)
        _put_beside(made, shelf, part)


def _of_files(part: Part) -> list[str]:
    """Keys of a board's file that are not the board's own table."""
    return [k for k in (*BESIDE, *_OF_FILE) if k in part.homes and part.homes[k][0] is not None]


def _check_gauge(made: Gathered, n: int, part: Part) -> None:
    """A board's file may say its gauge, which is then the show's."""
    home, shows = part.homes.get("gauge_mm"), made.data.get("gauge_mm")
    if home is not None and home[0] is not None and part.data["gauge_mm"] != shows:
        problem = Problem(
            "gauge_mm", f"the show's gauge, {shown(shows)} mm", shown(part.data["gauge_mm"])
        )
        made.problems += _told_in(home[0], ScenarioError([problem]))


def _named_in_lines(made: Gathered, shelf: Shelf) -> list[Part]:
    """An entry for each file that a line names; a pattern names several."""
    found: list[Part] = []
    for n, line in enumerate(_tables(made.data, "line")):
        for place, name in enumerate(
            _tables(line, "modules") if isinstance(line, dict) else ()
        ):
            if not (isinstance(name, str) and "/" in name):
                continue
            at: Home = (None, ("line", n, "modules", place))
            names = shelf.matching(name) if set(name) & set("*?[") else [name]
            if not names:
                expected, given = "a pattern that fits a board's file", shown(name)
                problem = Problem(path_in_words(at[1]), expected, f"{given}, fits nothing")
                made.problems.append(problem)
                made.broken.add(UNKNOWN)
            found += [Part({"file": file}, {"file": at}, at) for file in names]
    return found


def _put_lines(made: Gathered, entries: Sequence[Part], parts: Sequence[Part | None]) -> None:
    """Lines that name boards, where they named files or left out all names."""
    lines = _tables(made.data, "line")
    for n, line in enumerate(lines):
        if not isinstance(line, dict):
            continue
        given, names = line.get("modules"), []
        homes: list[KeyPath] = []
        if "modules" not in line:
            names = [part.data.get("name") for part in parts if part is not None]
            homes = [("line", n)] * len(names)
        elif isinstance(given, list):
            for place, name in enumerate(given):
                at = ("line", n, "modules", place)
                meant = [k for k, e in enumerate(entries) if e.homes.get("file") == (None, at)]
                found = [_name(made, parts[k], k) for k in meant]
                if not (isinstance(name, str) and "/" in name):
                    found = [name]
                names += found
                homes += [at] * len(found)
        else:
            continue
        lines = [*lines[:n], {**line, "modules": names}, *lines[n + 1 :]]
        for place, home in enumerate(homes):
            made.whereabouts.homes[("line", n, "modules", place)] = (None, home)
    if lines:
        made.data["line"] = lines


def _name(made: Gathered, part: Part | None, number: int) -> str:
    """The board's name; for one that could not be read, one that nobody has."""
    name = None if part is None else part.data.get("name")
    if isinstance(name, str):
        return name
    made.broken.add(f"unread board {number + 1}")
    return f"unread board {number + 1}"


def _put_beside(made: Gathered, shelf: Shelf, part: Part) -> None:
    """What a board's file holds beside the board, with ids of the show."""
    board = part.data.get("name")
    for key in BESIDE:
        file, place = part.homes.get(key, (None, ()))
        if file is None:
            continue
        tables = part.data[key]
        if not isinstance(tables, list) or not all(isinstance(t, dict) for t in tables):
            problem = Problem(key, "a list of tables", shown(tables))
            made.problems += _told_in(file, ScenarioError([problem]))
            continue
        for n, table in enumerate(tables):
            own = Part.of(table, (file, (*place, n)))
            if key == "described":
                _add_kind(made, shelf, own)
            elif isinstance(board, str):
                _add(made, key, own, _of_show(made, key, table, board))


def _of_show(made: Gathered, key: str, table: dict[str, Any], board: str) -> dict[str, Any]:
    if key == "done":
        return {**on_board(table, board), "module": board}
    made_so = entry_on_board(table, key, board)
    if key == "jumper":
        taken = [t.get("name") for t in _tables(made.data, "jumper") if isinstance(t, dict)]
        wanted = table.get("name", f"{board} jumper")
        if isinstance(wanted, str):
            return {**made_so, "name": free_name(wanted, [t for t in taken if t])}
    return dict(made_so)


def _add(made: Gathered, key: str, own: Part, table: dict[str, Any]) -> None:
    before = _tables(made.data, key)
    made.data[key] = [*before, table]
    made.whereabouts.put((key, len(before)), own)


def _add_kind(made: Gathered, shelf: Shelf, own: Part) -> None:
    """A kind of piece that a board's file describes; two boards may describe the same."""
    part = _kind(made, shelf, own) if "file" in own.data else own
    if part.data not in _tables(made.data, "piece"):
        before = _tables(made.data, "piece")
        made.data["piece"] = [*before, part.data]
        made.whereabouts.put(("piece", len(before)), part)
