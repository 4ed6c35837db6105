"""Demo (c): wires from frog to frog cure stalls and short when a lever stays behind.

What must come out is common practice, no source.
"""

from __future__ import annotations

import pytest

from tests.scenarios.demos import records, scenario, stalls, states

DEMO = "loose-gang"
SEEDS = range(1, 9)
OTHERS = ("two jumpers", "changeovers", "cleaning", "energy stores")


@pytest.mark.parametrize("fix", [None, *scenario(DEMO).fix_names])
def test_shorts_lever_by_lever(fix: str | None) -> None:
    """Only the frog wires short, exactly where the turnouts of a track disagree."""
    charted = states(DEMO, fix, each=True)
    assert len(charted.settings) == 16
    for setting in charted.settings:
        lies = {lever.rpartition("/")[2]: position for lever, position in setting.levers}
        apart = {t for t in "AB" if lies[f"{t}W"] != lies[f"{t}E"]}
        shorted = {s.poles[0].rstrip("+-")[-1] for s in setting.shorts}
        assert shorted == (apart if fix == "four jumpers" else set())


@pytest.mark.parametrize("fix", [None, *scenario(DEMO).fix_names])
def test_as_a_gang_nothing_shorts(fix: str | None) -> None:
    charted = states(DEMO, fix)
    assert len(charted.settings) == 2
    assert not any(s.shorts for s in charted.settings)


def test_two_jumpers_change_nothing_in_a_ring() -> None:
    for built, fixed in zip(
        records(DEMO, None, SEEDS), records(DEMO, "two jumpers", SEEDS), strict=True
    ):
        assert (built.legs, built.stalls) == (fixed.legs, fixed.stalls)


def test_four_jumpers_remove_nearly_all_stalls() -> None:
    assert stalls(DEMO, "four jumpers", SEEDS) < stalls(DEMO, None, SEEDS) / 5


def by_the_wiring(fix: str | None) -> int:
    """Trips that no wheel had a part in."""
    return sum(
        t.cause.kind == "by the wiring" for r in records(DEMO, fix, SEEDS) for t in r.trips
    )


def test_and_only_they_let_the_wiring_itself_short() -> None:
    assert by_the_wiring("four jumpers") > 0
    for fix in (None, *OTHERS):
        assert by_the_wiring(fix) == 0


def test_such_a_short_needs_a_lever_that_did_not_follow() -> None:
    for done in records(DEMO, "four jumpers", SEEDS):
        behind = [e.time_s for e in done.events if e.what == "did not follow"]
        for trip in done.trips:
            assert any(t < trip.time_s for t in behind)


def test_it_stays_off_until_somebody_moves_the_lever() -> None:
    """Nobody does: where the wiring shorted, the run is lost; with changeovers it is not."""
    lost = [
        (wired, apart)
        for wired, apart in zip(
            records(DEMO, "four jumpers", SEEDS),
            records(DEMO, "changeovers", SEEDS),
            strict=True,
        )
        if any(t.cause.kind == "by the wiring" for t in wired.trips)
    ]
    assert lost
    run = sum(len(wired.legs) for wired, _ in lost)
    assert run < sum(len(apart.legs) for _, apart in lost) / 2


def test_changeovers_cleaning_and_stores_help_without_that() -> None:
    built = stalls(DEMO, None, SEEDS)
    for fix in OTHERS[1:]:
        assert stalls(DEMO, fix, SEEDS) < 0.6 * built
