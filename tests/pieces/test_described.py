"""Pieces written rail by rail: the round trip, the defaults, and every kind of slip."""

from __future__ import annotations

import tomllib
from copy import deepcopy
from dataclasses import replace
from typing import Any

import pytest
import tomli_w
from hypothesis import HealthCheck, given, settings

from sim.pieces.described import from_data, to_data
from sim.pieces.form import DescribedPiece
from sim.pieces.model import Piece, Stroke
from sim.pieces.parameters import PieceError
from tests.pieces.cases import pieces, scissors, turnout

#: a hand-built turnout with a switched frog, as short as it can be written
SHORT: dict[str, Any] = {
    "gauge_mm": 16.5,
    "sections": ["north stock", "south stock", "frog"],
    "levers": [{"name": "slide"}],
    "contacts": [
        {"name": "c1", "a": "frog", "b": "south stock", "when": [{"slide": "through"}]},
        {"name": "c2", "a": "frog", "b": "north stock", "when": [{"slide": "diverging"}]},
    ],
    "pads": [{"name": "p1", "section": "frog"}],
    "ends": [
        {"name": "points", "outward": "west", "north": "north stock", "south": "south stock"},
        {"name": "main", "outward": "east", "north": "north stock", "south": "frog"},
        {"name": "yard", "outward": "east", "north": "frog", "south": "south stock"},
    ],
    "routes": [
        {
            "from": "points",
            "to": "main",
            "spans": [
                {"from_mm": 0, "to_mm": 60, "left": "north stock", "right": "south stock"},
                {"from_mm": 60, "to_mm": 80, "left": "north stock", "right": "plastic"},
                {"from_mm": 80, "to_mm": 150, "left": "north stock", "right": "frog"},
            ],
            "points": [{"lever": "slide", "position": "through", "tip_mm": 20, "heel_mm": 50}],
        },
        {
            "from": "points",
            "to": "yard",
            "spans": [
                {"from_mm": 0, "to_mm": 20, "left": "north stock", "right": "south stock"},
                {"from_mm": 20, "to_mm": 151, "left": "frog", "right": "south stock"},
            ],
            "points": [
                {"lever": "slide", "position": "diverging", "tip_mm": 20, "heel_mm": 50}
            ],
        },
    ],
}


@settings(max_examples=150, deadline=None, suppress_health_check=list(HealthCheck))
@given(pieces())
def test_every_library_piece_survives_being_written_and_read(piece: Piece) -> None:
    data = to_data(piece)
    piece = replace(piece, assumed_dead_mm=None)  # what is written down is no assumption
    assert from_data(data) == piece
    assert from_data(tomllib.loads(tomli_w.dumps(data))) == piece


def test_written_data_is_the_same_bytes_every_time() -> None:
    assert tomli_w.dumps(to_data(scissors())) == tomli_w.dumps(to_data(scissors()))


def test_what_is_left_out_is_filled() -> None:
    piece = from_data(SHORT)
    assert [route.length_mm for route in piece.routes] == [150.0, 151.0]
    assert piece.routes[0].course == (Stroke(150.0),)
    assert piece.routes[0].spans[1].right is None
    assert piece.levers[0].positions == ("through", "diverging")
    assert piece.levers[0].rest == "through"
    places = [(end.x_mm, end.y_mm, end.heading_deg) for end in piece.ends]
    assert places == [(0.0, 0.0, 180.0), (151.0, 0.0, 0.0), (151.0, -55.0, 0.0)]
    assert (piece.pads[0].x_mm, piece.pads[0].y_mm) == (115.0, -8.25)  # on the frog's rail
    assert from_data(to_data(piece)) == piece


def _with(path: str, value: object) -> dict[str, Any]:
    """SHORT with one value changed; the path counts lists by number."""
    data = deepcopy(SHORT)
    *way, last = [int(step) if step.isdigit() else step for step in path.split(".")]
    at: Any = data
    for step in way:
        at = at[step]
    at[last] = value
    return data


@pytest.mark.parametrize(
    ("path", "value", "field", "words"),
    [
        ("contacts.0.a", "fog", "contacts[0].a", "'fog'"),
        ("contacts.0.when", [{"slyde": "through"}], "contacts[0].when[0]", "'slyde'"),
        ("contacts.0.when", [{"slide": "thru"}], "contacts[0].when[0]", "'thru'"),
        ("contacts.0.when", [{}], "contacts[0].when[0]", "empty"),
        ("contacts.0.name", "c2", "names of sections", "'c2' twice"),
        ("contacts.0.b", "frog", "contacts[0]", "'frog' twice"),
        (
            "sections",
            ["north stock", "south stock", "frog", "frog"],
            "names of",
            "'frog' twice",
        ),
        (
            "sections",
            ["north stock", "south stock", "frog", "plastic"],
            "sections",
            "'plastic'",
        ),
        ("levers.0.rest", "middle", "levers[0].rest", "'middle'"),
        ("levers.0.positions", ["through", "diverging", "moving"], "levers[0]", "'moving'"),
        ("pads.0.section", "frogg", "pads[0].section", "'frogg'"),
        ("pads.0.name", "frog", "names of", "'frog' twice"),
        ("gangs", [{"name": "g", "levers": ["slide", "other"]}], "gangs[0]", "'other'"),
        ("gangs", [{"name": "g", "levers": ["slide", "slide"]}], "gangs", "'slide' twice"),
        ("ends.0.north", "nowhere", "ends[0].north", "'nowhere'"),
        ("ends.1.name", "siding", "routes[0].to", "'main'"),
        ("routes.0.to", "points", "routes[0]", "'points' twice"),
        ("routes.1.to", "main", "routes", "'points-main' twice"),
        ("routes.0.length_mm", 160, "routes[0].length_mm", "160"),
        ("routes.0.spans.1.from_mm", 61, "routes[0].spans[1].from_mm", "61"),
        ("routes.0.spans.1.to_mm", 60, "routes[0].spans[1].to_mm", "60"),
        ("routes.0.spans.2.right", "south", "routes[0].spans[2].right", "'south'"),
        ("routes.0.spans.2.right", "south stock", "routes[0].spans[2]", "south 'south stock'"),
        ("routes.0.spans.0.left", "plastic", "routes[0].spans[0]", "north 'plastic'"),
        ("routes.0.points.0.heel_mm", 151, "routes[0].points[0].heel_mm", "151"),
        ("routes.0.points.0.heel_mm", 20, "routes[0].points[0]", "20"),
        ("routes.0.points.0.position", "over", "routes[0].points[0]", "'over'"),
        ("routes.0.course", [{"length_mm": 140}], "routes[0].course", "140"),
        ("routes.0.course", [{"length_mm": 0}], "routes[0].course", "0 mm"),
        ("crossings", [["points-main", "points-shed"]], "crossings[0]", "'points-shed'"),
        ("crossings", [["points-main", "points-main"]], "crossings[0]", "twice"),
        ("routes.0.spans.0.middle", "frog", "routes[0].spans[0].middle", "frog"),
        ("ends.0.outward", "north", "ends[0].outward", "'north'"),
        ("sections", "frog", "sections", "frog"),
        ("gauge_mm", None, "gauge_mm", "None"),
        ("sections", ["north/stock", "south stock", "frog"], "sections[0]", "north/stock"),
    ],
)
def test_a_slip_is_told_with_its_place(
    path: str, value: object, field: str, words: str
) -> None:
    with pytest.raises(PieceError) as caught:
        from_data(_with(path, value))
    told = [(f, got) for f, expected, got in caught.value.problems if expected]
    assert any(f.startswith(field) and words in got for f, got in told), told


def test_all_slips_are_told_at_once() -> None:
    data = _with("contacts.0.a", "fog")
    data["levers"][0]["rest"] = "middle"
    data["routes"][0]["spans"][1]["from_mm"] = 61
    with pytest.raises(PieceError) as caught:
        from_data(data)
    fields = [field for field, _, _ in caught.value.problems]
    assert fields == ["contacts[0].a", "levers[0].rest", "routes[0].spans[1].from_mm"]


def test_a_course_that_ends_elsewhere_is_refused() -> None:
    data = to_data(turnout())
    data["ends"][2]["y_mm"] += 1.0
    with pytest.raises(PieceError) as caught:
        from_data(data)
    assert [field for field, _, _ in caught.value.problems] == ["routes[1].course"]


def test_rails_that_change_sides_are_refused() -> None:
    """The slip that would turn a piece into a short without anybody seeing it."""
    data = to_data(turnout())
    for span in data["routes"][0]["spans"]:
        span["left"], span["right"] = span["right"], span["left"]
    with pytest.raises(PieceError) as caught:
        from_data(data)
    assert len(caught.value.problems) == 2


def test_the_form_has_a_schema() -> None:
    schema = DescribedPiece.model_json_schema()
    assert schema["additionalProperties"] is False
    assert set(schema["required"]) == {"gauge_mm", "sections", "ends", "routes"}
