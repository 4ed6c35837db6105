"""A small campaign for tests: two loops for two minutes, three fixes."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from sim.judge.campaign import Campaign, conclude
from sim.judge.campaign_plan import Plan, plan_campaign
from sim.judge.campaign_run import Driver, Extent
from sim.judge.store import open_store
from sim.judge.workers import Crew, crew_here
from sim.layout.project import Project
from sim.pages.campaign import campaign_document
from sim.pages.documents import Asked, Document
from sim.scenario.document import Scenario
from tests.checked import read_scenario

LOOPS = Path(__file__).parents[1] / "command" / "loops.toml"
SEED = 5


def scenario() -> Scenario:
    """The scenario of :data:`LOOPS`."""
    return read_scenario(LOOPS)


def plan(each_band: bool = False) -> Plan:
    """Its plan."""
    return plan_campaign(Project(scenario()), SEED, each_band)


def campaign(
    path: Path,
    extent: Extent,
    crew: Crew | None = None,
    resume: bool = False,
    watch: Callable[[int, int], None] | None = None,
) -> Campaign:
    """Run it, or go on with it."""
    made = plan(extent.band_runs > 0)
    with open_store(path, made.digest, {}, resume) as store:
        driver = Driver(made, store, extent, crew or crew_here())
        runs = driver.run(watch)
        return conclude(scenario(), made, driver, extent, runs)


def document(found: Campaign) -> Document:
    """Its document, which must not depend on how it was made."""
    return campaign_document(Asked("x", "x"), found)
