"""How far each assumed probability may reach, and scenarios with another value of it.

Probabilities that a scenario gives to single pieces and fixes, and other values of them.

Those of one piece's contacts, of its levers, or of one fix's changeovers are judged by
the same person with the same eye, so they are taken to be wrong together: the greatest
stands for them, and all change in proportion.

How far each assumed probability may reach, and scenarios with another value of it.

The bands of common practice are the trade's guesses, not measurements; where it
has none, a factor of ten each way is taken, which is ours.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from sim.scenario.defaults import OURS, PRACTICE, defaults_for
from sim.scenario.document import Scenario
from sim.scenario.fixes import FixTable
from sim.scenario.tracks import PieceTable

_WORDS = {"opens": "a contact of {} stays open", "fails": "a lever of {} stays where it was"}
_PIECE = re.compile(r"module\[(\d+)\]\.piece\[(\d+)\]\.(opens|fails|contacts_bad)")
_FIX = re.compile(r"fix\[(\d+)\]\.(changeover|clean_opens)")


@dataclass(frozen=True, slots=True)
class OwnOdds:
    """One of them: its field in the file, what happens, and the greatest probability."""

    field: str
    what: str
    value: float


def own_odds(scenario: Scenario) -> Iterator[OwnOdds]:
    """All that are above 0, in the order of the file."""
    for m, module in enumerate(scenario.module):
        for p, piece in enumerate(module.piece):
            for key, words in _WORDS.items():
                value = max(getattr(piece, key).values(), default=0.0)
                what = words.format(f"{module.name}/{piece.name}")
                yield from _above_0(f"module[{m}].piece[{p}].{key}", what, value)
            what = f"a contact of {module.name}/{piece.name} is bad for the whole run"
            value = piece.contacts_bad or 0.0
            yield from _above_0(f"module[{m}].piece[{p}].contacts_bad", what, value)
    for f, fix in enumerate(scenario.fix):
        value = max((c.opens for c in fix.changeover), default=0.0)
        what = f"a changeover of fix {fix.name!r} stays open"
        yield from _above_0(f"fix[{f}].changeover", what, value)
        what = f"a contact that fix {fix.name!r} cleaned stays open"
        value = fix.clean_opens if fix.clean else 0.0
        yield from _above_0(f"fix[{f}].clean_opens", what, value)


def _above_0(field: str, what: str, value: float) -> Iterator[OwnOdds]:
    if value > 0.0:
        yield OwnOdds(field, what, value)


def with_own_odds(scenario: Scenario, field: str, value: float) -> Scenario | None:
    """``scenario`` with ``value`` as the greatest of ``field``; None for another field."""
    if found := _PIECE.fullmatch(field):
        number, place = int(found[1]), int(found[2])
        modules = list(scenario.module)
        pieces = list(modules[number].piece)
        pieces[place] = _piece(pieces[place], found[3], value)
        modules[number] = modules[number].model_copy(update={"piece": tuple(pieces)})
        return scenario.model_copy(update={"module": tuple(modules)})
    if found := _FIX.fullmatch(field):
        fixes = list(scenario.fix)
        fixes[int(found[1])] = _fix(fixes[int(found[1])], found[2], value)
        return scenario.model_copy(update={"fix": tuple(fixes)})
    return None


def _piece(piece: PieceTable, key: str, value: float) -> PieceTable:
    if key == "contacts_bad":
        return piece.model_copy(update={key: value})
    given: Mapping[str, float] = getattr(piece, key)
    factor = value / max(given.values())
    return piece.model_copy(update={key: {k: _times(v, factor) for k, v in given.items()}})


def _fix(fix: FixTable, key: str, value: float) -> FixTable:
    update: dict[str, Any] = {"clean_opens": value}
    if key == "changeover":
        factor = value / max(c.opens for c in fix.changeover)
        new = (c.model_copy(update={"opens": _times(c.opens, factor)}) for c in fix.changeover)
        update = {"changeover": tuple(new)}
    return fix.model_copy(update=update)


def _times(chance: float, factor: float) -> float:
    return round(min(1.0, chance * factor), 9)


#: By field of the assumptions: lowest and highest value, and whose band it is.
_BANDS = {
    "contact_opens": (1 / 10_000, 1 / 20, PRACTICE),
    "contacts_bad": (0.01, 0.5, PRACTICE),
    "lever_fails": (1 / 5000, 1 / 50, PRACTICE),
}
_PROBABILITIES = {
    "contact_opens": "a contact that should close stays open",
    "contacts_bad": "a contact of a piece that is not tested is bad for the whole run",
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
        if field == "contacts_bad" and not _is_any_untested(scenario):
            continue
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


def _is_any_untested(scenario: Scenario) -> bool:
    pieces = (piece for module in scenario.module for piece in module.piece)
    return any(piece.tested is False and piece.contacts_bad is None for piece in pieces)


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
