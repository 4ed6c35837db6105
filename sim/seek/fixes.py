"""Found changes as fixes: tables that a scenario can hold, and their text."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from sim.scenario.document import Scenario
from sim.scenario.fixes import FixTable
from sim.scenario.load import frozen
from sim.seek.model import Parts

_LENGTH_TEXTS = ("length",)  #: fields of wires that must be written with their unit


def fix_from(name: str, note: str, parts: Parts, base: FixTable | None = None) -> FixTable:
    """A fix of these parts, each once, on top of what ``base`` does already."""
    data: dict[str, Any] = {} if base is None else data_of(base)
    for field, item in parts:
        held = data.setdefault(field, [])
        if item not in held:
            held.append(item)
    made: FixTable = FixTable.model_validate(frozen({**data, "name": name, "note": note}))
    return made


def data_of(fix: FixTable) -> dict[str, Any]:
    """The fix as a file would hold it: only what was said, lengths with their unit."""
    data: dict[str, Any] = _plain(fix.model_dump(by_alias=True, exclude_unset=True))
    for field in ("jumper", "feeder"):
        for wire in data.get(field, ()):
            for key in _LENGTH_TEXTS:
                if isinstance(wire.get(key), float | int):
                    wire[key] = f"{wire[key]:g} mm"
    return {key: value for key, value in data.items() if value not in ([], None)}


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items() if item is not None}
    return [_plain(item) for item in value] if isinstance(value, list | tuple) else value


def toml_of(fixes: Iterable[FixTable], heading: Sequence[str] = ()) -> str:
    """``[[fix]]`` tables, ready to be put at the end of a scenario file."""
    import tomli_w

    lines = "".join(f"# {line}\n" if line else "#\n" for line in heading)
    return lines + tomli_w.dumps({"fix": [data_of(fix) for fix in fixes]})


def with_fixes(scenario: Scenario, fixes: Iterable[FixTable]) -> Scenario:
    """The scenario with these fixes added to its own."""
    return scenario.model_copy(update={"fix": (*scenario.fix, *fixes)})


def free_name(wanted: str, taken: Iterable[str]) -> str:
    """``wanted``, or the first of ``wanted 2``, ``wanted 3``, … that is not taken."""
    known = set(taken)
    name, number = wanted, 1
    while name in known:
        number += 1
        name = f"{wanted} {number}"
    return name
