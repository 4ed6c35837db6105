"""Turn what the schema refuses into problems that say expected, found and where."""

from __future__ import annotations

import typing
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from sim.scenario.problems import Problem, nearest, shown

Path = tuple[str | int, ...]

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


def where(path: Path) -> str:
    """``("module", 3, "piece", 0, "x")`` as ``module[3].piece[0].x``."""
    text = ""
    for step in path:
        if isinstance(step, int):
            text += f"[{step}]"
        else:
            text += f".{step}" if text else step
    return text or "file"


def path_in(raw: object, loc: Sequence[str | int]) -> Path:
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
    error: ValidationError, raw: object, model: type[BaseModel], base: Path = ()
) -> list[tuple[Path, Problem]]:
    """Every problem of ``error`` with its path; alternatives at one place are joined.

    Past :data:`ERRORS_AT_MOST` the rest are left out.
    """
    found: dict[Path, Problem] = {}
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


def _problem(detail: ErrorDetails, path: Path, model: type[BaseModel]) -> Problem:
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
