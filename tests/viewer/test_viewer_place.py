"""Where pieces lie: ends meet, rings close, long layouts are folded, rails are laid once."""

from __future__ import annotations

from math import cos, dist, radians, sin

import pytest
from hypothesis import HealthCheck, given, settings

from sim.pieces.model import Piece
from tests.pieces.cases import pieces, rail_place, rail_runs
from tests.viewer.demo import CLUB, LOOPS, TERMINUS, case_of
from tests.viewer.one_piece import library
from viewer.place.ground import lay_out
from viewer.place.lines import length_of, nearest_on
from viewer.place.shape import shape_of

LIBRARY = dict(library())


def test_a_ring_of_curves_closes() -> None:
    """Four quarter circles and equal straights: no break, every joint meets."""
    ground = lay_out(case_of(CLUB).layout)
    assert ground.breaks == ()
    layout = ground.layout
    for number, end in enumerate(layout.ends):
        if end.joined < 0:
            continue
        places = []
        for k in (number, end.joined):
            placed = layout.pieces[layout.ends[k].piece]
            own = placed.piece.ends[placed.ends.index(k)]
            places.append(ground.frames[layout.ends[k].piece].point((own.x_mm, own.y_mm)))
        assert dist(*places) < 0.5


def test_a_ring_of_straights_is_folded_and_told_where_it_goes_on() -> None:
    """Nothing closes it in the plane: both sides of every break carry one letter."""
    ground = lay_out(case_of(LOOPS).layout)
    said = {b.says_one for b in ground.breaks} | {b.says_other for b in ground.breaks}
    assert {"west/A/west", "east/A/east", "west/B/west", "east/B/east"} <= said
    assert len({b.letter for b in ground.breaks}) == len(ground.breaks)
    wide = ground.bounds[2] - ground.bounds[0]
    assert wide < 1.2 * 800  # three rows of boards, the longest 800 mm


def test_boards_never_lie_on_each_other() -> None:
    for path in (CLUB, LOOPS, TERMINUS):
        ground = lay_out(case_of(path).layout)
        inside = [(b[0] + 20, b[1] + 20, b[2] - 20, b[3] - 20) for b in ground.boxes]
        for k, a in enumerate(inside):
            for b in inside[k + 1 :]:
                assert a[2] <= b[0] or a[0] >= b[2] or a[3] <= b[1] or a[1] >= b[3], path


def test_a_turned_module_lies_turned() -> None:
    layout = case_of(TERMINUS).layout
    ground = lay_out(layout)
    turned = next(m for m in layout.modules if m.turned)
    frame = ground.frames[turned.pieces[0]]
    assert abs((frame.turn_deg % 360.0) - 180.0) < 1e-6


def test_routes_run_from_end_to_end_on_the_ground() -> None:
    layout = case_of(CLUB).layout
    ground = lay_out(layout)
    for number, route in enumerate(layout.routes):
        placed = layout.pieces[route.piece]
        for end, at in ((route.start, 0.0), (route.finish, route.length_um / 1000)):
            own = placed.piece.ends[placed.ends.index(end)]
            expected = ground.frames[route.piece].point((own.x_mm, own.y_mm))
            pose = ground.on_route(number, at)
            assert dist(expected, (pose.x_mm, pose.y_mm)) < 0.05


@pytest.mark.parametrize("name", LIBRARY)
def test_every_rail_of_every_route_is_drawn_where_a_wheel_runs(name: str) -> None:
    """Against the tests' own numerical walk: some line of the section passes there."""
    piece = LIBRARY[name]
    shape = shape_of(piece)
    for route in piece.routes:
        for section in {s.name for s in piece.sections}:
            lines = shape.lines_of(section)
            for side, low, high in rail_runs(route, section):
                for share in (0.1, 0.5, 0.9):
                    x, y = rail_place(piece, route, side, low + share * (high - low))
                    off = min(nearest_on(line, x, y)[0] for line in lines)
                    assert off < 0.7, (route.name, section, side)


@settings(max_examples=25, suppress_health_check=[HealthCheck.too_slow], deadline=None)
@given(pieces())
def test_no_rail_is_laid_twice(piece: Piece) -> None:
    """All lines of a section are together no longer than its rails, blades apart."""
    shape = shape_of(piece)
    for section in piece.sections:
        plain = [r.line for r in shape.rails if r.section == section.name and not r.lever]
        for k, one in enumerate(plain):
            for other in plain[k + 1 :]:
                probe = (
                    other[len(other) // 2]
                    if len(other) > 2
                    else ((other[0][0] + other[-1][0]) / 2, (other[0][1] + other[-1][1]) / 2)
                )
                if length_of(other) > 5.0:
                    assert nearest_on(one, *probe)[0] > 0.05


def test_an_open_blade_stands_off_its_stock_rail() -> None:
    """At the tip, by the stated share of the gauge; at the heel it has not moved."""
    piece = LIBRARY["turnout live frog right False"]
    blades = [r for r in shape_of(piece).rails if r.lever]
    assert {r.position for r in blades} == {"through", "diverging"}
    for blade in blades:
        assert dist(blade.line[0], blade.opened[0]) == pytest.approx(9.0 * 0.22, abs=0.01)
        assert dist(blade.line[-1], blade.opened[-1]) < 0.01
    north = next(r for r in blades if r.position == "diverging")
    assert north.opened[0][1] < north.line[0][1]  # toward the middle of the track


@pytest.mark.parametrize("hand", ["left", "right"])
def test_the_four_blades_of_each_end_of_a_double_slip_lie_one_way(hand: str) -> None:
    """Thrown, they all move to one side; those that are closed lie on their stock rail."""
    piece = LIBRARY[f"double slip insulated frog, all live {hand} False"]
    blades = [r for r in shape_of(piece).rails if r.lever]
    assert all(r.section is not None and r.section.endswith("-blade") for r in blades)
    assert len({r.section for r in blades}) == len(blades) == 8
    for lever in piece.levers:
        first, second = (
            [r for r in blades if (r.lever, r.position) == (lever.name, p)]
            for p in lever.positions
        )
        assert len(first) == len(second) == 2
        tip = 0 if lever.name == "west" else -1
        moved = [{r.opened[tip][1] > r.line[tip][1] for r in side} for side in (first, second)]
        # away from their stock rails the ones of a position go one way, the others the other
        assert moved[0] != moved[1]
        assert all(len(side) == 1 for side in moved)


def test_gaps_lie_where_the_piece_says() -> None:
    """Scissors gap places are data, mm along their diagonal (club loops: 182 and 192)."""
    layout = case_of(CLUB).layout
    ground = lay_out(layout)
    number = next(k for k, p in enumerate(layout.pieces) if p.id == "north junction/scissors")
    placed = layout.pieces[number].piece
    route = next(r for r in placed.routes if r.name == "A-west-B-east")
    for cut, at in (("gap-X1-north", 182.0), ("gap-X1-south", 192.0)):
        place = next(g.at for g in ground.shapes[number].gaps if g.name == cut)
        side = "left" if cut.endswith("north") else "right"
        assert dist(place, rail_place(placed, route, side, at)) < 0.3
    heading = next(
        g.heading_deg for g in ground.shapes[number].gaps if g.name == "gap-A-centre"
    )
    assert abs(sin(radians(heading))) < 1e-6 and abs(cos(radians(heading))) > 0.99


@pytest.mark.parametrize(
    ("name", "frogs"),
    [
        ("straight", 0),
        ("turnout live frog right False", 1),
        ("turnout powered frog left False", 1),
        ("crossover live frog False", 2),
        ("scissors live frog True plastic", 8),
        ("diamond left", 4),
        ("double slip live frog left False", 4),
        ("double slip insulated frog, all live right False", 4),
    ],
)
def test_every_frog_is_found_where_two_rails_cross(name: str, frogs: int) -> None:
    """A turnout has one, a diamond or double slip four, a scissors four and one of each."""
    shape = shape_of(LIBRARY[name])
    assert len(shape.frogs) == frogs
    for _, place in shape.frogs:
        assert min(nearest_on(rail.line, *place)[0] for rail in shape.rails) < 0.05


def test_frogs_of_a_diamond_lie_at_the_corners_of_a_rhombus() -> None:
    """Rails a gauge apart that cross at an angle: diagonals g / sin(a/2) and g / cos(a/2)."""
    piece = LIBRARY["diamond left"]
    turn = radians(abs(piece.ends[0].heading_deg - piece.ends[2].heading_deg) % 180.0)
    half = min(turn, radians(180.0) - turn) / 2.0
    places = [p for _, p in shape_of(piece).frogs]
    apart = sorted(dist(a, b) for k, a in enumerate(places) for b in places[k + 1 :])
    assert apart[0] == pytest.approx(piece.gauge_mm / cos(half), abs=0.02)
    assert apart[-1] == pytest.approx(piece.gauge_mm / sin(half), abs=0.02)


def test_a_long_layout_is_folded_for_the_window_that_it_gets() -> None:
    layout = case_of(TERMINUS).layout
    alone, shared = lay_out(layout), lay_out(layout, 5.2)
    shapes = [(b[2] - b[0]) / (b[3] - b[1]) for b in (alone.bounds, shared.bounds)]
    assert shapes[0] < shapes[1]
