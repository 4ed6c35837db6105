"""What the circuit costs, as ratios measured side by side in one process.

Time is processor time of this process, best of several rounds, so that what else
the machine does counts on neither side.
"""

from __future__ import annotations

import random
import time
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from scipy.sparse import csc_array
from scipy.sparse.linalg import splu

from sim.circuit.network import Network, build_network
from sim.circuit.reduction import Reduction
from sim.layout.assemble import assemble
from sim.run.run import run
from tests.checked import read_scenario, scenario_from_text
from tests.run.plans import Plan

CLUB = Path(__file__).parents[2] / "scenarios" / "club-loops.toml"
PORTS = 12  #: six trains
STATES, FACTORISED = 60, 20  #: states in a round, either way

pytestmark = pytest.mark.bench


def best(call: Callable[[], object], rounds: int = 5) -> float:
    """Least processor time of several rounds, s."""
    times = []
    for _ in range(rounds):
        start = time.process_time()
        call()
        times.append(time.process_time() - start)
    return min(times)


def test_the_always_on_circuit_costs_at_most_twice_the_tracing_run() -> None:
    """Demo (a) as built: at most 2 times."""
    case = assemble(read_scenario(CLUB))
    run(case, 1)  # as in a campaign, the layout has been run before, on other luck
    seeds = range(2, 8)
    solved = sum(best(lambda s=seed: run(case, s), 1) for seed in seeds)
    traced = sum(best(lambda s=seed: run(case, s, circuit=False), 1) for seed in seeds)
    print(f"solved {solved:.3f} s, traced {traced:.3f} s: {solved / traced:.2f} times")
    assert solved < 2.0 * traced


@cache
def network(modules: int) -> Network:
    """A ring of modules with a scissors each, on two buses fed at every eighth."""
    plan = Plan()
    for cab in "AB":
        plan.supply(cab)
        plan.add("[[bus]]", name=f"bus {cab}", supply=cab, wire="AWG 14", length="2 m")
    for n in range(modules):
        ends = {"west": ["s/A-west", "s/B-west"], "east": ["A/east", "B/east"]}
        joins = [["s/A-east", "A/west"], ["s/B-east", "B/west"]]
        plan.add("[[module]]", name=f"m{n}", ends=ends, joins=joins)
        plan.add("[[module.piece]]", name="s", kind="scissors crossover", length_mm=310.0,
                 track_centres_mm=33.0, family="insulated frog, power routing",
                 gangs="per diagonal")  # fmt: skip
        for track in "AB":
            plan.add("[[module.piece]]", name=track, kind="straight", length_mm=300.0)
        plan.line.append(f"m{n}")
        if n % 8 == 0:
            for cab in "AB":
                plan.add("[[feeder]]", name=f"f {cab} {n}", bus=f"bus {cab}",
                         plus=f"m{n}/{cab}/north", minus=f"m{n}/{cab}/south")  # fmt: skip
    return build_network(assemble(scenario_from_text(plan.text(ring=True))).layout)


@dataclass
class Sparse:
    """The same by a factorisation of the whole that reuses ordering and pattern.

    The ordering is found once; per state only the values are renewed.
    """

    net: Network

    def __post_init__(self) -> None:
        net, n = self.net, len(self.net.names)
        rows = np.array([x for b in net.branches for x in (b.a, b.b, b.a, b.b)])
        columns = np.array([x for b in net.branches for x in (b.a, b.b, b.b, b.a)])
        self.signs = np.tile([1.0, 1.0, -1.0, -1.0], len(net.branches))
        self.siemens = np.array([1.0 / b.ohm for b in net.branches])
        first = self._plain(rows, columns, n) + csc_array(
            (np.full(n, 1e-9), (range(n), range(n))), shape=(n, n)
        )
        self.order = splu(first.tocsc(), permc_spec="MMD_AT_PLUS_A",
                          options={"SymmetricMode": True}).perm_c  # fmt: skip
        rows, columns = self.order[rows], self.order[columns]
        self.pattern = csc_array((np.ones(len(rows)), (rows, columns)), shape=(n, n))
        self.pattern.sum_duplicates()
        within = np.repeat(np.arange(n), np.diff(self.pattern.indptr))
        keys = within.astype(np.int64) * n + self.pattern.indices
        self.where = np.searchsorted(keys, columns.astype(np.int64) * n + rows)
        self.diagonal = np.searchsorted(keys, np.arange(n, dtype=np.int64) * (n + 1))
        self.size = n

    def _plain(self, rows: np.ndarray, columns: np.ndarray, n: int) -> csc_array:
        values = np.repeat(self.siemens, 4) * self.signs
        return csc_array((values, (rows, columns)), shape=(n, n))

    def solve(self, right: np.ndarray) -> np.ndarray:
        """Renew the values, factorise, solve once for all loads together."""
        data = np.bincount(
            self.where, np.repeat(self.siemens, 4) * self.signs, len(self.pattern.data)
        )
        data[self.diagonal] += 1e-9
        matrix = csc_array((data, self.pattern.indices, self.pattern.indptr),
                           shape=(self.size, self.size))  # fmt: skip
        factor = splu(matrix, permc_spec="NATURAL", diag_pivot_thresh=0.0,
                      options={"SymmetricMode": True})  # fmt: skip
        return np.asarray(factor.solve(right))


def ratio(modules: int) -> float:
    """Sparse over reduced, for random states that follow each other as in a run.

    Every other state moves a contact somewhere, as a lever or a fault does, and
    every other one takes a pickup on to the next place.
    """
    net = network(modules)
    reduction, sparse = Reduction(net), Sparse(net)
    contacts, stations = sorted(net.contacts), net.stations()
    luck = random.Random(1)
    places = [luck.randrange(len(stations)) for _ in range(PORTS)]
    ports = [stations[p] for p in places]
    reduction.ports(ports)
    shut = dict.fromkeys(contacts, True)

    def reduced() -> None:
        for k in range(STATES):
            if k % 2:
                slot = luck.randrange(PORTS)
                places[slot] = (places[slot] + 1) % len(stations)
                ports[slot] = stations[places[slot]]
            else:
                # Anywhere: what was worked out for the state before hardly helps.
                contact = luck.choice(contacts)
                shut[contact] = not shut[contact]
                ohm = net.branches[contact].ohm if shut[contact] else None
                reduction.set({contact: ohm})
            reduction.ports(ports)

    right = np.zeros(sparse.size)
    right[0], right[1] = 1.0, -1.0

    def whole() -> None:
        for contact in luck.choices(contacts, k=FACTORISED):
            sparse.siemens[contact] = 1.0 / net.branches[contact].ohm - sparse.siemens[contact]
            sparse.solve(right)

    return (best(whole, 3) / FACTORISED) / (best(reduced, 3) / STATES)


def test_a_state_is_far_cheaper_than_a_factorisation_and_more_so_with_size() -> None:
    """At 200 modules at least 20 times; the ratio grows."""
    ratios = {modules: ratio(modules) for modules in (25, 50, 100, 200)}
    print({modules: round(r, 1) for modules, r in ratios.items()})
    assert ratios[200] >= 20.0
    assert ratios[25] < ratios[50] < ratios[100] < ratios[200]
