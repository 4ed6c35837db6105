"""Exact odds of layouts against every state one by one, and against runs."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import pytest

from sim.analyses.odds.odds import Odds, exact_odds
from sim.judge.stats import clopper_pearson
from sim.layout.model import Layout
from sim.layout.traffic import Case
from sim.run.run import run
from tests.faults.layouts import FOUR, HEAD, TWO, case, loops, plain
from tests.faults.twin import Twin
from tests.odds.ladders import ladder
from tests.pieces.cases import FAMILIES, SLIP_FAMILIES

#: Doubts of a layout at most: the number of states doubles with each.
DOUBTS = 9


def doubtful(made: Case) -> Case:
    """The case with chances of its own for some parts, all different."""
    layout = made.layout
    contacts = [i for i, e in enumerate(layout.elements) if e.kind == "contact"]
    joiners = [i for i, e in enumerate(layout.elements) if e.kind in ("joiner", "feeder")]
    levers = list(range(len(layout.levers)))[:3]
    picked = [*contacts[: DOUBTS - len(levers) - 2], *joiners[1:3]]
    elements = [
        replace(e, opens=0.05 + 0.03 * picked.index(i) if i in picked else 0.0)
        for i, e in enumerate(layout.elements)
    ]
    moved = [
        replace(x, fails=0.02 + 0.05 * i if i in levers else 0.0)
        for i, x in enumerate(layout.levers)
    ]
    return replace(made, layout=replace(layout, elements=tuple(elements), levers=tuple(moved)))


def every_state(layout: Layout, asked: tuple[int, ...]) -> dict[str, tuple[float, float]]:
    """By route asked for: the odds that it is not live, and that it is shorted."""
    parts = [
        (("contact open", i, 0), e.opens) for i, e in enumerate(layout.elements) if e.opens
    ]
    parts += [
        (("lever does not follow", i, 1), x.fails) for i, x in enumerate(layout.levers)
        if x.fails
    ]  # fmt: skip
    assert 0 < len(parts) <= DOUBTS
    twin = Twin(layout)
    names = [r.id for r in layout.routes if all(asked[p.lever] == p.position for p in r.points)]
    found = dict.fromkeys(names, (0.0, 0.0))
    for failed in product((False, True), repeat=len(parts)):
        share = 1.0
        for (_, q), bad in zip(parts, failed, strict=True):
            share *= q if bad else 1 - q
        twin.nets(asked, [f for (f, _), bad in zip(parts, failed, strict=True) if bad])
        for route, state in zip(layout.routes, twin.routes(), strict=True):
            if route.id in found and state != "live":
                bad_, short = found[route.id]
                found[route.id] = bad_ + share, short + share * (state == "short")
    return found


def compare(made: Case) -> Odds:
    """Exact odds, compared in every setting with :func:`every_state`."""
    odds = exact_odds(made, each=True)
    levers = made.layout.levers
    for setting in odds.settings:
        words = dict(setting.setting)
        asked = tuple(x.positions.index(words[x.id]) for x in levers)
        expected = every_state(made.layout, asked)
        assert [r.route for r in setting.routes] == list(expected)
        for r in setting.routes:
            bad, short = expected[r.route]
            assert r.odds == pytest.approx(bad, abs=1e-9)
            # A route that a short touches is short, whatever else is dead on it.
            assert r.short == pytest.approx(short, abs=1e-9)
    return odds


@pytest.mark.parametrize("family", FAMILIES)
def test_scissors(family: str) -> None:
    compare(doubtful(case(loops(family=family, gangs="single"))))


#: Of the others the inner rails are joined or named otherwise: no jumper fits.
APART = [f for f in FAMILIES if f not in ("powered frog", "insulated frog, all live")]


@pytest.mark.parametrize("family", APART)
def test_scissors_with_two_jumpers(family: str) -> None:
    compare(doubtful(case(loops(family=family, gangs="single") + TWO)))


def test_scissors_with_four_jumpers() -> None:
    odds = compare(doubtful(case(loops(gangs="single") + FOUR)))
    assert odds.short > 0


@pytest.mark.parametrize("family", FAMILIES)
def test_turnout(family: str) -> None:
    compare(doubtful(case(one_piece(f'kind = "turnout"\nfamily = "{family}"', "points"))))


@pytest.mark.parametrize("family", FAMILIES)
def test_crossover(family: str) -> None:
    text = 'kind = "single crossover"\ntrack_centres_mm = 30\nlength_mm = 400\n'
    text += f'family = "{family}"'
    compare(doubtful(case(one_piece(text, "A-west", "B-east"))))


@pytest.mark.parametrize("family", SLIP_FAMILIES)
@pytest.mark.parametrize("ends", [("A-west",), ("A-west", "A-east")])
def test_double_slip(family: str, ends: tuple[str, ...]) -> None:
    text = f'kind = "double slip"\nfamily = "{family}"\nfrog_gaps = FROG\n'
    for gaps in (False, True) if family == "live frog" else (False,):
        compare(doubtful(case(one_piece(text.replace("FROG", str(gaps).lower()), *ends))))


def test_pieces_without_levers() -> None:
    for kind in (
        '"straight"\nlength_mm = 100',
        '"curve"\nradius_mm = 300\nangle_deg = 45',
        '"insulated straight"\nlength_mm = 100',
        '"feeder length"\nlength_mm = 80',
        '"siding end"\nlength_mm = 100',
    ):
        compare(doubtful(case(one_piece(f"kind = {kind}", "west"))))
    compare(doubtful(case(one_piece('kind = "diamond crossing"\nangle_deg = 30', "A-west"))))
    compare(doubtful(case(plain())))


def one_piece(text: str, *fed: str) -> str:
    """A piece with a fed straight, and a supply of its own, at each end in ``fed``."""
    made = HEAD + '[[module]]\nname = "m"\n'
    joins = ", ".join(f'["m/F{n}/east", "m/P/{end}"]' for n, end in enumerate(fed))
    made += f'[[module.piece]]\nname = "P"\n{text}\n'
    for n, _ in enumerate(fed):
        made += f'[[module.piece]]\nname = "F{n}"\nkind = "straight"\nlength_mm = 150\n'
    for n, _ in enumerate(fed):
        made += f'[[supply]]\nname = "cab {n}"\n'
        made += (
            f'[[feeder]]\nname = "drop {n}"\nsupply = "cab {n}"\n'
            f'plus = "m/F{n}/north"\nminus = "m/F{n}/south"\n'
        )
    for pair in joins.split("], "):
        a, b = pair.strip("[] ").split(", ")
        made += f"[[join]]\na = {a}\nb = {b}\n"
    return made


def test_a_ladder_by_multiplication() -> None:
    """Each turnout passes supply with its lever and its contact: (0.99 · 0.9)ⁿ."""
    odds = exact_odds(ladder(10))
    (setting,) = odds.settings
    routes = {r.route: r for r in setting.routes}
    for n in (1, 5, 10):
        found = routes[f"yard/T{n}/points-through"]
        assert found.odds == pytest.approx(1 - 0.891**n)
        assert found.cut_count == 2 * n
        assert found.path_count == 1
        assert len(found.paths[0]) == 2 * n
    first = {w.part: w for w in odds.weights}["yard/T1/through"]
    # The event is that of the last turnout; without the first contact it is certain.
    event = 1 - 0.891**10
    assert odds.odds == pytest.approx(event)
    assert first.birnbaum == pytest.approx(1 - (1 - 0.891**10 / 0.9))
    assert first.fussell_vesely == pytest.approx(0.1 / event)


def test_the_four_jumper_fix_trades_contacts_for_levers() -> None:
    """Without the jumpers two contacts in series, with them two in parallel."""
    text = loops() + "assumptions = { contact_opens = 0.1, lever_fails = 0.01 }\n"
    head, tail = text.split("supply = ", 1)
    text = head + "assumptions = { contact_opens = 0.1, lever_fails = 0.01 }\nsupply = "
    text += tail.replace("assumptions = { contact_opens = 0.1, lever_fails = 0.01 }\n", "")
    two, four = exact_odds(case(text + TWO)), exact_odds(case(text + FOUR))
    assert two.short == 0
    # A short in any setting unless both levers of each track follow or both stay.
    agree = 0.99**2 + 0.01**2
    opened = four.short
    assert 0 < opened < 1 - agree**2
    assert four.weights[0].kind == "lever"
    assert two.weights[0].kind == "contact"


# -- against runs ---------------------------------------------------------------

SHUTTLE = """
[[train]]
name = "shuttle"
at = "yard/lead"
place_mm = 100
speed_mm_s = 100
coasting_mm = 0.5
coasting_from_mm_s = 100
orders = [
    { do = "throw", lever = "yard/T1/lever", to = "diverging" },
    { do = "wait", for_s = 1 },
    { do = "throw", lever = "yard/T1/lever", to = "through" },
    { do = "wait", for_s = 1 },
    { do = "run", to = "yard/T2" },
]
[[train.vehicle]]
name = "engine"
length_mm = 40
pickups_mm = [20]
motor = { speed_mm_s = 200, at_voltage_v = 12 }
"""
#: Runs, and the level of their interval; one test in a hundred thousand fails by luck.
RUNS = 200
LEVEL = 0.99999


def test_runs_in_the_matching_limit() -> None:
    """One pickup a side, next to no coasting, contacts good or open: a stall is a dead rail.

    The train throws the first turnout to and fro and runs over it to the second.
    It stalls when the contact that its frog hangs on stayed open.
    """
    text = HEAD + LIMIT + SHUTTLE
    made = case(text)
    (route,) = [
        r
        for s in exact_odds(made).settings
        for r in s.routes
        if r.route == "yard/T1/points-through" and set(dict(s.setting).values()) == {"through"}
    ]
    assert route.odds == pytest.approx(0.3)
    stalled = 0
    for seed in range(RUNS):
        record = run(made, seed)
        stalled += any(s.route.startswith("yard/T1/") for s in record.stalls)
    interval = clopper_pearson(stalled, RUNS, LEVEL)
    assert interval.low <= route.odds <= interval.high, f"{stalled} of {RUNS}"


LIMIT = """
supply = [{ name = "cab" }]
feeder = [
  { name = "feed", supply = "cab", plus = "yard/lead/north", minus = "yard/lead/south" }
]
assumptions = { contact_opens = 0.3, lever_fails = 0, lever_stays = 0 }
[run]
duration_s = 20
nudges_at_most = 0
[[module]]
name = "yard"
joins = [["lead/east", "T1/points"], ["T1/through", "T2/west"]]
[[module.piece]]
name = "lead"
kind = "straight"
length_mm = 300
[[module.piece]]
name = "T1"
kind = "turnout"
family = "live frog"
[[module.piece]]
name = "T2"
kind = "straight"
length_mm = 200
"""
