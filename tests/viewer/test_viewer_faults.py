"""Every kind of fault has its phrase and its mark, and a picture shows what a run broke."""

from __future__ import annotations

import pytest

from sim.faults.kinds import KINDS
from sim.pages.phrases import FAULTS
from sim.run.run import run
from tests.faults.test_faults_run import CLOSED, faulty
from tests.twin import LayoutTwin, closed_in
from viewer.draw.faults import MARKS
from viewer.draw.set_out import sheet_of
from viewer.draw.track import Detail, draw_piece
from viewer.draw.wires import draw_wires
from viewer.scene.scene import TextScene
from viewer.state.replay import Replay

JOINER, BACK = "m/home/joiner-east-north", "far/P/joiner-east-north"


def test_every_kind_of_fault_has_a_phrase_and_a_mark() -> None:
    missing = set(KINDS) - set(FAULTS)
    assert not missing, f"a phrase in FAULTS of sim/pages/phrases.py: {missing}"
    missing = {kind.name for kind in KINDS.values() if kind.words} - set(MARKS)
    assert not missing, f"a mark in MARKS of viewer/draw/faults.py: {missing}"
    left = (set(FAULTS) | set(MARKS)) - set(KINDS)
    assert not left, f"no entry in sim/faults/kinds.py: {left}"


def replayed(*faults: str) -> Replay:
    case = faulty(CLOSED, *faults)
    return Replay(case, run(case, 1, motions=True))


def drawn(replay: Replay, time_s: float) -> TextScene:
    scene, sheet, moment = TextScene(), sheet_of(replay.case.layout), replay.at(time_s)
    draw_wires(scene, sheet, moment)
    for piece in sheet.pieces:
        draw_piece(scene, piece, moment, Detail())
    return scene


@pytest.mark.parametrize(
    ("on", "what", "says"),
    [
        (JOINER, "open", "joiner open"),
        (JOINER, "off", "joiner open"),
        (JOINER, "tired", "joiner tired"),
        ("drop+", "off", "feeder off"),
        ("drop-", "tired", "feeder tired"),
    ],
)
def test_what_a_run_breaks_is_marked_while_it_is_broken(on: str, what: str, says: str) -> None:
    replay = replayed(f'on = "{on}"\nwhat = "{what}"\nat_s = 4\nfor_s = 6')
    assert drawn(replay, 3.9).states("fault") == {}
    assert drawn(replay, 4.0).states("fault") == {on: {says}}
    assert drawn(replay, 10.0).states("fault") == {}
    assert [m.time_s for m in replay.marks if m.kind == "fault"] == [4.0, 10.0]


@pytest.mark.parametrize(
    ("what", "says"),
    [("open", "stays open"), ("tired", "tired"), ("never opens", "never opens")],
)
def test_a_contact_says_what_is_wrong_with_it(what: str, says: str) -> None:
    contact = "m/T/through"
    replay = replayed(f'on = "{contact}"\nwhat = "{what}"\nat_s = 4\nfor_s = 6')
    assert drawn(replay, 3.9).states("contact")[contact] == {"closed"}
    assert drawn(replay, 4.0).states("contact")[contact] == {says}
    assert drawn(replay, 10.0).states("contact")[contact] == {"closed"}


def test_rails_beyond_what_has_come_off_are_drawn_as_the_twin_says() -> None:
    """Two joiners of one rail of an oval: half of it floats, as in the run."""
    rules = [f'on = "{name}"\nwhat = "open"\nat_s = 4\nfor_s = 6' for name in (JOINER, BACK)]
    replay = replayed(*rules)
    layout = replay.case.layout
    broken = [i for i, e in enumerate(layout.elements) if e.id in (JOINER, BACK)]
    known = set()
    for time_s, failed in ((3.9, []), (4.0, broken), (10.0, [])):
        moment = replay.at(time_s)
        twin = LayoutTwin(layout, closed_in(layout, moment.positions, failed))
        for node, rail in enumerate(moment.rails):
            assert list(rail.poles) == twin.poles_of(twin.net[node]), layout.nodes[node]
        known.add(sum(rail.how == "floating" for rail in moment.rails))
    assert len(known) == 2  # some rails that were fed float meanwhile


def test_an_open_joiner_from_the_start_is_drawn_so() -> None:
    replay = replayed(f'on = "{JOINER}"\nwhat = "open"\nchance = 1\nper = "run"')
    assert drawn(replay, 0.0).states("fault") == {JOINER: {"joiner open"}}
