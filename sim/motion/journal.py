"""Legs and passes under way, and what becomes of them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from sim.motion.ledger import Open
from sim.motion.tracks import Segment
from sim.records.model import Outcome

if TYPE_CHECKING:
    from sim.motion.mover import Mover
    from sim.motion.world import World


@dataclass(slots=True)
class Page:
    """What is under way for one train: its leg, and its passes by segment."""

    leg: Open | None = None
    legs: int = 0
    passes: dict[Segment, Open] = field(default_factory=dict)
    held: bool = False


class Journal:
    """Opens and closes legs and passes, and marks what happens to them."""

    def __init__(self, world: World) -> None:
        self._world = world
        self._pages = [Page() for _ in world.case.trains]

    def open_leg(self, mover: Mover, what: str) -> None:
        """A leg begins; its name is its number and what is done."""
        page = self._pages[mover.index]
        page.legs += 1
        page.leg = Open(mover.train.name, f"{page.legs}: {what}", self._world.now)
        self._mark_pushed(mover, page.leg)

    @staticmethod
    def _mark_pushed(mover: Mover, begun: Open) -> None:
        """What begins while a hand pushes a stalled train has stalled from the start."""
        if mover.pushing and mover.power.stalled is not None:
            begun.worsen("stalled")

    def end_leg(self, mover: Mover) -> None:
        """The leg under way, if any, is done."""
        page = self._pages[mover.index]
        if page.leg is not None:
            self._world.ledger.close_leg(page.leg, self._world.now, True)
            page.leg = None

    def has_leg(self, mover: Mover) -> bool:
        """Whether a leg is under way."""
        return self._pages[mover.index].leg is not None

    def entered(self, mover: Mover, segment: Segment) -> None:
        """The first wheel is on a piece with levers."""
        route = self._world.layout.routes[segment.route].id
        passes = self._pages[mover.index].passes
        passes[segment] = Open(mover.train.name, route, self._world.now)
        self._mark_pushed(mover, passes[segment])
        self._world.faults.entered(self._world.tracks.piece(segment))

    def left(self, mover: Mover, segment: Segment) -> None:
        """The last wheel is off a piece with levers."""
        passing = self._pages[mover.index].passes.pop(segment, None)
        if passing is not None:
            self._world.ledger.close_pass(passing, self._world.now)

    def moved(self, mover: Mover, now: Mapping[Segment, Segment]) -> None:
        """Segments have given way to others: passes under way go with them.

        A pass is named by the route that the train takes in the end.
        """
        page = self._pages[mover.index]
        before, page.passes = page.passes, {}
        for segment, passing in before.items():
            other = now.get(segment, segment)
            if segment.route != other.route:
                passing.name = self._world.layout.routes[other.route].id
            page.passes[other] = passing

    def mark(self, mover: Mover, outcome: Outcome) -> None:
        """Something happened to the train: its leg and its passes show it."""
        page = self._pages[mover.index]
        if page.leg is not None:
            page.leg.worsen(outcome)
        for passing in page.passes.values():
            passing.worsen(outcome)

    def look(self, mover: Mover) -> None:
        """The train stands: is that because of another one?"""
        page = self._pages[mover.index]
        held = mover.steering.held_by_train and mover.power.asked and not mover.gone
        if held == page.held:
            return
        page.held = held
        other = mover.steering.wall_other
        if held and other is not None:
            self._world.tell("held", mover.train.name, f"by {other.train.name}")
            self.mark(mover, "held")
        elif not held:
            self._world.tell("go on", mover.train.name, "")

    def close(self, mover: Mover) -> None:
        """The run ends for this train: close what is under way."""
        page = self._pages[mover.index]
        for passing in page.passes.values():
            self._world.ledger.close_pass(passing, None)
        page.passes.clear()
        if page.leg is not None:
            self._world.ledger.close_leg(page.leg, self._world.now, False)
            page.leg = None
