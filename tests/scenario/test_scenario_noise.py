"""Whatever is in a file, reading it gives a scenario or problems, never a traceback."""

from __future__ import annotations

import random
import tomllib
from copy import deepcopy
from pathlib import Path
from typing import Any

import pytest
import tomli_w
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from sim.layout.assemble import assemble
from sim.scenario.problems import ScenarioError
from tests.checked import check_scenario, read_scenario, scenario_from_text
from tests.scenario.test_scenario_described import STUB, USED
from tests.scenario.texts import BRANCH, LOOPS, ONE, TRAIN

_TEXTS = (LOOPS, ONE + USED + BRANCH + TRAIN + STUB)

_SLOW_IS_FINE = settings(
    max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow]
)


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("noise") / "s.toml"


@_SLOW_IS_FINE
@given(data=st.binary(max_size=400))
def test_noise(data: bytes, place: Path) -> None:
    place.write_bytes(data)
    with pytest.raises(ScenarioError):
        read_scenario(place)


def _read_and_assemble(text: str) -> None:
    """Either the file is refused, or every case in it can be put together."""
    try:
        scenario = scenario_from_text(text)
    except ScenarioError as error:
        assert error.problems
        assert all(p.where and p.expected and p.found for p in error.problems)
        return
    for fix in (None, *scenario.fix_names):
        assemble(scenario, fix)


@_SLOW_IS_FINE
@given(seed=st.integers(0, 2**32), changes=st.integers(1, 4))
def test_texts_with_a_few_characters_changed(seed: int, changes: int) -> None:
    draw = random.Random(seed)
    text = list(draw.choice(_TEXTS))
    for _ in range(changes):
        place = draw.randrange(len(text))
        text[place] = draw.choice(["", "\n", '"', "[", "]", "0", "-", "x", "\x00", "é", "="])
    _read_and_assemble("".join(text))


@_SLOW_IS_FINE
@given(seed=st.integers(0, 2**32))
def test_texts_with_a_line_lost_or_twice(seed: int) -> None:
    draw = random.Random(seed)
    lines = draw.choice(_TEXTS).split("\n")
    place = draw.randrange(len(lines))
    _read_and_assemble("\n".join(lines[:place] + lines[place + 1 :]))
    _read_and_assemble("\n".join(lines[: place + 1] + lines[place:]))


_ODD: tuple[Any, ...] = (
    0, -1, 1e308, 1.5, True, "", "x", "a/b/c", "*", "[", "board/scissors/A-west", [], [[]],
    {}, {"do": "run"}, [1, "x"], "12 in", "AWG 22", 10**9, {"": {"": []}}, "plain",
)  # fmt: skip


def _places(data: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    items = data.items() if isinstance(data, dict) else enumerate(data)
    found = []
    for key, value in items:
        found.append((*path, key))
        if isinstance(value, (dict, list)):
            found += _places(value, (*path, key))
    return found


@_SLOW_IS_FINE
@given(seed=st.integers(0, 2**32), changes=st.integers(1, 3))
def test_data_with_a_few_values_changed(seed: int, changes: int) -> None:
    draw = random.Random(seed)
    data = tomllib.loads(draw.choice(_TEXTS))
    for _ in range(changes):
        path = draw.choice(_places(data))
        here = data
        for step in path[:-1]:
            here = here[step]
        what = draw.random()
        if what < 0.3:
            del here[path[-1]]
        elif what < 0.4 and isinstance(here, dict):
            here[draw.choice(["x", "name", "kind", "a.b"])] = deepcopy(draw.choice(_ODD))
        else:
            here[path[-1]] = deepcopy(draw.choice(_ODD))
    _read_and_assemble(tomli_w.dumps(data))


def test_checking_twice_says_the_same(tmp_path: Path) -> None:
    path = tmp_path / "s.toml"
    path.write_text(LOOPS.replace("A-inner", "A-iner").replace("= 62", "= 0"), "utf-8")
    assert check_scenario(path) == check_scenario(path) != []
