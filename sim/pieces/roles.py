"""What each part of a library piece is, as data that a page can put into words.

A name such as ``AW-HD`` is for programs.  Its :class:`Role` says in fields which
part it is: of which track or turnout, on which side, in which half.  Every kind
says so for its own parts beside its builder; :func:`sim.pieces.kinds.roles_of`
finds them.  A piece described rail by rail has none: its builder's own names are
the words, or what its ``words`` give instead.

Compass words are those of the piece's own drawing, as it lies on its board.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Literal

from sim.pieces.model import Piece

#: What a part may be called by name. Names are unique within a sort of one piece.
Sort = Literal["section", "gap", "bond", "contact", "lever", "gang", "end", "route", "pad"]

Part = Literal[
    # sections
    "rail",
    "outer rail",
    "inner rail",
    "mid rail",
    "stock rail",
    "blade",
    "closure rail",
    "frog",
    "leg rail",
    "corner",
    "slip rail",
    "slip blade",
    # gaps
    "rail gap",
    "centre gap",
    "diagonal gap",
    "toe gap",
    "heel gap",
    "frog gap",
    "corner gap",
    # bonds
    "hinge",
    "link",
    "stock bond",
    "corner bond",
    "slip hinge",
    "slip bond",
    # contacts
    "blade contact",
    "frog contact",
    "leg contact",
    "corner contact",
    "slip contact",
    # the rest
    "lever",
    "gang",
    "end",
    "buffer stop",
    "whole",
    "track",
    "diagonal",
    "slip",
    "way",
    "pad",
]


@dataclass(frozen=True, slots=True)
class Role:
    """What a part is. Fields that do not apply are empty.

    ``track`` is the piece's own letter.  ``side`` is which rail, corner or leg it is
    of those that differ only in that; ``half`` which part of a rail that is cut.
    ``turnout`` is the turnout of a piece of several, by its lever's name.  ``way`` is
    the leg, or the position of the lever, that it serves.  ``diagonal`` are the
    turnouts, or the ends, that a diagonal or a slip goes from and to.  ``with_frog``: one
    metal with a frog.
    ``levers`` are those of a gang; of a pad ``on`` is its rail and ``number`` which
    of that rail's it is.
    """

    part: Part
    track: str = ""
    side: str = ""
    half: str = ""
    turnout: str = ""
    way: str = ""
    diagonal: tuple[str, ...] = ()
    with_frog: bool = False
    levers: tuple[str, ...] = ()
    on: Role | None = None
    number: int = 0


#: Where a part is found in its piece.
Key = tuple[Sort, str]
#: What the parts of a piece are.
Roles = Mapping[Key, Role]


def gang_roles(piece: Piece) -> dict[Key, Role]:
    """Every gang, by its levers."""
    return {("gang", g.name): Role("gang", levers=g.levers) for g in piece.gangs}


def pad_roles(piece: Piece, roles: Roles) -> dict[Key, Role]:
    """Every pad, by its rail and its number there."""
    counts: dict[str, int] = {}
    found: dict[Key, Role] = {}
    for pad in piece.pads:
        counts[pad.section] = counts.get(pad.section, 0) + 1
        rail = roles.get(("section", pad.section))
        if rail is not None:
            found["pad", pad.name] = Role("pad", on=rail, number=counts[pad.section])
    return found


def parts_of(piece: Piece) -> Iterable[Key]:
    """Every part of a piece that can be named."""
    lists: tuple[tuple[Sort, Iterable[str]], ...] = (
        ("section", (s.name for s in piece.sections)),
        ("gap", (g.name for g in piece.gaps)),
        ("bond", (b.name for b in piece.bonds)),
        ("contact", (c.name for c in piece.contacts)),
        ("lever", (v.name for v in piece.levers)),
        ("gang", (g.name for g in piece.gangs)),
        ("end", (e.name for e in piece.ends)),
        ("route", (r.name for r in piece.routes)),
        ("pad", (p.name for p in piece.pads)),
    )
    return ((sort, name) for sort, names in lists for name in names)
