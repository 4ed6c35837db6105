"""TOML text, written by hand so that no change of the program changes it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any


class Toml:
    """A file that grows table by table."""

    def __init__(self) -> None:
        self._lines: list[str] = []

    def keys(self, **keys: Any) -> None:
        """Keys of the table that is open; those that are None are left out."""
        self._lines += [f"{_key(k)} = {_value(v)}" for k, v in keys.items() if v is not None]

    def table(self, header: str, keys: Mapping[str, Any] | None = None) -> None:
        """One more table of a list of tables, or ``[header]`` where it is so written."""
        self._lines += ["", header if header.startswith("[") else f"[[{header}]]"]
        self.keys(**(keys or {}))

    def __str__(self) -> str:
        return "\n".join(self._lines) + "\n"


def _key(name: str) -> str:
    return name if name.replace("_", "").isalnum() and name.isascii() else f'"{name}"'


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return f'"{value}"'
    if isinstance(value, Mapping):
        inside = ", ".join(f"{_key(k)} = {_value(v)}" for k, v in value.items())
        return f"{{ {inside} }}"
    if isinstance(value, Sequence):
        return f"[{', '.join(map(_value, value))}]"
    return repr(value)
