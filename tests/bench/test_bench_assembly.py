"""Reading and assembling large layouts: time grows with their size, and nothing else does."""

from __future__ import annotations

import time

import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from sim.layout.assemble import assemble
from tests.checked import scenario_from_text
from tests.layout.test_layout_large import ring_of

pytestmark = pytest.mark.bench


def seconds(text: str) -> float:
    """Best of three: what disturbs a machine only ever makes it slower."""
    best = float("inf")
    for _ in range(3):
        start = time.perf_counter()
        assemble(scenario_from_text(text))
        best = min(best, time.perf_counter() - start)
    return best


def test_time_grows_with_the_number_of_boards(benchmark: BenchmarkFixture) -> None:
    """Eight times the boards in at most 20 times the time: a square would take 64."""
    small, large = ring_of(50), ring_of(400)
    benchmark.pedantic(lambda: assemble(scenario_from_text(large)), rounds=1)
    ratio = seconds(large) / seconds(small)
    benchmark.extra_info["400 boards over 50"] = round(ratio, 1)
    print(f"\n400 boards over 50: {ratio:.1f} times the time")
    assert ratio < 20
