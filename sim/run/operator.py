"""The operator's hand: nudges trains that stall, frees those that short."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sim.records.model import Stall
from sim.run.agenda import Turn
from sim.run.explanation import explain_stall
from sim.run.kinematics import US_PER_S
from sim.run.recorder import seconds

if TYPE_CHECKING:
    from sim.run.agenda import World
    from sim.run.train import Mover


class Hand:
    """Comes after the response time, moves the train on, and comes again.

    After ``nudges_at_most`` nudges it pushes the train until it has supply.
    """

    def __init__(self, world: World) -> None:
        self._world = world
        self._coming: set[int] = set()
        self._nudges: dict[int, int] = {}
        self._freeing: set[int] = set()

    def look(self, mover: Mover) -> None:
        """The train stands: is it a stall, and is it a new one?"""
        power = mover.power
        if not power.stands_without:
            return
        if power.stalled is None:
            self._write(mover)
        else:
            # A leg or pass that has begun since is stalled too, by the same stall.
            self._world.journal.mark(mover, "stalled")
        self._come(mover)

    def _write(self, mover: Mover) -> None:
        world = self._world
        why = explain_stall(world, mover)
        mover.power.stalled = len(world.ledger.stalls)
        self._nudges[mover.index] = 0
        world.ledger.stalls.append(
            Stall(
                seconds(world.now),
                mover.train.name,
                mover.route_id(),
                why.section,
                mover.place_mm(),
                why.side,
                mover.power.kind(),
                why.cause,
                why.would_restore,
                0,
                why.charged_to,
            )
        )
        world.journal.mark(mover, "stalled")

    def free(self, mover: Mover) -> None:
        """A train that makes a short is moved on while the supply is off."""
        self._freeing.add(mover.index)
        self._come(mover)

    def _come(self, mover: Mover) -> None:
        if mover.index in self._coming or mover.pushing:
            return
        self._coming.add(mover.index)
        delay = round(self._world.conduct.nudge_after_s * US_PER_S)
        self._world.at(delay, Turn.ORDERS, self._arrive, mover)

    def _arrive(self, mover: Mover) -> None:
        world = self._world
        self._coming.discard(mover.index)
        freeing = mover.index in self._freeing and mover.power.kind() == "tripped"
        self._freeing.discard(mover.index)
        if mover.gone or mover.pushing or not (freeing or mover.power.stands_without):
            return
        if freeing:
            mover = self._in_the_way(mover)
        count = self._nudges[mover.index] = self._nudges.get(mover.index, 0) + 1
        world.tell("nudge", mover.train.name, f"number {count}")
        if mover.power.stalled is not None:
            world.ledger.nudged(mover.power.stalled)
        enough = count > world.conduct.nudges_at_most
        world.faults.nudged(mover)
        mover.push(until_live=enough and not freeing)

    @staticmethod
    def _in_the_way(mover: Mover) -> Mover:
        """Whom to move on so that ``mover`` gets free: the first of those that stand ahead."""
        seen = [mover]
        while seen[-1].steering.held_by_train:
            ahead = seen[-1].steering.wall_other
            if ahead is None or ahead in seen or ahead.v > 0.0 or ahead.pushing:
                break
            seen.append(ahead)
        return seen[-1]

    def let_go(self, mover: Mover) -> None:
        """The push is over: the train goes on by itself, or the hand comes again."""
        if mover.power.stands_without:
            self._come(mover)

    def over(self, mover: Mover) -> None:
        """The train runs on its own again, or stands where it was to: the next stall is new."""
        mover.power.stalled = None
        self._nudges[mover.index] = 0
