"""The shape of one turnout: where its tip, heel and frog lie, along either route.

The centre line of a leg is straight, an arc, and straight again through the
frog.  The arc is the largest that fits between the blade tip and the frog toe.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import tan

from sim.pieces import geometry
from sim.pieces.errors import Problem
from sim.pieces.family import Role
from sim.pieces.geometry import mm
from sim.pieces.params import SwitchParams
from sim.pieces.rails import Rail, Stretch

#: blades taken as this share of the lead (assumption)
BLADE_SHARE = 1.0 / 3.0
#: least length of plain rail before a tip or behind a frog, mm
LEAST_RAIL_MM = 0.5
_LEAST_TANGENT_MM = 0.5

SHAPE_NOTES = (
    "blade length taken as a third of the lead (assumption)",
    "place of the blade tips within the piece is an assumption",
    "solder pads, their sizes and clearances are assumptions: measure the piece",
    "places to drill, near the ends only, are assumptions: look underneath first",
)


@dataclass(frozen=True, slots=True)
class Marks:
    """Places on one route, in mm from the end that the points face."""

    tip_mm: float
    heel_mm: float
    toe_mm: float
    frog_heel_mm: float


@dataclass(frozen=True, slots=True)
class SwitchShape:
    """Measures of one turnout in mm from its blade tip, along the through route.

    ``turn_rad`` is how far one curved leg turns: the frog angle, or half of it
    where both legs curve.
    """

    gauge_mm: float
    frog_angle_rad: float
    turn_rad: float
    lead_mm: float
    blade_mm: float
    toe_mm: float
    frog_heel_mm: float

    @property
    def intersection_mm(self) -> float:
        """From the tip to the intersection of the centre lines."""
        beyond = geometry.intersection_to_frog_mm(self.gauge_mm, self.frog_angle_rad)
        return self.lead_mm - beyond

    @property
    def tangent_mm(self) -> float:
        """From the intersection to either end of the arc."""
        return min(self.intersection_mm, self.toe_mm - self.intersection_mm)

    @property
    def radius_mm(self) -> float:
        """Centre-line radius of the arc."""
        return self.tangent_mm / tan(self.turn_rad / 2.0)

    @property
    def arc_mm(self) -> float:
        """Length of the arc."""
        return self.radius_mm * self.turn_rad

    def curved(self, place_mm: float) -> float:
        """Distance along a curved leg abreast of a place on a straight one."""
        before = self.intersection_mm - self.tangent_mm
        if place_mm <= before:
            return place_mm
        within = min(place_mm - before, 2.0 * self.tangent_mm)
        return place_mm - within * (1.0 - self.arc_mm / (2.0 * self.tangent_mm))

    def marks(self, tip_mm: float, *, curved: bool) -> Marks:
        """The marks on a route whose points lie at ``tip_mm``."""
        places = (0.0, self.blade_mm, self.toe_mm, self.frog_heel_mm)
        if curved:
            places = tuple(self.curved(place) for place in places)  # type: ignore[assignment]
        tip, heel, toe, frog_heel = (mm(tip_mm + place) for place in places)
        return Marks(tip, heel, toe, frog_heel)

    def leg(
        self, tip_mm: float, beyond_mm: float, sign: float
    ) -> tuple[tuple[float, float], ...]:
        """Course parts (length, turn) of a curved leg; ``sign`` 1 turns left, -1 right.

        ``beyond_mm`` is how far the leg runs past the intersection.
        """
        return (
            (tip_mm + self.intersection_mm - self.tangent_mm, 0.0),
            (self.arc_mm, sign * self.turn_rad),
            (beyond_mm - self.tangent_mm, 0.0),
        )


def switch_shape(
    params: SwitchParams, problems: list[Problem], turn_share: float = 1.0
) -> SwitchShape:
    """Measures from parameters; impossible ones are added to ``problems``."""
    gauge, number = params.gauge_mm, params.frog_number
    angle = geometry.frog_angle_rad(number, params.frog_rule)
    lead = params.lead_mm or geometry.simple_lead_mm(gauge, number)
    toe, heel = geometry.frog_parts_mm(gauge, number)
    if params.frog_dead_mm is not None:
        share = params.frog_dead_mm / (toe + heel)
        toe, heel = toe * share, heel * share
    shape = SwitchShape(
        gauge, angle, angle * turn_share, lead, lead * BLADE_SHARE, lead - toe, lead + heel
    )
    _check(shape, params, problems)
    return shape


def _check(shape: SwitchShape, params: SwitchParams, problems: list[Problem]) -> None:
    beyond = geometry.intersection_to_frog_mm(shape.gauge_mm, shape.frog_angle_rad)
    least = beyond + _LEAST_TANGENT_MM
    if shape.lead_mm < least:
        expected = f"at least {least:.3f} mm, for the centre lines to meet behind the blade tip"
        problems.append(("lead_mm", expected, f"{shape.lead_mm:g} mm"))
        return
    most = min(shape.lead_mm - shape.blade_mm, beyond) - _LEAST_TANGENT_MM
    toe = shape.lead_mm - shape.toe_mm
    if toe > most:
        whole = most * (shape.frog_heel_mm - shape.toe_mm) / toe
        field = "frog_dead_mm" if params.frog_dead_mm is not None else "frog_number"
        expected = f"a frog of at most {whole:.3f} mm, between closure curve and heel"
        problems.append((field, expected, f"{shape.frog_heel_mm - shape.toe_mm:.3f} mm"))


Names = Mapping[Role, str | None]


def inner_through(names: Names, marks: Marks, to_mm: float) -> Rail:
    """The rail of the through leg that the frog lies in, from the points on."""
    return _inner(names, ("SS", "BS", "CS", "F", "HT"), marks, to_mm)


def inner_diverging(names: Names, marks: Marks, to_mm: float) -> Rail:
    """The rail of the diverging leg that the frog lies in, from the points on."""
    return _inner(names, ("SN", "BN", "CN", "F", "HD"), marks, to_mm)


def _inner(names: Names, roles: tuple[Role, ...], marks: Marks, to_mm: float) -> Rail:
    places = (0.0, marks.tip_mm, marks.heel_mm, marks.toe_mm, marks.frog_heel_mm, mm(to_mm))
    laid = (
        Stretch(names[role], places[i], places[i + 1], blade=role in ("BN", "BS"))
        for i, role in enumerate(roles)
    )
    return tuple(stretch for stretch in laid if stretch.length_mm > 0.0)
