"""What a survey of faults says, on small layouts where it can be seen by hand."""

from __future__ import annotations

from sim.analyses.survey.harm import Harm, Survey, changes
from sim.analyses.survey.survey import survey
from tests.faults.layouts import FOUR, TWO, case, loops, plain


def by_id(found: Survey) -> dict[str, Harm]:
    return {h.id: h for h in found.single}


def test_in_a_row_what_is_nearer_to_the_feed_harms_more() -> None:
    found = survey(case(plain()))
    assert found.settings == 1
    assert not found.healthy.harms
    assert [(h.id, h.lost) for h in found.single] == [
        ("drop+: feeder off", 3),
        ("drop-: feeder off", 3),
        ("cab: supply off", 3),
        ("one/P/joiner-east-north: joiner open", 2),
        ("one/P/joiner-east-south: joiner open", 2),
        ("two/P/joiner-east-north: joiner open", 1),
        ("two/P/joiner-east-south: joiner open", 1),
    ]
    assert [r.route for r in found.single[3].routes] == [
        "two/P/west-east",
        "three/P/west-east",
    ]
    assert found.single[3].routes[0].kinds == ("floating",)


def test_of_two_parallel_ways_neither_is_critical_but_both_together_are() -> None:
    # Definition of a bridge in a graph: an edge on a cycle is none.
    feed = '[[jumper]]\nname = "way round"\nfrom = "one/P/north"\nto = "two/P/north"\n'
    found = survey(case(plain(feed)), depth=2)
    single = by_id(found)
    assert single["one/P/joiner-east-north: joiner open"].lost == 0
    assert single["way round: jumper off"].lost == 0
    assert single["one/P/joiner-east-south: joiner open"].lost == 2
    assert found.double is not None
    pairs = {h.id: h.lost for h in found.double}
    assert pairs == {"one/P/joiner-east-north: joiner open + way round: jumper off": 2}


def test_a_pair_tells_only_what_neither_does_alone() -> None:
    found = survey(case(plain()), depth=2)
    assert found.double == ()


def test_what_is_wrong_anyway_is_told_apart_and_left_out() -> None:
    broken = '[[joiner]]\nat = "two/P/east"\nrails = "south"\nopen = true\n'
    found = survey(case(plain(broken)))
    assert (found.healthy.lost, found.healthy.routes_lost) == (1, 1)
    assert [r.route for r in found.healthy.routes] == ["three/P/west-east"]
    assert by_id(found)["drop+: feeder off"].lost == 2


def test_the_four_jumper_fix_shows_both_sides() -> None:
    """Two inner jumpers stay as they are; frog to frog helps contacts and harms levers.

    The fix and its two sides are worked out from the wiring of a scissors with
    live frogs and a centre gap; common practice, no source.
    """
    two, four = survey(case(loops() + TWO)), survey(case(loops() + FOUR))
    contacts = [h for h in two.single if h.faults[0].kind == "contact open"]
    # Every frog hangs on its one contact, through and diverging.  That the diagonals
    # are dead anyway between gaps which do not lie opposite each other hides nothing.
    assert sorted(h.faults[0].part for h in contacts if h.lost) == [
        f"board/scissors/{turnout}-{way}"
        for turnout in ("AE", "AW", "BE", "BW")
        for way in ("diverging", "through")
    ]
    assert all(h.short == 0 for h in contacts)
    cured = [h for h in four.single if h.faults[0].kind == "contact open"]
    assert all(not h.harms for h in cured)
    for found, shorts in ((two, 0), (four, 2)):
        levers = [h for h in found.single if h.faults[0].kind == "lever does not follow"]
        assert len(levers) == 4
        assert [h.short for h in levers] == [shorts] * 4  # in both settings of the gang


def test_what_a_fix_changes() -> None:
    two = case(loops() + TWO)
    four = case(loops() + FOUR)
    change = changes(survey(two), survey(four))
    assert {c.fault.kind for c in change.cured} == {"contact open"}
    worse = [c.fault.part for c in change.worse if c.fault.kind == "lever does not follow"]
    assert worse == [f"board/scissors/{turnout}" for turnout in ("BW", "BE", "AW", "AE")]
    assert change.worse[0].toll_after.short == 2
    # Ordinary shorts of a stuck contact are there with either: none of them is new.
    back = changes(survey(four), survey(two))
    assert {c.fault.kind for c in back.worse} >= {"contact open"}


def test_a_fault_that_joins_the_loops() -> None:
    found = survey(case(loops(family="live frog", gangs="per diagonal", centre_gap=False)))
    joined = [h for h in found.single if h.joined]
    assert all(h.supplies == (("cab A", "cab B"),) for h in joined)


def test_past_the_limit_pairs_go_first_then_everything() -> None:
    it = case(loops())
    whole = survey(it, depth=2)
    assert whole.double is not None
    assert not whole.skipped
    singles = survey(it, depth=2, limit=500)
    assert singles.double is None
    assert len(singles.single) == len(whole.single)
    assert "Pairs of faults are left out" in singles.skipped[0]
    nothing = survey(it, depth=1, limit=3)
    assert nothing.single == ()
    assert nothing.healthy == whole.healthy
    assert "3 that are traced" in nothing.skipped[0]


def test_progress_ends_at_the_number_of_states() -> None:
    seen: list[tuple[int, int]] = []
    found = survey(case(loops()), depth=2, progress=lambda *x: seen.append(x))
    assert seen == sorted(seen)
    assert seen[-1][1] == found.states
    assert seen[-1][0] <= found.states  # pairs of one part are none
