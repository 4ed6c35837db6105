"""The electrical families of turnouts: which rails are one, bonded, cut, or switched.

Roles, seen from the points of a turnout that diverges to the right:

``SN`` straight stock rail, ``SS`` curved stock rail, ``BN CN`` blade and closure
rail under the inner wheel of the diverging route, ``BS CS`` the same for the
through route, ``F`` frog, ``HT`` and ``HD`` the rails past the frog on the
through and on the diverging leg.  In a turnout of the other hand every role
keeps its meaning and lies on the other side.

Common practice of turnout wiring; no standard gives names to these families.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from sim.pieces.model import Bond, Contact, Gap

Family = Literal[
    "live frog",
    "insulated frog, power routing",
    "insulated frog, all live",
    "powered frog",
    "switched frog, bonded blades",
    "metal frog, slide-routed",
]
Role = Literal["SN", "SS", "BN", "CN", "BS", "CS", "F", "HT", "HD"]
ROLES: tuple[Role, ...] = ("SN", "SS", "BN", "CN", "BS", "CS", "F", "HT", "HD")
#: What a builder calls each role.
ROLE_WORDS: Mapping[str, str] = {
    "SN": "straight stock rail",
    "SS": "curved stock rail",
    "BN": "blade of the diverging route",
    "CN": "closure rail behind blade BN",
    "BS": "blade of the through route",
    "CS": "closure rail behind blade BS",
    "F": "frog",
    "HT": "rail past the frog, through leg",
    "HD": "rail past the frog, diverging leg",
}
THROUGH, DIVERGING = "through", "diverging"

_Pairs = tuple[tuple[Role, Role], ...]
_HINGES: _Pairs = (("BN", "CN"), ("BS", "CS"))
_LINKS: _Pairs = (("CS", "HT"), ("CN", "HD"))
_STOCK: _Pairs = (("CS", "SS"), ("CN", "SN"))
_FROG_TOE: _Pairs = (("CS", "F"), ("CN", "F"))
_FROG_HEEL: _Pairs = (("F", "HT"), ("F", "HD"))
_TO_SS: _Pairs = (("F", "SS"),)
_TO_SN: _Pairs = (("F", "SN"),)


@dataclass(frozen=True, slots=True)
class FamilyRow:
    """One row of the table of families, in roles.

    ``through`` and ``diverging`` are the contacts that are closed in that position.
    ``called`` names rails in a piece of several turnouts, behind the turnout's name,
    where the role's letters would not do.
    """

    one_section: tuple[Role, ...]
    bonds: _Pairs
    cuts: _Pairs
    through: _Pairs
    diverging: _Pairs
    plastic_frog: bool = False
    called: Mapping[Role, str] = field(default_factory=dict)


FAMILIES: Mapping[Family, FamilyRow] = {
    "live frog": FamilyRow(("BN", "CN", "BS", "CS", "F", "HT", "HD"), (), (), _TO_SS, _TO_SN),
    "insulated frog, power routing": FamilyRow(
        (), _HINGES + _LINKS, _LINKS, (("CS", "SS"),), (("CN", "SN"),), plastic_frog=True
    ),
    "insulated frog, all live": FamilyRow(
        (), _HINGES + _LINKS + _STOCK, _LINKS, (), (), plastic_frog=True
    ),
    "powered frog": FamilyRow(
        (), _HINGES + _LINKS + _STOCK, _FROG_TOE + _FROG_HEEL, _TO_SS, _TO_SN
    ),
    "switched frog, bonded blades": FamilyRow(
        ("F", "HT", "HD"), _HINGES + _STOCK, _FROG_TOE, _TO_SS, _TO_SN
    ),
    "metal frog, slide-routed": FamilyRow(
        (),
        _HINGES + _STOCK,
        _FROG_TOE + _FROG_HEEL,
        (*_TO_SS, ("HT", "SS")),
        (*_TO_SN, ("HD", "SN")),
        called={"F": "frog", "HD": "leg"},
    ),
}

#: families whose frog is one metal with the rails past it, so that those can be cut off
CAN_CUT_PAST_FROG: tuple[Family, ...] = ("live frog", "switched frog, bonded blades")


@dataclass(frozen=True, slots=True)
class Wiring:
    """What one turnout brings into a piece. ``section_of`` is None for a plastic frog."""

    section_of: Mapping[Role, str | None]
    bonds: tuple[Bond, ...]
    gaps: tuple[Gap, ...]
    contacts: tuple[Contact, ...]


@dataclass(frozen=True, slots=True)
class Fitting:
    """How a turnout sits in its piece.

    ``own_names`` gives the piece's names for some roles; the others are the
    role's name, or what the family calls it, behind ``prefix``.
    ``cut_past_frog`` are rails past the frog that a gap parts from it.
    """

    lever: str
    prefix: str = ""
    own_names: Mapping[Role, str] | None = None
    cut_past_frog: tuple[Role, ...] = ()
    makes_at: float = 1.0
    breaks_at: float = 0.0


def wire(family: Family, fitting: Fitting) -> Wiring:
    """Apply a row of the table to one turnout of a piece."""
    row = FAMILIES[family]
    section_of = _name_sections(row, fitting)

    def pair(a: Role, b: Role) -> tuple[str, str]:
        first, second = section_of[a], section_of[b]
        assert first is not None and second is not None  # no row wires a plastic frog
        return first, second

    cuts = row.cuts + tuple(("F", role) for role in fitting.cut_past_frog)
    contacts = []
    for position, pairs in ((THROUGH, row.through), (DIVERGING, row.diverging)):
        for a, b in pairs:
            name = f"{fitting.prefix}{position}"
            if len(pairs) > 1:
                name += f"-{a}"
            when = (((fitting.lever, position),),)
            times = fitting.makes_at, fitting.breaks_at
            contacts.append(Contact(name, *pair(a, b), when, *times))
    return Wiring(
        section_of,
        tuple(
            Bond(f"{fitting.prefix}{_bond_word(a, b)}-{a}-{b}", *pair(a, b))
            for a, b in row.bonds
        ),
        tuple(Gap(f"{fitting.prefix}gap-{a}-{b}", *pair(a, b)) for a, b in cuts),
        tuple(contacts),
    )


def _bond_word(a: Role, b: Role) -> str:
    if (a, b) in _HINGES:
        return "hinge"
    return "link" if (a, b) in _LINKS else "bond"


def _name_sections(row: FamilyRow, fitting: Fitting) -> dict[Role, str | None]:
    """Section of each role; merged roles share the piece's own name, else the first role's."""
    own = fitting.own_names or {}
    called = row.called if fitting.prefix else {}
    merged = tuple(role for role in row.one_section if role not in fitting.cut_past_frog)
    shared = next((own[role] for role in merged if role in own), None)
    if shared is None and merged:
        shared = f"{fitting.prefix}{merged[0]}"
    section_of: dict[Role, str | None] = {}
    for role in ROLES:
        name = own.get(role, f"{fitting.prefix}{called.get(role, role)}")
        section_of[role] = shared if role in merged else name
    if row.plastic_frog:
        section_of["F"] = None
    return section_of
