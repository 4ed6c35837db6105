"""What holds for every library piece, whatever its parameters."""

from __future__ import annotations

from math import cos, degrees, sin

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from sim.pieces.kinds import KINDS, build
from sim.pieces.model import Piece
from sim.pieces.parameters import PieceError
from tests.pieces.cases import GAUGES, STRATEGIES, end_of, pieces, rail_runs, trace

_MANY = settings(
    max_examples=200,
    deadline=None,
    suppress_health_check=[HealthCheck.filter_too_much, HealthCheck.too_slow],
)


@_MANY
@given(pieces())
def test_spans_are_contiguous_and_cover_the_route(piece: Piece) -> None:
    for route in piece.routes:
        assert route.spans[0].from_mm == 0.0
        assert route.spans[-1].to_mm == route.length_mm
        for span, following in zip(route.spans, route.spans[1:], strict=False):
            assert span.to_mm == following.from_mm
            assert (span.left, span.right) != (following.left, following.right)
        for span in route.spans:
            assert span.from_mm < span.to_mm
            assert span.from_mm == round(span.from_mm, 3)
            assert span.to_mm == round(span.to_mm, 3)


@_MANY
@given(pieces())
def test_courses_are_as_long_as_routes_and_end_at_their_ends(piece: Piece) -> None:
    for route in piece.routes:
        total = sum(stroke.length_mm for stroke in route.course)
        assert total == pytest.approx(route.length_mm, abs=1e-6)
        *_, (_, x, y, heading) = trace(piece, route)
        finish = end_of(piece, route.finish)
        assert (x, y) == pytest.approx((finish.x_mm, finish.y_mm), abs=0.01)
        off = (degrees(heading) - finish.heading_deg + 180.0) % 360.0 - 180.0
        assert abs(off) < 1e-4


@_MANY
@given(pieces())
def test_rails_of_a_route_are_those_of_its_ends(piece: Piece) -> None:
    for route in piece.routes:
        start, finish = end_of(piece, route.start), end_of(piece, route.finish)
        assert (route.spans[0].right, route.spans[0].left) == start.outward_rails()
        assert (route.spans[-1].left, route.spans[-1].right) == finish.outward_rails()
        assert (start.outward, finish.outward) == ("west", "east")


@_MANY
@given(pieces())
def test_every_name_is_known_and_used_once(piece: Piece) -> None:
    sections = [section.name for section in piece.sections]
    known = set(sections)
    joins = [(bond.name, bond.a, bond.b) for bond in piece.bonds]
    joins += [(gap.name, gap.a, gap.b) for gap in piece.gaps]
    joins += [(contact.name, contact.a, contact.b) for contact in piece.contacts]
    names = [*sections, *(name for name, _, _ in joins)]
    names += [*(lever.name for lever in piece.levers), *(pad.name for pad in piece.pads)]
    assert len(names) == len(set(names))
    for _, a, b in joins:
        assert {a, b} <= known
        assert a != b
    positions = {lever.name: lever.positions for lever in piece.levers}
    for contact in piece.contacts:
        for clause in contact.when:
            assert all(position in positions[lever] for lever, position in clause)
    assert {lever for gang in piece.gangs for lever in gang.levers} <= set(positions)
    for lever in piece.levers:
        assert lever.rest in lever.positions
    routes = {route.name for route in piece.routes}
    assert {name for pair in piece.crossings for name in pair} <= routes


@_MANY
@given(pieces())
def test_every_section_lies_under_a_wheel_somewhere_and_has_a_pad(piece: Piece) -> None:
    under = {s for r in piece.routes for span in r.spans for s in (span.left, span.right)}
    padded = {pad.section for pad in piece.pads}
    sections = {section.name for section in piece.sections}
    assert under - {None} == sections
    assert padded == sections
    for section in sections:
        slides = [pad.slides for pad in piece.pads if pad.section == section]
        is_blade = section.rpartition("-")[2] in ("BN", "BS", "blade")
        live_frog = piece.family == "live frog"
        assert all(slides) == (is_blade and not live_frog)


@_MANY
@given(pieces())
def test_every_cut_is_a_gap_and_every_gap_a_cut(piece: Piece) -> None:
    """Where one rail follows another without plastic, a gap or a moving joint parts them."""
    parted = {frozenset((gap.a, gap.b)) for gap in piece.gaps}
    hinged = {frozenset((bond.a, bond.b)) for bond in piece.bonds if "hinge" in bond.name}
    for route in piece.routes:
        tips = {points.tip_mm for points in route.points}
        for span, following in zip(route.spans, route.spans[1:], strict=False):
            for side in ("left", "right"):
                pair = getattr(span, side), getattr(following, side)
                if None in pair or pair[0] == pair[1] or span.to_mm in tips:
                    continue
                assert frozenset(pair) in parted | hinged, (route.name, span.to_mm, pair)


@_MANY
@given(pieces())
def test_points_lie_on_their_route(piece: Piece) -> None:
    for route in piece.routes:
        for points in route.points:
            assert 0.0 < points.tip_mm < route.length_mm
            assert 0.0 < points.heel_mm < route.length_mm
            facing = points.lever not in ("AE", "BE", "east")
            assert points.facing_from_start == facing


@settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
@given(pieces())
def test_pads_lie_on_their_rail(piece: Piece) -> None:
    for pad in piece.pads:
        off = []
        for route in piece.routes:
            runs = rail_runs(route, pad.section)
            if not runs:
                continue
            for gone, x, y, heading in trace(piece, route, step_mm=0.5):
                for side, low, high in runs:
                    if not low - 1.0 <= gone <= high + 1.0:
                        continue
                    half = piece.gauge_mm / 2.0 * (1.0 if side == "left" else -1.0)
                    at = complex(x, y) + half * 1j * complex(cos(heading), sin(heading))
                    off.append(abs(at - complex(pad.x_mm, pad.y_mm)))
        assert min(off) < 0.75, pad  # steps of up to 0.75 mm, longer on an outer rail


@settings(max_examples=150, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.data())
def test_any_numbers_give_a_piece_or_its_problems(data: st.DataObject) -> None:
    kind = data.draw(st.sampled_from(sorted(KINDS)))
    wild = st.none() | st.floats(-1.0, 1e5, allow_nan=False) | st.integers(-3, 400)
    fields = {"gauge_mm": GAUGES} | STRATEGIES[kind]
    params: dict[str, object] = {}
    for name in KINDS[kind].model_fields:
        if name in fields:
            params[name] = data.draw(fields[name])
        if (name.endswith("_mm") or name not in fields) and data.draw(st.booleans()):
            params[name] = data.draw(wild)
    try:
        piece = build(kind, params)
    except PieceError as error:
        assert error.problems
        assert all(field and expected and found for field, expected, found in error.problems)
    else:
        assert piece.kind == kind


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_same_parameters_give_the_same_piece(kind: str) -> None:
    params = {"gauge_mm": 9, "length_mm": 400, "track_centres_mm": 30, "radius_mm": 300}
    params |= {"angle_deg": 30}
    fields = {name: params[name] for name in params if name in KINDS[kind].model_fields}
    assert build(kind, fields) == build(kind, dict(reversed(fields.items())))


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_every_parameter_says_what_it_is(kind: str) -> None:
    schema = KINDS[kind].model_json_schema()
    assert schema["additionalProperties"] is False
    assert schema["description"]
    for name, field in schema["properties"].items():
        assert field.get("description"), name
