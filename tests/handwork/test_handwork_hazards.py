"""Hazards and measures of the work, from the piece's own data."""

from __future__ import annotations

from dataclasses import replace

import pytest

from sim.analyses.handwork.measures import handwork
from sim.analyses.handwork.pads import (
    Place,
    apart_mm,
    bare_mm,
    cut_length_mm,
    height_mm,
    in_the_way,
    places,
    refusal,
    spare_mm,
    tie_bars,
)
from sim.analyses.search.changes import survey_ground
from sim.analyses.search.model import Asked
from sim.analyses.search.options import fix_from
from sim.analyses.search.tables import Plan
from sim.layout.assemble import assemble
from sim.layout.model import Layout
from sim.layout.project import Project
from sim.pieces.geometry import walk
from sim.scenario.fixes import FixTable
from tests.pieces.cases import double_slip, rail_place, route_of
from tests.seek.boards import between

LAYOUT = assemble(between()).layout


def place_of(ref: str, layout: Layout = LAYOUT) -> Place:
    return next(p for p in places(layout) if p.ref == ref)


def of(*parts: tuple[str, object]) -> tuple[Layout, FixTable]:
    fix = fix_from("tried", "", parts)
    return Project(between()).with_fixes([fix]).case("tried").layout, fix


@pytest.mark.parametrize(
    ("wire", "bare"), [("AWG 14", 1.628), ("AWG 20", 0.812), ("AWG 24", 0.511)]
)
def test_wire_by_gauge_number(wire: str, bare: float) -> None:
    """ASTM B258."""
    assert bare_mm(wire) == pytest.approx(bare, abs=5e-4)


def test_wire_by_area_has_the_diameter_of_a_circle() -> None:
    assert bare_mm("0.785398 mm2") == pytest.approx(1.0, abs=1e-5)


def test_pads_under_moving_contacts_are_refused_and_never_searched() -> None:
    sliding = [p for p in places(LAYOUT) if p.pad.slides]
    assert sliding
    assert {refusal(LAYOUT, p) for p in sliding} == {"a moving contact slides over it"}
    ground = survey_ground(Plan(assemble(between()), Asked()))
    kept = {p.ref for found in ground.by_cluster.values() for p in found}
    assert not kept & {p.ref for p in sliding}
    assert {p.ref for p in sliding} <= {ref for ref, _ in ground.refused}


def test_wire_and_joint_must_clear_the_cover() -> None:
    place = place_of("board/scissors/pad-A-inner-west-1")
    assert spare_mm(LAYOUT, place, "AWG 24") == round(2.0 - height_mm("AWG 24"), 3)
    assert refusal(LAYOUT, place, "AWG 24") is None
    low = replace(place, pad=replace(place.pad, clearance_mm=0.9))
    assert "metal cover leaves 0.9 mm" in str(refusal(LAYOUT, low, "AWG 24"))
    thick = replace(place, pad=replace(place.pad, clearance_mm=1.5))
    assert refusal(LAYOUT, thick, "AWG 14") is not None  # 1.628 mm of copper alone
    assert "too small" in str(
        refusal(LAYOUT, replace(place, pad=replace(place.pad, size_mm=0.5)), "AWG 20")
    )
    top = replace(low, pad=replace(low.pad, face="top"))
    assert refusal(LAYOUT, top, "AWG 24") is None  # not under the cover
    plain = place_of("west/A/pad-south-1")
    assert spare_mm(LAYOUT, plain) is None


def test_holes_only_where_nothing_metal_lies_below() -> None:
    middle, end = "board/scissors/pad-A-inner-west-1", _end_pad()
    for ref, refused in ((middle, True), (end, False)):
        layout, fix = of(("jumper", {"from": ref, "to": "board/scissors/pad-A-inner-east-1",
                                     "way": "under the board"}))  # fmt: skip
        work = handwork(layout, fix)
        assert (
            any(ref in why and "metal may lie below" in why for why in work.refused) == refused
        )
        assert list(work.held_down) == ["board/scissors"]
        assert (work.holes, work.opened) == (2, {})


def _end_pad() -> str:
    return next(
        p.ref for p in places(LAYOUT)
        if p.pad.drill and p.ref.startswith("board/scissors/pad-A-inner-west")
    )  # fmt: skip


def test_end_pads_lie_near_the_ends_and_clear_of_the_tie_bars() -> None:
    placed = next(p for p in LAYOUT.pieces if p.id == "board/scissors")
    bars = list(tie_bars(placed.piece))
    drilled = [pad for pad in placed.piece.pads if pad.drill]
    assert {pad.section for pad in drilled} >= {"A-inner-west", "A-inner-east", "A-outer"}
    for pad in drilled:
        assert min(pad.x_mm, 310.0 - pad.x_mm) < 12.0
        assert all(abs(pad.x_mm - bar.x_mm) > bar.along_mm for bar in bars)


def test_a_tie_bar_lies_at_the_tips_of_its_lever() -> None:
    piece = next(p for p in LAYOUT.pieces if p.id == "board/scissors").piece
    bars = {bar.lever: bar for bar in tie_bars(piece)}
    assert set(bars) == {"AW", "AE", "BW", "BE"}
    route = next(r for r in piece.routes if r.name == "A-west-A-east")
    tip = next(p.tip_mm for p in route.points if p.lever == "AW")
    assert bars["AW"].x_mm == pytest.approx(tip)
    assert bars["BE"].y_mm == pytest.approx(-33.0)
    assert walk(route.course, _start(), tip).y_mm == pytest.approx(bars["AW"].y_mm)


def _start():  # type: ignore[no-untyped-def]
    from sim.pieces.geometry import Pose

    return Pose(0.0, 0.0, 0.0)


def test_a_lever_of_a_double_slip_has_a_tie_bar_under_both_tracks() -> None:
    """Two tracks come in at each end, so nothing may be laid across either there."""
    piece = double_slip()
    bars = list(tie_bars(piece))
    assert sorted(bar.lever for bar in bars) == ["east", "east", "west", "west"]
    for end in ("A-west", "B-west", "A-east", "B-east"):
        route = route_of(piece, f"{end[0]}-west-{end[0]}-east")
        lever = end.partition("-")[2]
        tip = next(p.tip_mm for p in route.points if p.lever == lever)
        left, right = (rail_place(piece, route, side, tip) for side in ("left", "right"))
        middle = (left[0] + right[0]) / 2.0, (left[1] + right[1]) / 2.0
        assert any(
            bar.lever == lever and (bar.x_mm, bar.y_mm) == pytest.approx(middle, abs=0.01)
            for bar in bars
        )


def test_a_straight_wire_over_a_tie_bar_is_warned_of() -> None:
    piece = next(p for p in LAYOUT.pieces if p.id == "board/scissors").piece
    near = place_of("board/scissors/pad-A-inner-west-1")
    bar = next(b for b in tie_bars(piece) if b.lever == "AW")
    west = replace(near, pad=replace(near.pad, x_mm=bar.x_mm - 9.0, y_mm=bar.y_mm))
    east = replace(near, pad=replace(near.pad, x_mm=bar.x_mm + 9.0, y_mm=bar.y_mm + 1.0))
    assert in_the_way(piece, west, east) == ["AW"]
    far = replace(near, pad=replace(near.pad, x_mm=bar.x_mm + 20.0, y_mm=bar.y_mm))
    assert in_the_way(piece, east, far) == []
    below = replace(near, pad=replace(near.pad, x_mm=bar.x_mm - 9.0, y_mm=bar.y_mm - 30.0))
    away = replace(near, pad=replace(near.pad, x_mm=bar.x_mm - 9.0, y_mm=bar.y_mm + 30.0))
    assert in_the_way(piece, below, away) == []  # across the track, beside the bar


def test_distances_run_over_the_joints_of_a_module() -> None:
    """Pads of two pieces of one module: checked against the end-to-end lengths."""
    from tests.checked import scenario_from_text
    from tests.seek.boards import HEAD

    text = (
        HEAD + '[[module]]\nname = "m"\njoins = [["a/east", "b/west"], ["b/east", "c/east"]]\n'
    )
    for name in "abc":
        text += f'[[module.piece]]\nname = "{name}"\nkind = "straight"\nlength_mm = 100\n'
    found = {p.ref: p for p in places(assemble(scenario_from_text(text)).layout)}
    a, b, c = (found[f"m/{n}/pad-north-1"] for n in "abc")
    assert apart_mm(a, b) == pytest.approx(100.0)
    # c lies turned round: its north rail is on the other side, a gauge away
    assert apart_mm(b, c) == pytest.approx((100.0**2 + 9.0**2) ** 0.5, abs=1e-3)
    assert apart_mm(a, place_of("west/A/pad-north-1")) is not None


def test_length_to_cut() -> None:
    assert cut_length_mm(100.0, 0, False) == 120.0
    assert cut_length_mm(101.0, 1, True) == 210.0


def test_every_joint_hole_and_opened_piece_is_counted() -> None:
    layout, fix = of(
        ("feeder", {"name": "f", "supply": "cab A", "plus": "east/A/pad-north-1",
                    "minus": "east/A/pad-south-1", "length": "400 mm"}),
        ("jumper", {"from": "board/scissors/A-mid-west", "to": "board/scissors/A-mid-east"}),
        ("changeover", {"section": "board/scissors/B-mid-west", "lever": "board/scissors/BW",
                        "to": {"through": "board/scissors/B-inner-west"}}),
        ("solder", "west/A/joiner-east-*"),
        ("clean", "board/scissors/*"),
        ("gap", {"at": "board/scissors/A-east", "rails": "north"}),
    )  # fmt: skip
    work = handwork(layout, fix)
    # feeder 2, jumper 2, changeover 1 + 1, joiners 2; the feeder's two holes
    assert (work.joints, work.holes, work.cuts) == (8, 2, 1)
    assert list(work.opened) == ["board/scissors"]
    apart = apart_mm(
        *(place_of(f"board/scissors/pad-A-mid-{end}-1") for end in ("west", "east"))
    )
    assert work.wire_mm == 800.0 + cut_length_mm(apart or 0.0, 0, False)
    assert any("microswitch" in c for c in work.cautions)
    assert any("2 s or less" in c for c in work.cautions)


def test_doing_nothing_takes_nothing() -> None:
    work = handwork(LAYOUT, None)
    assert (work.joints, work.holes, work.wire_mm, work.opened) == (0, 0, 0.0, {})


def test_gaps_past_frogs_are_two_cuts_and_an_energy_store_opens_an_engine() -> None:
    alter = ("alter", {"piece": "board/scissors", "set": {"centre_gap": True}})
    layout, fix = of(alter)
    assert (handwork(layout, fix).cuts, list(handwork(layout, fix).replaced)) == (
        2,
        ["board/scissors"],
    )
    store = fix_from("s", "", (("energy_store", {"train": "local", "energy_store_s": 1.0}),))
    assert list(handwork(LAYOUT, store).opened) == ["the engine of local"]
