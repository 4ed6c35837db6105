"""Say of each case what it is best at and what it gives up."""

from __future__ import annotations

from collections.abc import Sequence

from sim.handwork.measures import Handwork
from sim.weigh.model import CRITERIA
from sim.weigh.pareto import Values, cost, gives_up, leads_in

#: Criteria named in one sentence.
NAMED = 5


def words_of(
    names: Sequence[str],
    values: Sequence[Values],
    case: int,
    free: Sequence[int],
    work: Handwork,
) -> list[str]:
    """Sentences about one case; ``free`` are the cases that nothing beats."""
    found = []
    if case in free:
        rivals = [k for k in free if k != case]
        found += _trade(names, values, case, rivals)
    if not work.fits and work.board_spare_mm is not None:
        found.append(f"does not fit: {-work.board_spare_mm:g} mm too long for its board")
    found += [f"not to be done so: {why}" for why in work.refused]
    return found


def _trade(
    names: Sequence[str], values: Sequence[Values], case: int, rivals: Sequence[int]
) -> list[str]:
    if not rivals:
        return ["better than or equal to every other case in everything"]
    found = []
    best = leads_in(values, case, rivals)
    if best:
        found.append("alone at the top in: " + "; ".join(_said(values, case, k) for k in best))
    lost = gives_up(values, case, rivals)
    told = [_lost(names, values, case, k, rivals) for k in lost[:NAMED]]
    if told:
        more = f"; and {len(lost) - len(told)} more" if len(lost) > len(told) else ""
        found.append("gives up: " + "; ".join(told) + more)
    return found


def _said(values: Sequence[Values], case: int, k: int) -> str:
    return f"{CRITERIA[k].words} ({shown(k, values[case][k])})"


def _lost(
    names: Sequence[str], values: Sequence[Values], case: int, k: int, rivals: Sequence[int]
) -> str:
    best = min(rivals, key=lambda r: cost(CRITERIA[k], values[r][k]))
    own, other = shown(k, values[case][k]), shown(k, values[best][k])
    return f"{CRITERIA[k].words} ({own}, with '{names[best]}' {other})"


def shown(k: int, value: float | None) -> str:
    """A value for people; ``no limit`` where nothing limits it."""
    if value is None:
        return "no limit" if CRITERIA[k].better == "more" else "not known"
    unit = f" {CRITERIA[k].unit}" if CRITERIA[k].unit else ""
    return f"{value:g}{unit}"
