"""All sentences about facts: what happened, why, what it means, what to do.

Facts in, English out; nothing reads a sentence back.  Every kind of a closed list has its
phrase in one table here, and a test names whichever is missing.  ``name`` says what an id
of an element, lever, section, pad or route is called; without it ids stay as they are.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from sim.circuit.voltage_drop import LostIn
from sim.records.causes import Cause, DerailReason, Reason, ReasonKind

Name = Callable[[str], str]


# -- causes in a run -----------------------------------------------------------


def cause_lines(cause: Cause, name: Name = str) -> tuple[str, ...]:
    """The chain of a cause, one sentence for each reason."""
    return tuple(reason_line(reason, name) for reason in cause.reasons)


def cause_line(cause: Cause | DerailReason, name: Name = str) -> str:
    """A cause on one line."""
    if isinstance(cause, Cause):
        return "; ".join(cause_lines(cause, name))
    return DERAILED[cause]


def reason_line(reason: Reason, name: Name = str) -> str:
    """One reason as a sentence."""
    said = REASONS[reason.kind](reason, name)
    return f"further on, {said}" if reason.further else said


def lost_in(where: LostIn, name: Name = str) -> str:
    """What volts are lost in."""
    if where.kind == "rail":
        return f"rail of {name(where.id)}"
    return f"inside of {where.id}" if where.kind == "supply" else name(where.id)


def _element(reason: Reason, name: Name) -> str:
    return name(reason.elements[0])


def _levers(reason: Reason, name: Name) -> str:
    return ", ".join(f"{name(lever)} is {position}" for lever, position in reason.levers)


def _sections(reason: Reason, name: Name) -> str:
    return ", ".join(map(name, reason.sections))


def _parts(reason: Reason, name: Name) -> str:
    a, b = reason.sections
    return f"{_element(reason, name)} parts {name(a)} from {name(b)}"


def _stands_on(reason: Reason, name: Name) -> str:
    return f"its pickups on the {reason.side} rail stand on {_sections(reason, name)}"


def _always(said: str) -> Callable[[Reason, Name], str]:
    return lambda reason, name: said


REASONS: Mapping[ReasonKind, Callable[[Reason, Name], str]] = {
    "stayed open": lambda r, name: (
        f"contact {_element(r, name)} stayed open at its last throw ({_levers(r, name)})"
    ),
    "lost contact": lambda r, name: f"{r.at} {_element(r, name)} has lost contact",
    "is open": lambda r, name: f"contact {_element(r, name)} is open ({_levers(r, name)})",
    "is closed": lambda r, name: f"contact {_element(r, name)} is closed ({_levers(r, name)})",
    "gap parts": lambda r, name: f"gap {_parts(r, name)}",
    "joiner parts": lambda r, name: f"joiner {_parts(r, name)}",
    "floating": _always("floating: nothing feeds that rail"),
    "same pole": _always("same pole: both rails are joined to the same pole"),
    "no return": _always(
        "no return: the two rails belong to supplies that share nothing; only pickups that "
        "reach past this stretch, or gaps opposite each other, help"
    ),
    "wrong voltage": _always(
        "wrong voltage: the rails belong to two supplies joined the wrong way"
    ),
    "insulated": _always(
        "insulated: no metal under the wheels; only pickups that reach past it, or a piece "
        "with metal there, help"
    ),
    "throttles opposed": lambda r, name: (
        f"two throttles pull {r.who} opposite ways: turn one of them"
    ),
    "too few volts": lambda r, name: f"{r.who} is fed, but gets too few volts to start",
    "element costs": lambda r, name: f"{_element(r, name)} costs {r.numbers[0]:.2f} V",
    "rail costs": lambda r, name: f"rail of {_sections(r, name)} costs {r.numbers[0]:.2f} V",
    "supply costs": lambda r, name: f"inside of {r.who} costs {r.numbers[0]:.2f} V",
    "lost supply": lambda r, name: (
        f"{r.who} lost supply on the {r.side} rail, seen from {r.at}"
    ),
    "stands on": lambda r, name: f"{_stands_on(r, name)}, which has {r.at or 'no pole'}",
    "over plastic": lambda r, name: f"every pickup on the {r.side} rail is over plastic",
    "over plastic or dirt": lambda r, name: (
        f"every pickup on the {r.side} rail is over plastic or dirt"
    ),
    "overloaded": lambda r, name: (
        f"{r.who} gives {r.numbers[0]:.2f} A, more than the {r.numbers[1]:g} A it trips at"
    ),
    "trains draw it": _always("its trains together draw more than it has"),
    "shorted": lambda r, name: f"{r.who} is shorted",
    "by the wiring": _always("by the wiring itself, in this setting"),
    "joins poles": lambda r, name: f"{r.who} joins rails of different poles at {name(r.at)}",
    "bridges": lambda r, name: f"{r.who}: {_stands_on(r, name)}",
}

DERAILED: Mapping[DerailReason, str] = {
    "wrong leg": "came from the leg that was not set",
    "moving points": "met points that were moving",
    "points set for nothing": "met points set for no route",
    "moved under it": "lever moved under it",
}
