"""The hand: what it holds, takes and does, by keys or by the mouse."""

from __future__ import annotations

from viewer.scene.scene import Point
from viewer.window.desk import Desk
from viewer.window.sight import Sight
from viewer.window.things import (
    CONTACTS_FROM_PT,
    PADS_FROM_PT,
    Takeable,
    beside,
    beyond,
    takeable,
    under,
)

NOTHING = "Nothing in the hand: Tab takes the first thing."


class Hand:
    """What is taken, and what it does to the desk."""

    def __init__(self, desk: Desk, sight: Sight) -> None:
        self.desk, self.sight = desk, sight
        self.taken: Takeable | None = None
        self._known: tuple[object, list[Takeable]] = (None, [])

    # -- what there is to take --------------------------------------------------

    def things(self) -> list[Takeable]:
        """What can be taken at this zoom."""
        lane = self.desk.hand_lane
        key = (lane, lane.draft, self._zoom_class())
        if self._known[0] != key:
            self._known = key, takeable(lane, self.sight.camera.px_per_mm)
            if self.taken is not None:
                ids = {(t.kind, t.id): t for t in self._known[1]}
                self.taken = ids.get((self.taken.kind, self.taken.id))
        return self._known[1]

    def _zoom_class(self) -> tuple[bool, ...]:
        """Scales of one class show the same things."""
        gauges = {p.gauge_mm for p in self.desk.hand_lane.sheet.pieces}
        scale = self.sight.camera.px_per_mm
        return tuple(g * scale >= limit for g in sorted(gauges)
                     for limit in (CONTACTS_FROM_PT, PADS_FROM_PT))  # fmt: skip

    def thing_at(self, at: Point, lane: int) -> Takeable | None:
        """What lies under a point of one view."""
        return under(self.things(), self.sight.on_lane(lane), at)

    # -- taking -----------------------------------------------------------------

    def take_beside(self, steps: int) -> None:
        """Take the next thing in order, or the one before."""
        self._take(beside(self.things(), self.taken, steps))

    def take_beyond(self, way: str) -> None:
        """Take the nearest thing that way; where there is none, keep what is held."""
        found = beyond(self.things(), self.taken, way, self.sight.camera)
        self._take(found or self.taken)

    def _take(self, thing: Takeable | None) -> None:
        self.taken = thing
        if thing is None:
            self.desk.message = "Nothing to take here: come nearer with +."
        else:
            self.sight.bring_in(thing.at)

    def bring_near(self) -> None:
        """Look at what is held from near."""
        if self.taken is None:
            self.desk.message = NOTHING
        else:
            self.sight.bring_near(self.taken.at)

    def let_go(self) -> None:
        """Leave a jumper begun; else what is held, and the levers to the timetable."""
        if self.desk.wire_from is None:
            self.taken = None
        self.desk.let_go()

    # -- doing ------------------------------------------------------------------

    def act(self, alone: bool) -> None:
        """Do to what is held what can be done to it; a lever moves ``alone`` if asked."""
        if self.taken is None:
            self.desk.message = NOTHING
        else:
            self.act_on(self.taken, alone)

    def act_on(self, thing: Takeable, alone: bool) -> None:
        """Take a thing and throw, fault, wire or take off, as its kind is."""
        self.taken = thing
        if thing.kind == "lever":
            self.desk.throw(thing.number, alone)
        elif thing.kind == "contact":
            self.desk.fault(thing.number)
        elif thing.kind == "pad":
            self.desk.touch_pad(thing.id)
        else:
            self.desk.take_off(thing.number)
            self.taken = None

    def wire(self, start: Takeable, at: Point, lane: int | None) -> None:
        """End a jumper that has been drawn from pad ``start`` to a point of a view."""
        pads = [t for t in self.things() if t.kind == "pad"]
        end = None if lane is None else under(pads, self.sight.on_lane(lane), at)
        if end is None or end.id == start.id:
            self.desk.message = "No pad there: nothing laid."
        else:
            self.desk.lay(start.id, end.id)

    def says(self) -> str:
        """What is in the hand, how it is, and what Enter would do."""
        thing = self.taken
        if thing is None:
            return ""
        moment = self.desk.hand_lane.at(self.desk.time_s)
        if thing.kind == "lever":
            return f"In hand: lever {thing.id}, {moment.lever(thing.number)}. Enter throws it."
        if thing.kind == "contact":
            word = moment.contact(thing.number)
            return f"In hand: contact {thing.id}, {word}. Enter: open, tired, good."
        if thing.kind == "pad":
            rail = moment.rails[thing.number].word
            does = "begins a jumper" if self.desk.wire_from is None else "ends the jumper here"
            return f"In hand: pad {thing.id}, on a rail that is {rail}. Enter {does}."
        return f"In hand: {thing.id}. Enter takes it off."
