"""``gapwright schema``: the JSON Schema of scenario files."""

from __future__ import annotations

import argparse

from sim.command import frame, options
from sim.command.frame import DONE


def configure(parser: argparse.ArgumentParser) -> None:
    """Add the arguments."""
    options.add_json(parser, "the schema to a file instead of standard output")


def run(given: argparse.Namespace) -> int:
    """Print or write the schema."""
    frame.check_json_path(given)
    from sim.scenario.schema import json_schema

    frame.write_json(given.json or "-", json_schema())
    return DONE
