"""Speed of fault tracing and of exact odds, as ratios measured in one run."""

from __future__ import annotations

import time

import pytest

from sim.analyses.survey.harm import PartFaults
from sim.analyses.survey.states import fault_sets, faults_of, grid
from sim.power.parts import parts_of
from tests.faults.layouts import FOUR, case, loops
from tests.faults.twin import Twin

pytestmark = pytest.mark.bench

#: What tracing all states at once has to be faster than one pass for each, at least.
FLOOR = 20.0


def test_all_faults_of_a_scissors_in_all_settings(capsys: pytest.CaptureFixture[str]) -> None:
    (part,) = parts_of(case(loops(gangs="single") + FOUR), each=True).parts
    layout, settings = part.layout, part.own_settings
    faults = faults_of(layout)
    states = grid(settings, fault_sets(faults, 2))
    count = len(states.sets) * len(settings)
    assert len(settings) == 16

    once = min(_timed(lambda: PartFaults(layout, settings, faults).bad(states)) for _ in "123")
    bad = PartFaults(layout, settings, faults).bad(states)

    twin = Twin(layout)
    plain = [[(f.kind, f.index, f.turn) for f in s] for s in states.sets]
    begun = time.perf_counter()
    answers = []
    for one in plain:
        for asked in settings:
            twin.nets(asked, one)
            answers.append(twin.routes())
    singly = time.perf_counter() - begun

    needs = [[(p.lever, p.position) for p in route.points] for route in layout.routes]
    for number, routes in enumerate(answers):
        q, k = divmod(number, len(settings))
        for r, state in enumerate(routes):
            asked_for = all(settings[k][lever] == p for lever, p in needs[r])
            is_bad = bool(bad.dead[r][q, k // 8] >> (k % 8) & 1)
            assert is_bad == (asked_for and state != "live")
    ratio = singly / once
    with capsys.disabled():
        print(
            f"\n{count} fault states of a scissors: {once * 1e3:.0f} ms at once, "
            f"{singly * 1e3:.0f} ms one by one, {ratio:.0f} times faster"
        )
    assert ratio >= FLOOR


def _timed(work: object) -> float:
    assert callable(work)
    begun = time.perf_counter()
    work()
    return time.perf_counter() - begun
