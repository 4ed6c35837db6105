"""The published schema is what the models say, and agrees with the reader."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

import jsonschema
import pytest

from sim.pieces.described import to_data
from sim.pieces.kinds import KINDS, build
from sim.scenario.schema import json_schema, schema_text
from tests.checked import scenario_from_text
from tests.scenario.texts import BRANCH, HEAD, LOOPS, ONE, TRAIN

PUBLISHED = Path(__file__).parents[2] / "scenarios" / "scenario.schema.json"
CHECKER = jsonschema.Draft202012Validator(json_schema())


def test_the_published_file_is_what_the_models_say() -> None:
    assert PUBLISHED.read_text("utf-8") == schema_text()


def test_it_is_a_schema() -> None:
    jsonschema.Draft202012Validator.check_schema(json.loads(schema_text()))


@pytest.mark.parametrize("text", [LOOPS, ONE, ONE + BRANCH + TRAIN])
def test_it_takes_what_the_reader_takes(text: str) -> None:
    scenario_from_text(text)
    assert not list(CHECKER.iter_errors(tomllib.loads(text)))


@pytest.mark.parametrize(
    "text",
    [
        HEAD,
        ONE.replace("format = 1", "format = 3"),
        ONE.replace("length_mm = 200", "lenght_mm = 200"),
        ONE.replace("length_mm = 200", 'length_mm = "2 hm"'),
        ONE + "[run]\nduration = 3\n",
        ONE + TRAIN.replace("place_mm", 'orders = [{do="fly"}]\nplace_mm'),
    ],
)
def test_it_refuses_what_the_reader_refuses(text: str) -> None:
    assert list(CHECKER.iter_errors(tomllib.loads(text)))


def test_every_kind_of_the_library_is_in_it() -> None:
    titles = [kind["title"] for kind in json_schema()["$defs"]["PieceTable"]["oneOf"]]
    assert titles[:-1] == list(KINDS)


def test_a_described_piece_is_taken() -> None:
    piece = build("turnout", {"gauge_mm": 9.0})
    data = tomllib.loads(ONE)
    data["piece"] = [to_data(piece) | {"kind": "my turnout"}]
    data["module"][0]["piece"].append({"name": "T", "kind": "my turnout"})
    assert not list(CHECKER.iter_errors(data))
