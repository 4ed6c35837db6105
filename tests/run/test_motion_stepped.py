"""The exact engine against a naive one that steps through time."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.run.plans import dead_ring, drive
from tests.run.stepped import Stepped

RUN = drive({"do": "circulate", "laps": 99})
STEP_S = 1e-4
#: The naive train sees things up to one step late, some steps in a row.
LATE_S = 12 * STEP_S


@settings(max_examples=12, deadline=None)
@given(
    dead_mm=st.sampled_from([60.0, 95.0, 110.0, 130.0, 300.0]),
    speed=st.sampled_from([40.0, 100.0, 140.0]),
    rate=st.sampled_from([50.0, 200.0]),
    coasting=st.sampled_from([5.0, 20.0, 60.0]),
    store=st.sampled_from([0.0, 0.4]),
)
def test_dropouts_and_stalls_agree_with_a_stepped_train(
    dead_mm: float, speed: float, rate: float, coasting: float, store: float
) -> None:
    plan = dead_ring(dead_mm, duration_s=30.0)
    plan.train(
        speed_mm_s=speed,
        acceleration_mm_s2=rate,
        coasting_mm=coasting,
        orders=RUN,
        energy_store_s=store,
        refill_s=1.0,
    )
    record = plan.record(ring=True)
    slow = Stepped(
        2200.0,
        [(700.0, 700.0 + dead_mm)],
        [10.0, 90.0],
        100.0,
        speed,
        rate,
        100.0**2 / (2 * coasting),
        store,
    ).run(30.0, STEP_S)
    lost = [d for d in record.dropouts if d.where == "pickups"]
    if record.stalls:
        assert slow.stood_at == pytest.approx(record.stalls[0].time_s, abs=LATE_S + 1e-3)
        lost = [d for d in lost if d.time_s <= record.stalls[0].time_s]
    else:
        assert slow.stood_at is None
    assert slow.lost_at == pytest.approx([d.time_s for d in lost], abs=LATE_S)
    ends = [d.time_s + d.duration_s for d in lost][: len(slow.back_at)]
    assert slow.back_at == pytest.approx(ends, abs=LATE_S)
