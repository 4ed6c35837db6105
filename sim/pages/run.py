"""The page of one run."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence

from sim.judge.verdict import count, section_named
from sim.layout.traffic import Assumption
from sim.pages.assumptions import print_again, print_assumptions
from sim.pages.figures import case_name, clock, joined, span
from sim.pages.page import Page, plain
from sim.pages.phrases import cause_line, cause_lines
from sim.pages.places import Names
from sim.pages.words import KINDS, kind_in_words
from sim.records.model import Event, Record, Reversal, Stall

OUTCOMES = ("clean", "hesitated", "stalled", "tripped", "held", "not finished")

#: More legs than this are counted by train, and only those that went wrong are listed.
LEGS_LISTED = 30
#: More parts that failed than this are not listed.
FAILED_LISTED = 20
#: So many times of one and the same stall are listed.
TIMES_LISTED = 6


def print_run(
    page: Page,
    record: Record,
    assumptions: Sequence[Assumption],
    command: str,
    changes: Mapping[str, str],
) -> None:
    """Counts first, then legs, stalls with their causes, and all else that happened.

    ``changes`` says, for each id in a stall's cures, what a hand would do to it.
    """
    page.line(
        f"Run of '{record.scenario}' {case_name(record.fix)}, "
        f"{span(record.duration_s)}, seed {record.seed}"
    )
    page.line(_counts(record))
    if not record.random:
        page.line("Nothing in it is left to chance: every run goes like this one.")
    _print_legs(page, record)
    _print_stalls(page, record.stalls, changes)
    _print_hesitations(page, record)
    _print_passes(page, record)
    _print_stall_places(page, record.stalls)
    _print_mishaps(page, record)
    _print_failed(page, record.events)
    print_assumptions(page, assumptions)
    print_again(page, command, record.seed if record.random else None)


def outcome_counts(outcomes: Iterable[str]) -> str:
    """``9 clean, 1 stalled``, in the order of the closed list."""
    counts = Counter(outcomes)
    return ", ".join(f"{counts[o]} {o}" for o in OUTCOMES if counts[o]) or "none"


def _counts(record: Record) -> str:
    legs = count(len(record.legs), "leg")
    if record.legs:
        legs += f" ({outcome_counts(x.outcome for x in record.legs)})"
    return ", ".join(
        (
            legs,
            count(len(record.stalls), "stall"),
            count(len(record.hesitations), "hesitation"),
            count(len(record.trips), "trip"),
            count(len(record.derailments), "derailment"),
            f"{count(len(record.run_throughs), 'run-through')}.",
        )
    )


def _print_legs(page: Page, record: Record) -> None:
    if not record.legs:
        return
    listed = record.legs
    page.heading("Legs of the timetable", "legs")
    if len(record.legs) > LEGS_LISTED:
        trains = dict.fromkeys(x.train for x in record.legs)
        rows = []
        for train in trains:
            outcomes = [x.outcome for x in record.legs if x.train == train]
            rows.append((train, str(len(outcomes)), outcome_counts(outcomes)))
        page.table(("Train", "Legs", "Outcomes"), rows, "lrl")
        listed = tuple(x for x in record.legs if x.outcome not in ("clean", "hesitated"))
        page.line("Legs that went wrong:" if listed else "No leg went wrong.")
    page.table(
        ("Train", "Leg", "Outcome", "From", "To"),
        ((x.train, x.leg, x.outcome, clock(x.start_s), clock(x.end_s)) for x in listed),
        "lllrr",
    )


def _print_stalls(page: Page, stalls: Sequence[Stall], changes: Mapping[str, str]) -> None:
    """Stalls that are alike in all but time and train are told once."""
    if not stalls:
        return
    page.heading("Stalls")
    alike: dict[tuple[object, ...], list[Stall]] = {}
    for s in stalls:
        key = (s.route, s.section, s.side, s.kind, s.cause, s.would_restore)
        alike.setdefault(key, []).append(s)
    for number, group in enumerate(alike.values(), 1):
        _print_stall(page, number, group, changes)


def _print_stall(
    page: Page, number: int, group: Sequence[Stall], changes: Mapping[str, str]
) -> None:
    first = group[0]
    times = "" if len(group) == 1 else f", {len(group)} times"
    page.line(f"{number}. Along {page.names.route(first.route)}{times}", indent=1)
    page.line(_lost(page.names, first), indent=4)
    page.items([_when(s) for s in group[:TIMES_LISTED]], indent=4)
    if len(group) > TIMES_LISTED:
        page.line(f"and {len(group) - TIMES_LISTED} more", indent=6)
    page.line("Why:", indent=4)
    page.items(cause_lines(first.cause, page.names.say), indent=5, numbered=True)
    if first.would_restore:
        page.line("Any one of these would have kept it going:", indent=4)
        cures = first.would_restore
        page.items((joined([changes.get(c, c) for c in cure]) for cure in cures), indent=5)
    if first.charged_to:
        page.line(f"Charged to {page.names.piece(first.charged_to)}.", indent=4)


def _lost(names: Names, stall: Stall) -> str:
    """What went away, and where; over plastic or dirt a section is only beside it."""
    on = " beside " if stall.kind == "insulated" else " on "
    on = on + names.the(stall.section, "section") if stall.section else ""
    if stall.kind == "starved":
        return f"Starved{on}: {KINDS['starved']}."
    side = {"left": "Left rail", "right": "Right rail", "both": "Both rails"}
    lost = side.get(stall.side or "", "A rail")
    return f"{lost} without supply{on}: {kind_in_words(stall.kind)}."


def _when(stall: Stall) -> str:
    times = "once" if stall.nudges == 1 else f"{stall.nudges} times"
    nudged = f", nudged on {times}" if stall.nudges else ""
    return f"at {clock(stall.time_s)} {stall.train}, {stall.place_mm:.1f} mm in{nudged}"


def _print_hesitations(page: Page, record: Record) -> None:
    if not record.hesitations:
        return
    page.heading("Hesitations")
    places: dict[tuple[str, str], list[float]] = {}
    for h in record.hesitations:
        places.setdefault((h.route, h.section), []).append(h.duration_s)
    page.table(
        ("Route", "Section", "Times", "Longest"),
        (
            (
                page.names.route(route, "row"),
                page.names.section(section, "row"),
                str(len(durations)),
                f"{max(durations):.2f} s",
            )
            for (route, section), durations in places.items()
        ),
        "llrr",
    )


def _print_passes(page: Page, record: Record) -> None:
    if not record.passes:
        return
    page.heading("Passes over pieces with levers", "passes")
    routes: dict[str, list[str]] = {}
    for p in record.passes:
        routes.setdefault(p.route, []).append(p.outcome)
    page.table(
        ("Route", "Passes", "Outcomes"),
        (
            (page.names.route(route, "row"), str(len(o)), outcome_counts(o))
            for route, o in sorted(routes.items())
        ),
        "lrl",
    )


def _print_stall_places(page: Page, stalls: Sequence[Stall]) -> None:
    if not stalls:
        return
    page.heading("Stalls by section and by the piece at fault", "places")
    places = Counter(
        (
            section_named(page.names.section(s.section, "row")),
            page.names.piece(s.charged_to) if s.charged_to else "-",
        )
        for s in stalls
    )
    page.table(
        ("Section", "Piece at fault", "Stalls"),
        (
            (section, piece, str(n))
            for (section, piece), n in sorted(places.items(), key=lambda x: (-x[1], x[0]))
        ),
        "llr",
    )


def _reversals(names: Names, record: Record) -> list[str]:
    """The first of each kind with how often it came: a train may swing to and fro."""
    first: dict[tuple[str, str, str], Reversal] = {}
    times: Counter[tuple[str, str, str]] = Counter()
    for r in record.reversals:
        key = r.train, r.route, r.supply
        first.setdefault(key, r)
        times[key] += 1
    return [
        f"at {clock(r.time_s)} {r.train} on {names.route(r.route)} met supply {r.supply} "
        "of the other direction" + (f", {times[key]} times in all" if times[key] > 1 else "")
        for key, r in first.items()
    ]


def _trips(names: Names, record: Record) -> list[str]:
    return [
        f"at {clock(t.time_s)} {t.supply}"
        + (f" at {t.current_a:.2f} A" if t.current_a is not None else "")
        + (f"; halted {joined(t.halted)}" if t.halted else "")
        + f"; {cause_line(t.cause, names.say)}"
        for t in record.trips
    ]


def _not_crossed(names: Names, record: Record) -> list[str]:
    return [
        f"at {clock(e.time_s)} {e.who} was to cross over, but from {names.end(e.detail)} "
        "no route leads across"
        for e in record.events
        if e.what == "no crossing"
    ]


def _print_mishaps(page: Page, record: Record) -> None:
    names = page.names
    said = [
        ("Trips", _trips(names, record)),
        (
            "Derailments",
            [
                f"at {clock(d.time_s)} {d.train} on {names.route(d.route)}, "
                f"{names.the(d.lever, 'lever')}: "
                f"{cause_line(d.cause)}"
                for d in record.derailments
            ],
        ),
        (
            "Run-throughs",
            [
                f"at {clock(r.time_s)} {r.train} on {names.route(r.route)}, "
                f"{names.the(r.lever, 'lever')}: {r.then}"
                for r in record.run_throughs
            ],
        ),
        ("Reversals", _reversals(names, record)),
        ("Orders that could not be carried out", _not_crossed(names, record)),
    ]
    for heading, lines in said:
        if lines:
            page.heading(heading)
            page.items(plain(line) for line in lines)


def _print_failed(page: Page, events: Sequence[Event]) -> None:
    """Parts that failed, by chance or on purpose: what a leg went wrong by may be here."""
    words = {"did not follow": "stayed where it was", "stayed open": "stayed open"}
    failed: dict[tuple[str, str], list[float]] = {}
    mended: dict[tuple[str, str], float] = {}
    for e in events:
        if e.what == "mended":
            mended[e.who, e.detail] = e.time_s
        elif e.what == "fault" or e.what in words:
            failed.setdefault((e.who, words.get(e.what, e.detail)), []).append(e.time_s)
    if not failed:
        return
    page.heading("What failed", "failed")
    listed = list(failed.items())[:FAILED_LISTED]
    page.table(
        ("Part", "What", "Times", "First", "Mended"),
        (
            (page.names.part(who, "row"), what, str(len(at)), clock(at[0]),
             clock(good) if (good := mended.get((who, what), -1.0)) >= at[-1] else "-")
            for (who, what), at in listed
        ),
        "llrrr",
    )  # fmt: skip
    if len(failed) > len(listed):
        page.line(f"and {count(len(failed) - len(listed), 'more part')}", indent=1)
