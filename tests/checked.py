"""Scenarios, read and checked in one word: what tests ask for again and again."""

from __future__ import annotations

from pathlib import Path

from sim.layout.project import Judge, check_file, load_project, project_from_text
from sim.scenario.document import Scenario
from sim.scenario.problems import Problem


def read_scenario(path: str | Path) -> Scenario:
    return load_project(path).scenario


def scenario_from_text(text: str, folder: str | Path = ".") -> Scenario:
    return project_from_text(text, folder).scenario


def check_scenario(path: str | Path, judge: Judge | None = None) -> list[Problem]:
    return check_file(path, judge)[1]
