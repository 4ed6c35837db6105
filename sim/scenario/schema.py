"""The JSON Schema of a scenario file, from the same models that read it."""

from __future__ import annotations

import json
from typing import Any

from sim.pieces.form import DescribedPiece
from sim.pieces.kinds import KINDS
from sim.scenario import fields
from sim.scenario.document import Scenario

Schema = dict[str, Any]


def json_schema() -> Schema:
    """The schema, with every kind's own parameters; plain data, always the same."""
    schema: Schema = Scenario.model_json_schema(by_alias=True)
    schema["$schema"] = "https://json-schema.org/draft/2020-12/schema"
    schema["title"] = "Gapwright scenario"
    definitions: Schema = schema["$defs"]
    table = definitions["PieceTable"]
    definitions["PieceTable"] = {
        "description": table["description"],
        "type": "object",
        "required": ["name", "kind"],
        "oneOf": [_library(kind, table, definitions) for kind in KINDS] + [_described(table)],
    }
    schema["properties"]["piece"]["items"] = _description(definitions)
    for name in ("ModuleTable", "TrainTable"):
        definitions[name] = _or_elsewhere(definitions[name])
    names = definitions["LineTable"]["properties"]["modules"]
    path = {"type": "string", "pattern": "/", "maxLength": 300}
    names["items"] = {"anyOf": [names["items"], path]}
    return schema


def schema_text() -> str:
    """The schema as it is written to a file."""
    return json.dumps(json_schema(), indent=2, ensure_ascii=False) + "\n"


def _or_elsewhere(table: Schema) -> Schema:
    """``table``, whose keys a file, or another table that it is like, may give instead."""
    required = table.pop("required")
    elsewhere = {"anyOf": [{"required": ["file"]}, {"required": ["like"]}]}
    return {**table, "if": {"not": elsewhere}, "then": {"required": required}}


def _library(kind: str, table: Schema, definitions: Schema) -> Schema:
    own = _own(KINDS[kind].model_json_schema(), definitions)
    common = {key: item for key, item in table["properties"].items() if key != "kind"}
    required = [key for key in own.get("required", ()) if key != "gauge_mm"]
    return {
        "title": kind,
        "description": own.get("description", ""),
        "type": "object",
        "properties": {**common, "kind": {"const": kind}, **_lengths(own["properties"])},
        "required": ["name", "kind", *required],
        "additionalProperties": False,
    }


def _described(table: Schema) -> Schema:
    kind = {"type": "string", "minLength": 1, "maxLength": 80, "not": {"enum": list(KINDS)}}
    return {
        "title": "a kind that this scenario describes",
        "type": "object",
        "properties": {**table["properties"], "kind": kind},
        "required": ["name", "kind"],
        "additionalProperties": False,
    }


def _description(definitions: Schema) -> Schema:
    own = _own(DescribedPiece.model_json_schema(by_alias=True), definitions)
    file = {"type": "string", "description": "A file that holds the rest, beside or below."}
    required = [key for key in own["required"] if key != "gauge_mm"]
    return {
        "title": "a kind of piece described rail by rail",
        "description": own.get("description", ""),
        "type": "object",
        "properties": {**_lengths(own["properties"]), "file": file},
        "required": ["kind"],
        "if": {"not": {"required": ["file"]}},
        "then": {"required": required},
        "additionalProperties": False,
    }


def _own(own: Schema, definitions: Schema) -> Schema:
    """``own`` with its definitions moved to those of the whole schema."""
    for name, definition in own.pop("$defs", {}).items():
        definition["properties"] = _lengths(definition.get("properties", {}))
        definitions.setdefault(name, definition)
    return own


def _lengths(properties: Schema) -> Schema:
    """Lengths in mm may be written as texts with a unit too."""
    return {key: _length(item) if key.endswith("_mm") else item for key, item in
            properties.items()}  # fmt: skip


def _length(item: Schema) -> Schema:
    text = {"type": "string", "pattern": fields.LENGTH_PATTERN}
    kept: Schema = {
        key: item[key] for key in ("title", "description", "default") if key in item
    }
    value = {key: item[key] for key in item if key not in kept}
    choices = value.pop("anyOf", None) or [value]
    return {**kept, "anyOf": [*choices, text]}
