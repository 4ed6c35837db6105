"""Pieces to test with, strategies for more, and a numerical walk along a course."""

from __future__ import annotations

from collections.abc import Iterator
from math import cos, radians, sin

from hypothesis import reject
from hypothesis import strategies as st

from sim.pieces.kinds import KINDS, build
from sim.pieces.model import End, Piece, Route
from sim.pieces.parameters import PieceError

FAMILIES = (
    "live frog",
    "insulated frog, power routing",
    "insulated frog, all live",
    "powered frog",
    "switched frog, bonded blades",
    "metal frog, slide-routed",
)
SLIP_FAMILIES = ("live frog", "insulated frog, all live")
CAN_CUT = ("live frog", "switched frog, bonded blades")
N_GAUGE = {"gauge_mm": 9.0}
TWIN = {"gauge_mm": 9.0, "track_centres_mm": 30.0, "length_mm": 400.0}


def turnout(**params: object) -> Piece:
    """A No. 8 turnout of 9 mm gauge."""
    return build("turnout", N_GAUGE | params)


def crossover(**params: object) -> Piece:
    """A No. 8 single crossover of 9 mm gauge, 30 mm centres, 400 mm long."""
    return build("single crossover", TWIN | params)


def scissors(**params: object) -> Piece:
    """A No. 8 scissors crossover of 9 mm gauge, 30 mm centres, 400 mm long."""
    return build("scissors crossover", TWIN | params)


def double_slip(**params: object) -> Piece:
    """A No. 6 double slip of 9 mm gauge."""
    return build("double slip", N_GAUGE | params)


def lengths(low: float, high: float) -> st.SearchStrategy[float]:
    """Lengths in mm, not rounded to anything."""
    return st.floats(low, high, allow_nan=False, allow_infinity=False)


GAUGES = st.sampled_from([6.5, 9.0, 12.0, 16.5, 32.0]) | lengths(5.0, 50.0)
_SWITCH = {
    "frog_number": st.sampled_from([4.0, 5.0, 6.0, 7.0, 8.0]) | lengths(3.0, 12.0),
    "frog_rule": st.sampled_from(["american", "tangent"]),
    "family": st.sampled_from(FAMILIES),
    "run_through": st.sampled_from(["forced over", "springs back", "derails"]),
    "makes_at": lengths(0.0, 1.0),
    "breaks_at": lengths(0.0, 1.0),
}
_CROSS = _SWITCH | {"track_centres_mm": lengths(30.0, 120.0), "gauge_mm": lengths(5.0, 17.0)}

STRATEGIES: dict[str, dict[str, st.SearchStrategy[object]]] = {
    "straight": {"length_mm": lengths(1.0, 2000.0)},
    "curve": {
        "radius_mm": lengths(60.0, 3000.0),
        "angle_deg": lengths(1.0, 180.0),
        "hand": st.sampled_from(["left", "right"]),
    },
    "insulated straight": {
        "length_mm": lengths(20.0, 500.0),
        "gap_in": st.sampled_from(["north", "south", "both"]),
        "gap_mm": st.none() | lengths(1.0, 19.0),
    },
    "feeder length": {"length_mm": lengths(10.0, 300.0)},
    "siding end": {"length_mm": lengths(10.0, 900.0)},
    "turnout": _SWITCH | {"hand": st.sampled_from(["left", "right", "symmetrical"])},
    "single crossover": _CROSS | {"gangs": st.sampled_from(["both", "single"])},
    "scissors crossover": _CROSS
    | {
        "centre_gap": st.booleans(),
        "corners": st.sampled_from(["plastic", "fed"]),
        "gangs": st.sampled_from(["all", "per diagonal", "single"]),
    },
    "double slip": _SWITCH
    | {
        "family": st.sampled_from(SLIP_FAMILIES),
        "hand": st.sampled_from(["left", "right"]),
    },
    "diamond crossing": {
        "angle_deg": st.none() | lengths(3.0, 90.0),
        "hand": st.sampled_from(["left", "right"]),
    },
}


@st.composite
def pieces(draw: st.DrawFn) -> Piece:
    """Any library piece that can exist."""
    kind = draw(st.sampled_from(sorted(STRATEGIES)))
    fields = {"gauge_mm": GAUGES} | STRATEGIES[kind]
    params = {name: draw(strategy) for name, strategy in fields.items()}
    if "frog_gaps" in KINDS[kind].model_fields and params["family"] in CAN_CUT:
        params["frog_gaps"] = draw(st.booleans())
    try:
        return build(kind, params)
    except PieceError:
        reject()


def end_of(piece: Piece, name: str) -> End:
    """The end of that name."""
    return next(end for end in piece.ends if end.name == name)


def route_of(piece: Piece, name: str) -> Route:
    """The route of that name."""
    return next(route for route in piece.routes if route.name == name)


def trace(
    piece: Piece, route: Route, step_mm: float = 0.25
) -> Iterator[tuple[float, float, float, float]]:
    """(distance, x, y, heading in radians) along a route by small straight steps."""
    end = end_of(piece, route.start)
    x, y, heading = end.x_mm, end.y_mm, radians(end.heading_deg + 180.0)
    gone = 0.0
    yield gone, x, y, heading
    for stroke in route.course:
        steps = max(1, round(stroke.length_mm / step_mm))
        length, turn = stroke.length_mm / steps, radians(stroke.turn_deg) / steps
        for _ in range(steps):
            x += length * cos(heading + turn / 2.0)
            y += length * sin(heading + turn / 2.0)
            heading += turn
            gone += length
            yield gone, x, y, heading


def rail_place(piece: Piece, route: Route, side: str, place_mm: float) -> tuple[float, float]:
    """(x, y) of one rail of a route abreast of a place, by the numerical walk."""
    off = piece.gauge_mm / 2.0 * (1.0 if side == "left" else -1.0)
    found = min(trace(piece, route), key=lambda point: abs(point[0] - place_mm))
    gone, x, y, heading = found
    x += (place_mm - gone) * cos(heading)
    y += (place_mm - gone) * sin(heading)
    return x - off * sin(heading), y + off * cos(heading)


def rail_runs(route: Route, section: str | None) -> list[tuple[str, float, float]]:
    """(side, from, to) of every unbroken stretch of a section on a route."""
    runs: list[tuple[str, float, float]] = []
    for side in ("left", "right"):
        for span in route.spans:
            if getattr(span, side) != section:
                continue
            if runs and runs[-1][0] == side and runs[-1][2] == span.from_mm:
                runs[-1] = (side, runs[-1][1], span.to_mm)
            else:
                runs.append((side, span.from_mm, span.to_mm))
    return runs
