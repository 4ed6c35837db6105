"""A reading form that was filled in: the readings that it holds, or what is wrong with it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations, pairwise
from pathlib import Path

from pydantic import ValidationError

from sim.learn.form import FormFile, SettingTable, subject_of
from sim.learn.settings import setting_words
from sim.learn.subject import Subject
from sim.readings.file import readings_data
from sim.readings.model import METER_WORDS, Positions, Probe, Reading, meter_outcomes
from sim.scenario.explain import problems_of
from sim.scenario.load import frozen
from sim.scenario.problems import Problem, ReadingsError, shown

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
