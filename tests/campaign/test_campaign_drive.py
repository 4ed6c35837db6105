"""The same numbers whoever does the work, in whatever order, and whoever dies."""

from __future__ import annotations

import gc
import multiprocessing
import os
import random
import signal
import sys
import time
from collections.abc import Callable
from concurrent.futures import BrokenExecutor, Executor, Future, ThreadPoolExecutor
from pathlib import Path

import pytest

from sim.judge.campaign_run import Extent
from sim.judge.store import CampaignError
from sim.judge.workers import Crew, WorkersLostError, crew_of_processes
from sim.pages.plain import Document
from tests.campaign.small import campaign, document

RUNS = 8


@pytest.fixture(scope="module")
def undisturbed(tmp_path_factory: pytest.TempPathFactory) -> Document:
    path = tmp_path_factory.mktemp("campaign") / "c"
    return document(campaign(path, Extent(RUNS)))


class Shuffled(Executor):
    """Finishes tasks in a random order, and can die on the way as a pool of processes does."""

    def __init__(self, seed: int, dies_at: int | None = None) -> None:
        self.dice = random.Random(seed)
        self.pool = ThreadPoolExecutor(3)
        self.left = dies_at

    def submit(self, fn: Callable[..., str], /, *args: object, **kwargs: object) -> Future[str]:  # type: ignore[override]
        if self.left is not None:
            self.left -= 1
            if self.left < 0:
                raise BrokenExecutor("a worker has died")
        delay = self.dice.random() / 50

        def late() -> str:
            done = fn(*args, **kwargs)
            time.sleep(delay)
            return done

        return self.pool.submit(late)

    def shutdown(self, wait: bool = True, *, cancel_futures: bool = False) -> None:
        self.pool.shutdown(wait, cancel_futures=cancel_futures)


def test_any_executor_in_any_order(tmp_path: Path, undisturbed: Document) -> None:
    crew = Crew(lambda: Shuffled(3), 3)
    assert document(campaign(tmp_path / "c", Extent(RUNS), crew)) == undisturbed


def test_an_executor_that_breaks_is_made_anew(tmp_path: Path, undisturbed: Document) -> None:
    made: list[Shuffled] = []

    def executor() -> Shuffled:
        made.append(Shuffled(4, dies_at=3))
        return made[-1]

    assert document(campaign(tmp_path / "c", Extent(RUNS), Crew(executor, 2))) == undisturbed
    assert len(made) > 1


def test_one_that_breaks_again_and_again_is_given_up(tmp_path: Path) -> None:
    crew = Crew(lambda: Shuffled(5, dies_at=0), 2)
    with pytest.raises(WorkersLostError, match="ended 4 times over the same run"):
        campaign(tmp_path / "c", Extent(RUNS), crew)


@pytest.mark.skipif(sys.platform == "win32", reason="no SIGKILL")
def test_a_worker_killed_in_mid_campaign(tmp_path: Path, undisturbed: Document) -> None:
    killed: list[int] = []

    def watch(done: int, total: int) -> None:
        if done == 2 and not killed:
            child = multiprocessing.active_children()[0]
            assert child.pid is not None
            os.kill(child.pid, signal.SIGKILL)
            killed.append(child.pid)

    found = campaign(tmp_path / "c", Extent(RUNS), crew_of_processes(2), watch=watch)
    assert killed
    assert document(found) == undisturbed


def test_resumed_after_an_interruption(tmp_path: Path, undisturbed: Document) -> None:
    def interrupt(done: int, total: int) -> None:
        if done == 3:
            raise KeyboardInterrupt

    path = tmp_path / "c"
    with pytest.raises(KeyboardInterrupt):
        campaign(path, Extent(RUNS), watch=interrupt)
    seen: list[int] = []
    found = campaign(path, Extent(RUNS), resume=True, watch=lambda d, t: seen.append(d))
    assert seen == [4, 5, 6, 7, 8]
    assert document(found) == undisturbed


def test_a_truncated_last_record(tmp_path: Path, undisturbed: Document) -> None:
    path = tmp_path / "c"
    campaign(path, Extent(RUNS))
    path.write_bytes(path.read_bytes()[:-30])
    assert document(campaign(path, Extent(RUNS), resume=True)) == undisturbed


def test_more_runs_go_on_from_fewer(tmp_path: Path, undisturbed: Document) -> None:
    path = tmp_path / "c"
    campaign(path, Extent(5))
    found = document(campaign(path, Extent(RUNS), resume=True))
    assert found == undisturbed
    fewer = document(campaign(path, Extent(5), resume=True))
    assert fewer["runs"] == 5


def test_rows_are_made_afresh_where_only_counts_were_kept(tmp_path: Path) -> None:
    path = tmp_path / "c"
    campaign(path, Extent(2))
    seen: list[int] = []
    campaign(
        path,
        Extent(2, with_rows=True),
        resume=True,
        watch=lambda done, total: seen.append(done),
    )
    assert seen == [1, 2]
    campaign(path, Extent(2), resume=True, watch=lambda done, total: seen.append(done))
    assert seen == [1, 2]


def test_stopping_at_a_width_depends_on_nothing_but_the_runs(tmp_path: Path) -> None:
    one = campaign(tmp_path / "a", Extent(60, until_width=0.35))
    other = campaign(tmp_path / "b", Extent(60, until_width=0.35), Crew(lambda: Shuffled(6), 4))
    assert document(one) == document(other)
    assert one.comparison.runs < 60
    assert one.comparison.runs % 10 == 0
    assert one.width is not None
    assert one.width <= 0.35
    tight = campaign(tmp_path / "c", Extent(21, until_width=0.001))
    assert tight.comparison.runs == 21
    assert tight.width is not None
    assert tight.width > 0.001


@pytest.mark.slow
def test_a_dask_cluster_with_two_worker_processes(
    tmp_path: Path, undisturbed: Document
) -> None:
    distributed = pytest.importorskip("distributed")
    from sim.judge.workers import crew_of_dask

    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None
    ) as cluster:
        crew = crew_of_dask(cluster.scheduler_address)
        assert crew.at_once == 4
        found = document(campaign(tmp_path / "c", Extent(RUNS), crew))
    assert found == undisturbed


@pytest.mark.slow
def test_nobody_answers_at_the_address() -> None:
    pytest.importorskip("distributed")
    from sim.judge.workers import crew_of_dask

    with pytest.raises(CampaignError, match="expected a Dask scheduler at"):
        crew_of_dask("tcp://127.0.0.1:9")


@pytest.mark.parametrize(
    "address", ["", "bla", "nonsense://x:1", "host:", "tcp://", "127.0.0.1:1:2", "inproc://x"]
)
def test_what_is_no_address_is_refused_before_anything_is_dialled(
    address: str, capfd: pytest.CaptureFixture[str]
) -> None:
    """A client made for such an address spoke a traceback at the program's end."""
    pytest.importorskip("distributed")
    from sim.judge.workers import crew_of_dask

    with pytest.raises(CampaignError, match="got no host and port"):
        crew_of_dask(address)
    gc.collect()
    assert capfd.readouterr().err == ""
