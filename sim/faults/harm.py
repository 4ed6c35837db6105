"""What a survey of faults comes to: inert results, ready for pages."""

from __future__ import annotations

from dataclasses import dataclass

from sim.faults.model import Fault, FaultSet
from sim.power.setting_words import SettingWords


@dataclass(frozen=True, slots=True)
class RouteHarm:
    """A route that a fault makes dead or shorted although the levers ask for it.

    ``kinds`` are the kinds of dead met on it, or ``short``; ``settings`` in how
    many settings; ``example`` one of them.
    """

    route: str
    kinds: tuple[str, ...]
    settings: int
    example: SettingWords


@dataclass(frozen=True, slots=True)
class Harm:
    """What one fault set adds to what is wrong anyway.

    ``lost`` counts routes that the levers are set for and of which some place dies
    that is live without the fault, over all settings: in three settings it counts
    three times.  ``short`` counts settings with a short, ``joined`` settings in
    which supplies are joined, that have none without the fault.  Of two faults
    only what neither does alone counts.  ``routes`` are the first of
    ``routes_lost`` different routes; ``supplies`` the pairs joined.

    ``dead`` and ``shorted`` count all routes that are not live and all settings
    with a short under the fault, those included that were so anyway.
    """

    faults: FaultSet
    lost: int
    short: int
    joined: int
    dead: int
    shorted: int
    routes_lost: int = 0
    routes: tuple[RouteHarm, ...] = ()
    supplies: tuple[tuple[str, str], ...] = ()

    @property
    def harms(self) -> bool:
        """Whether it adds anything bad."""
        return bool(self.lost or self.short or self.joined)

    @property
    def rank(self) -> tuple[int, int, int]:
        """Sorts the most harmful first."""
        return -self.lost, -self.short, -self.joined

    @property
    def id(self) -> str:
        """Names the fault set."""
        return " + ".join(f.id for f in self.faults)


@dataclass(frozen=True, slots=True)
class Survey:
    """One case under every fault.

    ``healthy`` tells what is wrong without any, ``single`` each fault most
    harmful first, ``double`` only those pairs that do together what neither does
    alone; None when they were not asked for.  ``settings`` and ``states`` count
    what was traced; ``skipped`` says what was left out.
    """

    scenario: str
    fix: str | None
    settings: int
    states: int
    healthy: Harm
    single: tuple[Harm, ...]
    double: tuple[Harm, ...] | None
    skipped: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Toll:
    """All that is wrong under a fault, what was wrong without it included."""

    dead: int  #: routes asked for and not live, over all settings
    short: int  #: settings with a short


@dataclass(frozen=True, slots=True)
class Change:
    """One fault as built and with a fix; ``before`` or ``after`` is None without the part.

    The tolls count what was wrong anyway, so that a fix which makes a dead rail
    live is not blamed for giving a fault something to kill.
    """

    fault: Fault
    before: Harm | None
    after: Harm | None
    toll_before: Toll
    toll_after: Toll

    @property
    def worse(self) -> bool:
        """Under this fault more is wrong with the fix than as built."""
        return (
            self.toll_after.dead > self.toll_before.dead
            or self.toll_after.short > self.toll_before.short
        )

    @property
    def cured(self) -> bool:
        """It harmed as built, and adds nothing to what is wrong with the fix."""
        harmed = self.before is not None and self.before.harms
        harms = self.after is not None and self.after.harms
        return harmed and not harms and not self.worse


@dataclass(frozen=True, slots=True)
class FixChange:
    """As built against one fix: the faults that no longer harm, and those that got worse."""

    fix: str
    before: Survey
    after: Survey
    cured: tuple[Change, ...]
    worse: tuple[Change, ...]


def changes(before: Survey, after: Survey) -> FixChange:
    """What the fix of ``after`` changes, fault by fault, the greatest changes first."""
    was = {h.faults[0].id: h for h in before.single}
    now = {h.faults[0].id: h for h in after.single}
    found = []
    for key in dict.fromkeys([*now, *was]):
        old, new = was.get(key), now.get(key)
        fault = next(h for h in (new, old) if h is not None).faults[0]
        tolls = _toll(old or before.healthy), _toll(new or after.healthy)
        found.append(Change(fault, old, new, *tolls))
    found.sort(key=_gain)
    return FixChange(
        after.fix or "",
        before,
        after,
        tuple(c for c in found if c.cured),
        tuple(reversed([c for c in found if c.worse])),
    )


def _toll(harm: Harm) -> Toll:
    return Toll(harm.dead, harm.shorted)


def _gain(change: Change) -> tuple[int, int, str]:
    before, after = change.toll_before, change.toll_after
    return after.short - before.short, after.dead - before.dead, change.fault.id
