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
from sim.pieces.roles import Key, Part
from sim.pieces.roles import Role as PartRole

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


def turnout_roles(family: Family, fitting: Fitting) -> dict[Key, PartRole]:
    """What each part of one turnout is; of rails with names of the piece's own, its frog.

    ``fitting`` is the one that it was wired with.  In a piece of several turnouts each
    is known by its lever.
    """
    row = FAMILIES[family]
    at, prefix = fitting.lever if fitting.prefix else "", fitting.prefix
    found: dict[Key, PartRole] = {}
    own = set((fitting.own_names or {}).values())
    for role, name in _name_sections(row, fitting).items():
        if name is not None and name not in own:
            found.setdefault(("section", name), _rail_role(role, at))
    frog = _name_sections(row, fitting)["F"]
    if frog is not None:
        found["section", frog] = PartRole("frog", turnout=at)
    for a, b in row.bonds:
        word = _bond_word(a, b)
        bond = PartRole(_BOND_PARTS[word], turnout=at, way=_WAYS[a])
        found["bond", f"{prefix}{word}-{a}-{b}"] = bond
    for a, b in row.cuts + tuple(("F", role) for role in fitting.cut_past_frog):
        gap: Part = "heel gap" if a == "F" else "toe gap" if b == "F" else "frog gap"
        found["gap", f"{prefix}gap-{a}-{b}"] = PartRole(
            gap, turnout=at, way=_WAYS[b if a == "F" else a]
        )
    for position, pairs in ((THROUGH, row.through), (DIVERGING, row.diverging)):
        for a, _ in pairs:
            name = f"{prefix}{position}" + (f"-{a}" if len(pairs) > 1 else "")
            contact = PartRole(_contact_part(row, a), turnout=at, way=position)
            found["contact", name] = contact
    found["lever", fitting.lever] = PartRole("lever", turnout=at)
    return found


#: The leg or route that each rail serves.
_WAYS: Mapping[Role, str] = {
    "SN": THROUGH,
    "SS": DIVERGING,
    "BN": DIVERGING,
    "CN": DIVERGING,
    "BS": THROUGH,
    "CS": THROUGH,
    "HT": THROUGH,
    "HD": DIVERGING,
}
_BOND_PARTS: Mapping[str, Part] = {"hinge": "hinge", "link": "link", "bond": "stock bond"}
_PARTS: Mapping[str, Part] = {
    "S": "stock rail",
    "B": "blade",
    "C": "closure rail",
    "H": "leg rail",
}


def _contact_part(row: FamilyRow, rail: Role) -> Part:
    """What a contact feeds: a frog, a rail past it, or a blade with all that is one with it."""
    if rail in ("HT", "HD"):
        return "leg contact"
    return "frog contact" if rail == "F" and "BS" not in row.one_section else "blade contact"


def _rail_role(role: Role, turnout: str) -> PartRole:
    if role == "F":
        return PartRole("frog", turnout=turnout)
    return PartRole(_PARTS[role[0]], turnout=turnout, way=_WAYS[role])


def cut_past_frog(family: Family, prefix: str, gaps: tuple[Gap, ...]) -> tuple[Role, ...]:
    """Which rails past the frog a piece with these gaps has cut off from it."""
    names = {gap.name for gap in gaps}
    cuts = {b for a, b in FAMILIES[family].cuts if a == "F"}
    legs: tuple[Role, ...] = ("HT", "HD")
    return tuple(b for b in legs if b not in cuts and f"{prefix}gap-F-{b}" in names)
