"""A blank reading form, to print and fill in."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from itertools import combinations

from sim.learn.form import FormFile, subject_of
from sim.learn.settings import levers_of
from sim.learn.subject import Subject
from sim.pieces.family import ROLE_WORDS
from sim.readings.model import Positions, Reading


def blank_form(file: FormFile, readings: Sequence[Reading] = ()) -> str:
    """A form to fill in, with what was read so far in its place."""
    subject = subject_of(file)
    said: dict[tuple[Positions, int, int], str] = {}
    for r in readings:
        said[r.probe.positions, min(r.probe.a, r.probe.b), max(r.probe.a, r.probe.b)] = r.said
    lines = list(_head(file, subject))
    for positions in subject.settings:
        levers = ", ".join(
            f"{_key(n)} = {_text(p)}" for n, p in levers_of(subject, positions).items()
        )
        lines += ["", "[[setting]]", f"levers = {{ {levers} }}" if levers else "levers = {}"]
        lines += ["groups = []", "[setting.read]"]
        for a, b in combinations(range(len(subject.places)), 2):
            word = said.get((positions, a, b), "")
            value = word.removesuffix(" ohm") if word.endswith(" ohm") else _text(word)
            one, other = subject.places[a], subject.places[b]
            pair = f'"{one.number}-{other.number}"'
            lines.append(f"{pair:<7} = {value:<8} # {one.name} - {other.name}")
    return "\n".join(lines) + "\n"


def _head(file: FormFile, subject: Subject) -> Iterator[str]:
    yield "# Readings of a piece on the bench, nothing connected to it, no train on it."
    yield "# Write between the quotes: joined, open, lit, dim or dark; or ohms, without quotes."
    yield "# Leave empty what was not read. Or use groups: groups = [[1, 4], [2], [3, 5]] says"
    yield "# that 1 and 4 are joined, 3 and 5 are joined, and nothing else is joined to them."
    yield "# Where a rail is plastic, list its place in plastic."
    yield "format = 1"
    yield f"kind = {_text(file.kind)}"
    yield f"plastic = [{', '.join(str(n) for n in file.plastic)}]"
    yield ""
    yield "[params]"
    for name, value in file.params.items():
        yield f"{_key(name)} = {_value(value)}"
    for word, tables in (("end", file.end), ("lever", file.lever), ("route", file.route)):
        for table in tables:
            yield ""
            yield f"[[{word}]]"
            for name, value in table.model_dump(by_alias=True).items():
                if value is not None:
                    yield f"{_key(name)} = {_value(value)}"
    for place in subject.places:
        yield ""
        yield "[[place]]"
        yield f"number = {place.number}"
        known = ROLE_WORDS.get(place.name, "") if file.kind == "turnout" else ""
        yield f"at = {_text(place.name)}{known and f'  # {known}'}"


def _value(value: object) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dict):
        inside = ", ".join(f"{_key(str(k))} = {_value(v)}" for k, v in value.items())
        return f"{{ {inside} }}"
    if isinstance(value, (list, tuple)):
        return "[" + ", ".join(_value(v) for v in value) + "]"
    return _text(value) if isinstance(value, str) else repr(value)


def _text(text: str) -> str:
    """A TOML text: JSON's escapes are TOML's."""
    return json.dumps(text, ensure_ascii=False)


def _key(name: str) -> str:
    plain = name.replace("_", "").replace("-", "")
    return name if plain.isascii() and plain.isalnum() else _text(name)
