"""The shipped demos, read once."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from sim.layout.assemble import assemble
from sim.layout.traffic import Case
from sim.power.chart import Chart, chart
from sim.records.model import Record
from sim.run.run import run
from sim.scenario.document import Scenario
from tests.checked import read_scenario

FOLDER = Path(__file__).resolve().parents[2] / "scenarios"
DEMOS = ("club-loops", "branch-terminus", "loose-gang", "well-fed")


@cache
def text(demo: str) -> str:
    return (FOLDER / f"{demo}.toml").read_text(encoding="utf-8")


@cache
def scenario(demo: str) -> Scenario:
    return read_scenario(FOLDER / f"{demo}.toml")


@cache
def case(demo: str, fix: str | None = None) -> Case:
    return assemble(scenario(demo), fix)


@cache
def record(demo: str, fix: str | None = None, seed: int = 1) -> Record:
    return run(case(demo, fix), seed)


@cache
def states(demo: str, fix: str | None = None, each: bool = False) -> Chart:
    return chart(case(demo, fix), each)


def records(demo: str, fix: str | None, seeds: range) -> list[Record]:
    return [record(demo, fix, seed) for seed in seeds]


def stalls(demo: str, fix: str | None, seeds: range) -> int:
    return sum(len(r.stalls) for r in records(demo, fix, seeds))
