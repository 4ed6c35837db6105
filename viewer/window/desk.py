"""What the window works on, without any window: time, lanes, draft, what is in hand.

Every gesture and key ends in one of the methods here.
"""

from __future__ import annotations

from typing import Protocol

from sim.layout.project import Project
from sim.layout.traffic import Case
from sim.pages.words import clock
from sim.scenario.document import Scenario
from viewer.state.moment import Moment
from viewer.state.replay import TimeMark
from viewer.window.changes import Change, faulted, laid, taken_off, thrown
from viewer.window.draft import History
from viewer.window.lane import Lane, effect, side_by_side
from viewer.window.runner import Pending
from viewer.window.save import NotSavedError, base_table, save_fix

SPEEDS = (0.05, 0.1, 0.25, 0.5, 1.0, 2.0, 5.0, 10.0, 30.0, 60.0)
#: Two marks nearer than this are one stop.
SAME_TIME_S = 1e-6


class Starts(Protocol):
    """Whatever makes runs."""

    def start(self, case: Case, seed: int) -> Pending:
        """Begin a run."""

    def close(self) -> None:
        """Let go."""


class Desk:
    """The state of a session with one scenario.

    With ``at_once`` False the runs are begun by :meth:`begin`, for whoever wants to
    show the layout first.
    """

    def __init__(
        self, path: str, project: Project, fix: str | None, seed: int, runner: Starts,
        at_once: bool = True,
    ) -> None:  # fmt: skip
        self.path, self.project, self.fix, self.seed = path, project, fix, seed
        self.runner = runner
        self.history = History()
        self.built, self.cured = project.case(), project.case(fix)
        self.lanes = self._lanes()
        self.time_s, self.playing, self.speed = 0.0, False, 1.0
        self.message = "Press H for help."
        self.wire_from: str | None = None  #: the pad that a jumper has been begun at
        self.stale = False  #: the draft has changed since the records were made
        self._running: list[tuple[Lane, Case, Pending]] = []
        if at_once:
            self.begin()

    @property
    def scenario(self) -> Scenario:
        """The scenario as the file has it now."""
        return self.project.scenario

    # -- lanes and runs ---------------------------------------------------------

    def _lanes(self) -> list[Lane]:
        lanes = side_by_side(
            self.scenario.title, self.built, self.cured, self.fix, self.history.now
        )
        for lane in lanes:
            lane.take(self.history.now)
        return lanes

    def run_again(self) -> None:
        """Make the runs anew with what the hand has changed; levers go back."""
        self.history.now = self.history.now.without_levers()
        self.lanes = self._lanes()
        self.begin()

    def begin(self) -> None:
        """Begin a run of every lane as it is now."""
        self.stale, self.wire_from = False, None
        for _, _, begun in self._running:
            begun.stop()
        self._running = [
            (lane, case, self.runner.start(case, self.seed))
            for lane in self.lanes
            for case in (lane.to_run(),)
        ]
        self.look_at_runs()

    def look_at_runs(self) -> bool:
        """Take over runs that have ended; True while some are under way."""
        left = []
        for lane, case, begun in self._running:
            if not begun.done():
                left.append((lane, case, begun))
                continue
            outcome = begun.outcome()
            if isinstance(outcome, str):
                self.message = f"The run failed ({outcome})."[:200]
            else:
                lane.ran(outcome, case)
        self._running = left
        return bool(left)

    @property
    def running(self) -> bool:
        """Whether a run is under way."""
        return bool(self._running)

    @property
    def duration_s(self) -> float:
        """How long the run is."""
        return self.built.conduct.duration_s

    def marks(self, lane: int = 0) -> tuple[TimeMark, ...]:
        """What the time line of a lane shows."""
        replay = self.lanes[lane].replay
        return replay.marks if replay is not None else ()

    # -- time -------------------------------------------------------------------

    def tick(self, seconds: float) -> None:
        """Real time has passed."""
        if self._running:
            self.look_at_runs()
        if not self.playing or self._running:
            return
        self.time_s += seconds * self.speed
        if self.time_s >= self.duration_s:
            self.time_s, self.playing = self.duration_s, False

    def play(self) -> None:
        """Play or pause; with a changed draft the runs are made first."""
        if self.playing:
            self.playing = False
            return
        if self.stale or self.history.now.levers:
            self.run_again()
            self.message = "The timetable runs again with your changes, on the same luck."
        if self.time_s >= self.duration_s:
            self.time_s = 0.0
        self.playing = True

    def change_speed(self, steps: int) -> None:
        """Slower or faster."""
        near = min(range(len(SPEEDS)), key=lambda k: abs(SPEEDS[k] - self.speed))
        self.speed = SPEEDS[max(0, min(len(SPEEDS) - 1, near + steps))]

    def go_to(self, time_s: float) -> None:
        """Scrub."""
        self.time_s = max(0.0, min(self.duration_s, time_s))

    def step(self, forward: bool, kind: str | None = None) -> None:
        """To the next or last mark, of one kind if it is given; pauses."""
        self.playing = False
        found = self._mark(forward, kind)
        what = kind or "event"
        if found is None:
            self.message = f"No {what} {'after' if forward else 'before'} {clock(self.time_s)}."
            return
        self.time_s = found.time_s
        self.message = f"{clock(found.time_s)}  {found.says}"

    def _mark(self, forward: bool, kind: str | None) -> TimeMark | None:
        """The nearest mark of any lane after the time that is shown, or before it."""
        marks = [
            m for k in range(len(self.lanes)) for m in self.marks(k) if kind in (None, m.kind)
        ]
        if forward:
            later = (m for m in marks if m.time_s > self.time_s + SAME_TIME_S)
            return min(later, key=lambda m: m.time_s, default=None)
        earlier = [m for m in marks if m.time_s < self.time_s - SAME_TIME_S]
        # Of marks at one time the last of them.
        return max(reversed(earlier), key=lambda m: m.time_s, default=None)

    # -- the hand ---------------------------------------------------------------

    @property
    def hand_lane(self) -> Lane:
        """The lane that jumpers are laid in: the last one."""
        return self.lanes[-1]

    def _do(self, change: Change) -> None:
        """Make a change, and say what became of it."""
        self.playing = False
        before = self.hand_lane.at(self.time_s)
        self.history.do(change.draft)
        self._show(change.says, before)

    def _show(self, said: str, before: Moment) -> None:
        for lane in self.lanes:
            lane.take(self.history.now)
        now = self.history.now
        self.stale = bool(now.contacts or now.jumpers) or self.stale
        after = self.hand_lane.at(self.time_s)
        self.message = f"{said}: {effect(before, after)}."

    def throw(self, lever: int, alone: bool = False) -> None:
        """Throw a lever to its next position, with its gang or alone."""
        seen = self.hand_lane.at(self.time_s).positions
        self._do(thrown(self.history.now, self.built.layout, seen, lever, alone))

    def fault(self, contact: int) -> None:
        """A contact from good to open, to tired, to good again."""
        self._do(faulted(self.history.now, self.built.layout, contact))

    def touch_pad(self, pad: str) -> None:
        """Begin a jumper at a pad, or end it there."""
        if self.wire_from is None:
            self.wire_from = pad
            self.message = f"A jumper from {pad}: now the other pad (Esc leaves it)."
            return
        start, self.wire_from = self.wire_from, None
        if start == pad:
            self.message = "Both ends on one pad: nothing laid."
            return
        self.lay(start, pad)

    def lay(self, start: str, to: str) -> None:
        """Lay a jumper between two pads."""
        self.wire_from = None
        self._do(laid(self.history.now, self.hand_lane.built.layout, start, to))

    def take_off(self, element: int) -> None:
        """Take a jumper off that the hand has laid."""
        change = taken_off(self.history.now, self.hand_lane.built.layout, element)
        if change is None:
            self.message = "Only jumpers laid here can be taken off here."
        else:
            self._do(change)

    def undo(self) -> None:
        """Undo the last change by hand."""
        before = self.hand_lane.at(self.time_s)
        if self.history.undo():
            self._show("undone", before)
        else:
            self.message = "Nothing to undo."

    def redo(self) -> None:
        """Do again what was undone."""
        before = self.hand_lane.at(self.time_s)
        if self.history.redo():
            self._show("done again", before)
        else:
            self.message = "Nothing to do again."

    def let_go(self) -> None:
        """Leave a jumper that has been begun; else give the levers back to the timetable."""
        if self.wire_from is not None:
            self.wire_from = None
            self.message = "Jumper left."
        elif self.history.now.levers:
            given = self.history.now.without_levers()
            self._do(Change(given, "levers given back to the timetable"))

    def can_save(self) -> bool:
        """Whether there is anything that a fix could hold."""
        if self.history.now.jumpers:
            return True
        self.message = "There is no jumper to save: lay one from pad to pad first."
        return False

    def save(self, name: str) -> bool:
        """Save the jumpers (with the fix they were added to) as a new fix in the file."""
        name = name.strip()
        if name in self.scenario.fix_names or not name:
            self.message = f"Another name is needed: {name!r} is taken or empty."
            return False
        try:
            base = base_table(self.scenario, self.fix)
            self.project = save_fix(self.path, name, self.history.now.jumpers, base)
        except NotSavedError as error:
            self.message = f"Not saved: {error}"[:220]
            return False
        self.message = f"Saved as fix '{name}' at the end of the scenario file."
        return True
