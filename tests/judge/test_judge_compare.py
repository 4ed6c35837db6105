"""Comparing cases: totals, pairing, and independence of who did the work."""

from __future__ import annotations

import signal
import subprocess
import sys
import time
from dataclasses import asdict, replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sim.judge.compare import compare_cases
from sim.judge.comparison import AS_BUILT, Comparison, Settings
from sim.judge.replicate import Run
from sim.judge.stats import Interval, rate
from sim.judge.tally import by_piece, by_section, replication_seed, tally
from sim.judge.verdict import verdict
from sim.layout.traffic import Case
from sim.pages.phrases import finding_line
from sim.records.causes import Cause, Reason
from sim.records.model import Record, Trip
from tests import made

CASES = [made.case(), made.case("half"), made.case("cure")]
NOTES = ["", "one wire", "two wires"]
PINNED = [1018712372, 1578636434, 3662276389]


def compared(run: Run = made.luck, runs: int = 8, workers: int = 1) -> Comparison:
    return compare_cases(CASES, NOTES, runs, 1, workers, None, run, made.survey, made.IDEAL)


def test_replication_seeds_are_pure_and_apart() -> None:
    seeds = [replication_seed(1, k) for k in range(1000)]
    assert seeds == [replication_seed(1, k) for k in range(1000)]
    assert len(set(seeds)) == 1000
    assert seeds[:3] != [replication_seed(2, k) for k in range(3)]
    assert all(0 <= s < 2**32 for s in seeds)


def test_replication_seeds_are_pinned() -> None:
    """Pinned numbers of our own: a change would change every published comparison."""
    assert [replication_seed(1, k) for k in range(3)] == PINNED


def test_totals_are_those_of_the_records() -> None:
    found = compared()
    records = [made.luck(CASES[0], s) for s in found.seeds]
    built = found.as_built
    assert built.name == AS_BUILT
    assert built.legs == 80
    assert built.stalls == sum(len(r.stalls) for r in records)
    assert built.stalled_legs == sum(x.outcome == "stalled" for r in records for x in r.legs)
    assert built.stalled_passes == 8
    assert built.hesitations == 8
    assert built.stall_rate == built.stalled_legs / 80
    hits = [sum(x.outcome == "stalled" for x in r.legs) for r in records]
    assert rate(hits, [10] * 8) == Interval(built.stall_low or 0, built.stall_high or 0)
    assert [c.name for c in found.cases] == [AS_BUILT, "half", "cure"]
    assert [c.note for c in found.cases] == NOTES


def test_differences_are_paired_by_replication() -> None:
    found = compared()
    removed = [
        len(made.luck(CASES[0], s).stalls) - len(made.luck(CASES[1], s).stalls)
        for s in found.seeds
    ]
    half, cure = found.differences
    assert half.stalls_removed == pytest.approx(sum(removed) / 8)
    assert half.legs_cured == sum(removed)
    assert half.legs_harmed == 0
    assert cure.stalls_removed == pytest.approx(found.as_built.stalls / 8)
    assert cure.p_value == 2 / 2**8  # every run is better: 2 of 2^8 sign patterns
    assert (cure.runs_cured, cure.runs_harmed) == (8, 0)
    assert cure.runs_p_value == 2 / 2**8
    assert cure.low is not None
    assert cure.low > 0


def test_without_chance_there_is_one_run_and_no_interval() -> None:
    calls: list[tuple[str | None, int]] = []

    def run(of: Case, seed: int) -> Record:
        calls.append((of.fix, seed))
        return made.certain(of, seed)

    found = compared(run)
    assert len(calls) == 3
    assert found.runs == 1
    assert found.as_built.stalls == 2
    assert all(c.stall_low is None and c.stall_high is None for c in found.cases)
    difference = found.differences[0]
    assert difference.stalls_removed == 2
    assert (difference.low, difference.high, difference.p_value) == (None, None, None)
    assert difference.runs_p_value is None


def test_a_certain_case_counts_as_often_as_the_others() -> None:
    def run(of: Case, seed: int) -> Record:
        return (made.certain if of.fix == "cure" else made.luck)(of, seed)

    found = compared(run)
    cure = found.cases[2]
    assert found.runs == 8
    assert cure.legs == 24  # 3 legs, the same 8 times
    assert cure.stall_low is None
    removed = found.differences[1].stalls_removed
    assert removed * found.runs == found.as_built.stalls - cure.stalls


def test_one_run_of_chance_has_no_interval() -> None:
    found = compared(runs=1)
    assert found.as_built.random
    assert found.as_built.stall_low is None
    assert found.differences[0].p_value is None


@pytest.mark.parametrize("workers", [2, 3, 50])
def test_workers_change_nothing(workers: int) -> None:
    assert asdict(compared(workers=workers)) == asdict(compared())


def test_a_failing_run_is_told_and_leaves_no_process() -> None:
    def run(of: Case, seed: int) -> Record:
        raise RuntimeError("made to fail")

    with pytest.raises(RuntimeError, match="made to fail"):
        compared(run, workers=2)


@pytest.mark.skipif(not Path("/proc").is_dir(), reason="looks processes up in /proc")
@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGTERM, signal.SIGKILL])
def test_no_worker_outlives_its_parent(how: signal.Signals) -> None:
    """Workers in the middle of a job that never ends go when the command goes."""
    program = (
        "import os, time\n"
        "from tests import made\n"
        "from sim.judge.compare import compare_cases\n"
        "def run(case, seed):\n"
        "    os.write(1, f'{os.getpid()}\\n'.encode())\n"
        "    while True: time.sleep(0.01)\n"
        "cases = [made.case(), made.case('half')]\n"
        "compare_cases(cases, ['', ''], 8, 1, 2, None, run, made.survey)\n"
    )
    parent = subprocess.Popen(
        [sys.executable, "-c", program],
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
        cwd=Path(__file__).resolve().parents[2],
    )
    assert parent.stdout is not None
    workers = [int(parent.stdout.readline()) for _ in range(2)]
    assert all(alive(w) for w in workers)
    parent.send_signal(how)
    parent.wait(timeout=20)
    parent.stdout.close()
    until = time.monotonic() + 20
    while any(alive(w) for w in workers) and time.monotonic() < until:
        time.sleep(0.05)
    assert not any(alive(w) for w in workers)


def alive(process: int) -> bool:
    """There, and not merely waiting for somebody to ask how it ended."""
    try:
        return Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False


def test_progress_ends_at_all_jobs() -> None:
    seen: list[tuple[int, int]] = []
    compare_cases(
        CASES, NOTES, 4, 1, 1, lambda d, t: seen.append((d, t)), made.luck, made.survey
    )
    assert seen[-1] == (15, 15)  # 3 cases of 4 runs, 3 surveys
    seen.clear()
    compare_cases(
        CASES, NOTES, 4, 1, 1, lambda d, t: seen.append((d, t)), made.certain, made.survey
    )
    assert seen[-1] == (6, 6)


names = st.sampled_from(["m/p/a", "m/p/b", "m/q/a"])
stalls = st.lists(
    st.builds(
        made.stall,
        section=names,
        kind=st.sampled_from(["floating", "same pole"]),
        charged_to=st.sampled_from([None, "m/p", "m/q"]),
    ),
    max_size=12,
)


@given(st.lists(stalls, max_size=5))
@settings(deadline=None)
def test_by_section_and_by_piece_add_up(runs: list[list[object]]) -> None:
    tallies = [tally(made.record(stalls=tuple(s))) for s in runs]
    total = sum(len(s) for s in runs)
    sections = by_section(tallies)
    assert sum(s.stalls for s in sections) == total
    assert sum(p.stalls for p in by_piece(tallies)) == total
    assert [(-s.stalls, s.section) for s in sections] == sorted(
        (-s.stalls, s.section) for s in sections
    )
    assert len({s.section for s in sections}) == len(sections)


def said_of(found: Comparison, fix: int) -> tuple[str, ...]:
    return tuple(map(finding_line, verdict(found, fix)))


def test_kind_and_cause_are_the_most_frequent() -> None:
    one = Cause("right", (Reason("same pole"),))
    other = Cause("right", (Reason("gap parts", elements=("b/P/gap",), sections=("a", "b")),))
    stalls = (
        made.stall(kind="same pole", cause=one),
        made.stall(kind="floating", cause=other),
        made.stall(kind="floating", cause=other, charged_to=None),
    )
    (found,) = by_section([tally(made.record(stalls=stalls))])
    assert (found.stalls, found.kind, found.cause) == (3, "floating", other)


# --- verdicts -------------------------------------------------------------------


def test_verdict_of_a_cure_that_shorts() -> None:
    found = compared()
    says = said_of(found, 1)
    total = found.as_built.stalls
    assert says[0] == f"Removes all {total} stalls in 8 runs."
    assert "Shorts in 1 of 4 settings (none as built)." in says
    assert "Settings with a dead route: 0 of 4 (2 as built)." in says
    assert "Joins cab A+ and cab B+ (one pole)." in says


def test_verdict_of_a_half_cure_names_what_is_left() -> None:
    found = compared()
    says = said_of(found, 0)
    built, half = found.as_built.stalls, found.cases[1].stalls
    assert says[0] == f"Removes {built - half} of {built} stalls in 8 runs."


def test_verdict_of_a_fix_that_does_nothing() -> None:
    cases = [made.case(), made.case("none")]
    found = compare_cases(cases, ["", ""], 8, 1, 1, None, made.luck, lambda _: made.BUILT)
    says = said_of(found, 0)
    assert says[0].startswith("Removes none: ")
    assert not any(s.startswith("Does nothing for the ") for s in says)
    assert not any("Chance" in s for s in says)


def test_verdict_needless_and_worse() -> None:
    def run(of: Case, seed: int) -> Record:
        if of.fix == "cure":
            return replace(made.certain(made.case(), seed), fix="cure")
        return made.quiet(random=False)

    found = compared(run)
    assert said_of(found, 0)[0] == "Needless for this timetable: as built nothing stalls."
    worse = said_of(found, 1)
    assert worse[0] == "Makes it worse: 2 stalls, none as built."
    assert f"New: 2 stalls on {made.MID} (floating)." in worse
    assert "Supplies trip 1 time, 0 as built." in worse


def test_verdict_without_a_leg_says_that_runs_tell_nothing() -> None:
    def run(of: Case, seed: int) -> Record:
        return replace(made.quiet(random=False), legs=(), passes=())

    said = said_of(compared(run), 0)[0]
    assert said == "No train finishes a leg, so runs tell nothing of it; its settings do."


def test_verdict_counts_trips_where_nothing_stalls() -> None:
    def said(before: int, after: int) -> tuple[str, ...]:
        def run(of: Case, seed: int) -> Record:
            trip = Trip(1.0, "cab", 5.0, (), ())
            return replace(
                made.quiet(random=False), trips=(trip,) * (before if of.fix is None else after)
            )

        return said_of(compared(run), 0)

    def first(before: int, after: int) -> str:
        return said(before, after)[0]

    either = "; nothing stalls, as built or with it."
    assert first(1, 0) == f"Prevents the only trip{either}"
    assert first(2, 0) == f"Prevents all 2 trips{either}"
    assert first(3, 1) == f"Prevents 2 of 3 trips{either}"
    assert first(2, 2) == f"Prevents none of 2 trips{either}"
    assert first(0, 2) == f"Makes it worse: 2 trips{either}"
    assert first(0, 0).startswith("Needless ")
    assert sum("trip" in sentence for sentence in said(2, 0)) == 1


def test_verdict_warns_of_chance() -> None:
    def run(of: Case, seed: int) -> Record:
        stalled = of.fix is None and seed == replication_seed(1, 0)
        return made.record(stalls=(made.stall(),) if stalled else (), random=True)

    says = said_of(compared(run), 0)
    assert says[0] == "Removes the only stall in 8 runs."
    assert says[1] == "Chance alone could do as much (p = 1): make more runs."


def test_verdict_on_shorts_that_were_there_before() -> None:
    def says(before: int, after: int) -> tuple[str, ...]:
        def survey(of: Case) -> Settings:
            return Settings(4, 0, before if of.fix is None else after)

        found = compare_cases(CASES, NOTES, 8, 1, 1, None, made.luck, survey)
        return said_of(found, 1)[1:]

    assert says(0, 0) == ()
    assert says(1, 1) == ("Shorts in 1 of 4 settings.",)
    assert says(2, 1) == ("Shorts in 1 of 4 settings (2 as built).",)
    assert says(2, 0) == ("Shorts in 0 of 4 settings (2 as built).",)
