"""How far each assumed probability may reach, and scenarios with another value of it.

The bands of common practice are the trade's guesses, not measurements; where it
has none, a factor of ten each way is taken, which is ours.
"""

from __future__ import annotations

from dataclasses import dataclass

from sim.scenario.defaults import OURS, PRACTICE, defaults_for
from sim.scenario.document import Scenario
from sim.scenario.own_odds import own_odds, with_own_odds

#: By field of the assumptions: lowest and highest value, and whose band it is.
_BANDS = {
    "contact_opens": (0.01, 0.5, PRACTICE),
    "lever_fails": (1 / 5000, 1 / 50, PRACTICE),
}
_PROBABILITIES = {
    "contact_opens": "a contact that should close stays open",
    "lever_fails": "a lever does not follow its gang",
    "lever_stays": "a lever of its own stays where it was",
}
#: Where the trade has no band.
FACTOR = 10.0


@dataclass(frozen=True, slots=True)
class Band:
    """The band of one assumed probability. ``value`` is what the scenario assumes.

    ``field`` names an assumption, or its place in the file as ``fault[0]``; ``what``
    says in words what happens with that probability.
    """

    field: str
    what: str
    value: float
    low: float
    high: float
    whose: str


def bands_of(scenario: Scenario) -> tuple[Band, ...]:
    """Bands of all probabilities: of whole kinds of parts, of pieces, fixes and rules.

    One that is assumed to be 0 and has no band of the trade's is left out: no
    factor leads away from 0.
    """
    found = []
    for field, what in _PROBABILITIES.items():
        given = getattr(scenario.assumptions, field)
        value = defaults_for(scenario.gauge_mm)[field].value if given is None else given
        if field in _BANDS:
            low, high, whose = _BANDS[field]
            low, high = min(low, value), max(high, value)
        elif value > 0.0:
            low, high, whose = *_around(value), OURS
        else:
            continue
        found.append(Band(field, what, value, round(low, 9), round(high, 9), whose))
    found += [
        Band(own.field, own.what, own.value, *_around(own.value), OURS)
        for own in own_odds(scenario)
    ]
    for number, rule in enumerate(scenario.fault):
        if rule.chance:
            what = f"fault {rule.what!r} of {rule.on}, per {rule.per}"
            low, high = _around(rule.chance)
            found.append(Band(f"fault[{number}]", what, rule.chance, low, high, OURS))
    return tuple(found)


def _around(value: float) -> tuple[float, float]:
    return round(value / FACTOR, 9), round(min(1.0, value * FACTOR), 9)


def assuming(scenario: Scenario, field: str, value: float) -> Scenario:
    """``scenario`` with another value of one assumption, or of one rule's chance."""
    changed = with_own_odds(scenario, field, value)
    if changed is not None:
        return changed
    if field.startswith("fault["):
        number = int(field[len("fault[") : -1])
        rules = list(scenario.fault)
        rules[number] = rules[number].model_copy(update={"chance": value})
        return scenario.model_copy(update={"fault": tuple(rules)})
    table = scenario.assumptions.model_copy(update={field: value})
    return scenario.model_copy(update={"assumptions": table})


def lasting(scenario: Scenario, duration_s: float) -> Scenario:
    """``scenario`` run for another time."""
    table = scenario.run.model_copy(update={"duration_s": duration_s})
    return scenario.model_copy(update={"run": table})
