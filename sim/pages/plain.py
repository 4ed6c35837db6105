"""Plain data, ready for JSON, of results: one rule, and tables of exceptions to it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from collections.abc import Set as AbstractSet
from dataclasses import fields, is_dataclass
from operator import attrgetter
from typing import Any

Document = dict[str, Any]
Make = Callable[[Any], object]


class Plain:
    """Makes plain data of results.

    The rule: a dataclass is a dictionary of its fields in their order, anything that
    can be gone through is a list, a set a sorted one.  Numbers whose key ends in ``_s``
    are rounded to the microsecond, in ``_mm`` to 0.001 mm, and none is minus zero.

    ``classes`` are the exceptions by class: its keys in order, each ``key`` or
    ``key=attribute`` (also ``key=attribute.attribute``); or a function that makes
    something else of it, which is made plain in its turn.  ``keys`` are the
    exceptions by key: what is done first with the value that stands under it.  Keys of
    a mapping that is itself a value (names that users gave) are no keys in this sense.

    Raises ``TypeError`` for an attribute that the class does not have.
    """

    def __init__(
        self,
        classes: Mapping[type, str | Make] | None = None,
        keys: Mapping[str, Make] | None = None,
    ) -> None:
        self._classes = {
            thing: _keys(thing, how) if isinstance(how, str) else how
            for thing, how in (classes or {}).items()
        }
        self._keys = dict(keys or {})

    def __call__(self, value: object) -> Any:
        """``value`` as plain data."""
        if value is None or isinstance(value, str | int | float):
            return value
        if isinstance(value, Mapping):
            return {key: self(below) for key, below in value.items()}
        if not is_dataclass(value):
            assert isinstance(value, AbstractSet | tuple | list), f"no data: {value!r}"
            return [
                self(v) for v in (sorted(value) if isinstance(value, AbstractSet) else value)
            ]
        how = self._classes.get(type(value))
        if how is None:
            how = self._classes[type(value)] = _keys(type(value), "")
        if callable(how):
            made = how(value)
            return self.row(made) if isinstance(made, Mapping) else self(made)
        return self.row({key: get(value) for key, get in how})

    def row(self, values: Mapping[str, object]) -> Document:
        """A dictionary of ``values``, whose keys are those of a document."""
        return {key: self._under(key, value) for key, value in values.items()}

    def _under(self, key: str, value: object) -> Any:
        if key in self._keys:
            value = self._keys[key](value)
        if isinstance(value, float):
            if key.endswith("_s"):
                return round(value, 6) + 0.0
            if key.endswith("_mm"):
                return round(value, 3) + 0.0
        return self(value)


def _keys(thing: Any, words: str) -> tuple[tuple[str, Make], ...]:
    """Keys, and how to get from a ``thing`` what stands under them."""
    own = [f.name for f in fields(thing)]
    found = []
    for word in words.split() or own:
        key, _, path = word.partition("=")
        name = (path or key).split(".")[0]
        if name not in own and not hasattr(thing, name):
            raise TypeError(f"expected an attribute of {thing.__name__}, got {name!r}")
        found.append((key, attrgetter(path or key)))
    return tuple(found)
