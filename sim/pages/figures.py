"""Times, shares and lists of names in words, the same on every page."""

from __future__ import annotations

from collections.abc import Sequence


def clock(time_s: float) -> str:
    """Time since the start as ``min:s`` to a tenth: ``3:07.5``."""
    tenths = round(time_s * 10)
    return f"{tenths // 600}:{tenths % 600 // 10:02d}.{tenths % 10}"


def span(time_s: float) -> str:
    """How long something lasts: ``20 min``, ``7.5 s``."""
    if time_s >= 60 and time_s % 60 == 0:
        return f"{time_s / 60:.0f} min"
    return f"{time_s:.4g} s"


def joined(names: Sequence[str], last: str = "and") -> str:
    """``a``, ``a and b``, ``a, b and c``."""
    if len(names) < 2:
        return "".join(names)
    return f"{', '.join(names[:-1])} {last} {names[-1]}"


def percent(share: float | None) -> str:
    """A share as per cent to a tenth, ``-`` where there is none."""
    return "-" if share is None else f"{100 * share:.1f} %"


def case_name(fix: str | None) -> str:
    """How a case is called in a heading."""
    return "as built" if fix is None else f"with fix '{fix}'"
