"""Records as one flat table: everything that happened, one row each.

A row has a column for every fact that any kind of happening has; what a kind has
not is None.  Times are seconds, places mm from the route's start, currents A.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from sim.records.model import Record


@dataclass(frozen=True, slots=True)
class Row:
    """One happening.

    ``what`` is ``leg``, ``pass``, ``stall``, ``hesitation``, ``dropout``, ``trip``,
    ``derailment``, ``run-through``, ``reversal`` or ``event``.  ``name`` is the
    leg's name, the lever, the supply, or who an event is about; ``detail`` says
    more in words.  ``case`` is the fix, or ``as built``.
    """

    case: str
    replication: int
    seed: int
    what: str
    time_s: float
    end_s: float | None = None
    duration_s: float | None = None
    train: str | None = None
    route: str | None = None
    section: str | None = None
    place_mm: float | None = None
    side: str | None = None
    outcome: str | None = None
    kind: str | None = None
    name: str | None = None
    detail: str | None = None
    piece: str | None = None
    nudges: int | None = None
    current_a: float | None = None


def rows_of(record: Record, replication: int = 0) -> Iterator[Row]:
    """All rows of a record: kind by kind, each in order of time."""
    about = (record.fix if record.fix is not None else "as built", replication, record.seed)
    for leg in record.legs:
        yield Row(*about, "leg", leg.start_s, leg.end_s, round(leg.end_s - leg.start_s, 6),
                  leg.train, outcome=leg.outcome, name=leg.leg)  # fmt: skip
    for p in record.passes:
        took = None if p.leave_s is None else round(p.leave_s - p.enter_s, 6)
        yield Row(*about, "pass", p.enter_s, p.leave_s, took, p.train, p.route,
                  outcome=p.outcome)  # fmt: skip
    for s in record.stalls:
        yield Row(*about, "stall", s.time_s, train=s.train, route=s.route, section=s.section,
                  place_mm=s.place_mm, side=s.side, kind=s.kind, detail="; ".join(s.cause),
                  piece=s.charged_to, nudges=s.nudges)  # fmt: skip
    for h in record.hesitations:
        end_s = round(h.time_s + h.duration_s, 6)
        yield Row(*about, "hesitation", h.time_s, end_s, h.duration_s, h.train, h.route,
                  h.section)  # fmt: skip
    for d in record.dropouts:
        end_s = round(d.time_s + d.duration_s, 6)
        yield Row(*about, "dropout", d.time_s, end_s, d.duration_s, d.train, kind=d.kind,
                  name=d.where)  # fmt: skip
    yield from _incidents(record, about)


def _incidents(record: Record, about: tuple[str, int, int]) -> Iterator[Row]:
    for t in record.trips:
        yield Row(*about, "trip", t.time_s, name=t.supply, detail="; ".join(t.cause),
                  current_a=t.current_a)  # fmt: skip
    for x in record.derailments:
        yield Row(*about, "derailment", x.time_s, train=x.train, route=x.route, name=x.lever,
                  detail=x.cause)  # fmt: skip
    for r in record.run_throughs:
        yield Row(*about, "run-through", r.time_s, train=r.train, route=r.route, name=r.lever,
                  detail=r.then)  # fmt: skip
    for v in record.reversals:
        yield Row(*about, "reversal", v.time_s, train=v.train, route=v.route,
                  place_mm=v.place_mm, name=v.supply)  # fmt: skip
    for e in record.events:
        yield Row(*about, "event", e.time_s, kind=e.what, name=e.who, detail=e.detail)
