"""The operator's hand: nudges trains that stall, frees those that short."""

from __future__ import annotations

from sim.layout.traffic import Conduct
from sim.records.model import Stall
from sim.run.agenda import Agenda, Turn
from sim.run.evidence import Evidence
from sim.run.explanation import explain_stall
from sim.run.kinematics import US_PER_S
from sim.run.recorder import Journal, Recorder
from sim.run.train import RunningTrain


class Operator:
    """Comes after the response time, moves the train on, and comes again.

    After ``nudges_at_most`` nudges it pushes the train until it has supply.
    """

    def __init__(
        self,
        agenda: Agenda,
        recorder: Recorder,
        journal: Journal,
        evidence: Evidence,
        conduct: Conduct,
    ) -> None:
        self._agenda, self._recorder, self._journal = agenda, recorder, journal
        self._evidence, self._conduct = evidence, conduct
        self._coming: set[int] = set()
        self._nudges: dict[int, int] = {}
        self._freeing: set[int] = set()

    def look(self, train: RunningTrain) -> None:
        """The train stands: is it a stall, and is it a new one?"""
        power = train.power
        if not train.stands_without:
            return
        if power.stalled is None:
            self._write(train)
        else:
            # A leg or pass that has begun since is stalled too, by the same stall.
            self._journal.mark(train, "stalled")
        self._come(train)

    def _write(self, train: RunningTrain) -> None:
        why = explain_stall(self._evidence, train)
        train.power.stalled = len(self._recorder.stalls)
        self._nudges[train.index] = 0
        self._recorder.stalls.append(
            Stall(
                self._recorder.now_s,
                train.name,
                train.route_id(),
                why.section,
                train.place_mm(),
                why.side,
                train.power.kind(),
                why.cause,
                why.would_restore,
                0,
                why.charged_to,
            )
        )
        self._journal.mark(train, "stalled")

    def free(self, train: RunningTrain) -> None:
        """A train that makes a short is moved on while the supply is off."""
        self._freeing.add(train.index)
        self._come(train)

    def _come(self, train: RunningTrain) -> None:
        if train.index in self._coming or train.pushing:
            return
        self._coming.add(train.index)
        delay = round(self._conduct.nudge_after_s * US_PER_S)
        self._agenda.at(delay, Turn.ORDERS, self._arrive, train)

    def _arrive(self, train: RunningTrain) -> None:
        self._coming.discard(train.index)
        freeing = train.index in self._freeing and train.power.kind() == "tripped"
        self._freeing.discard(train.index)
        if train.gone or train.pushing or not (freeing or train.stands_without):
            return
        if freeing:
            train = self._in_the_way(train)
        count = self._nudges[train.index] = self._nudges.get(train.index, 0) + 1
        self._recorder.tell("nudge", train.name, f"number {count}")
        if train.power.stalled is not None:
            self._recorder.nudged(train.power.stalled)
        enough = count > self._conduct.nudges_at_most
        train.motion.push(until_live=enough and not freeing)

    @staticmethod
    def _in_the_way(train: RunningTrain) -> RunningTrain:
        """Whom to move on so that ``train`` gets free: the first of those that stand ahead."""
        seen = [train]
        while seen[-1].held_by_train:
            ahead = seen[-1].ahead
            if ahead is None or ahead in seen or ahead.v > 0.0 or ahead.pushing:
                break
            seen.append(ahead)
        return seen[-1]

    def let_go(self, train: RunningTrain) -> None:
        """The push is over: the train goes on by itself, or the hand comes again."""
        if train.stands_without:
            self._come(train)

    def over(self, train: RunningTrain) -> None:
        """The train runs on its own again, or stands where it was to: the next stall is new."""
        train.power.stalled = None
        self._nudges[train.index] = 0
