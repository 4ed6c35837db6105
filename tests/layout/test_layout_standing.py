"""What a standing train covers, and when two trains are in each other's way."""

from __future__ import annotations

import pytest

from sim.layout.assemble import assemble
from sim.layout.levers import um
from sim.layout.track_graph import Standing, Tracks
from sim.scenario.problems import ScenarioError
from tests.checked import scenario_from_text
from tests.scenario.texts import BRANCH, HEAD, ONE, TRAIN

LAYOUT = assemble(
    scenario_from_text(ONE + BRANCH + '[[join]]\na = "one/P/east"\nb = "fork/T/points"\n')
).layout
TRACKS = Tracks(LAYOUT.routes, LAYOUT.ends, LAYOUT.levers)
ROUTES = {route.id: number for number, route in enumerate(LAYOUT.routes)}


def stand(route: str, place_mm: float, toward_finish: bool, length_mm: float) -> Standing:
    return TRACKS.standing(ROUTES[route], um(place_mm), toward_finish, um(length_mm))


def spans(standing: Standing) -> list[tuple[str, float, float]]:
    return [
        (LAYOUT.routes[s.route].id, s.from_um / 1000, s.to_um / 1000) for s in standing.stands
    ]


def test_within_one_piece() -> None:
    assert spans(stand("one/P/west-east", 150, True, 100)) == [("one/P/west-east", 50, 150)]
    assert spans(stand("one/P/west-east", 50, False, 100)) == [("one/P/west-east", 50, 150)]


def test_back_over_points_that_are_set_for_it() -> None:
    """No. 6 turnout of 143 mm set through: 40 mm on the leg, the piece, the rest behind."""
    whole = LAYOUT.routes[ROUTES["fork/T/points-through"]].length_um / 1000
    standing = stand("fork/main/west-east", 40, True, 40 + whole + 30)
    assert spans(standing) == [
        ("fork/main/west-east", 0, 40),
        ("fork/T/points-through", 0, whole),
        ("one/P/west-east", 170, 200),
    ]
    assert TRACKS.wrong_points(standing) is None


def test_back_over_points_that_are_set_against_it() -> None:
    standing = stand("fork/side/west-buffer", 10, True, 140)
    lever = TRACKS.wrong_points(standing)
    assert lever is not None
    assert LAYOUT.levers[lever].id == "fork/T/lever"
    clear = stand("fork/side/west-buffer", 10, True, 60)
    assert TRACKS.wrong_points(clear) is None


def test_beyond_the_end_of_the_track() -> None:
    assert stand("one/P/west-east", 30, True, 100).off_um == 70_000
    assert stand("fork/side/west-buffer", 250, False, 100).off_um == 50_000


@pytest.mark.parametrize(
    ("one", "other", "meet"),
    [
        # both on the stretch before the blades part
        (("points-through", 30, True, 20), ("points-diverging", 40, True, 20), True),
        # one behind the other there
        (("points-through", 20, True, 10), ("points-diverging", 40, True, 10), False),
        # each on its own leg
        (("points-through", 140, True, 60), ("points-diverging", 140, True, 60), False),
        # the same leg
        (("points-through", 140, True, 60), ("points-through", 100, True, 60), True),
        # touching
        (("points-through", 140, True, 60), ("points-through", 80, True, 60), False),
    ],
)
def test_two_trains_at_a_turnout(
    one: tuple[str, float, bool, float], other: tuple[str, float, bool, float], meet: bool
) -> None:
    stands = [stand(f"fork/T/{name}", *rest) for name, *rest in (one, other)]  # type: ignore[arg-type]
    assert (TRACKS.overlap(*stands) is not None) is meet
    assert (TRACKS.overlap(*reversed(stands)) is not None) is meet


def test_track_that_leads_nowhere_near() -> None:
    reached = TRACKS.pieces_reached(ROUTES["one/P/west-east"])
    assert {LAYOUT.pieces[n].id for n in reached} == {
        "one/P", "fork/T", "fork/main", "fork/side",
    }  # fmt: skip


def test_a_train_round_a_ring_stands_behind_itself() -> None:
    ring = HEAD + ONE[ONE.index("[[supply]]") :] + '[[line]]\nmodules=["one"]\nring=true\n'
    fits = TRAIN.replace("place_mm = 150", "place_mm = 20")
    assert assemble(scenario_from_text(ring + fits)).trains[0].place_mm == 20
    with pytest.raises(ScenarioError, match="a track longer than the train"):
        scenario_from_text(ring + fits.replace("length_mm = 100", "length_mm = 201"))
