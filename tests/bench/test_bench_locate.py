"""Tracing 1,000 random single faults by suggested readings, and how many it takes.

Printed beside each other: the median number of readings, the bound log2 of the number
of faults that can be told apart at all (definition of information), and on turnouts
the mean of the best possible choice, found by going through every order of readings.
All faults count as equally likely here, so that the bound is one.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from math import log2
from statistics import mean, median

import pytest

from sim.bench.diagnosis.locate import Findings, Locator
from sim.bench.diagnosis.model import faults_of, layout_of
from sim.bench.diagnosis.next_reading import asks
from sim.bench.diagnosis.states import Columns, States
from sim.bench.readings.model import Reading
from sim.faults.possible import Fault
from sim.layout.model import Layout
from sim.pieces.families import FAMILIES
from sim.pieces.model import Piece
from sim.pieces.parameters import PieceError
from tests.diagnose.reader import says
from tests.pieces.cases import crossover, scissors, turnout

FAULTS = 1000


def pieces() -> dict[str, Piece]:
    """Turnouts, crossovers and scissors in every family."""
    found: dict[str, Piece] = {}
    for family in FAMILIES:
        found[f"turnout, {family}"] = turnout(family=family)
        found[f"crossover, {family}"] = crossover(family=family, gangs="single")
        for gap in (False, True):
            words = "with" if gap else "without"
            try:
                found[f"scissors, {family}, {words} centre gap"] = scissors(
                    family=family, centre_gap=gap, gangs="per diagonal"
                )
            except PieceError:
                continue
    return found


class Tree:
    """Walks by suggested readings; what has been asked before is remembered."""

    def __init__(self, piece: Piece) -> None:
        self.layout = layout_of(piece)
        self.faults = tuple(replace(f, odds=1e-6) for f in faults_of(self.layout))
        self.locator = Locator(self.layout, self.faults)
        self._known: dict[tuple[str, ...], Findings] = {}

    def walk(self, *faults: Fault) -> tuple[int, Findings]:
        """How many readings, and what is found in the end."""
        taken: list[Reading] = []
        while True:
            key = tuple(r.said for r in taken)
            found = self._known.get(key)
            if found is None:
                found = self._known[key] = self.locator.find(taken)
            suggestion = found.easy or found.opened
            if suggestion is None:
                return len(taken), found
            probe = suggestion.ask.probe
            said = says(self.layout, faults, probe)
            taken.append(Reading(len(taken) + 1, probe, said, frozenset((said,))))


def columns_of(layout: Layout, faults: tuple[Fault, ...]) -> tuple[list[tuple[int, ...]], int]:
    """Every reading's outcomes by group of faults told apart, and how many groups.

    No fault at all is one of the candidates.
    """
    sets = [(), *((k,) for k in range(len(faults)))]
    columns = Columns(faults, sets)
    locator = Locator(layout, faults)
    may = locator.reachable(columns, [])
    seen: dict[tuple[int, ...], None] = {}
    for _, answers in asks(States(layout, faults), columns, may):
        bits = list(answers.values())
        row = tuple(next(k for k, b in enumerate(bits) if b >> c & 1) for c in range(len(sets)))
        seen[row] = None
    groups = list(dict.fromkeys(zip(*seen, strict=True)))
    return list(dict.fromkeys(zip(*groups, strict=True))), len(groups)


def best_mean(rows: list[tuple[int, ...]], groups: int, sizes: list[int]) -> float:
    """Mean number of readings of the best order of all, each group weighted by its size."""

    @cache
    def cost(alive: int) -> float:
        members = [g for g in range(groups) if alive >> g & 1]
        if len(members) == 1:
            return 0.0
        total = sum(sizes[g] for g in members)
        best = float("inf")
        tried: set[tuple[int, ...]] = set()
        for row in rows:
            parts: dict[int, int] = {}
            for g in members:
                parts[row[g]] = parts.get(row[g], 0) | 1 << g
            split = tuple(sorted(parts.values()))
            if len(parts) > 1 and split not in tried:
                tried.add(split)
                best = min(best, total + sum(cost(part) for part in parts.values()))
        return best

    return cost((1 << groups) - 1) / sum(sizes)


@pytest.mark.bench
def test_a_thousand_single_faults_are_named(record_property: Callable[..., None]) -> None:
    rng = random.Random(1)
    trees = {name: Tree(piece) for name, piece in pieces().items()}
    chosen = [
        (name, rng.choice(tree.faults))
        for name, tree in rng.choices(list(trees.items()), k=FAULTS)
    ]
    counts: dict[str, list[int]] = {}
    for name, fault in chosen:
        count, found = trees[name].walk(fault)
        assert found.groups == 1, (name, fault)
        assert (fault,) in [e.faults for e in found.explanations], (name, fault)
        counts.setdefault(name, []).append(count)
    print()
    worst = 0.0
    for name in sorted(counts):
        _, groups = columns_of(trees[name].layout, trees[name].faults)
        bound, middle = log2(groups), median(counts[name])
        worst = max(worst, middle / bound)
        print(f"{name}: median {middle:g} readings, bound {bound:.2f}, {groups} groups")
    every = [c for some in counts.values() for c in some]
    print(f"all: median {median(every):g}, worst median over bound {worst:.2f}")
    record_property("median", median(every))
    # One reading passes few of the strips of a piece, so the bound cannot be reached where
    # most faults are open strips or bridged gaps; pinned: 2.5 times the bound at worst (2.3
    # before a "joined" without ohms was an answer of its own).
    assert worst <= 2.5


@pytest.mark.bench
@pytest.mark.parametrize("family", FAMILIES)
def test_suggestions_on_turnouts_are_near_the_best_of_all(family: str) -> None:
    tree = Tree(turnout(family=family))
    rows, groups = columns_of(tree.layout, tree.faults)
    best = best_mean(rows, groups, [1] * groups)
    asked: dict[tuple[tuple[str, ...], ...], list[int]] = {}
    for truth in [(), *((fault,) for fault in tree.faults)]:
        count, found = tree.walk(*truth)
        key = tuple(sorted(tuple(f.id for f in e.faults) for e in found.simplest))
        asked.setdefault(key, []).append(count)
    own = mean(some[0] for some in asked.values())
    print(f"\n{family}: own {own:.2f}, best {best:.2f}, bound {log2(groups):.2f}")
    assert best - 1e-9 <= own <= 1.1 * best
