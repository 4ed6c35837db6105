"""Hand-made records, charts and cases, for tests of what comes after a run."""

from __future__ import annotations

from dataclasses import replace

from sim.judge.comparison import Joint, Settings
from sim.layout.model import Layout
from sim.layout.traffic import Assumption, Case, Conduct
from sim.power.chart import (
    Chart,
    DeadStretch,
    InsulatedSpan,
    JoinedSupplies,
    RouteState,
    Setting,
    Short,
)
from sim.records.causes import Cause, Reason
from sim.records.model import (
    Derailment,
    Dropout,
    Event,
    Hesitation,
    Leg,
    Outcome,
    Pass,
    Record,
    Reversal,
    RunThrough,
    Stall,
    Trip,
)

MID = "board/scissors/A-mid"
ROUTE = "board/scissors/A-west-A-east"

SHORT = Cause("", (Reason("shorted", who="cab A"), Reason("by the wiring")))


def leg(train: str, name: str, outcome: Outcome = "clean", start_s: float = 0.0) -> Leg:
    return Leg(train, name, outcome, start_s, start_s + 30.5)


def stall(time_s: float = 12.2, section: str = MID, **other: object) -> Stall:
    made = Stall(
        time_s=time_s,
        train="local",
        route=ROUTE,
        section=section,
        place_mm=142.5,
        side="right",
        kind="floating",
        cause=Cause(
            "right",
            (
                Reason("stands on", side="right", sections=(section,)),
                Reason(
                    "stayed open",
                    elements=("board/scissors/AW-through",),
                    levers=(("board/scissors/AW", "through"),),
                ),
            ),
        ),
        would_restore=(
            ("board/scissors/AW-through",),
            ("jumper 1", "jumper 2"),
        ),
        nudges=2,
        charged_to="board/scissors",
    )
    return replace(made, **other)  # type: ignore[arg-type]


def record(**other: object) -> Record:
    made = Record(
        scenario="Two loops",
        fix=None,
        seed=7,
        duration_s=1200.0,
        legs=(
            leg("local", "1"),
            leg("local", "2", "stalled", 31.0),
            leg("goods", "1", "hesitated"),
        ),
        passes=(
            Pass("local", ROUTE, "clean", 3.0, 5.5),
            Pass("local", ROUTE, "stalled", 11.0, None),
        ),
        stalls=(stall(), stall(40.0, nudges=0)),
        hesitations=(Hesitation(4.0, "goods", ROUTE, MID, 0.125),),
        dropouts=(Dropout(4.0, "goods", "pickups", "floating", 0.125),),
        trips=(Trip(50.0, "cab A", 1.25, SHORT, ("local", "goods")),),
        derailments=(Derailment(60.0, "goods", ROUTE, "board/scissors/AW", "moved under it"),),
        run_throughs=(RunThrough(70.0, "goods", ROUTE, "board/scissors/AE", "forced over"),),
        reversals=(Reversal(80.0, "goods", ROUTE, 12.0, "cab B"),),
        events=(Event(10.0, "throw", "board/scissors/X1", "diverging"),),
        random=True,
    )
    return replace(made, **other)  # type: ignore[arg-type]


def quiet(**other: object) -> Record:
    """A record in which nothing went wrong."""
    return record(
        legs=(leg("local", "1"), leg("local", "2"), leg("goods", "1")),
        passes=(Pass("local", ROUTE, "clean", 3.0, 5.5),),
        stalls=(),
        hesitations=(),
        dropouts=(),
        trips=(),
        derailments=(),
        run_throughs=(),
        reversals=(),
        events=(),
        **other,
    )


def chart() -> Chart:
    """Two settings of one turnout: through is dead past the frog, diverging shorts."""
    same = (("board/points/SN", ("cab A+",)), ("board/points/SS", ("cab A-",)))
    plain = RouteState("east/track/west-east", True, "live", (), ())
    through = Setting(
        levers=(("board/points/lever", "through"),),
        fed_by=(*same, ("board/points/HT", ())),
        routes=(
            plain,
            RouteState(
                "board/points/points-through",
                True,
                "dead",
                (DeadStretch("board/points/SN", "board/points/HT", "floating", 80.0, 124.0),),
                (InsulatedSpan("right", 70.0, 80.0),),
            ),
            RouteState("board/points/points-diverging", False, "live", (), ()),
        ),
        shorts=(),
        joined=(),
    )
    diverging = Setting(
        levers=(("board/points/lever", "diverging"),),
        fed_by=(*same, ("board/points/HT", ("cab A+", "cab A-"))),
        routes=(
            plain,
            RouteState("board/points/points-through", False, "live", (), ()),
            RouteState("board/points/points-diverging", True, "short", (), ()),
        ),
        shorts=(Short(("cab A+", "cab A-"), ("board/points/diverging", "jumper 1")),),
        joined=(JoinedSupplies(("cab A+", "cab B+"), "one pole", ("jumper 1",)),),
    )
    return Chart("Two loops", "jumpers", (through, diverging), groups=1, total=2)


EMPTY = Layout((), (), (), (), (), (), (), (), (), ())
ASSUMPTIONS = (
    Assumption("a contact stays open", "5 % of throws", "yours"),
    Assumption("joiner", "5 mΩ", "common practice, no source"),
)


def case(fix: str | None = None) -> Case:
    return Case("Two loops", fix, EMPTY, (), (), Conduct(1200.0), ASSUMPTIONS)


CURE = Settings(4, 0, 1, (Joint(("cab A+", "cab B+"), "one pole"),))
BUILT = Settings(4, 2, 0)


def survey(of: Case) -> Settings:
    return BUILT if of.fix is None else CURE


#: The legs of :func:`luck`: all of them would be finished with sound supply.
IDEAL = frozenset(("local", str(k)) for k in range(10))


def luck(of: Case, seed: int) -> Record:
    """A made-up run: as built 1 to 4 stalls, `half` one or none, `cure` none."""
    number = {None: 1 + seed % 4, "half": seed % 2, "cure": 0, "none": 1 + seed % 4}[of.fix]
    stalls = [stall(5.0 * k, MID if k % 3 else "board/scissors/B-mid") for k in range(number)]
    legs = [leg("local", str(k), "stalled" if k < number else "clean") for k in range(10)]
    return record(
        fix=of.fix, seed=seed, legs=tuple(legs), stalls=tuple(stalls), trips=(), random=True
    )


def certain(of: Case, seed: int) -> Record:
    """A run without chance: as built one stall, with a fix none."""
    made = record(seed=seed, random=False) if of.fix is None else quiet(random=False)
    return replace(made, fix=of.fix, seed=seed)
