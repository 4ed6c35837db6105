"""One of the views that are played side by side: a case, its record, the draft on it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from sim.layout.traffic import Case
from sim.records.model import Record, Stall
from viewer.draw.set_out import sheet_of
from viewer.draw.sheet import Sheet
from viewer.draw.trains import pickup_word
from viewer.place.ground import SHARED_SHAPE, WANTED_SHAPE, Ground, lay_out
from viewer.state.moment import Moment, setting
from viewer.state.replay import Replay, nets_of
from viewer.window.draft import Draft, Jumper, faulty, wired


class Lane:
    """A case before the draft, what the draft makes of it, and the last record."""

    def __init__(
        self, case: Case, title: str, takes_jumpers: bool, shape: float = WANTED_SHAPE
    ) -> None:
        self.built, self.title, self.takes_jumpers = case, title, takes_jumpers
        self.ground: Ground = lay_out(case.layout, shape)
        self.replay: Replay | None = None
        self._jumpers: tuple[Jumper, ...] | None = None
        self.take(Draft())

    def take(self, draft: Draft) -> None:
        """Show the draft from now on; the record stays what it was."""
        self.draft = draft
        jumpers = draft.jumpers if self.takes_jumpers else ()
        if jumpers == self._jumpers:
            return  # the same rails and wires: only contacts or levers are other
        self._jumpers = jumpers
        layout = wired(self.built.layout, jumpers)
        self.case = replace(self.built, layout=layout)
        self.nets = nets_of(self.case)
        self.sheet: Sheet = sheet_of(layout, replace(self.ground, layout=layout))
        self.fresh = frozenset(range(len(self.built.layout.elements), len(layout.elements)))

    def to_run(self) -> Case:
        """The case that a run would be made of."""
        return replace(self.case, layout=faulty(self.case.layout, self.draft))

    def ran(self, record: Record, case: Case) -> None:
        """A run has been made."""
        self.replay = Replay(case, record)

    def at(self, time_s: float) -> Moment:
        """The moment of the record, with what the hand has changed since."""
        draft = self.draft
        if self.replay is None:
            positions = [x.rest for x in self.case.layout.levers]
            for lever, position in draft.levers.items():
                positions[lever] = position
            return setting(self.nets, positions, draft.open_contacts, draft.tired_contacts)
        recorded = self.replay.at(time_s)
        positions = list(recorded.positions)
        for lever, position in draft.levers.items():
            positions[lever] = position
        wanted = self.nets.closed_at(positions)
        closed = wanted if draft.levers else recorded.closed
        stuck = (wanted & recorded.stuck) if draft.levers else recorded.stuck
        closed = closed - stuck - draft.open_contacts
        moment = Moment(
            self.nets,
            tuple(positions),
            closed,
            (stuck | (wanted & draft.open_contacts)) - closed,
            (recorded.tired | draft.tired_contacts) & closed,
            recorded.held,
            recorded.off,
            recorded.trains,
            recorded.stalls,
            time_s,
        )
        return replace(moment, stalls=self._still(moment)) if recorded.stalls else moment

    def _still(self, moment: Moment) -> dict[str, Stall]:
        """Stalls that what the hand has done does not cure."""
        trains = {t.name: t for t in moment.trains}
        found = {}
        for name, stall in moment.stalls.items():
            train = trains.get(name)
            lit = train is not None and any(
                pickup_word(moment, train, p) == "lit" for p in train.pickups
            )
            if not lit or stall.kind == "starved":
                found[name] = stall
        return found


def side_by_side(
    title: str, built: Case, cured: Case, fix: str | None, draft: Draft
) -> list[Lane]:
    """The case as built, and beside it what the fix and the draft's jumpers make of it.

    The last lane takes the jumpers; without a fix or a jumper there is one lane.
    """
    if fix is None and not draft.jumpers:
        return [Lane(built, f"{title}, as built", True)]
    after = "with your changes" if fix is None else f"with fix '{fix}'"
    if fix is not None and draft.jumpers:
        after += " and your changes"
    return [
        Lane(built, f"{title}, as built", False, SHARED_SHAPE),
        Lane(cured, f"{title}, {after}", True, SHARED_SHAPE),
    ]


def effect(before: Moment, after: Moment) -> str:
    """What a change did, in a sentence: which sections came alive, died, or shorted."""
    names = before.layout.nodes
    pairs = list(zip(names, before.rails, after.rails, strict=False))
    rails = [(n, b, a) for n, b, a in pairs if "/" in n]
    shorted = [n for n, b, a in rails if a.how == "short" and b.how != "short"]
    cured = [n for n, b, a in rails if b.how == "short" and a.how != "short"]
    alive = [
        n for n, b, a in rails if b.how == "floating" and a.how not in ("floating", "short")
    ]
    dead = [n for n, b, a in rails if a.how == "floating" and b.how != "floating"]
    other = [n for n, b, a in rails if a.how == b.how == "fed" and a.poles != b.poles]
    said = []
    if shorted:
        poles = sorted(
            {after.power.names[p] for s in after.power.shorted() for p in (2 * s, 2 * s + 1)}
        )
        said.append(f"SHORT of {', '.join(poles)}: {listed(shorted)}")
    if cured:
        said.append("no longer shorted" if not shorted else f"freed: {listed(cured)}")
    if alive:
        said.append(f"comes alive: {listed(alive)}")
    if dead:
        said.append(f"goes dead: {listed(dead)}")
    if other:
        said.append(f"other pole: {listed(other)}")
    return "; ".join(said) if said else "no rail changes"


def listed(names: Iterable[str], most: int = 3) -> str:
    """The first few names, and how many more."""
    found = list(names)
    more = f" and {len(found) - most} more" if len(found) > most else ""
    return ", ".join(found[:most]) + more
