"""Which cases nothing beats, and what each of them gives up.

A case beats another when it is nowhere worse and somewhere better (Pareto).  No
criterion outweighs another unless the user says so.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from sim.weigh.model import CRITERIA, Criterion

Values = Sequence[float | None]


def cost(criterion: Criterion, value: float | None) -> float:
    """``value`` so that less is better; unknown or unlimited costs nothing."""
    if criterion.better == "less":
        return 0.0 if value is None else value
    return float("-inf") if value is None else -value


def beats(one: Values, other: Values) -> bool:
    """Whether ``one`` is nowhere worse than ``other`` and somewhere better."""
    pairs = [(cost(c, a), cost(c, b)) for c, a, b in zip(CRITERIA, one, other, strict=True)]
    return all(a <= b for a, b in pairs) and any(a < b for a, b in pairs)


def beaten_by(cases: Sequence[Values]) -> list[int | None]:
    """For each case the first unbeaten one that beats it, None where nothing does."""
    free = [not any(beats(other, one) for other in cases) for one in cases]
    return [
        None
        if free[k]
        else next(n for n, other in enumerate(cases) if free[n] and beats(other, one))
        for k, one in enumerate(cases)
    ]


def gives_up(cases: Sequence[Values], case: int, rivals: Sequence[int]) -> list[int]:
    """Criteria in which some rival is better than ``case``."""
    found = []
    for k, criterion in enumerate(CRITERIA):
        own = cost(criterion, cases[case][k])
        if any(cost(criterion, cases[r][k]) < own for r in rivals):
            found.append(k)
    return found


def leads_in(cases: Sequence[Values], case: int, rivals: Sequence[int]) -> list[int]:
    """Criteria in which ``case`` is better than every rival."""
    found = []
    for k, criterion in enumerate(CRITERIA):
        own = cost(criterion, cases[case][k])
        if rivals and all(own < cost(criterion, cases[r][k]) for r in rivals):
            found.append(k)
    return found


def scores(cases: Sequence[Values], weights: Mapping[str, float]) -> list[float]:
    """Weighted sum by the user's own weights, each criterion scaled to 0 (best) to 1 (worst).

    Less is better.  Unknown or unlimited counts as the best.
    """
    totals = [0.0] * len(cases)
    for k, criterion in enumerate(CRITERIA):
        weight = weights.get(criterion.name, 0.0)
        if not weight:
            continue
        costs = [cost(criterion, values[k]) for values in cases]
        known = [c for c in costs if c != float("-inf")]
        low, high = min(known, default=0.0), max(known, default=0.0)
        for n, c in enumerate(costs):
            if c != float("-inf") and high > low:
                totals[n] += weight * (c - low) / (high - low)
    return [round(total, 6) + 0.0 for total in totals]
