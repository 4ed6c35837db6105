"""Parameters of library pieces as a scenario writes them: lengths may be texts."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from pydantic import ValidationError

from sim.pieces.kinds import KINDS
from sim.scenario import units
from sim.scenario.explain import problems_of
from sim.scenario.problems import Problem, shown


def ready_params(
    kind: str, params: Mapping[str, Any], gauge_mm: float, where: str
) -> tuple[dict[str, Any], list[Problem]]:
    """``params`` as numbers and with the scenario's gauge, and what is wrong with them."""
    ready, problems = _lengths(params, where)
    if "gauge_mm" in KINDS[kind].model_fields:
        ready.setdefault("gauge_mm", gauge_mm)
    try:
        KINDS[kind].model_validate(ready)
    except ValidationError as error:
        said = {problem.where for problem in problems}
        for path, problem in problems_of(error, ready, KINDS[kind]):
            at = f"{where}.{problem.where}" if path else where
            if at not in said:
                problems.append(Problem(at, problem.expected, problem.found))
    return ready, problems


def _lengths(params: Mapping[str, Any], where: str) -> tuple[dict[str, Any], list[Problem]]:
    ready: dict[str, Any] = {}
    problems: list[Problem] = []
    for key, value in params.items():
        ready[key] = value
        if key.endswith("_mm") and isinstance(value, str):
            try:
                ready[key] = units.length_in_mm(value)
            except ValueError as error:
                problems.append(Problem(f"{where}.{key}", str(error), shown(value)))
    return ready, problems
