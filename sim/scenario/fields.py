"""The kinds of value that fields of a scenario hold, each with its limits.

A value that is refused says what was expected; :mod:`sim.scenario.explain` turns
that into a :class:`~sim.scenario.problems.Problem`.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated, Any
from unicodedata import category

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    WithJsonSchema,
)
from pydantic_core import PydanticCustomError

from sim.scenario import units

#: Longest length anywhere in a scenario: 1 km, so that whole micrometres stay small.
LONGEST_MM = 1e6
#: Fastest speed of the real thing: no train, but a slip of the keyboard.
FASTEST_MM_S = 1e9
NAME_FORMS = (
    "a name of 1 to 80 printable characters, without / * ? [ ] and without a space at its ends"
)
_NAME_PATTERN = r"^[^\s/*?\[\]]([^/*?\[\]]*[^\s/*?\[\]])?$"


class Model(BaseModel):
    """Base of every table in the file: unknown keys refused, nothing converted silently."""

    model_config = ConfigDict(
        extra="forbid",
        frozen=True,
        strict=True,
        allow_inf_nan=False,
        defer_build=True,  # the whole file builds them all at once
    )


def expected(text: str) -> PydanticCustomError:
    """The error that says what a field expected."""
    return PydanticCustomError("expected", "{wanted}", {"wanted": text})


def _checked(parse: Callable[[str], object]) -> Callable[[str], str]:
    def check(text: str) -> str:
        try:
            parse(text)
        except ValueError as error:
            raise expected(str(error)) from None
        return text

    return check


def _length(value: Any) -> Any:
    if isinstance(value, str):
        try:
            return units.length_in_mm(value)
        except ValueError as error:
            raise expected(str(error)) from None
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        raise expected(units.LENGTH_FORMS)
    return value


def _length_text(value: Any) -> Any:
    if not isinstance(value, str):
        raise expected("a length with its unit, such as '400 mm', '3.2 cm', '2 m', '12 in'")
    return _length(value)


def _within(low: float, strictly: bool) -> Callable[[float], float]:
    def check(value: float) -> float:
        if value < low or (strictly and value == low) or value > LONGEST_MM:
            bound = "more than" if strictly else "at least"
            raise expected(f"a length of {bound} {low:g} mm and at most {LONGEST_MM:.0f} mm")
        return value

    return check


def _length_schema(bound: str) -> WithJsonSchema:
    return WithJsonSchema(
        {
            "anyOf": [
                {"type": "number", bound: 0, "maximum": LONGEST_MM},
                {"type": "string", "pattern": units.LENGTH_PATTERN},
            ]
        }
    )


def is_name(text: str) -> bool:
    """True when ``text`` can be a name: printable, no slash, no glob characters."""
    clean = text.isprintable() and text == text.strip()
    return clean and 1 <= len(text) <= 80 and not set(text) & set("/*?[]")


def _name(text: str) -> str:
    if not is_name(text):
        raise expected(NAME_FORMS)
    return text


Name = Annotated[
    str,
    AfterValidator(_name),
    WithJsonSchema(
        {"type": "string", "minLength": 1, "maxLength": 80, "pattern": _NAME_PATTERN}
    ),
]
#: An id such as ``module/piece/name``, or part of one.
Ref = Annotated[str, Field(min_length=1, max_length=300)]
#: A pattern over ids: ``*`` any characters, ``?`` one, ``[AB]`` one of these.
Glob = Annotated[str, Field(min_length=1, max_length=300)]


def _on_one_line(text: str) -> str:
    if any(category(c) in _NOT_SHOWN or c in "\ufffe\uffff" for c in text):
        raise expected("text on one line, without control characters")
    return text


#: Unicode's categories of control characters, halves of characters and line ends.
_NOT_SHOWN = ("Cc", "Cs", "Zl", "Zp")
#: The same for JSON Schema, whose patterns know no categories.
_SHOWN_PATTERN = r"^[^\u0000-\u001f\u007f-\u009f\u2028\u2029\ufffe\uffff]*$"
Text = Annotated[
    str, Field(max_length=2000), AfterValidator(_on_one_line),
    WithJsonSchema({"type": "string", "maxLength": 2000, "pattern": _SHOWN_PATTERN}),
]  # fmt: skip
Title = Annotated[
    str, Field(min_length=1, max_length=200), AfterValidator(_on_one_line),
    WithJsonSchema(
        {"type": "string", "minLength": 1, "maxLength": 200, "pattern": _SHOWN_PATTERN}
    ),
]  # fmt: skip

PositiveLength = Annotated[
    float, BeforeValidator(_length), AfterValidator(_within(0.0, True)),
    _length_schema("exclusiveMinimum"),
]  # fmt: skip
Length = Annotated[
    float, BeforeValidator(_length), AfterValidator(_within(0.0, False)),
    _length_schema("minimum"),
]  # fmt: skip
#: Where the key does not name the unit, the text must.
LengthText = Annotated[
    float,
    BeforeValidator(_length_text),
    AfterValidator(_within(0.0, False)),
    WithJsonSchema({"type": "string", "pattern": units.LENGTH_PATTERN}),
]
Wire = Annotated[
    str, AfterValidator(_checked(units.wire_size)),
    WithJsonSchema({"type": "string", "pattern": units.WIRE_PATTERN}),
]  # fmt: skip


def _speed(text: str) -> str:
    try:
        value = units.speed_in_mm_s(text, 1.0)
    except ValueError as error:
        raise expected(str(error)) from None
    if not 0.0 < value <= FASTEST_MM_S:
        kmh = FASTEST_MM_S * 3.6e-3
        raise expected(f"a speed above 0 and of at most {kmh:.0f} km/h")
    return text


Speed = Annotated[
    str,
    AfterValidator(_speed),
    WithJsonSchema({"type": "string", "pattern": units.SPEED_PATTERN}),
]
SpeedMm = Annotated[float, Field(gt=0, le=1e5)]
Probability = Annotated[float, Field(ge=0, le=1)]
Ohm = Annotated[float, Field(gt=0, le=1e9)]
Volt = Annotated[float, Field(gt=0, le=1000)]
Ampere = Annotated[float, Field(gt=0, le=1000)]
Seconds = Annotated[float, Field(ge=0, le=1e7)]
SomeSeconds = Annotated[float, Field(gt=0, le=1e7)]
