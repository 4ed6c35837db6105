"""Diagnoses and information against examples of the literature."""

from __future__ import annotations

from collections.abc import Collection
from itertools import combinations
from math import log2

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats as reference

from sim.bench.diagnosis.engine import minimal_diagnoses, minimal_hitting_sets, shrunk
from sim.bench.diagnosis.next_reading import entropy, expected_bits


def sets(*groups: str) -> set[frozenset[str]]:
    return {frozenset(group.split()) for group in groups}


def test_hitting_sets_of_the_tree_of_reiter() -> None:
    """R. Reiter, Artificial Intelligence 32 (1987), the example of a hitting set tree.

    From memory; checked here by trying every set.
    """
    conflicts = [{2, 4, 5}, {1, 2, 3}, {1, 3, 5}, {2, 4, 6}, {2, 4}, {2, 3, 5}, {1, 6}]
    every = [frozenset(c) for n in range(7) for c in combinations(range(1, 7), n)]
    hits = [s for s in every if all(s & c for c in conflicts)]
    expected = {s for s in hits if not any(other < s for other in hits)}
    printed = [{1, 2}, {2, 3, 6}, {2, 5, 6}, {1, 3, 4}, {1, 4, 5}, {3, 4, 6}]
    assert expected == {frozenset(s) for s in printed}
    assert set(minimal_hitting_sets(conflicts)) == expected


#: gate: (what it does, in, in, out)
ADDER = {
    "X1": ("xor", "a", "b", "x"),
    "X2": ("xor", "x", "c", "sum"),
    "A1": ("and", "a", "b", "p"),
    "A2": ("and", "x", "c", "q"),
    "O1": ("or", "p", "q", "carry"),
}


class Adder:
    """A full adder; a faulty gate may do anything."""

    def __init__(self, known: dict[str, bool]) -> None:
        self.known = known

    def contradicts(self, sound: Collection[str]) -> bool:
        """By trying every value of every wire that is not known."""
        free = [w for w in ("x", "p", "q") if w not in self.known]
        for bits in range(1 << len(free)):
            wires = self.known | {w: bool(bits >> k & 1) for k, w in enumerate(free)}
            if all(self._right(ADDER[gate], wires) for gate in sound):
                return False
        return True

    @staticmethod
    def _right(gate: tuple[str, str, str, str], wires: dict[str, bool]) -> bool:
        kind, one, other, out = gate
        a, b = wires[one], wires[other]
        return wires[out] == {"xor": a != b, "and": a and b, "or": a or b}[kind]

    def conflict(self, faults: frozenset[str]) -> list[str] | None:
        sound = [gate for gate in ADDER if gate not in faults]
        return shrunk(sound, self.contradicts) if self.contradicts(sound) else None

    def together(self, faults: frozenset[str], fault: str) -> bool:
        return True


def test_diagnoses_of_a_full_adder() -> None:
    """Reiter as above: inputs 1, 0, 1, read 1 and 0 (from memory; 0 and 1 would be right).

    Minimal diagnoses {X1}, {X2, O1} and {X2, A2}; conflicts {X1, X2} and {X1, A2, O1}.
    """
    known = {"a": True, "b": False, "c": True, "sum": True, "carry": False}
    found = minimal_diagnoses(Adder(known), 5)
    assert found.complete
    assert set(found.sets) == sets("X1", "X2 O1", "X2 A2")
    assert set(minimal_hitting_sets(found.sets)) == sets("X1 X2", "X1 A2 O1")
    sound = minimal_diagnoses(Adder(known | {"sum": False, "carry": True}), 5)
    assert set(sound.sets) == {frozenset()}


def test_a_horse_race() -> None:
    """T. M. Cover and J. A. Thomas, Elements of Information Theory, ch. 2 (from memory).

    Eight horses that win with 1/2, 1/4, 1/8, 1/16 and four with 1/64: 2 bits.
    """
    assert entropy([1 / 2, 1 / 4, 1 / 8, 1 / 16, *[1 / 64] * 4]) == pytest.approx(2.0)


@pytest.mark.parametrize("each_side", range(1, 7))
def test_the_first_weighing_of_twelve_balls(each_side: int) -> None:
    """D. J. C. MacKay, Information Theory, Inference and Learning Algorithms, ch. 4.

    One of twelve is lighter or heavier: 24 possibilities.  Four against four tells most,
    log2 3; six against six one bit (from memory; others by scipy's entropy).
    """
    said = []
    for ball in range(12):
        for heavier in (True, False):
            if ball >= 2 * each_side:
                said.append("level")
            else:
                said.append("left" if (ball < each_side) == heavier else "right")
    bits = expected_bits([1.0] * 24, said)
    shares = [said.count(way) / 24 for way in ("left", "right", "level")]
    assert bits == pytest.approx(float(reference.entropy(shares, base=2)), abs=1e-12)
    assert bits <= log2(3) + 1e-12
    if each_side in (4, 6):
        assert bits == pytest.approx(log2(3) if each_side == 4 else 1.0)


@given(st.lists(st.floats(0.0, 1e300), min_size=1, max_size=12).filter(any))
def test_entropy_against_scipy(weights: list[float]) -> None:
    """scipy.stats.entropy, base 2."""
    other = float(reference.entropy(weights, base=2))
    assert entropy(weights) == pytest.approx(other, abs=1e-8)
