"""Tired parts that cost a start, and what a fix changes about them."""

from __future__ import annotations

from dataclasses import dataclass

from sim.circuit.starting import StartingTrain


@dataclass(frozen=True, slots=True)
class TiredHarm:
    """One tired part, ``ohm`` of it: where a train would start without it and does not.

    ``routes`` are (route, settings in which it is lost on it), most first; ``lost`` is
    their sum; ``volts`` the least that a standing train gets at such a place, and
    ``needs`` what it needs there.
    """

    part: str
    kind: str
    ohm: float
    lost: int
    volts: float
    needs: float
    routes: tuple[tuple[str, int], ...]

    @property
    def id(self) -> str:
        """Names the fault."""
        return f"{self.part}: {self.kind}"


@dataclass(frozen=True, slots=True)
class TiredSurvey:
    """Every tired part by itself, those that stop a start first; ``parts`` were looked at.

    ``ohm`` is what a tired part has where the scenario does not say, ``whose`` it is.
    ``skipped`` says what was left out.
    """

    fix: str | None
    train: StartingTrain
    ohm: float
    whose: str
    settings: int
    parts: int
    harms: tuple[TiredHarm, ...]
    skipped: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class TiredChange:
    """As built against one fix: tired parts that stop no start any more, and new ones.

    ``worse`` stop more starts with the fix than as built.
    """

    fix: str
    before: TiredSurvey
    after: TiredSurvey
    cured: tuple[str, ...]
    worse: tuple[TiredHarm, ...]


def tired_changes(before: TiredSurvey, after: TiredSurvey) -> TiredChange:
    """What the fix of ``after`` changes, tired part by tired part."""
    was = {h.id: h.lost for h in before.harms}
    now = {h.id for h in after.harms}
    return TiredChange(
        after.fix or "",
        before,
        after,
        tuple(h.id for h in before.harms if h.id not in now),
        tuple(h for h in after.harms if h.lost > was.get(h.id, 0)),
    )
