"""The kinds of value that fields of a scenario hold, and texts with units.

Texts with units, as people write them on a drawing, turned into numbers.

Exact by definition: 1 in = 25.4 mm, 1 ft = 12 in, 1 mile = 1.609344 km
(international yard and pound agreement, 1959).  Every function raises
``ValueError`` with what it expected.

The kinds of value that fields of a scenario hold, each with its limits.

A value that is refused says what was expected; :mod:`sim.scenario.refusals` turns
that into a :class:`~sim.scenario.problems.Problem`.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
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

LENGTH_FORMS = "a length in mm, or text such as '400 mm', '3.2 cm', '2 m', '12 in', '1.5 ft'"
SPEED_FORMS = "a speed such as '25 mph' or '40 km/h' (scale speeds), or '70 mm/s'"
WIRE_FORMS = (
    "a wire size such as 'AWG 24' (0 to 40), '0.5 mm2' (0.01 to 100), 'AWG 16 stranded' "
    "or '1.5 mm2 solid'"
)

_NUMBER = r"[+-]?(?:\d{1,12}(?:\.\d{0,12})?|\.\d{1,12})"
LENGTH_PATTERN = rf"^\s*({_NUMBER})\s*(mm|cm|m|in|inch|inches|ft|feet|\"|')\s*$"
SPEED_PATTERN = rf"^\s*({_NUMBER})\s*(mph|km/h|mm/s)\s*$"
WIRE_PATTERN = rf"^\s*(?:AWG\s*(\d{{1,2}})|({_NUMBER})\s*mm(?:2|²))(?:\s+(solid|stranded))?\s*$"

_MM = {
    "mm": 1.0,
    "cm": 10.0,
    "m": 1000.0,
    "in": 25.4,
    "inch": 25.4,
    "inches": 25.4,
    '"': 25.4,
    "ft": 304.8,
    "feet": 304.8,
    "'": 304.8,
}
_KM_H = {"km/h": 1.0, "mph": 1.609344}


def length_in_mm(text: str) -> float:
    """Length of ``text`` in mm, to a millionth of a mm."""
    match = re.match(LENGTH_PATTERN, text, re.ASCII)
    if match is None:
        raise ValueError(LENGTH_FORMS)
    return round(float(match[1]) * _MM[match[2]], 6)


def speed_in_mm_s(text: str, scale_ratio: float) -> float:
    """Speed of the model in mm/s; mph and km/h are speeds of the real thing.

    ``v_mm_s = v_km_h / 3.6 * 1000 / scale_ratio``.
    """
    match = re.match(SPEED_PATTERN, text, re.ASCII)
    if match is None:
        raise ValueError(SPEED_FORMS)
    number = float(match[1])
    if match[2] == "mm/s":
        return number
    return number * _KM_H[match[2]] / 3.6 * 1000.0 / scale_ratio


def wire_size(text: str) -> tuple[str, float]:
    """What a wire is and its size: gauge number, or area in mm².

    ``"awg"`` is solid and ``"mm2"`` stranded, as such wire is usually sold;
    ``"awg stranded"`` and ``"mm2 solid"`` where the text says so.
    """
    match = re.match(WIRE_PATTERN, text, re.ASCII)
    if match is None:
        raise ValueError(WIRE_FORMS)
    if match[1] is not None:
        number = int(match[1])
        if number > 40:
            raise ValueError(WIRE_FORMS)
        return "awg stranded" if match[3] == "stranded" else "awg", float(number)
    area = float(match[2])
    if not 0.01 <= area <= 100.0:
        raise ValueError(WIRE_FORMS)
    return "mm2 solid" if match[3] == "solid" else "mm2", area


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
            return length_in_mm(value)
        except ValueError as error:
            raise expected(str(error)) from None
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        raise expected(LENGTH_FORMS)
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
                {"type": "string", "pattern": LENGTH_PATTERN},
            ]
        }
    )


#: The longest name, in characters.
LONGEST_NAME = 80


def shortened(text: str) -> str:
    """``text`` as a name: what is too long gives way in the middle."""
    if len(text) <= LONGEST_NAME:
        return text
    half = LONGEST_NAME // 2 - 2
    return f"{text[:half].rstrip()} … {text[-half:].lstrip()}"


def free_name(wanted: str, taken: Iterable[str]) -> str:
    """``wanted``, or the first of ``wanted 2``, ``wanted 3``, … that is not taken."""
    known = set(taken)
    name, number = shortened(wanted), 1
    while name in known:
        number += 1
        name = shortened(f"{wanted} {number}")
    return name


def is_name(text: str) -> bool:
    """True when ``text`` can be a name: printable, no slash, no glob characters."""
    clean = text.isprintable() and text == text.strip()
    return clean and 1 <= len(text) <= LONGEST_NAME and not set(text) & set("/*?[]")


def _name(text: str) -> str:
    if not is_name(text):
        raise expected(NAME_FORMS)
    return text


Name = Annotated[
    str,
    AfterValidator(_name),
    WithJsonSchema(
        {"type": "string", "minLength": 1, "maxLength": LONGEST_NAME, "pattern": _NAME_PATTERN}
    ),
]
#: Path of a file that the scenario names, from its own folder.
FileName = Annotated[str, Field(min_length=1, max_length=300)]
#: A name, or the path of a file: where it is in a show, a path has a slash.
NameOrFile = Annotated[str, Field(min_length=1, max_length=300)]
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
    WithJsonSchema({"type": "string", "pattern": LENGTH_PATTERN}),
]
Wire = Annotated[
    str, AfterValidator(_checked(wire_size)),
    WithJsonSchema({"type": "string", "pattern": WIRE_PATTERN}),
]  # fmt: skip


def _speed(text: str) -> str:
    try:
        value = speed_in_mm_s(text, 1.0)
    except ValueError as error:
        raise expected(str(error)) from None
    if not 0.0 < value <= FASTEST_MM_S:
        kmh = FASTEST_MM_S * 3.6e-3
        raise expected(f"a speed above 0 and of at most {kmh:.0f} km/h")
    return text


Speed = Annotated[
    str,
    AfterValidator(_speed),
    WithJsonSchema({"type": "string", "pattern": SPEED_PATTERN}),
]
SpeedMm = Annotated[float, Field(gt=0, le=1e5)]
Probability = Annotated[float, Field(ge=0, le=1)]
Ohm = Annotated[float, Field(gt=0, le=1e9)]
Volt = Annotated[float, Field(gt=0, le=1000)]
Ampere = Annotated[float, Field(gt=0, le=1000)]
Seconds = Annotated[float, Field(ge=0, le=1e7)]
SomeSeconds = Annotated[float, Field(gt=0, le=1e7)]
