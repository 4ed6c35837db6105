"""What is written down while a layout is put together: problems and assumptions.

Collect what is wrong while a layout is put together, without stopping at the first.

Settle what a scenario leaves open, and write down whose number each one is.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from fnmatch import translate

from sim.layout.traffic import Assumption
from sim.scenario.defaults import DECISIVE, OURS, Default, defaults_for
from sim.scenario.problems import UNKNOWN, Problem, nearest, shown


class Report:
    """Problems found so far.

    ``broken`` holds names and ``module/piece`` ids of things that were already
    refused: what refers to them is not reported again.
    """

    def __init__(self, prefix: str = "", broken: Iterable[str] = ()) -> None:
        self.prefix = prefix
        self.broken: set[str] = set(broken)
        self.problems: list[Problem] = []

    def error(self, where: str, expected: str, found: str) -> None:
        """Something that makes the scenario unusable."""
        self.problems.append(Problem(self.prefix + where, expected, found))

    def warn(self, where: str, expected: str, found: str, code: str = "") -> None:
        """Something that a builder should know, but that can be run."""
        problem = Problem(self.prefix + where, expected, found, "warning", code=code)
        self.problems.append(problem)

    def unknown(self, where: str, what: str, name: str, known: Iterable[str]) -> None:
        """``name`` is none of the ``known`` ones."""
        if not self.is_broken(name):
            self.error(where, f"{what}{nearest(name, known)}", shown(name))

    def is_broken(self, name: str) -> bool:
        """True when ``name`` is, or lies in, something already refused."""
        if "" in self.broken or UNKNOWN in self.broken:
            return True
        parts = name.split("/")
        return any("/".join(parts[:n]) in self.broken for n in range(1, len(parts) + 1))

    def is_whole(self, module: str) -> bool:
        """True when no piece of ``module`` was refused."""
        return not any(name.split("/")[0] in (module, "") for name in self.broken)

    @property
    def failed(self) -> bool:
        """True when there is any error."""
        return any(problem.severity == "error" for problem in self.problems)


def matching(pattern: str, ids: Iterable[str]) -> list[str]:
    """The ``ids`` that a pattern fits, in their order; ``*`` also spans slashes."""
    match = re.compile(translate(pattern)).match
    return [name for name in ids if name == pattern or match(name)]


def is_glob(pattern: str) -> bool:
    """True when ``pattern`` is more than one plain id."""
    return any(mark in pattern for mark in "*?[")


YOURS = "yours"


class Ledger:
    """Picks the scenario's own value or the starting value, and notes which it was."""

    def __init__(self, gauge_mm: float) -> None:
        self._defaults: dict[str, Default] = defaults_for(gauge_mm)
        self._noted: dict[tuple[str, str, str], bool] = {}

    def pick(self, key: str, given: float | None, what: str, matters: bool = True) -> float:
        """``given``, or the starting value of ``key``; noted under ``what``.

        ``matters`` is whether the layout has anything that it is about.
        """
        default = self._defaults[key]
        value = default.value if given is None else given
        text = f"{value:g} {default.unit}".strip()
        whose = default.whose if given is None else YOURS
        self.note(what, text, whose, matters and given is None and key in DECISIVE)
        return float(value)

    def pick_text(self, given: str | None, default: str, what: str, whose: str = OURS) -> str:
        """Like :meth:`pick` for a text such as a wire size."""
        value = default if given is None else given
        self.note(what, value, whose if given is None else YOURS)
        return value

    def note(self, what: str, value: str, whose: str, decisive: bool = False) -> None:
        """Write one line, once."""
        self._noted.setdefault((what, value, whose), decisive)

    @property
    def assumptions(self) -> tuple[Assumption, ...]:
        """All that was noted, in order."""
        return tuple(Assumption(*line, decides) for line, decides in self._noted.items())
