"""Plain data of results: one rule and its exceptions."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sim.pages.plain import Plain


@dataclass(frozen=True)
class Spot:
    name: str
    place_mm: float
    seen_s: float | None = None
    near: tuple[object, ...] = ()


@dataclass(frozen=True)
class Pair:
    first: Spot
    second: Spot

    @property
    def apart_mm(self) -> float:
        return self.second.place_mm - self.first.place_mm


ONE = Spot("one", 1.23456, 2.3456789)


def test_a_dataclass_is_its_fields_in_order() -> None:
    found = Plain()(Pair(ONE, Spot("two", -0.0, near=(ONE,))))
    first = {"name": "one", "place_mm": 1.235, "seen_s": 2.345679, "near": []}
    assert found == {
        "first": first,
        "second": {"name": "two", "place_mm": 0.0, "seen_s": None, "near": [first]},
    }
    assert list(found["first"]) == ["name", "place_mm", "seen_s", "near"]
    assert str(found["second"]["place_mm"]) == "0.0"


def test_exceptions_by_class() -> None:
    plain = Plain({Pair: "apart_mm from=first.name to=second", Spot: lambda s: [s.name]})
    assert plain(Pair(ONE, Spot("two", 3.0))) == {
        "apart_mm": 1.765,
        "from": "one",
        "to": ["two"],
    }


def test_exceptions_by_key() -> None:
    plain = Plain({Spot: "name near"}, {"near": dict, "name": str.upper})
    assert plain(Spot("one", 0.0, near=(("name", ONE), ("b", 1)))) == {
        "name": "ONE",
        "near": {"name": {"name": "ONE", "near": {}}, "b": 1},
    }


def test_names_that_users_gave_are_no_keys() -> None:
    plain = Plain(keys={"levers": dict})
    assert plain({"levers": "closed", "at_mm": 0.12345}) == {
        "levers": "closed",
        "at_mm": 0.12345,
    }
    assert plain.row({"levers": (("a", "b"),), "at_mm": 0.12345}) == {
        "levers": {"a": "b"},
        "at_mm": 0.123,
    }


def test_whole_numbers_stay_whole_and_sets_are_sorted() -> None:
    plain = Plain()
    assert str(plain.row({"at_mm": 5, "ran_s": True})) == "{'at_mm': 5, 'ran_s': True}"
    assert plain(frozenset("cab")) == ["a", "b", "c"]


def test_an_attribute_that_is_not_there_is_told_at_once() -> None:
    with pytest.raises(TypeError, match="an attribute of Spot, got 'nome'"):
        Plain({Spot: "name=nome"})


VALUES: st.SearchStrategy[Any] = st.recursive(
    st.none() | st.booleans() | st.integers() | st.text() | st.floats(allow_nan=False),
    lambda below: st.lists(below) | st.dictionaries(st.text(), below),
)


@given(VALUES)
def test_plain_data_stays_as_it_is(value: object) -> None:
    assert Plain()(value) == value


@given(st.lists(st.builds(Spot, st.text(), st.floats(-1e9, 1e9), st.floats(0, 1e9))))
def test_it_goes_through_json_as_it_is(spots: list[Spot]) -> None:
    found = Plain()(spots)
    assert json.loads(json.dumps(found)) == found
    assert all(
        abs(f["place_mm"] - s.place_mm) < 0.0006 for f, s in zip(found, spots, strict=True)
    )
