"""Levers as they move, fail to follow and are forced; contacts as they make and break."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass

from sim.layout.model import Control, Layout
from sim.run.chance import happens
from sim.run.kinematics import US_PER_S

MOVING = -1
NOWHERE = -2


@dataclass(slots=True)
class LeverState:
    """Where a lever is. While it moves, ``fraction`` of the throw is done."""

    position: int
    target: int
    origin: int
    fraction: float = 1.0
    throws: int = 0
    token: int = 0  #: tells the latest throw from one it has overtaken


@dataclass(frozen=True, slots=True)
class Step:
    """What has to be done when a lever has moved by ``fraction`` of its throw."""

    lever: int
    fraction: float
    after_us: int
    token: int


class LeverFrame:
    """All levers and contacts of a layout in one run.

    ``tell(what, who, detail)`` is called for everything worth a mark on a time
    line.  Methods that move a lever return the contacts that (closed, opened).
    At the start a lever is in its entry of ``positions``, else at rest.  Without
    ``luck`` every lever follows and every contact closes.
    """

    def __init__(
        self,
        layout: Layout,
        seed: int,
        throw_s: float,
        tell: Callable[[str, str, str], None],
        positions: Mapping[int, int] | None = None,
        luck: bool = True,
    ) -> None:
        self._layout = layout
        self._seed = seed
        self._luck = luck
        self._throw_us = round(throw_s * US_PER_S)
        self._tell = tell
        begins = [(positions or {}).get(i, x.rest) for i, x in enumerate(layout.levers)]
        self.states = [LeverState(p, p, p) for p in begins]
        self.contacts_of: list[list[int]] = [[] for _ in layout.levers]
        contacts = [i for i, e in enumerate(layout.elements) if e.kind == "contact"]
        for i in contacts:
            levers = {lever for clause in layout.elements[i].when for lever, _ in clause}
            for lever in sorted(levers):
                self.contacts_of[lever].append(i)
        self._levers_in = {
            i: sorted({lever for c in layout.elements[i].when for lever, _ in c})
            for i in contacts
        }
        self._asked: dict[int, bool] = {}
        self.stuck: set[int] = set()  #: contacts that ought to be closed and are not
        self.closed: set[int] = set()
        self._failed: set[int] = set()  #: contacts that a fault keeps open
        self._welded: set[int] = set()  #: contacts that stay closed once they are
        self._scripted: set[tuple[bool, int, int]] = set()
        for i in contacts:
            self._settle(i)

    def position(self, lever: int) -> int:
        """Position index, or MOVING."""
        return self.states[lever].position

    def heading_for(self, lever: int) -> int:
        """Position it has, or is moving to."""
        return self.states[lever].target

    def begin(self, control: Control, position: str) -> tuple[list[Step], list[int]]:
        """Start a throw: the steps to come, and the levers that have begun to move.

        A member that fails to follow stays where it was; one that is there
        already is left alone.
        """
        steps: list[Step] = []
        moving: list[int] = []
        for lever in control.levers:
            described = self._layout.levers[lever]
            goal = described.positions.index(position)
            state = self.states[lever]
            if state.target == goal:
                continue
            state.throws += 1
            if (True, lever, state.throws) in self._scripted or self._happens(
                described.id, state.throws, described.fails
            ):
                self._tell("did not follow", described.id, f"stays {self._word(lever)}")
                continue
            # Turned back half way it starts anew, from no position at all.
            state.origin = NOWHERE if state.position == MOVING else state.position
            state.target = goal
            state.position, state.fraction = MOVING, 0.0
            state.token += 1
            moving.append(lever)
            steps += self._steps(lever, state.token)
            self._tell("throw", described.id, f"to {position}")
        return steps, moving

    def _steps(self, lever: int, token: int) -> list[Step]:
        fractions = {0.0, 1.0}
        for e in self.contacts_of[lever]:
            element = self._layout.elements[e]
            fractions |= {element.makes_at, element.breaks_at}
        return [Step(lever, f, round(f * self._throw_us), token) for f in sorted(fractions)]

    def is_latest(self, step: Step) -> bool:
        """Whether no later throw has overtaken the one that ``step`` belongs to."""
        return step.token == self.states[step.lever].token

    def reach(self, step: Step) -> tuple[list[int], list[int]]:
        """A lever has got as far as ``step`` says."""
        state = self.states[step.lever]
        if not self.is_latest(step):
            return [], []
        state.fraction = step.fraction
        if step.fraction >= 1.0:
            state.position = state.target
        return self._refresh(step.lever)

    def force(self, lever: int, position: int) -> tuple[list[int], list[int]]:
        """A wheel pushes the blades over, at once."""
        state = self.states[lever]
        state.throws += 1
        state.token += 1
        state.position = state.target = state.origin = position
        state.fraction = 1.0
        return self._refresh(lever)

    def _refresh(self, lever: int) -> tuple[list[int], list[int]]:
        before = {e for e in self.contacts_of[lever] if e in self.closed}
        for e in self.contacts_of[lever]:
            self._settle(e)
        after = {e for e in self.contacts_of[lever] if e in self.closed}
        return sorted(after - before), sorted(before - after)

    def _settle(self, contact: int) -> None:
        """Close or open ``contact`` as its levers say; draw its fault when it closes."""
        element = self._layout.elements[contact]
        wanted = any(
            all(self._holds(lever, p, contact) for lever, p in clause)
            for clause in element.when
        )
        was = self._asked.get(contact, False)
        self._asked[contact] = wanted
        if wanted and not was and contact not in self.closed:
            ordinal = sum(self.states[x].throws for x in self._levers_in[contact])
            if self._stays_open(contact, ordinal):
                self.stuck.add(contact)
                self._tell("stayed open", element.id, f"throw {ordinal}")
            else:
                self.closed.add(contact)
        elif not wanted:
            self.stuck.discard(contact)
            if contact not in self._welded:
                self.closed.discard(contact)

    def _stays_open(self, contact: int, ordinal: int) -> bool:
        element = self._layout.elements[contact]
        return (
            contact in self._failed
            or (False, contact, ordinal) in self._scripted
            or self._happens(element.id, ordinal, element.opens)
        )

    def _happens(self, name: str, ordinal: int, chance: float) -> bool:
        return self._luck and happens(self._seed, name, ordinal, chance)

    # -- faults -----------------------------------------------------------------

    def script(self, is_lever: bool, index: int, throw: int) -> None:
        """Have a lever stay, or a contact stay open, at its throw number ``throw``."""
        self._scripted.add((is_lever, index, throw))

    def fail(self, contact: int, there: bool) -> tuple[list[int], list[int]]:
        """A fault opens ``contact``, or leaves it: it closes again if it is asked to."""
        if there:
            self._failed.add(contact)
            if contact not in self.closed:
                return [], []
            self.closed.discard(contact)
            self.stuck.add(contact)
            return [], [contact]
        self._failed.discard(contact)
        if contact not in self.stuck:
            return [], []
        self.stuck.discard(contact)
        self.closed.add(contact)
        return [contact], []

    def weld(self, contact: int, there: bool) -> tuple[list[int], list[int]]:
        """``contact`` never opens from now on, or does so again."""
        if there:
            self._welded.add(contact)
            return [], []
        self._welded.discard(contact)
        if contact not in self.closed or self._asked[contact]:
            return [], []
        self.closed.discard(contact)
        return [], [contact]

    def _holds(self, lever: int, position: int, contact: int) -> bool:
        state = self.states[lever]
        if state.position != MOVING:
            return state.position == position
        element = self._layout.elements[contact]
        if position == state.target:
            return state.fraction >= element.makes_at
        return position == state.origin and state.fraction < element.breaks_at

    def _word(self, lever: int) -> str:
        return self._layout.levers[lever].positions[self.states[lever].target]

    def words(self, levers: Iterable[int]) -> tuple[tuple[str, str], ...]:
        """(lever, position) in words, ``moving`` between two positions."""
        found = []
        for lever in levers:
            described, state = self._layout.levers[lever], self.states[lever]
            word = "moving" if state.position == MOVING else described.positions[state.position]
            found.append((described.id, word))
        return tuple(found)
