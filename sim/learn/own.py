"""The shape of a piece that is not in the library: ends, levers and routes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from pydantic import Field

from sim.pieces.described import from_data
from sim.pieces.errors import PieceError
from sim.pieces.model import Piece
from sim.scenario.fields import Model, Name

#: Where blades are taken to lie, as shares of a route's length from its points.
TIP_SHARE, HEEL_SHARE = 0.1, 0.4


class OwnEnd(Model):
    """An end, and which way the track leaves the piece there."""

    name: Name
    outward: str = Field(description="west or east", pattern="^(west|east)$")


class OwnLever(Model):
    """A lever and its positions."""

    name: Name
    positions: tuple[Name, ...] = Field(default=("through", "diverging"), min_length=2)


class OwnRoute(Model):
    """A way through the piece; blades are near ``from``."""

    start: Name = Field(alias="from")
    to: Name
    length_mm: float = Field(default=100.0, gt=0.0, le=100_000.0)
    needs: dict[str, str] = Field(default_factory=dict)


def template_of(
    params: Mapping[str, Any],
    ends: Sequence[OwnEnd],
    levers: Sequence[OwnLever],
    routes: Sequence[OwnRoute],
) -> Piece:
    """A piece with a rail section of its own at each rail of each end.

    Raises :class:`PieceError` where the parts do not fit one another.
    """
    outward = {end.name: end.outward for end in ends}
    unknown = [n for r in routes for n in (r.start, r.to) if n not in outward]
    if unknown:
        raise PieceError([("route", "ends that are listed", ", ".join(map(repr, unknown)))])
    data: dict[str, Any] = {
        "kind": "own piece",
        **params,
        "sections": [f"{end.name}-{side}" for end in ends for side in ("north", "south")],
        "ends": [
            {
                "name": end.name,
                "outward": end.outward,
                "north": f"{end.name}-north",
                "south": f"{end.name}-south",
            }
            for end in ends
        ],
        "levers": [{"name": x.name, "positions": list(x.positions)} for x in levers],
        "routes": [_route(r, outward) for r in routes],
    }
    return from_data(data)


def _route(route: OwnRoute, outward: Mapping[str, str]) -> dict[str, Any]:
    half = route.length_mm / 2.0
    # Going in at a west end the north rail is on the left, at an east end on the right;
    # going out it is the other way round.
    left, right = ("north", "south") if outward[route.start] == "west" else ("south", "north")
    out_left, out_right = (
        ("north", "south") if outward[route.to] == "east" else ("south", "north")
    )
    return {
        "from": route.start,
        "to": route.to,
        "length_mm": route.length_mm,
        "spans": [
            {"from_mm": 0.0, "to_mm": half, "left": f"{route.start}-{left}",
             "right": f"{route.start}-{right}"},
            {"from_mm": half, "to_mm": route.length_mm, "left": f"{route.to}-{out_left}",
             "right": f"{route.to}-{out_right}"},
        ],
        "points": [
            {
                "lever": lever,
                "position": position,
                "tip_mm": route.length_mm * TIP_SHARE,
                "heel_mm": route.length_mm * HEEL_SHARE,
            }
            for lever, position in route.needs.items()
        ],
    }  # fmt: skip
