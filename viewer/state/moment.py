"""Everything that a picture shows of one moment, whether recorded or set by hand."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

from sim.faults.kinds import KINDS, kinds_of
from sim.layout.model import Layout
from sim.records.model import Stall
from viewer.state.nets import Bridge, Nets, Power, RailState
from viewer.state.trains import StandingTrain

MOVING = -1


@dataclass(frozen=True)
class Moment:
    """Levers, contacts, supplies and trains at one time, and the power that follows.

    ``positions`` are by lever, -1 while it moves.  ``stuck`` are elements that
    ought to be closed and are not; ``tired`` conduct badly; ``held`` gives the kind
    of fault of those that conduct and should not.  ``stalls`` are those in force, by train.
    """

    nets: Nets
    positions: tuple[int, ...]
    closed: frozenset[int]
    stuck: frozenset[int] = frozenset()
    tired: frozenset[int] = frozenset()
    held: Mapping[int, str] = field(default_factory=dict)
    off: frozenset[int] = frozenset()
    trains: tuple[StandingTrain, ...] = ()
    stalls: Mapping[str, Stall] = field(default_factory=dict)
    time_s: float = 0.0

    @property
    def layout(self) -> Layout:
        """The layout that it is a moment of."""
        return self.nets.layout

    @cached_property
    def power(self) -> Power:
        """Which pole is where, trains counted."""
        alone = self.nets.solve(self.closed, off=self.off)
        return self.nets.solve(self.closed, bridges_of(self.trains, alone), self.off)

    @cached_property
    def rails(self) -> tuple[RailState, ...]:
        """What each section is, by node."""
        power, known = self.power, dict[int, RailState]()
        states = []
        for node in range(len(self.layout.nodes)):
            label = power.label(node)
            if label not in known:
                known[label] = power.rail(node)
            states.append(known[label])
        return tuple(states)

    @cached_property
    def weak(self) -> frozenset[int]:
        """Nodes that are fed through tired contacts only."""
        if not self.tired & self.closed:
            return frozenset()
        without = self.nets.solve(self.closed - self.tired, off=self.off)
        return frozenset(
            n for n, rail in enumerate(self.rails) if rail.poles and not without.poles(n)
        )

    def is_set(self, route: int) -> bool:
        """Whether the levers make a route."""
        points = self.layout.routes[route].points
        return all(self.positions[p.lever] == p.position for p in points)

    def contact(self, element: int) -> str:
        """What a drawing says of a contact: ``closed``, ``open``, or what is wrong with it."""
        if element in self.stuck:
            return "stays open"
        if element not in self.closed:
            return "open"
        if element in self.held:
            return KINDS[self.held[element]].words[0]
        return "tired" if element in self.tired else "closed"

    def fault(self, element: int) -> str:
        """The kind of fault that an element has, "" where it is good."""
        if element in self.held:
            return self.held[element]
        rows = (self.stuck, "opens"), (self.tired, "tires")
        kinds = kinds_of(self.layout.elements[element].kind)
        for found, effect in rows:
            if element in found:
                return next(kind.name for kind in kinds if kind.effect == effect)
        return ""

    def lever(self, lever: int) -> str:
        """The position of a lever in words."""
        position = self.positions[lever]
        return "moving" if position == MOVING else self.layout.levers[lever].positions[position]


def setting(
    nets: Nets,
    positions: Sequence[int],
    open_contacts: Iterable[int] = (),
    tired: Iterable[int] = (),
) -> Moment:
    """The moment of a setting: no trains, those contacts open whatever the levers say."""
    closed, stuck = nets.closed_at(positions), frozenset(open_contacts)
    return Moment(
        nets,
        tuple(positions),
        closed - stuck,
        closed & stuck,
        frozenset(tired) & closed - stuck,
    )


def bridges_of(trains: Sequence[StandingTrain], power: Power) -> frozenset[Bridge]:
    """Sections that trains join: those under one side of a unit, where nets differ."""
    found = set()
    for train in trains:
        for nodes in train.sides.values():
            if len({power.label(n) for n in nodes}) > 1:
                found.add(tuple(sorted(nodes)))
    return frozenset(found)
