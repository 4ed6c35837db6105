"""Every solved event of a run balances, and the bands keep what they state."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from sim.circuit.voltage_drop import solve_network
from sim.layout.assemble import assemble
from sim.layout.traffic import Case
from sim.run.agenda import World
from sim.run.run import begin, build, run
from sim.run.solved_supply import BAND_PLACE_V, BAND_UM, BAND_V, SolvedSupply, place_band_um
from sim.scenario.read import read_scenario
from tests.run.plans import MOTOR, Plan, set_up

ROOT = Path(__file__).parents[2]
LOOPS = ROOT / "tests" / "command" / "loops.toml"
CLUB, GANG = (ROOT / "scenarios" / f"{name}.toml" for name in ("club-loops", "loose-gang"))


@pytest.mark.parametrize(
    ("file", "fix", "seed"),
    [
        (LOOPS, None, 2),
        (CLUB, "two jumpers", 1),
        pytest.param(CLUB, None, 3, marks=pytest.mark.slow),
        pytest.param(GANG, "four jumpers", 3, marks=pytest.mark.slow),
    ],
)
def test_currents_and_power_balance_after_every_solved_event(
    file: Path, fix: str | None, seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Kirchhoff's current law at every node and as much power given as taken.

    The plain solver, which checks every node itself, gets the currents that the run
    has drawn, and must find the same supplies' currents and motors' volts.
    """
    seen = []
    settle = SolvedSupply._settle

    def watch(self: SolvedSupply, traced: list[int]) -> None:
        settle(self, traced)
        seen.append(checked(self))

    monkeypatch.setattr(SolvedSupply, "_settle", watch)
    world = World(assemble(read_scenario(file), fix), seed, False)
    build(world)
    begin(world)
    world.env.run(until=150_000_000)
    assert len(seen) > 20
    assert max(seen) > 0.1  # some of them with watts in them


def checked(supply: SolvedSupply) -> float:
    """Watts given; fails when anything does not balance."""
    volts, amps = supply._settled_for(supply._concerned)
    drawn = supply.circuit.drawn(*supply._asked_for(supply._concerned))
    network, on = supply.circuit.network, supply._giving()
    emf = [e if o else 0.0 for e, o in zip(supply._emf, on, strict=True)]
    plain = solve_network(supply._network_now(), supply._shut, emf, on, drawn)
    assert amps == pytest.approx(plain.source_a.tolist(), abs=1e-6)
    given = sum(e * a for e, a in zip(emf, plain.source_a, strict=True))
    heat = sum(b.ohm * a * a for b, a in zip(network.branches, plain.branch_a, strict=False))
    heat += sum(
        s.internal_ohm * a * a
        for s, a in zip(network.layout.supplies, plain.source_a, strict=True)
    )
    taken = sum(a * plain.volts[n] for n, a in drawn.items())
    assert given == pytest.approx(heat + taken, abs=1e-6)
    for unit, v in zip(supply._concerned, volts, strict=True):
        left, right = supply._stations.nodes[2 * unit], supply._stations.nodes[2 * unit + 1]
        # Pickups that join islands are not in the plain network, only their currents.
        if v is not None and len(left) == len(right) == 1:
            a, b = left[0], right[0]
            if plain.island[a] == plain.island[b]:
                assert v == pytest.approx(plain.volts[a] - plain.volts[b], abs=1e-6)
    return float(given)


RAIL_OHM_M = 0.2
RUNNING_A = 0.15


@cache
def long_track() -> Case:
    """18 m of poor rail, fed at its west end, and one engine on it."""
    plan = Plan(170.0, assumptions={"rail_ohm_m": RAIL_OHM_M, "contact_opens": 0.0})
    plan.supply(kind="dc", voltage_v=12.0, internal_ohm=0.5)
    for n in range(6):
        plan.straight(f"m{n}", 3000.0, "cab" if n == 0 else None)
    plan.train(at="m0/P", place_mm=200.0, motor={"running_a": RUNNING_A})
    return plan.case()


def test_bands_against_a_fine_integration() -> None:
    """scipy's own steps against ours, with the stated error.

    Volts may be off by BAND_PLACE_V for the way since the last solution, BAND_V
    before the train is told, and half a cell of rail; speed by their sum over the
    8 V between turning down and full speed.
    """
    case = long_track()
    world = set_up(case, circuit=True)
    horizon_s = 150.0
    world.env.run(until=round(horizon_s * 1e6))
    mover = world.movers[0]
    mover.advance()
    place_mm = mover.s / 1000.0
    assert mover.v > 0.0
    assert place_mm > 10_000.0
    network_ohm = 2 * 0.0158887 + 0.5  # two feeders of 300 mm AWG 22, the supply
    fed_at_mm = 1500.0
    share = world.throttles._share[0]

    def goal(front_mm: float) -> float:
        pickup_m = abs(front_mm - 10.0 - fed_at_mm) / 1000.0
        joiners = max(0, int((front_mm - 10.0) // 3000)) * 0.005
        ohm = network_ohm + 2 * (RAIL_OHM_M * pickup_m + joiners)
        volts = 12.0 * share - RUNNING_A * ohm
        return 100.0 * (volts - 2.0) / 8.0

    def motion(_: float, state: np.ndarray) -> list[float]:
        x, v = state
        return [v, float(np.clip((goal(x) - v) * 20.0, -100.0, 100.0))]

    fine = solve_ivp(motion, (0.0, horizon_s), [200.0, 0.0], max_step=0.1, rtol=1e-8)
    cell_v = RUNNING_A * 2 * RAIL_OHM_M * 0.25
    bound = (BAND_PLACE_V + BAND_V + cell_v) / 8.0 * 100.0 * horizon_s
    error = abs(place_mm - fine.y[0, -1])
    assert error < bound
    assert bound < 0.02 * place_mm  # the bound means something
    # Without any drop the train would be far ahead of that.
    assert run(case, 1, circuit=False).events is not None
    free = 200.0 + 100.0 * horizon_s - 50.0
    assert free - place_mm > 2 * bound


def test_the_band_follows_from_the_current() -> None:
    case = long_track()
    motors = [tuple(v.motor for v in t.vehicles if v.motor) for t in case.trains]
    band_mm = place_band_um(case.layout, motors) / 1000.0
    cost = band_mm / 1000.0 * 2 * (RAIL_OHM_M + 0.017) * RUNNING_A
    assert cost <= BAND_PLACE_V + 1e-9 or band_mm * 1000.0 == BAND_UM[0]
    assert place_band_um(case.layout, [()]) == BAND_UM[1]


def test_fixes_of_the_supply_lessen_the_drop() -> None:
    """Thicker wire, more feeders: each train gets more volts (by their own numbers)."""

    def least(**feeder: object) -> float:
        plan = Plan(30.0).supply(kind="dc", voltage_v=12.0)
        plan.straight("a", 3000.0).straight("b", 3000.0)
        plan.add("[[feeder]]", name="f", supply="cab", plus="a/P/north", minus="a/P/south",
                 length="5 m", **feeder)  # fmt: skip
        world = set_up(plan.train().case(ring=True), circuit=True)
        world.env.run(until=25_000_000)
        reading = world.supply.reading(0)
        assert reading.volts is not None
        return abs(reading.volts)

    assert least(wire="AWG 30") < least(wire="AWG 22") < least(wire="AWG 14")


def test_traced_and_solved_agree_where_resistances_are_nothing() -> None:
    """With next to no ohms anywhere and no current, volts are what tracing takes them for."""
    none = {"rail_ohm_m": 1e-9, "joiner_ohm": 1e-9, "contact_ohm": 1e-9, "bond_ohm": 1e-9,
            "contact_opens": 0.0, "lever_fails": 0.0}  # fmt: skip
    plan = Plan(60.0, assumptions=none)
    plan.add("[[supply]]", name="cab", kind="digital", voltage_v=12.0, internal_ohm=1e-9)
    plan.straight("a", 500.0, "cab").straight("b", 700.0)
    plan.train(motor=MOTOR)
    case = plan.case(ring=True)
    solved, traced = run(case, 1), run(case, 1, circuit=False)
    assert [leg.outcome for leg in solved.legs] == [leg.outcome for leg in traced.legs]
    for one, other in zip(solved.legs, traced.legs, strict=True):
        assert one.end_s == pytest.approx(other.end_s, abs=1e-4)
