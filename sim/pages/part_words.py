"""What a modeller calls the parts of one piece, in full and short for tables.

The vocabulary is the trade's: stock rail, blade, closure rail, frog, leg.  A turnout
of a crossover is called by the corner where it lies (A is the northern track), its
lever by the name that is on it.  A leg that a lever sets keeps the name of the
position, ``through`` or ``diverging``, but where both legs curve.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping
from typing import NamedTuple

from sim.pages.figures import joined
from sim.pieces.kinds import roles_of
from sim.pieces.model import Piece
from sim.pieces.roles import Key, Part, Role, Sort, parts_of


class Name(NamedTuple):
    """``long`` stands in a sentence, ``short`` in a table, both in the piece alone.

    Both are empty for the one route of a piece: it is the piece, from end to end.
    """

    long: str
    short: str


#: Where the turnout of a lever lies in a piece of two tracks.
CORNERS = {"AW": "north-west", "AE": "north-east", "BW": "south-west", "BE": "south-east"}

#: Positions in a column.
_BRIEF = {"through": "thr.", "diverging": "div."}

#: What stands for a sort of parts before a builder's own name.
_OWN: Mapping[Sort, str] = {
    "section": "",
    "gap": "gap",
    "bond": "bond",
    "contact": "contact",
    "lever": "lever",
    "gang": "gang",
    "end": "end",
    "route": "route",
    "pad": "pad",
}


def names_in(piece: Piece) -> dict[Key, Name]:
    """The words for every part of a piece, no two alike: neither long nor short."""
    roles, own = roles_of(piece), dict(piece.words)
    found: dict[Key, Name] = {}
    for sort, name in parts_of(piece):
        if (sort, name) in roles:
            found[sort, name] = name_of(roles[sort, name])
        else:
            found[sort, name] = _own_name(sort, name, own if sort in _WITH_WORDS else {})
    return _told_apart(found)


#: Sorts whose parts a description may give words of their own.
_WITH_WORDS = ("section", "bond", "gap", "contact", "lever", "pad")


def _own_name(sort: Sort, name: str, words: Mapping[str, str]) -> Name:
    """A name that a builder gave, behind what it is unless the name says so."""
    if name in words:
        return Name(words[name], words[name])
    kind = _OWN[sort]
    said = name if not kind or name.lower().startswith(kind) else f"{kind} {name}"
    return Name(said, said)


def _told_apart(found: dict[Key, Name]) -> dict[Key, Name]:
    """Words that two parts share are followed by what each is, then by a number."""
    for extra in (lambda sort, _: f" ({sort})", lambda _, n: f" ({n})"):
        for pick in (_long, _short):
            counts = Counter(pick(name) for name in found.values())
            again: Counter[str] = Counter()
            for key, name in found.items():
                said = pick(name)
                if counts[said] > 1:
                    again[said] += 1
                    told = said + extra(key[0], again[said])
                    found[key] = (
                        Name(told, name.short) if pick is _long else Name(name.long, told)
                    )
    return found


def _long(name: Name) -> str:
    return name.long


def _short(name: Name) -> str:
    return name.short


def name_of(role: Role) -> Name:
    """The words for a part by what it is."""
    long, short = PHRASES[role.part](role)
    return Name(long, " ".join(short.split()))


_Both = tuple[str, str]


def _turnout(role: Role) -> str:
    """`` of the north-west turnout``; nothing where the piece is the turnout."""
    return f" of the {CORNERS[role.turnout]} turnout" if role.turnout else ""


def _leg(role: Role) -> str:
    return role.side or role.way


def _brief(role: Role) -> str:
    return role.side or _BRIEF.get(role.way, role.way)


def _diagonal(role: Role) -> str:
    return " to ".join(role.diagonal)


def _rail(role: Role) -> _Both:
    track = f" of track {role.track}" if role.track else ""
    half = f", {role.half} half" if role.half else ""
    return f"{role.side} rail{track}{half}", f"{role.track} {role.side} {role.half}"


def _outer(role: Role) -> _Both:
    if role.diagonal:
        return f"outer rail from {_diagonal(role)}", f"{_slip_of(role)} outer"
    return f"outer rail of track {role.track}", f"{role.track} outer"


def _inner(role: Role) -> _Both:
    frog = f", with the frog{_turnout(role)}" if role.with_frog else ""
    long = f"inner rail of track {role.track}, {role.half} half{frog}"
    return long, f"{role.track} inner {role.half}"


def _mid(role: Role) -> _Both:
    half = f", {role.half} of the centre gap" if role.half else ""
    frogs = ", with both frogs" if role.with_frog else ""
    long = f"inner rail of track {role.track} between its frogs{half}{frogs}"
    return long, f"{role.track} mid {role.half}"


def _stock(role: Role) -> _Both:
    shape = role.side or {"through": "straight", "diverging": "curved"}[role.way]
    return f"{shape} stock rail{_turnout(role)}", f"{role.turnout} {shape} stock"


def _slip_of(role: Role) -> str:
    return "-".join(end[0] for end in role.diagonal)


def _slip(what: str, brief: str) -> Callable[[Role], _Both]:
    """A part of a slip; of those at both its ends the one at ``half``."""

    def say(role: Role) -> _Both:
        of, end = f"slip from {_diagonal(role)}", f", {role.half} end" if role.half else ""
        long = f"{what} of the {of}{end}" if what else of
        return long, f"{_slip_of(role)} slip {role.half} {brief}"

    return say


def _way_part(what: str, brief: str) -> Callable[[Role], _Both]:
    def say(role: Role) -> _Both:
        kind = "route" if role.way in _BRIEF else "leg"
        long = f"{what}{_turnout(role)}, {_leg(role)} {kind}"
        return long, f"{role.turnout} {brief} {_brief(role)}"

    return say


def _frog(role: Role) -> _Both:
    if role.side:
        return f"{role.side} frog", f"{role.side} frog"
    return f"frog{_turnout(role)}", f"{role.turnout} frog"


def _leg_rail(role: Role) -> _Both:
    leg = f"rail past the frog{_turnout(role)}, {_leg(role)} leg"
    if role.turnout and role.way == "diverging":
        leg = f"diagonal rail past the frog{_turnout(role)}"
    return leg, f"{role.turnout} leg {_brief(role) if not role.turnout else ''}"


def _corner(role: Role) -> _Both:
    return f"{role.side} corner of the diamond", f"{role.side} corner"


def _rail_gap(role: Role) -> _Both:
    return f"gap in the {role.side} rail", f"{role.side} gap"


def _centre_gap(role: Role) -> _Both:
    return f"centre gap of track {role.track}", f"{role.track} centre gap"


def _diagonal_gap(role: Role) -> _Both:
    long = f"gap of the diagonal from {_diagonal(role)}, {role.side} rail"
    return long, f"{'-'.join(role.diagonal)} {role.side} gap"


def _corner_gap(role: Role) -> _Both:
    long = f"gap at the {role.side} corner of the diamond, diagonal from {_diagonal(role)}"
    return long, f"{role.side} corner {'-'.join(role.diagonal)} gap"


def _corner_bond(role: Role) -> _Both:
    return f"bond of the {role.side} corner of the diamond", f"{role.side} corner bond"


def _corner_contact(role: Role) -> _Both:
    long = f"contact of the {role.side} corner of the diamond, diagonal from {_diagonal(role)}"
    return long, f"{role.side} corner {'-'.join(role.diagonal)} contact"


def _contact(what: str, brief: str) -> Callable[[Role], _Both]:
    def say(role: Role) -> _Both:
        if role.way not in _BRIEF:
            return f"{what}, {role.way} leg", f"{role.way} {brief}"
        under = f" under lever {role.turnout}" if role.turnout else ""
        position = _BRIEF.get(role.way, role.way)
        return f"{what}{under}, set {role.way}", f"{role.turnout} {brief} {position}"

    return say


def _lever(role: Role) -> _Both:
    if role.side:
        return f"{role.side} lever", f"{role.side} lever"
    return (f"lever {role.turnout}", role.turnout) if role.turnout else ("lever", "lever")


def _gang(role: Role) -> _Both:
    return f"levers {joined(list(role.levers))}", "+".join(role.levers)


def _end(role: Role) -> _Both:
    if role.way:
        leg = _leg(role)
        return f"end of the {leg} leg", f"{leg} end"
    track = f" of track {role.track}" if role.track else ""
    return f"{role.side} end{track}", f"{role.track} {role.side} end"


def _stop(role: Role) -> _Both:
    return "buffer stop", "buffer stop"


def _whole(role: Role) -> _Both:
    return "", ""


def _track(role: Role) -> _Both:
    return f"track {role.track}", f"track {role.track}"


def _diagonal_way(role: Role) -> _Both:
    return f"diagonal from {_diagonal(role)}", f"{'-'.join(role.diagonal)} diagonal"


def _way(role: Role) -> _Both:
    return f"{_leg(role)} route", f"{_leg(role)} route"


def _pad(role: Role) -> _Both:
    assert role.on is not None  # a pad lies on a rail
    rail = name_of(role.on)
    return f"pad {role.number} of the {rail.long}", f"{rail.short} pad {role.number}"


PHRASES: Mapping[Part, Callable[[Role], _Both]] = {
    "rail": _rail,
    "outer rail": _outer,
    "inner rail": _inner,
    "mid rail": _mid,
    "stock rail": _stock,
    "blade": _way_part("blade", "blade"),
    "closure rail": _way_part("closure rail", "closure"),
    "frog": _frog,
    "leg rail": _leg_rail,
    "corner": _corner,
    "slip rail": _slip("inner rail", "inner"),
    "slip blade": _slip("blade", "blade"),
    "rail gap": _rail_gap,
    "centre gap": _centre_gap,
    "diagonal gap": _diagonal_gap,
    "toe gap": _way_part("gap before the frog", "toe gap"),
    "heel gap": _way_part("gap past the frog", "heel gap"),
    "frog gap": _way_part("gap across the plastic frog", "frog gap"),
    "corner gap": _corner_gap,
    "hinge": _way_part("hinge of the blade", "hinge"),
    "link": _way_part("link under the frog", "link"),
    "stock bond": _way_part("bond of stock and closure rail", "bond"),
    "corner bond": _corner_bond,
    "slip hinge": _slip("blade hinge", "hinge"),
    "slip bond": _slip("bond of the inner rail", "bond"),
    "blade contact": _contact("blade contact", "blade contact"),
    "frog contact": _contact("frog contact", "frog contact"),
    "leg contact": _contact("contact of the rail past the frog", "leg contact"),
    "corner contact": _corner_contact,
    "slip contact": _slip("blade contact", "contact"),
    "lever": _lever,
    "gang": _gang,
    "end": _end,
    "buffer stop": _stop,
    "whole": _whole,
    "track": _track,
    "diagonal": _diagonal_way,
    "slip": _slip("", "way"),
    "way": _way,
    "pad": _pad,
}
