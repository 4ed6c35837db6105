"""``gapwright campaign``: as built and every fix over many runs of a whole day."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from sim.command import frame, options
from sim.command.frame import DONE, UsageError

if TYPE_CHECKING:
    from sim.judge.campaign import Campaign
    from sim.judge.campaign_run import Driver
    from sim.judge.store import Store
    from sim.judge.workers import Crew
    from sim.layout.project import Project
    from sim.records.table import Row

RESULT_DEPENDS_ON = ("runs", "seed", "hours", "until_width", "band_runs")
DEFAULT_RUNS = 100
DEFAULT_BAND_RUNS = 10


def configure(parser: argparse.ArgumentParser) -> None:
    """Add the arguments."""
    options.add_scenario(parser)
    options.add_seed(parser)
    options.add_runs(parser, DEFAULT_RUNS)
    parser.add_argument(
        "--hours",
        type=options.number(1e-3, 1000),
        metavar="H",
        help="length of the day (default: the scenario's duration)",
    )
    parser.add_argument(
        "--until-width",
        type=options.number(1e-6, 1),
        metavar="W",
        help="stop when no 95 %% interval of a stall rate is wider than this (0.05: five "
        "in a hundred), at --runs at the latest",
    )
    parser.add_argument(
        "--band-runs",
        type=options.whole_number(0, options.MOST_RUNS),
        default=DEFAULT_BAND_RUNS,
        metavar="N",
        help="runs at each end of each assumption's band, to see which could change the "
        f"choice of fix (default {DEFAULT_BAND_RUNS}; 0: none)",
    )
    parser.add_argument(
        "--keep",
        metavar="PATH",
        help="file that keeps finished runs (default: the scenario's name with .campaign, "
        "in this folder)",
    )
    parser.add_argument(
        "--resume", action="store_true", help="go on from the runs that are kept already"
    )
    parser.add_argument(
        "--dask",
        metavar="ADDRESS",
        help="let the workers of a Dask cluster do it; ADDRESS is its scheduler's",
    )
    options.add_records(parser)
    options.add_json(parser, "the results")


def run(given: argparse.Namespace) -> int:
    """Run the campaign and print its results."""
    project = frame.read(given)
    options.check_records(given)
    if given.dask is not None and given.workers:
        raise UsageError("--workers: expected none beside --dask, whose workers do it all")
    from sim.judge.store import CampaignError

    if given.hours is not None:
        from sim.layout.project import Project
        from sim.scenario.bands import lasting

        project = Project(lasting(project.scenario, given.hours * 3600))
    try:
        found = _campaign(given, project)
    except CampaignError as error:
        raise UsageError(str(error)) from error
    from sim.pages.campaign import campaign_document, print_campaign

    again = frame.command_line(given, RESULT_DEPENDS_ON, given.scenario)
    frame.give(
        given,
        lambda page: print_campaign(page, found, again),
        lambda: campaign_document(
            frame.asked(given, project.scenario.title, RESULT_DEPENDS_ON), found
        ),
    )
    return DONE


def _campaign(given: argparse.Namespace, project: Project) -> Campaign:
    from sim.command.progress import Bar
    from sim.judge.campaign import conclude
    from sim.judge.campaign_plan import plan_campaign
    from sim.judge.campaign_run import Driver, Extent
    from sim.judge.store import open_store
    from sim.judge.verdict import count

    plan = plan_campaign(project, given.seed, given.band_runs > 0)
    extent = Extent(given.runs, given.band_runs, given.until_width, given.records is not None)
    path = Path(given.keep or f"{Path(given.scenario).stem}.campaign")
    about = {"scenario": project.scenario.title, "seed": given.seed}
    crew = _crew(given)
    with open_store(path, plan.digest, about, given.resume) as store:
        if store.damaged:
            bad = count(store.damaged, "damaged line")
            _say(f"{bad} in {path}: what is missing is run again")
        driver = Driver(plan, store, extent, crew)
        try:
            with Bar("Running") as bar:
                runs = driver.run(bar.show)
        except KeyboardInterrupt:
            kept = count(len(store.places), "finished run")
            _say(f"kept in {path}: {kept}; --resume goes on")
            raise
        if given.records is not None:
            options.write_records(given, _rows(store, driver, runs))
        return conclude(project.scenario, plan, driver, extent, runs)


def _crew(given: argparse.Namespace) -> Crew:
    from sim.judge.replicate import usable_processors
    from sim.judge.workers import crew_here, crew_of_dask, crew_of_processes

    if given.dask is not None:
        return crew_of_dask(given.dask)
    workers = min(given.workers or usable_processors(), given.runs)
    return crew_here() if workers == 1 else crew_of_processes(workers)


def _rows(store: Store, driver: Driver, runs: int) -> Iterator[Row]:
    """All rows of the runs that count, in order of replication and case."""
    for task in driver.tasks(0, runs):
        rows = store.read(task).rows or {}
        for number in sorted(rows):
            yield from rows[number]


def _say(text: str) -> None:
    print(f"gapwright: {text}", file=sys.stderr)
