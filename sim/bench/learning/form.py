"""The reading form of ``learn``: blank, filled in, and what it holds.

The reading form of ``learn``, as the file has it.

A blank reading form, to print and fill in.

A reading form that was filled in: the readings that it holds, or what is wrong with it.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise
from pathlib import Path
from typing import Any, Literal

from pydantic import Field, ValidationError

from sim.bench.learning.subject import (
    OwnEnd,
    OwnLever,
    OwnRoute,
    Subject,
    levers_of,
    make_subject,
    setting_words,
    subject_of_kind,
    template_of,
)
from sim.bench.readings.file import readings_data
from sim.bench.readings.model import METER_WORDS, Positions, Probe, Reading, meter_outcomes
from sim.pieces.families import ROLE_WORDS
from sim.pieces.parameters import PieceError
from sim.scenario.fields import Model
from sim.scenario.load import frozen
from sim.scenario.problems import Problem, ReadingsError, shown
from sim.scenario.refusals import problems_of

OWN_KIND = "own piece"


class PlaceTable(Model):
    """A place and its number: written for whoever fills in the form."""

    number: int
    at: str


class SettingTable(Model):
    """Readings of one setting."""

    levers: dict[str, str] = Field(default_factory=dict)
    groups: tuple[tuple[int, ...], ...] = Field(
        default=(), description="Places that are joined; places of two groups are apart."
    )
    read: dict[str, str | float] = Field(
        default_factory=dict,
        description="By pair of places, as '1-2': joined, open, lit, dark, dim, or ohms; "
        "empty: not read.",
    )


class FormFile(Model):
    """A reading form."""

    format: Literal[1]
    kind: str
    params: dict[str, Any] = Field(default_factory=dict)
    end: tuple[OwnEnd, ...] = ()
    lever: tuple[OwnLever, ...] = ()
    route: tuple[OwnRoute, ...] = ()
    plastic: tuple[int, ...] = Field(
        default=(), description="Places where the rail is plastic."
    )
    place: tuple[PlaceTable, ...] = ()
    setting: tuple[SettingTable, ...] = ()


def subject_of(file: FormFile) -> Subject:
    """What is learned: a library kind of a given shape, or a piece described here."""
    try:
        if file.kind == OWN_KIND:
            return make_subject(
                OWN_KIND, template_of(file.params, file.end, file.lever, file.route)
            )
        return subject_of_kind(file.kind, file.params)
    except PieceError as error:
        raise ReadingsError(
            Problem(field or "kind", expected, found)
            for field, expected, found in error.problems
        ) from None


def blank_form(file: FormFile, readings: Sequence[Reading] = ()) -> str:
    """A form to fill in, with what was read so far in its place."""
    subject = subject_of(file)
    said: dict[tuple[Positions, int, int], str] = {}
    for r in readings:
        said[r.probe.positions, min(r.probe.a, r.probe.b), max(r.probe.a, r.probe.b)] = r.said
    lines = list(_head(file, subject))
    for positions in subject.settings:
        lines += ["", *_setting(subject, positions), "groups = []"]
    lines += ["", *_PAIR_BY_PAIR]
    for positions in subject.settings:
        lines += ["", *_setting(subject, positions), "[setting.read]"]
        for a, b in combinations(range(len(subject.places)), 2):
            word = said.get((positions, a, b), "")
            value = word.removesuffix(" ohm") if word.endswith(" ohm") else _text(word)
            one, other = subject.places[a], subject.places[b]
            pair = f'"{one.number}-{other.number}"'
            lines.append(f"{pair:<7} = {value:<8} # {one.name} - {other.name}")
    return "\n".join(lines) + "\n"


#: What stands over the second half, which nobody has to fill in.
_PAIR_BY_PAIR = (
    "# Or pair by pair, in the same settings; nothing below has to be filled in. Write",
    "# between the quotes: joined, open, lit, dim or dark; or ohms, without quotes. Leave",
    "# empty what was not read.",
)


def _setting(subject: Subject, positions: Positions) -> list[str]:
    levers = ", ".join(
        f"{_key(n)} = {_text(p)}" for n, p in levers_of(subject, positions).items()
    )
    return ["[[setting]]", f"levers = {{ {levers} }}" if levers else "levers = {}"]


def _head(file: FormFile, subject: Subject) -> Iterator[str]:
    yield "# Readings of a piece on the bench, nothing connected to it, no train on it."
    yield "# In each setting write what is joined: groups = [[1, 4], [2], [3, 5]] says that"
    yield "# 1 and 4 are joined, 3 and 5 are joined, and nothing else is joined to them."
    yield "# Where a rail is plastic, list its place in plastic."
    yield "format = 1"
    yield f"kind = {_text(file.kind)}"
    yield f"plastic = [{', '.join(str(n) for n in file.plastic)}]"
    yield "place = ["
    for place in subject.places:
        known = ROLE_WORDS.get(place.name, "") if file.kind == "turnout" else ""
        row = f"  {{ number = {place.number}, at = {_text(place.name)} }},"
        yield f"{row}{known and f'  # {known}'}"
    yield "]"
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


BENCH = "bench"


@dataclass(frozen=True, slots=True)
class Form:
    """A form that makes sense: what is learned, plastic places from 0, and readings."""

    subject: Subject
    plastic: tuple[int, ...]
    readings: tuple[Reading, ...]


def load_form(path: str | Path) -> tuple[FormFile, Form]:
    """Read a form; raises :class:`ReadingsError` with everything that is wrong."""
    raw = readings_data(path)
    try:
        file = FormFile.model_validate(frozen(raw))
    except ValidationError as error:
        raise ReadingsError(p for _, p in problems_of(error, raw, FormFile)) from None
    return file, form_of(file)


def form_of(file: FormFile) -> Form:
    """What the form means."""
    subject = subject_of(file)
    maker = _Reader(subject)
    maker.places(file)
    for number, table in enumerate(file.setting):
        maker.setting(number, table)
    if maker.problems:
        raise ReadingsError(maker.problems)
    return Form(subject, tuple(n - 1 for n in file.plastic), tuple(maker.readings))


class _Reader:
    def __init__(self, subject: Subject) -> None:
        self.subject, self.layout = subject, subject.layout
        self.problems: list[Problem] = []
        self.readings: list[Reading] = []
        self._levers = {x.name: k for k, x in enumerate(subject.template.levers)}
        self._gangs = {
            g.name: [self._levers[x] for x in g.levers] for g in subject.template.gangs
        }

    def _bad(self, where: str, expected: str, found: object) -> None:
        self.problems.append(Problem(where, expected, shown(found)))

    def places(self, file: FormFile) -> None:
        """The numbers that the form uses are the subject's."""
        known = {p.number: p.name for p in self.subject.places}
        for number, table in enumerate(file.place):
            if known.get(table.number) != table.at:
                self._bad(f"place[{number}]", "the places of a blank form of this piece",
                          f"{table.number} at {table.at}")  # fmt: skip
        for number in file.plastic:
            if number not in known:
                self._bad("plastic", "numbers of places", number)

    def setting(self, number: int, table: SettingTable) -> None:
        """All readings of one setting."""
        at = f"setting[{number}]"
        positions = self._positions(table.levers, f"{at}.levers")
        if positions is None:
            return
        for a, b, said in self._of_groups(table.groups, f"{at}.groups"):
            self._add(a, b, positions, said)
        for pair, value in table.read.items():
            places = self._pair(pair, f"{at}.read") if value != "" else None
            if places is None:
                continue
            allows = meter_outcomes(value)
            if allows is None:
                words = ", ".join(METER_WORDS) + ", ohms of 0 or more, or nothing"
                self._bad(f"{at}.read.{pair}", f"one of {words}", value)
            else:
                said = value if isinstance(value, str) else f"{value:g} ohm"
                self._add(*places, positions, said, allows)

    def _add(
        self, a: int, b: int, positions: Positions, said: str,
        allows: frozenset[str] | None = None,
    ) -> None:  # fmt: skip
        found = allows or meter_outcomes(said) or frozenset()
        probe = Probe("meter", a, b, positions, BENCH)
        names = self.subject.places
        text = f"{names[a].number}-{names[b].number} ({names[a].name}, {names[b].name})"
        words = setting_words(self.subject, positions)
        number = len(self.readings) + 1
        self.readings.append(Reading(number, probe, said, found, f"{text}; {words}: {said}"))

    def _of_groups(
        self, groups: tuple[tuple[int, ...], ...], at: str
    ) -> Iterator[tuple[int, int, str]]:
        seen: set[int] = set()
        for group in groups:
            for number in group:
                if not 1 <= number <= len(self.subject.places) or number in seen:
                    self._bad(at, "each place in one group at most", number)
                    return
                seen.add(number)
        whole = [g for g in groups if g]
        for group in whole:
            for a, b in pairwise(group):
                yield a - 1, b - 1, "joined"
        for one, other in combinations(whole, 2):
            yield one[0] - 1, other[0] - 1, "open"

    def _pair(self, text: str, at: str) -> tuple[int, int] | None:
        a, dash, b = text.partition("-")
        count = len(self.subject.places)
        if dash and a.strip().isdecimal() and b.strip().isdecimal():
            one, other = int(a), int(b)
            if one != other and 1 <= one <= count and 1 <= other <= count:
                return one - 1, other - 1
        self._bad(at, f"two different places from 1 to {count}, as '1-2'", text)
        return None

    def _positions(self, said: dict[str, str], at: str) -> Positions | None:
        levers = self.subject.template.levers
        found = [x.positions.index(x.rest) for x in levers]
        good = True
        for name, position in said.items():
            moved = self._gangs.get(name, [])
            if not moved and name in self._levers:
                moved = [self._levers[name]]
            if not moved:
                known = ", ".join([*self._gangs, *self._levers]) or "none"
                self._bad(at, f"levers or gangs of the piece: {known}", name)
                good = False
            for lever in moved:
                if position not in levers[lever].positions:
                    expected = "one of " + ", ".join(levers[lever].positions)
                    self._bad(f"{at}.{name}", expected, position)
                    good = False
                    break
                found[lever] = levers[lever].positions.index(position)
        positions = tuple(found)
        if good and positions not in self.subject.settings:
            self._bad(at, "a setting that the piece's levers and gangs allow", said)
            good = False
        return positions if good else None
