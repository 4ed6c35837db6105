"""Causes are facts: closed lists of kinds, each made once, and ids that a twin confirms."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sim.layout.model import PLASTIC
from sim.pages.phrases import DERAILED, REASONS, cause_lines, reason_line
from sim.records.causes import Cause, CauseKind, DerailReason, Reason, ReasonKind
from sim.records.model import Record, Stall, Trip
from sim.run.run import LiveRun, run
from tests.circuit.test_circuit_tired import tired
from tests.faults.test_faults_run import ROUND, faulty
from tests.run import slow
from tests.run.lots import plans
from tests.run.plans import Plan, drive, set_up
from tests.run.test_motion_bridge import live_frog
from tests.run.test_motion_causes import crossover, turnout, two_live_frogs
from tests.run.test_motion_direct import loop
from tests.run.test_motion_levers import TIP_MET, fork, throw, trailing
from tests.run.test_motion_lots import FEW
from tests.run.test_motion_stands import torn_between_two_throttles
from tests.twin import LayoutTwin

RUN = drive({"do": "circulate", "laps": 99})


def straights(**gap: object) -> Plan:
    return Plan(20.0).supply().straight("a", 500.0, "cab").straight("b", 900.0)


def a_stuck_contact() -> Record:
    plan = turnout("insulated frog, power routing", opens={"through": 1.0})
    return plan.train(orders=RUN, coasting_mm=40.0).record()


def a_bad_contact() -> Record:
    plan = turnout("insulated frog, power routing", tested=False, contacts_bad=1.0)
    return plan.train(orders=RUN, coasting_mm=40.0).record()


def a_lost_joiner() -> Record:
    on = 'on = "{}"\nwhat = "open"\nat_s = 2'
    ids = ("m/home/joiner-east-north", "far/P/joiner-east-north")
    return run(faulty(ROUND, *map(on.format, ids)), 1)


def a_wrong_leg() -> Record:
    plan = Plan(60.0).supply().straight("a", 500.0, "cab")
    plan.turnout("T", leg="diverging", family="insulated frog, power routing")
    plan.straight("b", 900.0)
    return plan.train(at="b/P", place_mm=400.0, heading="west", orders=RUN).record()


def a_gap() -> Record:
    plan = straights().add("[[gap]]", at="a/P/east", rails="south")
    return plan.train(orders=RUN).record()


def an_open_joiner() -> Record:
    plan = straights().add("[[joiner]]", at="a/P/east", rails="north", open=True)
    return plan.train(orders=RUN).record()


def plastic() -> Record:
    plan = turnout("insulated frog, all live", frog_dead_mm=24.0)
    plan.train(orders=RUN, length_mm=60.0, pickups_mm=(10.0, 25.0), coasting_mm=5.0)
    return plan.record()


def dirt() -> Record:
    sure = 'on = "far/*"\nwhat = "dirt"\nchance = 1\nper = "metre"\nlength_mm = 40'
    return run(faulty(ROUND, sure), 1)


def crossed() -> Record:
    """A+ is joined to B-: between A- and B+ stands twice the voltage."""
    plan = Plan(20.0).supply("A").supply("B").strip("both", [(300.0, "north", "south")])
    plan.piece("w", "both").straight("a", 100.0, "A").straight("b", 100.0, "B")
    plan.line.remove("a")
    plan.line.remove("b")
    for start, to in (("a/P/north", "b/P/south"), ("a/P/south", "w/P/south"),
                      ("b/P/north", "w/P/north")):  # fmt: skip
        plan.add("[[jumper]]", **{"from": start, "to": to})
    return plan.train(at="w/P", place_mm=200.0, orders=RUN).record()


def weak_supply() -> Record:
    """All the volts are lost inside the supply, and some in a rail of much resistance."""
    plan = Plan(20.0, assumptions={"rail_ohm_m": 50.0})
    plan.supply(kind="dc", voltage_v=10.0, internal_ohm=160.0)
    plan.straight("a", 500.0, "cab").straight("b", 900.0)
    return plan.train(at="b/P", place_mm=800.0, orders=RUN).record(circuit=True)


def too_many_trains() -> Record:
    plan = Plan(30.0).supply(kind="dc", trip_a=0.5, trip_s=1.0, retry_s=60.0)
    for n in range(6):
        plan.straight(f"m{n}", 500.0, "cab" if n == 0 else None)
        plan.train(f"t{n}", at=f"m{n}/P", place_mm=300.0,
                   motor={"running_a": 0.15, "starting_a": 0.4})  # fmt: skip
    return plan.record(ring=True, circuit=True)


def a_bridge() -> Record:
    plan = live_frog("through", "diverging")
    plan.train(at="b/P", place_mm=300.0, heading="west", orders=RUN)
    return plan.record()


#: For each kind a run that makes it.
MADE: dict[ReasonKind, Callable[[], Record]] = {
    "stayed open": a_stuck_contact,
    "bad for the run": a_bad_contact,
    "lost contact": a_lost_joiner,
    "is open": a_wrong_leg,
    "is closed": lambda: two_live_frogs("t").record(),
    "gap parts": a_gap,
    "joiner parts": an_open_joiner,
    "floating": a_gap,
    "same pole": lambda: two_live_frogs("t").record(),
    "no return": lambda: crossover((10.0, 40.0), 50.0).record(),
    "wrong voltage": crossed,
    "insulated": plastic,
    "throttles opposed": torn_between_two_throttles,
    "too few volts": lambda: tired(95.0, stop=True),
    "element costs": lambda: tired(95.0, stop=True),
    "rail costs": weak_supply,
    "supply costs": weak_supply,
    "lost supply": a_gap,
    "stands on": a_gap,
    "over plastic": plastic,
    "over plastic or dirt": dirt,
    "overloaded": too_many_trains,
    "trains draw it": too_many_trains,
    "shorted": a_bridge,
    "by the wiring": lambda: loop().train(orders=RUN).record(),
    "joins poles": a_bridge,
    "bridges": a_bridge,
}


def causes_of(record: Record) -> list[Cause]:
    return [x.cause for x in (*record.stalls, *record.trips)]


def test_the_lists_of_kinds_are_closed() -> None:
    """A new kind needs its phrase and a run that makes it, here."""
    assert set(REASONS) == set(get_args(ReasonKind)) == set(MADE)
    assert set(DERAILED) == set(get_args(DerailReason))
    assert set(get_args(CauseKind)) < set(get_args(ReasonKind))


@pytest.mark.parametrize("kind", get_args(ReasonKind))
def test_every_kind_is_made_and_said(kind: ReasonKind) -> None:
    reasons = [r for c in causes_of(MADE[kind]()) for r in c.reasons if r.kind == kind]
    assert reasons
    ids = {i for r in reasons for i in (*r.elements, *r.sections, *dict(r.levers))}
    said = [reason_line(r, lambda i: f"<{i}>") for r in reasons]
    assert all(said)
    # Whatever it names is called by its name.
    assert {i for i in ids if any(f"<{i}>" in line for line in said)} == ids


@pytest.mark.parametrize("kind", get_args(CauseKind))
def test_every_kind_of_cause_is_the_kind_of_one(kind: CauseKind) -> None:
    made = causes_of(MADE[kind]())
    # Of these, what is at fault says more than what comes of it.
    hidden = {"floating": "gap parts", "same pole": "is closed"}
    assert hidden.get(kind, kind) in {c.kind for c in made}
    assert Cause("left", (Reason(kind),)).kind == kind
    assert all(c.kind in get_args(CauseKind) for c in made)


def test_what_failed_decides_and_each_id_is_told_once() -> None:
    cause = Cause(
        "both",
        (
            Reason("lost supply", side="left"),
            Reason("floating"),
            Reason("stayed open", elements=("c",), levers=(("x", "through"),)),
            Reason("gap parts", elements=("g",), sections=("a", "b")),
            Reason("stayed open", elements=("c",), levers=(("x", "through"),), further=True),
        ),
    )
    assert (cause.kind, cause.elements, cause.failed) == ("stayed open", ("c", "g"), ("c",))
    assert cause.levers == (("x", "through"),)
    assert cause_lines(cause)[-1] == "further on, contact c stayed open at its last throw " \
        "(x is through)"  # fmt: skip
    nothing = Cause("left", (Reason("lost supply", side="left"), Reason("no return")))
    assert (nothing.kind, nothing.elements) == ("no return", ())


DERAILS: dict[DerailReason, Callable[[], Record]] = {
    "wrong leg": lambda: trailing("derails").record(),
    "moving points": lambda: throw(fork(), TIP_MET - 0.2).train(orders=RUN).record(),
    "moved under it": lambda: throw(fork(), TIP_MET + 0.1).train(orders=RUN).record(),
}


@pytest.mark.parametrize("kind", DERAILS)
def test_every_way_to_derail(kind: DerailReason) -> None:
    assert kind in {d.cause for d in DERAILS[kind]().derailments}


# -- against the twin ------------------------------------------------------------


def sides(live: LiveRun) -> dict[str, list[list[int]]]:
    """By train: the nodes under each side of each of its units, from the routes' spans."""
    return {
        mover.name: [
            [n for n in nodes if n != PLASTIC] for nodes in slow.under(live, mover).values()
        ]
        for mover in live.trains
        if not mover.gone
    }


def twin(live: LiveRun, off: Iterable[int], joins: Iterable[list[int]]) -> LayoutTwin:
    """The layout as it lies now, with ``joins`` made by wheels."""
    elements = enumerate(live.layout.elements)
    conducts = [
        e
        for e, x in elements
        if (e in live.levers.closed if x.kind == "contact" else x.kind != "gap")
    ]
    turned = [s for s, sign in enumerate(live.throttle_settings.signs) if sign < 0]
    return LayoutTwin(live.layout, conducts, [j for j in joins if j], off, turned)


def check_element(live: LiveRun, it: LayoutTwin, reason: Reason, under: set[int]) -> None:
    """An element is what the cause calls it, and lies where it matters."""
    layout = live.layout
    (e,) = (k for k, x in enumerate(layout.elements) if x.id == reason.elements[0])
    element = layout.elements[e]
    lie = {x.id: x for x in layout.levers}
    now = {x.id: live.levers.position(k) for k, x in enumerate(layout.levers)}
    for lever, position in reason.levers:
        said = lie[lever].positions
        assert position == (said[now[lever]] if now[lever] >= 0 else "moving")
    # While blades move a contact may be made already, or still.
    moving = any(now[lever] < 0 for lever, _ in reason.levers)
    asked = moving or any(
        all(live.levers.position(lever) == position for lever, position in clause)
        for clause in element.when
    )
    nets = it.net[element.a], it.net[element.b]
    dead = {it.net[n] for n in under if not it.poles_of(it.net[n])}
    if reason.kind == "is closed":
        assert asked and nets[0] == nets[1]
        return
    assert nets[0] != nets[1]
    if not reason.further:
        assert dead & set(nets)
    if reason.kind == "stayed open":
        assert element.kind == "contact" and asked and e not in live.levers.closed
    elif reason.kind == "is open":
        assert element.kind == "contact" and e not in live.levers.closed
        assert moving or not asked
    else:
        assert element.kind == "gap"
        assert reason.sections == (layout.nodes[element.a], layout.nodes[element.b])


def check_stall(live: LiveRun, off: list[int], stall: Stall) -> None:
    """Every id in the chain is part of what the twin says of that instant."""
    under = sides(live)
    it = twin(live, off, [j for joins in under.values() for j in joins])
    own = {n for joins in under[stall.train] for n in joins}
    for reason in stall.cause.reasons:
        if reason.elements and reason.kind != "element costs":
            check_element(live, it, reason, own)
        if reason.kind == "stands on":
            nodes = [live.layout.nodes.index(s) for s in reason.sections]
            assert set(nodes) <= own
            poles = it.fed_by(nodes[0])
            assert reason.at in poles if reason.at else not poles
        if reason.kind in ("over plastic", "over plastic or dirt"):
            assert [] in under[stall.train]


def check_trip(
    live: LiveRun, off: list[int], trip: Trip, under: dict[str, list[list[int]]]
) -> None:
    """A train is named when there would be no short without it, and only then."""
    supply = next(s for s, x in enumerate(live.layout.supplies) if x.name == trip.supply)
    guilty = {r.who for r in trip.cause.reasons if r.kind == "joins poles"}

    def shorts(trains: Iterable[str]) -> bool:
        joins = [j for t in trains for j in under[t]]
        return supply in twin(live, off, joins).shorted()

    if trip.cause.kind == "overloaded":
        assert not shorts(under)
        return
    assert shorts(under)
    assert bool(guilty) == (not shorts(()))
    assert not guilty or not shorts(set(under) - guilty)
    alone = {train for train in under if not shorts(set(under) - {train})}
    assert guilty == alone or not alone or not guilty


def look(plan: Plan, circuit: bool, seed: int) -> int:
    """Check every cause of a run at its instant; gives how many there were."""
    case = plan.case(ring=True)
    live = set_up(case, seed, circuit)
    end = round(case.conduct.duration_s * 1e6)
    stalls = trips = 0
    while live.agenda.next_us < end:
        off = [s for s, state in enumerate(live.protection.states) if not state.on]
        live.agenda.do_next()
        for stall in live.recorder.stalls[stalls:]:
            check_stall(live, off, stall)
        for trip in live.recorder.trips[trips:]:
            check_trip(live, off, trip, sides(live))
        stalls, trips = len(live.recorder.stalls), len(live.recorder.trips)
    return stalls + trips


@FEW
@given(plans(), st.booleans(), st.integers(0, 3))
def test_ids_in_causes_are_what_the_twin_says(plan: Plan, circuit: bool, seed: int) -> None:
    look(plan, circuit, seed)
