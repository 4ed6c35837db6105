"""What faults do to what conducts, in many states at once.

A state is a bit of a whole number, or anything else that has AND, OR and NOT, such as a
decision diagram over what may fail.  ``when`` gives for each fault the states that have it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Generic, Protocol, Self, TypeVar

from sim.faults.possible import Fault


class States(Protocol):
    """States in which something is true."""

    def __and__(self, other: Self, /) -> Self: ...
    def __or__(self, other: Self, /) -> Self: ...
    def __invert__(self) -> Self: ...


S = TypeVar("S", bound=States)


@dataclass(frozen=True, slots=True)
class Effects(Generic[S]):
    """What faults have done, besides what they opened and closed.

    ``tired``: states in which an element conducts badly, if it conducts.  ``off``: states
    in which a supply gives nothing.
    """

    tired: dict[int, S]
    off: dict[int, S]


def change(when: Iterable[tuple[Fault, S]], closed: dict[int, S]) -> Effects[S]:
    """Open and close what faults open and close.

    ``closed`` gives for each element the states in which it conducts, and is changed; an
    element that is not in it is left out.
    """
    tired: dict[int, S] = {}
    off: dict[int, S] = {}
    for fault, states in when:
        i, effect = fault.index, fault.effect
        if effect == "gives nothing":
            off[i] = off[i] | states if i in off else states
        elif effect == "stays" or i not in closed:
            continue
        elif effect == "opens":
            closed[i] = closed[i] & ~states
        elif effect == "closes":
            closed[i] = closed[i] | states
        elif effect == "tires":
            tired[i] = tired[i] | states if i in tired else states
    return Effects(tired, off)


def stand(
    when: Iterable[tuple[Fault, S]],
    literal: dict[tuple[int, int], S],
    positions: Mapping[int, int],
    never: S,
) -> None:
    """Move levers that do not follow to where they stand.

    ``literal`` gives for each (lever, position) the states in which the lever is sent there,
    and is changed to where it is; ``positions`` how many a lever has.
    """
    for fault, states in when:
        if fault.effect != "stays":
            continue
        lever, count = fault.index, positions[fault.index]
        there = {
            (lever, (p + fault.turn) % count): literal.get((lever, p), never) & states
            for p in range(count)
        }
        for key, moved in there.items():
            literal[key] = literal.get(key, never) & ~states | moved


def loosened(faults: Iterable[Fault]) -> frozenset[int]:
    """Elements that some fault opens: those that a tracing has to keep apart."""
    return frozenset(f.index for f in faults if f.effect == "opens")
