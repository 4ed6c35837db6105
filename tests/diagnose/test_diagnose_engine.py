"""The engine on the classic example, on hand-made sets, and against brute force.

Source of the example: J. de Kleer and B. C. Williams, Diagnosing multiple faults,
Artificial Intelligence 32 (1987).  The circuit was read there; the conflicts, the
diagnoses and the best probe are from memory and agree with what is worked out here.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from itertools import combinations
from math import log2

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sim.bench.diagnosis.engine import minimal, minimal_diagnoses, minimal_hitting_sets, shrunk
from sim.bench.diagnosis.next_reading import entropy, expected_bits

#: part: (what it does, in, in, out)
PARTS = {
    "M1": ("*", "A", "C", "X"),
    "M2": ("*", "B", "D", "Y"),
    "M3": ("*", "C", "E", "Z"),
    "A1": ("+", "X", "Y", "F"),
    "A2": ("+", "Y", "Z", "G"),
}
KNOWN = {"A": 3, "B": 2, "C": 2, "D": 3, "E": 3, "F": 10, "G": 12}


class Arithmetic:
    """Three multipliers and two adders; a faulty part may do anything."""

    def __init__(self, known: dict[str, int]) -> None:
        self.known = known

    def values(self, sound: Collection[str]) -> dict[str, int] | None:
        """Every value that follows, worked forward and backward; None: contradiction."""
        values = dict(self.known)
        changed = True
        while changed:
            changed = False
            for part in sound:
                for name, value in self._follows(part, dict(values)):
                    if values.get(name, value) != value:
                        return None
                    changed = changed or name not in values
                    values[name] = value
        return values

    def _follows(self, part: str, values: dict[str, int]) -> Iterable[tuple[str, int]]:
        kind, a, b, out = PARTS[part]
        if a in values and b in values:
            yield out, values[a] * values[b] if kind == "*" else values[a] + values[b]
        for one, other in ((a, b), (b, a)):
            if out in values and one in values:
                if kind == "+":
                    yield other, values[out] - values[one]
                elif values[one] and values[out] % values[one] == 0:
                    yield other, values[out] // values[one]

    def contradicts(self, sound: Collection[str]) -> bool:
        return self.values(sound) is None

    def conflict(self, faults: frozenset[str]) -> list[str] | None:
        sound = [p for p in PARTS if p not in faults]
        return shrunk(sound, self.contradicts) if self.contradicts(sound) else None

    def together(self, faults: frozenset[str], fault: str) -> bool:
        return True


def sets(*groups: str) -> set[frozenset[str]]:
    return {frozenset(group.split()) for group in groups}


def test_the_classic_example_has_four_minimal_diagnoses() -> None:
    found = minimal_diagnoses(Arithmetic(KNOWN), 5)
    assert found.complete
    assert set(found.sets) == sets("A1", "M1", "A2 M2", "M2 M3")


def test_its_minimal_conflicts_are_two() -> None:
    found = minimal_diagnoses(Arithmetic(KNOWN), 5)
    assert set(minimal_hitting_sets(found.sets)) == sets("A1 M1 M2", "A1 A2 M1 M3")


def test_its_best_probe_is_x() -> None:
    found = minimal_diagnoses(Arithmetic(KNOWN), 5).sets
    weights = [0.01 ** len(faults) for faults in found]
    gain = {}
    for probe in "XYZ":
        said = []
        for faults in found:
            values = Arithmetic(KNOWN).values([p for p in PARTS if p not in faults])
            assert values is not None
            said.append(values.get(probe))
        gain[probe] = expected_bits(weights, said)
    assert max(gain, key=gain.__getitem__) == "X"
    # A1 and M1 are equally likely and all but certain: X tells nearly one bit.
    assert gain["X"] == pytest.approx(1.0, abs=0.01)
    assert gain["Y"] < 0.1 and gain["Z"] < 0.1


@pytest.mark.parametrize(("x", "left"), [(4, "M1"), (6, "A1")])
def test_reading_x_leaves_one_single_fault(x: int, left: str) -> None:
    found = minimal_diagnoses(Arithmetic({**KNOWN, "X": x}), 1)
    assert set(found.sets) == sets(left)


GROUPS = st.lists(st.sets(st.integers(0, 6), min_size=1, max_size=4), max_size=5)


@given(GROUPS)
def test_hitting_sets_are_those_of_brute_force(groups: list[set[int]]) -> None:
    every = [frozenset(c) for n in range(8) for c in combinations(range(7), n)]
    hits = [s for s in every if all(s & g for g in groups)]
    brute = {s for s in hits if not any(other < s for other in hits)}
    assert set(minimal_hitting_sets(groups)) == brute


class Sets:
    """Faults are numbers; what explains everything hits each of some groups."""

    def __init__(self, groups: list[set[int]]) -> None:
        self.groups = groups

    def conflict(self, faults: frozenset[int]) -> list[int] | None:
        missed = [g for g in self.groups if not faults & g]
        return sorted(missed[0]) if missed else None

    def together(self, faults: frozenset[int], fault: int) -> bool:
        return not ((fault == 6 and 0 in faults) or (fault == 0 and 6 in faults))


@given(GROUPS, st.integers(0, 3))
def test_diagnoses_are_those_of_brute_force(groups: list[set[int]], most: int) -> None:
    every = [frozenset(c) for n in range(most + 1) for c in combinations(range(7), n)]
    fit = [s for s in every if all(s & g for g in groups) and not {0, 6} <= s]
    brute = {s for s in fit if not any(other < s for other in fit)}
    found = minimal_diagnoses(Sets(groups), most)
    assert found.complete and set(found.sets) == brute


def test_a_search_that_is_cut_off_says_so() -> None:
    found = minimal_diagnoses(Sets([{1, 2, 3}, {4, 5, 6}]), 3, most_sets=3)
    assert not found.complete and found.looked_at == 3


@given(st.lists(st.frozensets(st.integers(0, 5)), max_size=8))
def test_minimal_keeps_what_contains_no_other(groups: list[frozenset[int]]) -> None:
    kept = minimal(groups)
    assert set(kept) == {g for g in groups if not any(o < g for o in groups)}


def test_information_of_coins_and_dice() -> None:
    """Definition: n equally likely outcomes are worth log2 n bits."""
    assert entropy([1, 1]) == 1.0
    assert entropy([5.0]) == 0.0
    assert entropy([3] * 6) == pytest.approx(log2(6))
    assert entropy([2, 5e-324]) == 0.0  # the least number there is: its share is none
    assert entropy([1e308, 1e308, 5e-324]) == 1.0
    assert entropy([5e-324, 5e-324]) == 1.0
    assert expected_bits([1, 1, 1, 1], "abab") == pytest.approx(1.0)
    assert expected_bits([1, 1, 1, 1], "abcd") == pytest.approx(2.0)


def test_candidates_that_do_not_say_tell_nothing_about_themselves() -> None:
    assert expected_bits([1, 1], [None, None]) == 0.0
    assert expected_bits([1, 1], ["a", None]) < 1.0
    assert 0.0 < expected_bits([1, 1, 2], ["a", "b", None]) < 1.0
