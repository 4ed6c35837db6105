"""What the schema refuses: told as problems, and put aside so that the rest can be checked.

Turn what the schema refuses into problems that say expected, found and where.

Put aside what the schema refuses, so that the rest can be checked in the same go.

Nothing that was put aside is ever used: a scenario with any error is refused.
The names of what was put aside are kept, so that references to them are not
reported as a second mistake.
"""

from __future__ import annotations

import copy
import re
import typing
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from sim.scenario.problems import Problem, nearest, shown

KeyPath = tuple[str | int, ...]

#: A file with more than this many errors is no scenario: it is not looked into further.
ERRORS_AT_MOST = 1000

_EXPECTED = {
    "string_type": "text",
    "float_type": "a number",
    "int_type": "a whole number",
    "int_from_float": "a whole number",
    "bool_type": "true or false",
    "tuple_type": "a list",
    "list_type": "a list",
    "dict_type": "a table",
    "model_type": "a table",
    "model_attributes_type": "a table",
    "finite_number": "a finite number",
}
_BOUNDS = {
    "greater_than": ("a number above", "gt"),
    "greater_than_equal": ("a number of at least", "ge"),
    "less_than": ("a number below", "lt"),
    "less_than_equal": ("a number of at most", "le"),
}
_SIZES = {
    "string_too_short": ("text of at least", "min_length", "character", "characters"),
    "string_too_long": ("text of at most", "max_length", "character", "characters"),
    "too_short": ("a list with at least", "min_length", "entry", "entries"),
    "too_long": ("a list with at most", "max_length", "entry", "entries"),
}


def where(path: KeyPath) -> str:
    """``("module", 3, "piece", 0, "x")`` as ``module[3].piece[0].x``."""
    text = ""
    for step in path:
        if isinstance(step, int):
            text += f"[{step}]"
        else:
            text += f".{step}" if text else step
    return text or "file"


def path_in(raw: object, loc: Sequence[str | int]) -> KeyPath:
    """The part of ``loc`` that lies in the file: without the names of alternatives."""
    path: list[str | int] = []
    here: object = raw
    for number, step in enumerate(loc):
        last = number == len(loc) - 1
        if isinstance(here, Mapping) and (step in here or (last and isinstance(step, str))):
            path.append(step)
            here = here.get(step)
        elif isinstance(here, (list, tuple)) and isinstance(step, int) and step < len(here):
            path.append(step)
            here = here[step]
    return tuple(path)


def problems_of(
    error: ValidationError, raw: object, model: type[BaseModel], base: KeyPath = ()
) -> list[tuple[KeyPath, Problem]]:
    """Every problem of ``error`` with its path; alternatives at one place are joined.

    Past :data:`ERRORS_AT_MOST` the rest are left out.
    """
    found: dict[KeyPath, Problem] = {}
    for detail in error.errors(include_url=False)[:ERRORS_AT_MOST]:
        if _is_echo(detail):
            continue
        path = base + path_in(raw, detail["loc"])
        problem = _problem(detail, path, model)
        before = found.get(path)
        if before is not None and before.expected != problem.expected:
            problem = Problem(
                problem.where, f"{before.expected} or {problem.expected}", problem.found
            )
        found[path] = problem
    return list(found.items())


def _is_echo(detail: ErrorDetails) -> bool:
    """True when a list is called too short only because its entries were refused."""
    given, context = detail["input"], detail.get("ctx", {})
    if detail["type"] != "too_short" or not isinstance(given, (list, tuple)):
        return False
    return len(given) >= int(context["min_length"])


def _problem(detail: ErrorDetails, path: KeyPath, model: type[BaseModel]) -> Problem:
    kind, context = detail["type"], detail.get("ctx", {})
    loc, value = detail["loc"], detail["input"]
    if kind == "extra_forbidden":
        key = str(loc[-1])
        hint = nearest(key, known_keys(model, loc[:-1]))
        return Problem(where(path), f"a known key{hint}", f"unknown key {shown(key)}")
    if kind == "missing" and isinstance(loc[-1], int):
        return Problem(where(path), "a pair, two entries", _found(value))
    if kind == "missing":
        return Problem(where(path), "a value", "nothing")
    if kind == "union_tag_not_found":
        return Problem(where((*path, "do")), "a value", "nothing")
    return Problem(where(path), _wanted(kind, context, detail["msg"]), _found(value))


def _wanted(kind: str, context: Mapping[str, Any], message: str) -> str:
    if kind == "expected":
        return str(context["wanted"])
    if kind in _EXPECTED:
        return _EXPECTED[kind]
    if kind in _BOUNDS:
        words, key = _BOUNDS[kind]
        return f"{words} {context[key]:g}"
    if kind in _SIZES:
        words, key, one, many = _SIZES[kind]
        return f"{words} {context[key]} {one if context[key] == 1 else many}"
    if kind == "literal_error":
        return str(context["expected"])
    if kind == "union_tag_invalid":
        return f"one of {context['expected_tags']}"
    for start in ("Input should be a valid ", "Input should be ", "Value error, "):
        message = message.removeprefix(start)
    return message[:1].lower() + message[1:]


def _found(value: object) -> str:
    if isinstance(value, Mapping):
        return "a table with " + (", ".join(str(key) for key in value)[:100] or "nothing")
    return shown(value)


def known_keys(model: type[BaseModel], loc: Iterable[str | int]) -> list[str]:
    """Keys that the table at ``loc`` below ``model`` may have."""
    here: list[type[BaseModel]] = [model]
    for step in loc:
        if isinstance(step, int):
            continue
        fields = [f for m in here for f in _fields(m).items() if f[0] == step]
        if fields:
            here = [m for _, annotation in fields for m in _models_in(annotation)]
        else:  # the tag of an alternative
            here = [m for m in here if _tag(m) == step] or here
    return [key for m in here for key in _fields(m)]


def _fields(model: type[BaseModel]) -> dict[str, Any]:
    return {info.alias or name: info.annotation for name, info in model.model_fields.items()}


def _tag(model: type[BaseModel]) -> str | None:
    info = model.model_fields.get("do")
    values = typing.get_args(info.annotation) if info is not None else ()
    return str(values[0]) if values else None


def _models_in(annotation: Any) -> list[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return [annotation]
    return [m for inner in typing.get_args(annotation) for m in _models_in(inner)]


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


def mend(raw: dict[str, Any], refused: Iterable[KeyPath]) -> Mended:
    """A copy of ``raw`` without the smallest entries that hold the ``refused`` paths."""
    mended = Mended(copy.deepcopy(raw))
    away: set[KeyPath] = set()
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


def unknown_key(raw: dict[str, Any], path: KeyPath) -> None:
    """Drop one key that the schema does not know: the rest of its table stands."""
    _drop(raw, path)


def _entry(path: KeyPath) -> KeyPath:
    """The smallest part of the file that can be left out to be rid of ``path``."""
    if len(path) >= 2 and isinstance(path[1], int):
        inner = _INNER_OF_FIX if path[0] == "fix" else _INNER.get(str(path[0]), ())
        if len(path) >= 4 and path[2] in inner and isinstance(path[3], int):
            return path[:4]
        if path[0] == "module" and len(path) >= 3 and path[2] in _OPTIONAL_OF_MODULE:
            return path[:3]
        return path[:2]
    return path[:1]


def _drop(raw: dict[str, Any], path: KeyPath) -> None:
    here: Any = raw
    for step in path[:-1]:
        try:
            here = here[step]
        except (KeyError, IndexError, TypeError):
            return
    if path and isinstance(here, dict):
        here.pop(path[-1], None)


def _names(raw: dict[str, Any], entry: KeyPath) -> set[str]:
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


def _take_away(mended: Mended, away: set[KeyPath]) -> None:
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
