"""Why it stalled and what would make it live: each kind of dead once, cures by brute force."""

from __future__ import annotations

from itertools import combinations

import pytest

from sim.layout.model import Layout
from sim.pages.phrases import cause_lines
from sim.records.model import Stall
from sim.run.counterfactuals import Remedy, _changes, suspects
from sim.run.run import LiveRun
from tests.run import slow
from tests.run.plans import Plan, dead_ring, drive, set_up

RUN = drive({"do": "circulate", "laps": 99})


def first_stall(plan: Plan, ring: bool = False, seed: int = 1) -> tuple[LiveRun, Stall]:
    """The live at the instant of its first stall, and that stall."""
    live = set_up(plan.case(ring), seed)
    while not live.recorder.stalls:
        assert live.agenda.next_us < 120_000_000, "no stall"
        live.agenda.do_next()
    return live, live.recorder.stalls[0]


def lives_after(live: LiveRun, closed: set[int], bridged: list[list[int]]) -> bool:
    """Whether the first train's motored unit would be live, by the slow twin."""
    layout: Layout = live.layout
    train = live.trains[0]
    sides = {s: n for m in live.trains for s, n in slow.under(live, m).items()}
    metal = [[n for n in nodes if n >= 0] for nodes in sides.values()]
    net = slow.nets(layout, closed, [*(m for m in metal if m), *bridged])
    unit = train.power.unit
    left, right = ([n for n in sides[x] if n >= 0] for x in (unit.left, unit.right))
    if not left or not right:
        return False
    supplies = layout.supplies
    poles = [p for s in supplies for p in (net[s.plus], net[s.minus])]
    now = slow.nets(layout, live.levers.closed, [m for m in metal if m])
    was = [p for s in supplies for p in (now[s.plus], now[s.minus])]
    for i, j in combinations(range(len(poles)), 2):
        if poles[i] == poles[j] and (i // 2 == j // 2 or was[i] != was[j]):
            return False  # a short, or supplies joined that were apart
    on = [True] * len(supplies)
    return slow._as_is(live, net, net[left[0]], net[right[0]], on) is None


def apply(live: LiveRun, changes: tuple[Remedy, ...]) -> bool:
    closed = set(live.levers.closed)
    bridged: list[list[int]] = []
    for change in changes:
        closed |= set(change.closed)
        closed -= set(change.opened)
        bridged += [list(pair) for pair in change.bridged]
    return lives_after(live, closed, bridged)


def check_cures(live: LiveRun, stall: Stall) -> None:
    """The told sets are just the smallest that work, of all that could be changed."""
    train = live.trains[0]
    nodes = [n for side in slow.under(live, train).values() for n in side if n >= 0]
    near = suspects(live.evidence, list(dict.fromkeys(nodes)))
    check_smallest(live, stall, list(_changes(live.evidence, near)))


def every_open_element(live: LiveRun) -> list[Remedy]:
    """Whatever is open anywhere in the layout, joined by a hand."""
    return [
        Remedy(x.id, x.piece, bridged=((x.a, x.b),))
        for e, x in enumerate(live.layout.elements)
        if x.kind == "gap" or (x.kind == "contact" and e not in live.levers.closed)
    ]


def check_smallest(live: LiveRun, stall: Stall, changes: list[Remedy]) -> None:
    """The told sets are just the smallest of ``changes`` that work, in any order."""
    for size in (1, 2):
        works = {
            frozenset(c.id for c in some)
            for some in combinations(changes, size)
            if apply(live, some)
        }
        if works:
            break
    assert {frozenset(ids) for ids in stall.would_restore} == works


def turnout(family: str, duration_s: float = 30.0, **keys: object) -> Plan:
    plan = Plan(duration_s).supply().straight("a", 500.0, "cab")
    plan.turnout("T", family=family, **keys)
    return plan.straight("b", 900.0)


def test_a_contact_that_stayed_open() -> None:
    plan = turnout("insulated frog, power routing", opens={"through": 1.0})
    plan.train(orders=RUN, pickups_mm=(10.0, 50.0, 90.0), coasting_mm=40.0)
    live, stall = first_stall(plan)
    assert stall.kind == "floating"
    assert stall.side == "right"
    assert stall.would_restore == (("T/P/through",),)
    assert stall.charged_to == "T/P"
    assert (
        cause_lines(stall.cause)[1] == "engine lost supply on the right rail, seen from points"
    )
    assert cause_lines(stall.cause)[3:5] == (
        "floating: nothing feeds that rail",
        "contact T/P/through stayed open at its last throw (T/P/lever is through)",
    )
    check_cures(live, stall)


def test_a_lever_that_lies_wrong_leaves_the_other_leg_floating() -> None:
    """From the diverging leg of a power-routing turnout that lies through."""
    plan = Plan(60.0).supply().straight("a", 500.0, "cab")
    plan.turnout("T", leg="diverging", family="insulated frog, power routing")
    plan.straight("b", 900.0)
    plan.train(at="b/P", place_mm=400.0, heading="west", orders=RUN)
    live, stall = first_stall(plan)
    assert stall.time_s == 0.0
    assert stall.kind == "floating"
    # Throw the lever, or put a wire where the contact would be.
    assert stall.would_restore == (("T/P/lever",), ("T/P/diverging",))
    assert any("is open (T/P/lever is through)" in line for line in cause_lines(stall.cause))
    check_cures(live, stall)


def test_a_gap() -> None:
    plan = Plan(20.0).supply().straight("a", 500.0, "cab").straight("b", 900.0)
    plan.add("[[gap]]", at="a/P/east", rails="south").train(orders=RUN)
    live, stall = first_stall(plan)
    assert (stall.kind, stall.side) == ("floating", "right")
    assert stall.would_restore == (("a/P/gap-east-south",),)
    assert (
        cause_lines(stall.cause)[-1] == "gap a/P/gap-east-south parts a/P/south from b/P/south"
    )
    assert stall.charged_to is None  # no piece with levers has anything to do with it
    check_cures(live, stall)


def test_a_joiner_that_has_lost_contact() -> None:
    plan = Plan(20.0).supply().straight("a", 500.0, "cab").straight("b", 900.0)
    plan.add("[[joiner]]", at="a/P/east", rails="north", open=True).train(orders=RUN)
    live, stall = first_stall(plan)
    assert (stall.kind, stall.side) == ("floating", "left")
    assert stall.would_restore == (("a/P/joiner-east-north",),)
    assert (
        cause_lines(stall.cause)[-1]
        == "joiner a/P/joiner-east-north parts a/P/north from b/P/north"
    )
    check_cures(live, stall)


def test_the_same_pole_past_a_live_frog() -> None:
    """The unselected leg of a live-frog turnout has the frog's pole on both rails.

    Charged to the turnout, although the train stands on the straight beyond it.
    """
    plan = Plan(60.0).supply().straight("a", 500.0, "cab")
    plan.turnout("T", leg="diverging", family="live frog").straight("b", 900.0)
    plan.train(at="b/P", place_mm=400.0, heading="west", orders=RUN)
    live, stall = first_stall(plan)
    assert (stall.time_s, stall.kind) == (0.0, "same pole")
    assert stall.would_restore == (("T/P/lever",),)
    assert stall.charged_to == "T/P"
    assert stall.route == "b/P/west-east"
    assert cause_lines(stall.cause)[-2:] == (
        "same pole: both rails are joined to the same pole",
        "contact T/P/through is closed (T/P/lever is through)",
    )
    check_cures(live, stall)


def crossover(pickups_mm: tuple[float, ...], length_mm: float) -> Plan:
    """A crossing over staggered gaps: 60 mm with one rail of A and one of B."""
    plan = Plan(20.0).supply("A").supply("B")
    plan.strip("stagger", [(200.0, "An", "As"), (60.0, "Bn", "As"), (300.0, "Bn", "Bs")])
    plan.straight("a", 500.0, "A").piece("x", "stagger").straight("b", 500.0, "B")
    return plan.train(orders=RUN, place_mm=250.0, pickups_mm=pickups_mm, length_mm=length_mm)


def test_no_return_between_staggered_gaps_stalls_a_short_engine() -> None:
    """Rules of this project: an engine's pickups must reach past the stretch (here 60 mm)."""
    live, stall = first_stall(crossover((10.0, 40.0), 50.0))
    assert (stall.kind, stall.side) == ("no return", "both")
    # Bridging either gap would make it live, but would join the supplies: no cure.
    assert stall.would_restore == ()
    assert any(
        line.startswith("no return: the two rails belong") for line in cause_lines(stall.cause)
    )
    check_cures(live, stall)


def test_no_return_between_staggered_gaps_does_not_stop_a_long_engine() -> None:
    record = crossover((10.0, 90.0), 100.0).record()
    assert record.stalls == ()
    assert record.dropouts == ()


def test_a_plastic_frog_longer_than_the_span_of_pickups() -> None:
    """Common practice, no source: in N a plastic frog is dead for 15 mm."""
    plan = turnout("insulated frog, all live")
    # One truck, 8 mm between its wheels, 5 mm of run-out.
    plan.train(orders=RUN, length_mm=60.0, pickups_mm=(10.0, 18.0), coasting_mm=5.0)
    live, stall = first_stall(plan)
    assert (stall.kind, stall.side) == ("insulated", "right")
    assert stall.would_restore == ()
    assert stall.charged_to == "T/P"
    assert "every pickup on the right rail is over plastic" in cause_lines(stall.cause)
    check_cures(live, stall)
    # Two trucks reach past it.
    plan = turnout("insulated frog, all live", frog_dead_mm=24.0)
    record = plan.train(orders=RUN, coasting_mm=5.0).record()
    assert record.stalls == ()


def test_two_changes_where_no_single_one_will_do() -> None:
    """Both rails of the dead stretch are cut off: one gap of each has to be bridged."""
    plan = Plan(20.0).supply().straight("a", 500.0, "cab").straight("b", 900.0)
    plan.add("[[gap]]", at="a/P/east").train(orders=RUN)
    live, stall = first_stall(plan)
    assert (stall.kind, stall.side) == ("floating", "both")
    assert stall.would_restore == (("a/P/gap-east-north", "a/P/gap-east-south"),)
    check_cures(live, stall)


def test_wrong_voltage_between_supplies_joined_the_wrong_way() -> None:
    """A+ is joined to B-: between A- and B+ stands twice the voltage."""
    plan = Plan(20.0).supply("A").supply("B")
    plan.strip("both", [(300.0, "north", "south")])
    plan.piece("w", "both")
    plan.straight("a", 100.0, "A").straight("b", 100.0, "B")
    plan.line.remove("a")
    plan.line.remove("b")
    plan.add("[[jumper]]", **{"from": "a/P/north", "to": "b/P/south"})
    plan.add("[[jumper]]", **{"from": "a/P/south", "to": "w/P/south"})
    plan.add("[[jumper]]", **{"from": "b/P/north", "to": "w/P/north"})
    plan.train(at="w/P", place_mm=200.0, orders=RUN)
    _, stall = first_stall(plan)
    assert stall.kind == "wrong voltage"
    assert any(line.startswith("wrong voltage:") for line in cause_lines(stall.cause))


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("family", ["live frog", "insulated frog, power routing"])
def test_cures_are_the_smallest_sets_on_a_scissors_whose_contacts_fail(
    family: str, seed: int
) -> None:
    plan = Plan(120.0).supply("A").supply("B")
    plan.assumptions = {"contact_opens": 0.7, "lever_fails": 0.0}
    for name in ("m", "n"):
        plan.line.append(name)
        plan.add("[[module]]", name=name)
        for track in "AB":
            plan.add("[[module.piece]]", name=track, kind="straight", length_mm=500.0)
            if name == "m":
                plan.feed(f"{name}/{track}/north", f"{name}/{track}/south", track)
        if name == "m":
            plan.line.append("k")
            plan.add("[[module]]", name="k")
            plan.add(
                "[[module.piece]]",
                name="X",
                kind="scissors crossover",
                family=family,
                track_centres_mm=30.0,
                gangs="per diagonal",
            )
    plan.train(at="m/A", orders=RUN)
    live, stall = first_stall(plan, ring=True, seed=seed)
    check_cures(live, stall)
    assert cause_lines(stall.cause)
    assert all(len(line) < 160 for line in cause_lines(stall.cause))


def test_a_dead_rail_is_told_the_same_whichever_way_the_train_comes() -> None:
    east = first_stall(dead_ring(200.0).train(orders=RUN), ring=True)[1]
    west = first_stall(
        dead_ring(200.0).train(at="b/P", place_mm=400.0, heading="west", orders=RUN), ring=True
    )[1]
    assert east.side == west.side == "right"  # left and right follow the route
    assert east.section == west.section == "d/P/dead"
    assert east.would_restore == west.would_restore
    assert set(east.would_restore) == {("d/P/gap Sw dead",), ("d/P/gap dead Se",)}


def test_two_open_joiners_one_after_the_other_are_both_named() -> None:
    """Links in series: no single one cures, both together do (definition of a path)."""
    plan = Plan(5.0).supply().straight("a", 500.0, "cab").straight("b", 500.0)
    plan.straight("c", 500.0).train(at="c/P", orders=RUN)
    for place in ("a/P/east", "b/P/east"):
        plan.add("[[joiner]]", at=place, rails="south", open=True)
    live, stall = first_stall(plan)
    assert stall.section == "c/P/south"
    assert stall.would_restore == (("b/P/joiner-east-south", "a/P/joiner-east-south"),)
    assert cause_lines(stall.cause)[-2:] == (
        "joiner b/P/joiner-east-south parts b/P/south from c/P/south",
        "further on, joiner a/P/joiner-east-south parts a/P/south from b/P/south",
    )
    check_smallest(live, stall, every_open_element(live))


def test_two_contacts_that_stayed_open_one_after_the_other_are_both_named() -> None:
    """As two worn turnouts in one line: the far one is charged only by its cure."""
    plan = Plan(5.0).supply().straight("a", 500.0, "cab")
    plan.turnout("t", family="live frog").turnout("u", family="live frog")
    plan.straight("c", 500.0).train(at="c/P", orders=RUN)
    plan.assumptions["contact_opens"] = 1.0
    live, stall = first_stall(plan)
    assert stall.would_restore == (("u/P/through", "t/P/through"),)
    assert stall.charged_to == "u/P"
    check_smallest(live, stall, every_open_element(live))


def two_live_frogs(*thrown: str) -> Plan:
    """A fed board, then live-frog turnouts ``t`` and ``u`` set through, then the train."""
    plan = Plan(5.0, run={"throw_s": 0.0}).supply().straight("a", 500.0, "cab")
    plan.turnout("t", family="live frog").turnout("u", family="live frog")
    plan.straight("c", 900.0).train(at="c/P", orders=RUN)
    for name in thrown:
        plan.add("[[throw]]", at_s=0.5, lever=f"{name}/P/lever", to="diverging")
    return plan


def test_the_lever_that_lies_wrong_is_named_behind_one_that_lies_right() -> None:
    """Common practice, no source: a live frog hands on what pole its stock rail has."""
    _, stall = first_stall(two_live_frogs("t"))
    assert (stall.kind, stall.section) == ("same pole", "c/P/south")
    assert stall.would_restore == (("t/P/lever",),)
    assert stall.charged_to == "t/P"
    assert "contact t/P/diverging is closed (t/P/lever is diverging)" in cause_lines(
        stall.cause
    )


def test_two_levers_that_lie_wrong_one_after_the_other_have_to_be_thrown_both() -> None:
    _, stall = first_stall(two_live_frogs("t", "u"))
    assert stall.kind == "same pole"
    assert stall.would_restore == (("u/P/lever", "t/P/lever"),)
