"""The inert description of one piece of track.

Library pieces and pieces described rail by rail in a scenario are both
instances of :class:`Piece`, so everything downstream knows one kind of thing.
All names are local to the piece; lengths are mm of the model; the piece lies
in its own drawing with west to the left and north up.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Outward = Literal["west", "east"]
Side = Literal["left", "right"]
RunThrough = Literal["forced over", "springs back", "derails"]
Face = Literal["top", "underside"]
Cover = Literal["none", "plastic", "metal"]

#: One alternative of a condition: every (lever, position) must hold.
Clause = tuple[tuple[str, str], ...]
#: Any one of the clauses closes the contact.
Condition = tuple[Clause, ...]


@dataclass(frozen=True, slots=True)
class Section:
    """One piece of metal rail, insulated at both ends: one electrical node."""

    name: str


@dataclass(frozen=True, slots=True)
class Gap:
    """A cut between two sections: no connection, but a place one could be bridged."""

    name: str
    a: str
    b: str


@dataclass(frozen=True, slots=True)
class Bond:
    """A permanent connection between two sections (a wire, a factory strip)."""

    name: str
    a: str
    b: str


@dataclass(frozen=True, slots=True)
class Contact:
    """A connection that exists only in some positions of its levers.

    ``makes_at`` and ``breaks_at`` are fractions of the throw time (0 to 1);
    the defaults break when the throw begins and make when it ends.  A contact
    with ``makes_at`` below another's ``breaks_at`` makes before that one breaks.
    """

    name: str
    a: str
    b: str
    when: Condition
    makes_at: float = 1.0
    breaks_at: float = 0.0


@dataclass(frozen=True, slots=True)
class Lever:
    """One drive. Between two of its positions it is moving."""

    name: str
    positions: tuple[str, ...] = ("through", "diverging")
    rest: str = "through"
    run_through: RunThrough = "forced over"


@dataclass(frozen=True, slots=True)
class Gang:
    """Levers meant to move together, each to the position of the same name."""

    name: str
    levers: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Pad:
    """A place where a wire can be soldered."""

    name: str
    section: str
    x_mm: float
    y_mm: float
    size_mm: float = 3.0
    clearance_mm: float = 2.0
    slides: bool = False  #: a moving contact slides over it: never solder here
    face: Face = "underside"
    drill: bool = False  #: nothing metal lies below: a hole may go down beside the rail
    iron_s: float = 2.0  #: the iron may touch it for so long (common practice, no source)


@dataclass(frozen=True, slots=True)
class Span:
    """A stretch of a route over which neither rail changes its section.

    ``left`` and ``right`` are as seen going from the route's ``start`` to its
    ``finish``; ``None`` is plastic: no metal under the wheel.
    """

    from_mm: float
    to_mm: float
    left: str | None
    right: str | None


@dataclass(frozen=True, slots=True)
class Points:
    """Where a route passes moving blades, in mm from the route's start.

    The blades lie between ``tip_mm`` and ``heel_mm``.  A train that meets the
    tip first is facing and goes where the lever sends it; one that meets the
    heel first is trailing, and runs through when the lever is not at
    ``position``.
    """

    lever: str
    position: str
    tip_mm: float
    heel_mm: float

    @property
    def facing_from_start(self) -> bool:
        """True when a train going from start to finish meets the tip first."""
        return self.tip_mm < self.heel_mm


@dataclass(frozen=True, slots=True)
class Stroke:
    """One primitive of a centre line: straight when ``turn_deg`` is 0, else an arc.

    A positive turn goes to the left (anticlockwise with north up).
    """

    length_mm: float
    turn_deg: float = 0.0


@dataclass(frozen=True, slots=True)
class End:
    """A place where another piece can join.

    ``north`` and ``south`` are the sections of the two rails there, in the
    piece's own drawing.  ``outward`` says which way the track leaves the piece:
    looking outward at an east end the north rail is on the left, at a west end
    on the right.  ``heading_deg`` is the exact outward direction (0 east, 90 north).
    """

    name: str
    outward: Outward
    north: str
    south: str
    x_mm: float
    y_mm: float
    heading_deg: float
    joinable: bool = True  #: False at a buffer stop

    def outward_rails(self) -> tuple[str, str]:
        """(left, right) sections as seen by a train that leaves the piece here."""
        if self.outward == "east":
            return self.north, self.south
        return self.south, self.north


@dataclass(frozen=True, slots=True)
class Route:
    """One way through the piece. Its name is ``start-finish``."""

    start: str
    finish: str
    length_mm: float
    spans: tuple[Span, ...]
    points: tuple[Points, ...] = ()
    course: tuple[Stroke, ...] = ()

    @property
    def name(self) -> str:
        """The route's name within its piece."""
        return f"{self.start}-{self.finish}"

    @property
    def needs(self) -> Clause:
        """The lever positions that set this route."""
        return tuple((p.lever, p.position) for p in self.points)


@dataclass(frozen=True, slots=True)
class Piece:
    """An item of track: routes, rails, gaps, bonds, contacts, pads."""

    kind: str
    gauge_mm: float
    sections: tuple[Section, ...]
    ends: tuple[End, ...]
    routes: tuple[Route, ...]
    bonds: tuple[Bond, ...] = ()
    gaps: tuple[Gap, ...] = ()
    contacts: tuple[Contact, ...] = ()
    levers: tuple[Lever, ...] = ()
    gangs: tuple[Gang, ...] = ()
    pads: tuple[Pad, ...] = ()
    #: pairs of route names that cross on the level: one train at a time
    crossings: tuple[tuple[str, str], ...] = ()
    family: str = ""
    assumed_dead_mm: float | None = None  #: of its plastic frogs, where nobody gave it
    notes: tuple[str, ...] = ()  #: assumptions behind the geometry, for people
    cover: Cover = "none"  #: what closes its underside; pads there are reached by opening it
    #: (name, words) of parts that a description calls otherwise for people
    words: tuple[tuple[str, str], ...] = ()
