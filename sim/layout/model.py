"""The inert, indexed description of a layout, ready to be traced and run.

Everything is a tuple, and things refer to each other by their index in those
tuples, so that tracing and motion never look up names.  Names (``id``) follow
the pattern ``module/piece/name``.  Places on routes are whole micrometres, so
that two boundaries that coincide are exactly equal.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from sim.layout.supply_kinds import SUPPLY_KINDS, SupplyKind, SupplyKindName
from sim.pieces.model import Piece, RunThrough

UM_PER_MM = 1000  #: the one place where it is written
PLASTIC = -1  #: in a span: no metal under the wheel
NOWHERE = -1  #: of an end: nothing is joined to it

ElementKind = Literal["bond", "joiner", "contact", "feeder", "bus", "common", "jumper", "gap"]

#: One alternative: every (lever index, position index) must hold.
Clause = tuple[tuple[int, int], ...]


@dataclass(frozen=True, slots=True)
class Element:
    """A connection, actual or possible, between two nodes.

    A contact is closed while any clause of ``when`` holds; a gap never is (it
    is listed so that answers can name it); every other kind always is, unless
    it has failed.  ``opens`` is the probability that a contact which ought to
    close at a throw stays open until the next one; of any other kind, that it is
    open throughout a run.  ``bad`` is the probability that a contact is open
    throughout a run.
    """

    id: str
    kind: ElementKind
    a: int
    b: int
    when: tuple[Clause, ...] = ()
    makes_at: float = 1.0
    breaks_at: float = 0.0
    opens: float = 0.0
    bad: float = 0.0
    resistance_ohm: float | None = None  #: None: the default for its kind
    piece: int = -1  #: index of the piece it belongs to, -1 for none
    #: ids of the pads where a wire meets ``a`` and ``b``; anything else is their middle
    taps: tuple[str, str] = ("", "")

    @property
    def found_open(self) -> float:
        """The probability that it is open when it ought to conduct, for either reason."""
        return round(1.0 - (1.0 - self.opens) * (1.0 - self.bad), 12)


@dataclass(frozen=True, slots=True)
class Supply:
    """A cab or booster: an open-circuit voltage between two poles.

    ``plus`` and ``minus`` are node indices.  When ``reversed`` the minus pole
    is the higher one: the phase is turned at the supply.
    """

    name: str
    kind: SupplyKindName
    plus: int
    minus: int
    voltage_v: float
    reversed: bool
    internal_ohm: float
    trip_a: float
    trip_s: float
    retry_s: float | None  #: None: stays off until the end of the run
    common: str | None = None

    @property
    def acts(self) -> SupplyKind:
        """How a supply of its kind behaves."""
        return SUPPLY_KINDS[self.kind]


@dataclass(frozen=True, slots=True)
class District:
    """The rails that one supply is meant to feed."""

    name: str
    supply: int
    nodes: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Lever:
    """One drive. ``fails`` is the probability per throw that it stays where it was."""

    id: str
    positions: tuple[str, ...]
    rest: int
    run_through: RunThrough
    fails: float
    piece: int


@dataclass(frozen=True, slots=True)
class Control:
    """What a hand moves: a gang, or a lever of its own.

    Each lever goes to its position of the same name as the control's.
    """

    id: str
    levers: tuple[int, ...]
    positions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Span:
    """Like :class:`sim.pieces.model.Span`, in micrometres and node indices."""

    from_um: int
    to_um: int
    left: int
    right: int


@dataclass(frozen=True, slots=True)
class Points:
    """Like :class:`sim.pieces.model.Points`, in micrometres and indices."""

    lever: int
    position: int
    tip_um: int
    heel_um: int


@dataclass(frozen=True, slots=True)
class Route:
    """One way through one piece; ``start`` and ``finish`` are end indices."""

    id: str
    piece: int
    start: int
    finish: int
    length_um: int
    spans: tuple[Span, ...]
    points: tuple[Points, ...]
    #: indices of routes of the same piece that cannot be used at the same time
    conflicts: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class End:
    """An end of a piece and the index of the end it is joined to."""

    id: str
    piece: int
    joined: int


@dataclass(frozen=True, slots=True)
class PlacedPiece:
    """A piece in its module. ``id`` is ``module/piece``."""

    id: str
    module: str
    piece: Piece
    routes: tuple[int, ...]
    ends: tuple[int, ...]
    levers: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Module:
    """A board: its pieces and how much of its length they take.

    ``taken_mm`` is the longest run of pieces from one end of the board to the
    other, with what a fix adds.
    """

    name: str
    length_mm: float | None
    taken_mm: float
    pieces: tuple[int, ...]
    turned: bool = False


@dataclass(frozen=True, slots=True)
class Layout:
    """A layout as built, or with one fix applied."""

    nodes: tuple[str, ...]
    elements: tuple[Element, ...]
    supplies: tuple[Supply, ...]
    districts: tuple[District, ...]
    levers: tuple[Lever, ...]
    controls: tuple[Control, ...]
    routes: tuple[Route, ...]
    ends: tuple[End, ...]
    pieces: tuple[PlacedPiece, ...]
    modules: tuple[Module, ...]
    #: node index of each pad, by the pad's id
    pads: tuple[tuple[str, int], ...] = ()
    rail_ohm_m: float = 0.057  #: resistance of a metre of one rail
    pickup_ohm: float = 0.0  #: of one pickup: wheel on rail, and the wiper on the wheel
