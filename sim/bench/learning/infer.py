"""The simplest wiring that reads as was read, and the relations that it must show.

What readings say of each setting: which places are joined, which are apart.

Joined is passed on: what is joined to the same place is joined to each other, and what
is apart from one place of a net is apart from all of it.

The simplest wiring that reads as was read: sections, and contacts with conditions.

Places that are joined in every setting are one section (a bond inside it cannot be
told from metal).  Between sections, contacts are chosen whose conditions speak of as
few levers as possible, first those that explain most settings, until every net of
every setting is joined; then what is superfluous is taken away again.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations, product

from sim.bench.readings.model import Positions, Reading
from sim.power.wiring import Forest


class Relation:
    """Nets of places in one setting, as far as they are known."""

    def __init__(self, places: int) -> None:
        self._forest = Forest(places)
        self._apart: dict[int, set[int]] = {}

    def net(self, place: int) -> int:
        """The lowest place of the net that ``place`` is known to be in."""
        return self._forest.find(place)

    def join(self, a: int, b: int) -> bool:
        """Take two places as joined; False, and nothing done, where they are apart."""
        a, b = self.net(a), self.net(b)
        if a == b:
            return True
        if b in self._apart.get(a, ()):
            return False
        self._forest.join(a, b)
        low, high = (a, b) if self.net(a) == a else (b, a)
        for other in self._apart.pop(high, ()):
            self._apart[other].discard(high)
            self._apart[other].add(low)
            self._apart.setdefault(low, set()).add(other)
        return True

    def part(self, a: int, b: int) -> bool:
        """Take two places as apart; False, and nothing done, where they are joined."""
        a, b = self.net(a), self.net(b)
        if a == b:
            return False
        self._apart.setdefault(a, set()).add(b)
        self._apart.setdefault(b, set()).add(a)
        return True

    def known(self, a: int, b: int) -> bool | None:
        """Whether two places are joined; None where nobody knows."""
        a, b = self.net(a), self.net(b)
        if a == b:
            return True
        return False if b in self._apart.get(a, ()) else None

    def copy(self) -> Relation:
        """The same, to be changed."""
        made = Relation(0)
        made._forest = Forest(0)
        made._forest.parent = list(self._forest.parent)
        made._apart = {a: set(others) for a, others in self._apart.items()}
        return made


def relations_of(
    readings: Iterable[Reading], settings: Sequence[tuple[int, ...]], places: int
) -> list[Relation]:
    """The relation of each setting. Readings must not contradict one another."""
    found = {positions: Relation(places) for positions in settings}
    some = list(readings)
    for r in some:
        if "open" not in r.allows:
            found[r.probe.positions].join(r.probe.a, r.probe.b)
    for r in some:
        if r.allows == {"open"}:
            found[r.probe.positions].part(r.probe.a, r.probe.b)
    return [found[positions] for positions in settings]


def resting_alone(readings: Sequence[Reading], places: int) -> list[int]:
    """Numbers of readings that no other readings of the same setting confirm."""
    groups: dict[tuple[int, ...], list[Reading]] = {}
    for r in readings:
        groups.setdefault(r.probe.positions, []).append(r)
    found: list[int] = []
    for positions, group in groups.items():
        for r in group:
            others = [o for o in group if o is not r]
            without = relations_of(others, [positions], places)[0]
            if without.known(r.probe.a, r.probe.b) is None:
                found.append(r.number)
    return sorted(found)


Clause = tuple[tuple[int, int], ...]  #: (lever, position) that must all hold
#: Levers that one condition speaks of at most, before settings are simply listed.
LEVERS_AT_MOST = 3


@dataclass(frozen=True, slots=True)
class Join:
    """A connection between two sections, closed while every part of ``clause`` holds."""

    a: int
    b: int
    clause: Clause


@dataclass(frozen=True, slots=True)
class Learned:
    """A wiring: places by section, and what joins sections.

    ``section_of`` is by place; sections are numbered in order of their first place.
    """

    section_of: tuple[int, ...]
    joins: tuple[Join, ...]

    @property
    def sections(self) -> int:
        """How many sections there are."""
        return len(set(self.section_of))

    @property
    def cost(self) -> int:
        """How far from simple it is: joints within sections, contacts, and what these hang on.

        What is apart costs nothing, so that nothing is taken as joined without a reading.
        """
        joints = len(self.section_of) - self.sections
        return joints + sum(1 + len(j.clause) for j in self.joins)

    def nets(self, positions: Positions) -> tuple[int, ...]:
        """By place: the lowest place that it is joined to in a setting."""
        forest = Forest(self.sections)
        for j in self.joins:
            if holds(j.clause, positions):
                forest.join(j.a, j.b)
        first: dict[int, int] = {}
        return tuple(
            first.setdefault(forest.find(s), place) for place, s in enumerate(self.section_of)
        )


def holds(clause: Clause, positions: Positions) -> bool:
    """Whether a condition holds in a setting."""
    return all(positions[lever] == p for lever, p in clause)


def infer(relations: Sequence[Relation], settings: Sequence[Positions], places: int) -> Learned:
    """The simplest wiring found that agrees with everything known."""
    section_of = _sections(relations, places)
    return _Chooser(relations, settings, section_of).learned()


def _sections(relations: Sequence[Relation], places: int) -> tuple[int, ...]:
    """Merge places that are joined wherever that is known, and known somewhere."""
    free = [r.copy() for r in relations]
    forest = Forest(places)
    for a, b in combinations(range(places), 2):
        said = [r.known(a, b) for r in free]
        if False in said or True not in said:
            continue
        trial = [r.copy() for r in free]
        if all(r.join(a, b) for r in trial):
            free = trial
            forest.join(a, b)
    roots = forest.roots()
    order = {root: k for k, root in enumerate(dict.fromkeys(roots))}
    return tuple(order[root] for root in roots)


class _Chooser:
    """Chooses contacts between sections, simple conditions first."""

    def __init__(
        self,
        relations: Sequence[Relation],
        settings: Sequence[Positions],
        section_of: tuple[int, ...],
    ) -> None:
        self._settings, self._section_of = settings, section_of
        self._count = len(set(section_of))
        first = [section_of.index(s) for s in range(self._count)]
        self._wanted: list[Relation] = []
        for relation in relations:
            own = relation.copy()
            for place, section in enumerate(section_of):
                own.join(first[section], place)
            self._wanted.append(own)
        self._first = first
        pairs = list(combinations(range(self._count), 2))
        self._known = {
            (a, b): [w.known(first[a], first[b]) for w in self._wanted] for a, b in pairs
        }
        self._clauses = list(_clauses(settings))

    def learned(self) -> Learned:
        """The wiring."""
        chosen: list[Join] = []
        state = [Relation(self._count) for _ in self._settings]
        for (a, b), said in self._known.items():
            for own, value in zip(state, said, strict=True):
                if value is False:
                    own.part(a, b)
        left = sorted({len(clause) for clause, _ in self._clauses})
        for size in left:
            options = [
                (a, b, clause, where)
                for clause, where in self._clauses
                if len(clause) == size
                for (a, b), said in self._known.items()
                if all(said[k] is not False for k in where) and any(said[k] for k in where)
            ]
            self._cover(options, state, chosen)
        return Learned(self._section_of, tuple(self._needed(chosen)))

    def _cover(
        self,
        options: list[tuple[int, int, Clause, list[int]]],
        state: list[Relation],
        chosen: list[Join],
    ) -> None:
        """Take options as long as one joins something that ought to be joined."""
        while True:
            best: tuple[int, tuple[int, int, Clause, list[int]]] | None = None
            for option in options:
                a, b, _, where = option
                gain = sum(
                    state[k].known(a, b) is None and self._known[a, b][k] is True for k in where
                )
                if gain and (best is None or gain > best[0]):
                    best = gain, option
            if best is None:
                return
            a, b, clause, where = best[1]
            options.remove(best[1])
            trial = {k: state[k].copy() for k in where}
            if all(own.join(a, b) for own in trial.values()):
                for k, own in trial.items():
                    state[k] = own
                chosen.append(Join(a, b, clause))

    def _needed(self, chosen: list[Join]) -> list[Join]:
        """``chosen`` without what is superfluous, looked for from the last on."""
        kept = list(chosen)
        for join in reversed(chosen):
            fewer = [j for j in kept if j is not join]
            if self._enough(fewer):
                kept = fewer
        return kept

    def _enough(self, joins: list[Join]) -> bool:
        model = Learned(self._section_of, tuple(joins))
        for k, positions in enumerate(self._settings):
            nets = model.nets(positions)
            for (a, b), said in self._known.items():
                if said[k] and nets[self._first[a]] != nets[self._first[b]]:
                    return False
        return True


def _clauses(settings: Sequence[Positions]) -> Iterator[tuple[Clause, list[int]]]:
    """Conditions and the settings in which they hold, simple ones first.

    Levers that stand alike in all settings (a gang) are spoken of by their first.
    """
    levers = _independent(settings)
    seen: set[tuple[int, ...]] = set()
    sizes = list(range(1, min(LEVERS_AT_MOST, len(levers)) + 1))
    if len(levers) > LEVERS_AT_MOST:
        sizes.append(len(levers))
    for size in sizes:
        for some in combinations(levers, size):
            ways = [sorted({s[x] for s in settings}) for x in some]
            for values in product(*ways):
                clause = tuple(zip(some, values, strict=True))
                where = [k for k, s in enumerate(settings) if holds(clause, s)]
                key = tuple(where)
                if where and key not in seen:
                    seen.add(key)
                    yield clause, where


def _independent(settings: Sequence[Positions]) -> list[int]:
    """Levers that move at all, without those that always stand as an earlier one does."""
    found: list[int] = []
    columns: set[tuple[int, ...]] = set()
    for lever in range(len(settings[0]) if settings else 0):
        column = tuple(s[lever] for s in settings)
        if len(set(column)) > 1 and column not in columns:
            columns.add(column)
            found.append(lever)
    return found


def elsewhere(learned: Learned, settings: Sequence[Positions]) -> dict[Join, list[Join]]:
    """For each contact, where else it could be without any reading telling so."""
    chart = [learned.nets(s) for s in settings]
    found: dict[Join, list[Join]] = {}
    for join in learned.joins:
        rest = [j for j in learned.joins if j is not join]
        for a, b in combinations(range(learned.sections), 2):
            other = Join(a, b, join.clause)
            if (a, b) == (join.a, join.b):
                continue
            moved = Learned(learned.section_of, (*rest, other))
            if all(moved.nets(s) == c for s, c in zip(settings, chart, strict=True)):
                found.setdefault(join, []).append(other)
    return found
