"""Contraction to clusters, terminals and patches."""

from __future__ import annotations

from sim.power.wiring import Forest, wire
from tests.power.small import Small

LEVER = {"one": ["through", "diverging"]}


def live_frog() -> Small:
    """A live-frog turnout fed at both stock rails, its leg rail bonded to the frog."""
    made = Small("SN SS F HT far", LEVER)
    made.supply("A")
    made.join("A+", "SN", "feeder")
    made.join("A-", "SS", "feeder")
    made.join("F", "HT")
    made.join("HT", "far", "gap")
    made.contact("F", "SS", {"one": "through"})
    made.contact("F", "SN", {"one": "diverging"})
    return made


def test_forest_roots_are_the_lowest_members() -> None:
    forest = Forest(6)
    for a, b in ((5, 3), (4, 5), (1, 4), (1, 3)):
        forest.join(a, b)
    assert [forest.find(x) for x in range(6)] == [0, 1, 2, 1, 1, 1]


def test_clusters_are_what_permanent_elements_join() -> None:
    made = live_frog()
    wiring = wire(made.layout())
    same = [wiring.cluster_of[made.node(n)] for n in ("SN", "A+", "SS", "A-", "F", "HT", "far")]
    assert same[0] == same[1] != same[2] == same[3]
    assert same[4] == same[5] != same[6]
    assert wiring.terminals == 2
    assert wiring.terminal_of == (0, 1)
    (patch,) = wiring.patches
    assert patch.members == (wiring.cluster_of[made.node("F")],)


def test_labels_of_a_patch_follow_its_contacts() -> None:
    made = live_frog()
    wiring = wire(made.layout())
    through, diverging = sorted(wiring.patches_of_element)
    frog = wiring.cluster_of[made.node("F")]
    told = {
        tuple(sorted(closed)): wiring.label_patch(0, frozenset(closed))
        for closed in ((), (through,), (diverging,), (through, diverging))
    }
    assert told[()].labels == (2 + frog,)  # no pole: a label of its own
    assert told[(through,)].labels == (1,)
    assert told[(diverging,)].labels == (0,)
    assert told[(through,)].joins == ()
    # make before break: the stock rails are joined for an instant
    assert told[(through, diverging)].joins == ((0, 1),)


def test_patches_end_at_terminals() -> None:
    """Two turnouts on one supply share stock rails and nothing else: two patches."""
    made = Small("N S F1 F2 x y", {"one": ["a", "b"], "two": ["a", "b"]})
    made.supply("A")
    made.join("A+", "N", "feeder")
    made.join("A-", "S", "feeder")
    first = {made.contact("F1", rail, {"one": at}) for rail, at in (("N", "a"), ("S", "b"))}
    second = {made.contact("F2", rail, {"two": at}) for rail, at in (("N", "a"), ("S", "b"))}
    across = made.contact("N", "S", {"one": "a", "two": "b"})
    far = made.contact("x", "y", {"one": "a"})
    idle = made.contact("x", "x", {"one": "a"})
    wiring = wire(made.layout())
    groups = sorted(sorted(e for e, _, _ in p.contacts) for p in wiring.patches)
    assert groups == sorted([sorted(first), sorted(second), [across], [far]])
    assert idle not in wiring.patches_of_element


def test_elements_that_a_run_may_open_are_kept_apart() -> None:
    made = live_frog()
    layout = made.layout()
    feeders = [i for i, e in enumerate(layout.elements) if e.kind == "feeder"]
    wiring = wire(layout, switched=feeders)
    assert wiring.cluster_of[made.node("SN")] != wiring.cluster_of[made.node("A+")]
    assert set(feeders) <= wiring.patches_of_element.keys()
    lost = wire(layout, failed=feeders)
    assert not set(feeders) & lost.patches_of_element.keys()


def test_two_poles_that_wires_join_are_one_terminal() -> None:
    made = Small("x")
    made.supply("A", common="earth")
    made.supply("B", common="earth")
    made.join("A-", "B-", "common")
    assert wire(made.layout()).terminal_of == (0, 1, 2, 1)
