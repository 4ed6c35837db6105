"""Save a fix into the scenario file: appended as text, so that every comment stays."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import tomli_w

from sim.layout.project import Project, load_project
from sim.pages.documents import write_text_atomically
from sim.scenario.document import Scenario
from sim.scenario.load import load_text
from sim.scenario.problems import ScenarioError
from viewer.window.draft import Jumper


class NotSavedError(Exception):
    """The fix could not be saved; says why."""


def fix_text(name: str, jumpers: Sequence[Jumper], base: dict[str, Any] | None) -> str:
    """The tables of a fix as TOML: those of ``base`` and the jumpers."""
    table: dict[str, Any] = {"name": name, "note": "laid by hand in the viewer"}
    for key, value in (base or {}).items():
        if key not in table:
            table[key] = value
    wires = [*table.pop("jumper", []), *({"from": j.start, "to": j.to} for j in jumpers)]
    if wires:
        table["jumper"] = wires
    return tomli_w.dumps({"fix": [table]}, multiline_strings=False)


def base_table(scenario: Scenario, fix: str | None) -> dict[str, Any] | None:
    """The tables of a fix of the scenario as they would be written."""
    found = None if fix is None else scenario.fix_named(fix)
    if found is None:
        return None
    table = found.model_dump(mode="json", by_alias=True, exclude_defaults=True)
    return {key: value for key, value in table.items() if key != "name"}


def save_fix(
    path: str, name: str, jumpers: Sequence[Jumper], base: dict[str, Any] | None
) -> Project:
    """Append the fix to the file at ``path``, whole or not at all; gives what it holds now.

    The file is checked as it would be before it takes the old one's place.
    Raises :class:`NotSavedError`.
    """
    if not jumpers and not base:
        raise NotSavedError("there is no jumper to save: lay one first")
    try:
        text = load_text(Path(path))
    except ScenarioError as error:
        raise NotSavedError("; ".join(str(p) for p in error.problems)) from None
    whole = text.rstrip("\n") + "\n\n" + fix_text(name, jumpers, base)
    project = _checked(Path(path), whole)
    try:
        write_text_atomically(path, whole)
    except OSError as error:
        raise NotSavedError(f"cannot write the file: {error.strerror}") from None
    return project


def _checked(path: Path, text: str) -> Project:
    """The file as it would be. Raises :class:`NotSavedError` with the first error."""
    try:
        handle, name = tempfile.mkstemp(".toml", f".{path.stem}.", path.parent)
    except OSError as error:
        raise NotSavedError(f"cannot write beside the file: {error.strerror}") from None
    try:
        with os.fdopen(handle, "w", encoding="utf-8", newline="\n") as file:
            file.write(text)
        return load_project(name)
    except ScenarioError as error:
        raise NotSavedError(str(error.problems[0])) from None
    finally:
        Path(name).unlink(missing_ok=True)
