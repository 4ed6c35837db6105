"""All sentences about facts: what happened, why, what it means, what to do.

Facts in, English out; nothing reads a sentence back.  Every kind of a closed list has its
phrase in one table here, and a test names whichever is missing.  ``name`` says what an id
of an element, lever, section, pad or route is called; without it ids stay as they are.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING

from sim.analyses.handwork.hazards import (
    Caution,
    CautionKind,
    HeldDown,
    Refusal,
    RefusalKind,
)
from sim.analyses.handwork.tasks import Stage, Task, TaskKind
from sim.judge.verdict import count, section_named
from sim.records.causes import Cause, DerailReason, Reason, ReasonKind

if TYPE_CHECKING:  # a page of one command does not load what the others need
    from sim.analyses.neighbours.verdicts import Harm, HarmKind
    from sim.circuit.voltage_drop import LostIn
    from sim.judge.criteria import Point, Remark, RemarkKind, Unrun
    from sim.judge.verdict import Finding, FindingKind

Name = Callable[[str], str]


# -- faults ---------------------------------------------------------------------


#: What each kind of fault is called, by its name.
FAULTS: Mapping[str, str] = {
    "contact open": "contact open",
    "contact tired": "contact tired",
    "contact never opens": "contact never opens",
    "contact touched": "wheel back on the open blade",
    "bond open": "bond open",
    "gap bridged": "gap bridged",
    "joiner open": "joiner open",
    "joiner tired": "joiner tired",
    "feeder off": "feeder off",
    "feeder tired": "feeder tired",
    "bus off": "bus off",
    "bus tired": "bus tired",
    "jumper off": "jumper off",
    "jumper tired": "jumper tired",
    "supply off": "supply off",
    "lever does not follow": "lever does not follow",
    "rail dirty": "dirt on the rail",
    "wheel dirty": "dirt on the wheels",
}


def fault_line(kind: str, part: str, turn: int = 0, name: Name = str) -> str:
    """One part in one bad state; a lever stands ``turn`` positions on."""
    more = f" ({turn} on)" if turn > 1 else ""
    return f"{name(part)}: {FAULTS[kind]}{more}"


# -- causes in a run -----------------------------------------------------------


def cause_lines(cause: Cause, name: Name = str) -> tuple[str, ...]:
    """The chain of a cause, one sentence for each reason."""
    return tuple(reason_line(reason, name) for reason in cause.reasons)


def cause_line(cause: Cause | DerailReason, name: Name = str) -> str:
    """A cause on one line."""
    if isinstance(cause, Cause):
        return "; ".join(cause_lines(cause, name))
    return DERAILED[cause]


def reason_line(reason: Reason, name: Name = str) -> str:
    """One reason as a sentence."""
    said = REASONS[reason.kind](reason, name)
    return f"further on, {said}" if reason.further else said


def lost_in(where: LostIn, name: Name = str) -> str:
    """What volts are lost in."""
    if where.kind == "rail":
        return f"rail of {name(where.id)}"
    return f"inside of {where.id}" if where.kind == "supply" else name(where.id)


def _element(reason: Reason, name: Name, noun: str = "") -> str:
    """What the element is called; an id alone is told with what it is."""
    said = name(reason.elements[0])
    return f"{noun} {said}" if noun and name is str else said


def _levers(reason: Reason, name: Name) -> str:
    return ", ".join(f"{name(lever)} is {position}" for lever, position in reason.levers)


def _sections(reason: Reason, name: Name) -> str:
    return ", ".join(map(name, reason.sections))


def _parts(reason: Reason, name: Name, noun: str) -> str:
    a, b = reason.sections
    return f"{_element(reason, name, noun)} parts {name(a)} from {name(b)}"


def _stands_on(reason: Reason, name: Name) -> str:
    return f"its pickups on the {reason.side} rail stand on {_sections(reason, name)}"


def _always(said: str) -> Callable[[Reason, Name], str]:
    return lambda reason, name: said


REASONS: Mapping[ReasonKind, Callable[[Reason, Name], str]] = {
    "bad for the run": lambda r, name: (
        f"{_element(r, name, 'contact')} is bad for the whole run ({_levers(r, name)})"
    ),
    "stayed open": lambda r, name: (
        f"{_element(r, name, 'contact')} stayed open at its last throw ({_levers(r, name)})"
    ),
    "lost contact": lambda r, name: f"{_element(r, name, r.at)} has lost contact",
    "is open": lambda r, name: f"{_element(r, name, 'contact')} is open ({_levers(r, name)})",
    "is closed": lambda r, name: (
        f"{_element(r, name, 'contact')} is closed ({_levers(r, name)})"
    ),
    "gap parts": lambda r, name: _parts(r, name, "gap"),
    "joiner parts": lambda r, name: _parts(r, name, "joiner"),
    "floating": _always("floating: nothing feeds that rail"),
    "same pole": _always("same pole: both rails are joined to the same pole"),
    "no return": _always(
        "no return: the two rails belong to supplies that share nothing; only pickups that "
        "reach past this stretch, or gaps opposite each other, help"
    ),
    "wrong voltage": _always(
        "wrong voltage: the rails belong to two supplies joined the wrong way"
    ),
    "insulated": _always(
        "insulated: no metal under the wheels; only pickups that reach past it, or a piece "
        "with metal there, help"
    ),
    "throttles opposed": lambda r, name: (
        f"two throttles pull {r.who} opposite ways: turn one of them"
    ),
    "too few volts": lambda r, name: f"{r.who} is fed, but gets too few volts to start",
    "element costs": lambda r, name: f"{_element(r, name)} costs {r.numbers[0]:.2f} V",
    "rail costs": lambda r, name: f"rail of {_sections(r, name)} costs {r.numbers[0]:.2f} V",
    "supply costs": lambda r, name: f"inside of {r.who} costs {r.numbers[0]:.2f} V",
    "lost supply": lambda r, name: (
        f"{r.who} lost supply on the {r.side} rail, seen from {r.at}"
    ),
    "stands on": lambda r, name: f"{_stands_on(r, name)}, which has {r.at or 'no pole'}",
    "over plastic": lambda r, name: f"every pickup on the {r.side} rail is over plastic",
    "over plastic or dirt": lambda r, name: (
        f"every pickup on the {r.side} rail is over plastic or dirt"
    ),
    "overloaded": lambda r, name: (
        f"{r.who} gives {r.numbers[0]:.2f} A, more than the {r.numbers[1]:g} A it trips at"
    ),
    "trains draw it": _always("its trains together draw more than it has"),
    "shorted": lambda r, name: f"{r.who} is shorted",
    "by the wiring": _always("by the wiring itself, in this setting"),
    "joins poles": lambda r, name: f"{r.who} joins rails of different poles at {name(r.at)}",
    "bridges": lambda r, name: f"{r.who}: {_stands_on(r, name)}",
}

DERAILED: Mapping[DerailReason, str] = {
    "wrong leg": "came from the leg that was not set",
    "moving points": "met points that were moving",
    "points set for nothing": "met points set for no route",
    "moved under it": "lever moved under it",
}


# -- work with hands -----------------------------------------------------------


def refusal_line(refusal: Refusal, name: Name = str) -> str:
    """Where nothing may be done, and why."""
    return f"{name(refusal.pad)}: {refusal_words(refusal)}"


def refusal_words(refusal: Refusal) -> str:
    """Why nothing may be done there."""
    return REFUSALS[refusal.kind](refusal)


def caution_line(caution: Caution, name: Name = str) -> str:
    """What is to be minded."""
    return CAUTIONS[caution.kind](caution, name(caution.id))


REFUSALS: Mapping[RefusalKind, Callable[[Refusal], str]] = {
    "contact slides": lambda r: "a moving contact slides over it",
    "too small": lambda r: f"it is {r.numbers[0]:g} mm wide, too small for {r.wire}",
    "no room": lambda r: (
        f"{r.wire} stands {r.numbers[0]:g} mm high and the {r.cover} cover leaves "
        f"{r.numbers[1]:g} mm"
    ),
    "no hole": lambda r: "no hole here, metal may lie below",
}

CAUTIONS: Mapping[CautionKind, Callable[[Caution, str], str]] = {
    "switch needs room": lambda c, it: f"a microswitch must find room where {it} moves it",
    "joints on one pad": lambda c, it: f"{c.number:g} joints on {it}: join the wires first",
    "pad taken": lambda c, it: f"taken to be soldered at {it}, as no pad is named",
    "in the way": lambda c, it: (
        f"a straight wire would bind the tie bar of {it}: lead it round"
    ),
    "short with the iron": lambda c, it: f"the iron on {it} for {c.number:g} s or less",
}


# -- modules among neighbours --------------------------------------------------


def harm_line(harm: Harm) -> str:
    """What a fix does among some neighbours, or the module as it is."""
    return HARMS[harm.kind](harm)


def card_caution(caution: Refusal | HeldDown, name: Name = str) -> str:
    """What a stranger has to mind of a module."""
    if isinstance(caution, HeldDown):
        piece = name(caution.piece)
        return f"{piece} is held down by wires through the board: do not lift it"
    return f"not to be done so: {refusal_line(caution, name)}"


def _loops(harm: Harm) -> str:
    return " and ".join(harm.loops)


HARMS: Mapping[HarmKind, Callable[[Harm], str]] = {
    "not made": lambda h: "the fix cannot be made on this wiring",
    "shorts": lambda h: f"shorts in {h.settings} of {h.of} settings",
    "more shorts": lambda h: f"shorts in {h.settings} more of {h.of} settings",
    "joins rails": lambda h: f"joins the rails of {_loops(h)}",
    "joins poles": lambda h: f"joins {_loops(h)} by both poles",
    "makes dead": lambda h: f"makes {h.settings} more settings dead",
    "shorts astray": lambda h: (
        f"shorts in {h.settings} more of the {h.of} states in which one lever does not "
        "follow its gang"
    ),
}


# -- what a fix alters ---------------------------------------------------------


def altered_words(key: str, value: object) -> str:
    """A parameter of a piece for people: ``frog_gaps = true`` is "with frog gaps"."""
    words = key.replace("_", " ")
    if isinstance(value, bool):
        return f"{'with' if value else 'without'} {words}"
    if key.endswith("_mm"):
        return f"{words[:-3]} {value} mm"
    return f"{words} {value}"


def _new(task: Task) -> str:
    return ", ".join(altered_words(key, value) for key, value in task.changes)


def _alter(task: Task, name: Name) -> str:
    gaps = any("gap" in key for key, _ in task.changes)
    marked = " Strokes across its rails are its gaps." if gaps else ""
    return f"Change {name(task.ids[0])}: {_new(task)}.{marked}"


def _rails(task: Task) -> str:
    return "both rails" if task.who == "both" else f"the {task.who} rail"


def _clip(task: Task, end: int, name: Name) -> str:
    place = task.numbers[end]
    words = name(task.ids[end])
    return f"the rail of {words} (place {place:g})" if place else words


def _edge(task: Task, name: Name) -> str:
    south = "-" if task.wire == "+" else "+"
    return (
        f"joined, before the last joiner closes: {name(task.ids[0])} wants {task.who}, north "
        f"rail on {task.wire}, south on {south}; each joint reads about 0 V"
    )


def _to_do(said: str) -> Callable[[Task, Name], str]:
    return lambda task, name: said


def task_line(task: Task, name: Name = str) -> str:
    """One thing to do, done, or to test."""
    return TASKS[task.kind](task, name)


STAGES: Mapping[Stage, str] = {
    "before": "Before",
    "open": "Open",
    "track": "Track",
    "cut": "Cut the wires",
    "solder": "Solder",
    "lay": "Lay the wires",
    "other": "Other work",
    "test": "Test before closing",
    "close": "Close",
    "power": "Power",
}

TASKS: Mapping[TaskKind, Callable[[Task, Name], str]] = {
    "fill in tables": _to_do("Fill in the tables of readings, column before."),
    "note dead routes": _to_do("Note which routes are dead in which setting."),
    "do the trial": _to_do("Do the trial with loose wires."),
    "open": lambda t, name: f"Lift out and open {name(t.who)}.",
    "photograph": _to_do(
        "Photograph every stage; keep one end closed until the other is understood."
    ),
    "seen from below": _to_do(
        "The underside drawing is what you see now: north and south changed places."
    ),
    "put length": lambda t, name: (
        f"Put a length of {t.numbers[0]:g} mm, '{t.who}', at {name(t.ids[0])}."
    ),
    "alter": _alter,
    "insulate": lambda t, name: f"Insulated joiners at {name(t.ids[0])}, {_rails(t)}.",
    "cut": lambda t, name: f"Cut {name(t.ids[0])}.",
    "cut wire": lambda t, name: f"{t.who}: {t.numbers[0]:.0f} mm of {t.wire}.",
    "strip": _to_do("Strip 3 mm, twist, tin; slip the sleeves on before the second joint."),
    "tin": _to_do("Tin each pad and each wire first; the least solder that wets; one touch."),
    "iron": lambda t, name: (
        f"Place {t.numbers[0]:g}: the iron for {t.numbers[1]:g} s or less, then let it cool."
    ),
    "no iron": lambda t, name: (
        f"Place {t.numbers[0]:g}: NOT here, {refusal_words(t.refused) if t.refused else ''}."
    ),
    "keep off": _to_do(
        "Keep off moving contacts, tie bar, frog underside and the inside of the rails."
    ),
    "look for blobs": _to_do(
        "A blob under a metal cover is a short: look along it from the side."
    ),
    "lay wire": lambda t, name: f"{t.who}: {t.wire}.",
    "sleeves": _to_do("Shrink the sleeves; tie the wires so that no lever can catch them."),
    "holes": lambda t, name: (
        f"A hole beside the rail: only where marked ({t.numbers[0]:g} in all)."
    ),
    "solder joiner": lambda t, name: f"Solder joiner {name(t.ids[0])}.",
    "clean": lambda t, name: f"Clean contact {name(t.ids[0])}.",
    "clean all": lambda t, name: f"Clean every contact of {t.ids[0]}.",
    "rewire": lambda t, name: (
        f"Replace the wire of {t.who} by {t.wire}"
        + (f", {t.numbers[0]:g} mm each." if t.numbers else ".")
    ),
    "reverse": lambda t, name: (
        f"Reverse supply {t.who}: unplug it and swap its two wires at its terminals."
    ),
    "energy store": lambda t, name: (
        f"Put an energy store of {t.numbers[0]:g} s into the engine of {t.who}."
    ),
    "read all": _to_do(
        "Every row of the meter table, column after; every isolation reading open."
    ),
    "move levers": _to_do("Move every lever by hand: no wire binds, nothing is held down."),
    "close": lambda t, name: f"Close {name(t.who)}.",
    "coin": _to_do(
        "Current-limited supply first; touch a coin across the rails at the far end of each "
        "stretch: the supply must trip."
    ),
    "lamp": lambda t, name: (
        f"Lamp or {t.numbers[0]:g} ohm 10 W across the rails: the lamp table, column after."
    ),
    "one engine": _to_do("Then one engine over every route both ways."),
    "write card": _to_do("Write the change on the module's card."),
    "after track": _to_do("Not before the step Track is done: without it the wires may short."),
    "take leads": _to_do(
        "Supply off. Take clip leads for the wires of the list; nothing is soldered yet."
    ),
    "clip": lambda t, name: (
        f"{t.who}: clip from {_clip(t, 0, name)} to {_clip(t, 1, name)}, at rail tops or "
        "ends, clear of the wheels."
    ),
    "try all": _to_do(
        "Current-limited supply on. Run one engine over every route both ways, each lever "
        "position; stop on each piece and start again."
    ),
    "shorts expected": lambda t, name: (
        f"The fix is expected to short with: {'; '.join(t.settings)}. Leave these out of the "
        "trial, and think again before going on."
    ),
    "no short expected": _to_do(
        "No lever position should trip the supply. If one does, stop: do not solder."
    ),
    "take off": _to_do(
        "Take the leads off again: the dead stretches must be back, or something else cured it."
    ),
    "wire": lambda t, name: (
        f"a wire from {name(t.ids[0])} to {name(t.ids[1])}{f' ({t.wire})' if t.wire else ''}"
    ),
    "feeder": lambda t, name: (
        f"a feeder from {t.who}: plus to {name(t.ids[0])}, minus to {name(t.ids[1])}"
    ),
    "length": lambda t, name: f"a length of {t.numbers[0]:g} mm at {name(t.ids[0])}",
    "insulated": lambda t, name: f"insulated joiners at {name(t.ids[0])}, {_rails(t)}",
    "changeover": lambda t, name: (
        f"a changeover contact on {name(t.ids[0])} for {name(t.ids[1])}: "
        + ", ".join(f"{word} to {name(str(target))}" for word, target in t.changes)
    ),
    "was cut": lambda t, name: f"{name(t.ids[0])} cut",
    "soldered": lambda t, name: f"joiner {name(t.ids[0])} soldered",
    "cleaned": lambda t, name: f"contact {name(t.ids[0])} cleaned",
    "altered": lambda t, name: f"{name(t.ids[0])} changed: {_new(t)}",
    "all off": _to_do("all supplies off and unplugged, trains lifted"),
    "rails apart": _to_do(
        "module apart from its neighbours: left to right rail of each track reads open in "
        "every lever position; about 0.3 ohm is a short"
    ),
    "loops apart": _to_do(
        "module apart, every lever position: no rail of one loop reads joined to a rail of "
        "another"
    ),
    "through": lambda t, name: (
        f"module apart: both rails from {name(t.ids[0])} to {name(t.ids[1])}, in every lever "
        "position"
    ),
    "edge": _edge,
    "insulate an edge": _to_do(
        "with unlike neighbours: insulated joiners in both rails at one edge"
    ),
    "every setting": _to_do(
        "then one engine over every route in every setting, before the doors open"
    ),
}

#: How what was done to a module is undone.
UNDO: Mapping[TaskKind, str] = {
    "wire": "unsolder it at both ends and wick the pads clean",
    "feeder": "unplug it from the supply, then unsolder both wires",
    "length": "untie its wires, slide the joiners back and lift it out",
    "insulated": "put metal joiners back in their place",
    "changeover": "unsolder its three wires",
    "was cut": "join it again and solder it",
    "soldered": "melt the joint, or cut the rail beside it",
    "cleaned": "nothing to undo; clean it again in time",
    "altered": "put the old piece back",
}

#: Cautions that stand at the head of every worksheet.
SAFETY = (
    "Supply off and unplugged from the wall before anything is touched with iron, meter or "
    "screwdriver; lift the trains off.",
    "The mains side of a supply stays closed: it is for licensed people, by the rules of the "
    "place. What is on this sheet is only the low-volt side.",
    "Low volts are not low energy: a shorted supply of a few amps makes wires and rails hot "
    "enough to burn fingers and melt sleepers. First power after the work: a current-limited "
    "supply, then the layout's own.",
    "The iron is hotter than 300 degrees C: a stand, a clear bench, and it is put away before "
    "meters come out.",
    "Fumes of rosin flux are bad for the lungs (UK HSE: limit 0.05 mg/m3 over 8 h, asthma "
    "risk): air from the side, face away.",
    "Eyes: spectacles while soldering, cutting wire and drilling; cut ends fly.",
    "Solder with lead: wash hands, no food on the bench; no acid flux on track or wire.",
)


# -- weighing ------------------------------------------------------------------

#: Criteria named in one sentence.
CRITERIA_NAMED = 5


def shown(k: int, value: float | None) -> str:
    """A value of criterion ``k``; ``no limit`` where nothing limits it."""
    from sim.judge.criteria import CRITERIA

    if value is None:
        return "no limit" if CRITERIA[k].better == "more" else "not known"
    unit = f" {CRITERIA[k].unit}" if CRITERIA[k].unit else ""
    return f"{value:g}{unit}"


def remark_line(remark: Remark, name: Name = str) -> str:
    """What is to be said of one case."""
    return REMARKS[remark.kind](remark, name)


def unrun_line(unrun: Unrun) -> str:
    """How legs that were never run are counted."""
    return (
        f"with '{unrun.case}' a supply tripped and {unrun.legs} of the legs that were run with "
        f"'{unrun.against}' never were; they count as stalled"
    )


def _point(point: Point) -> str:
    from sim.judge.criteria import CRITERIA

    own = shown(point.criterion, point.own)
    if point.rival:
        own += f", with '{point.rival}' {shown(point.criterion, point.other)}"
    return f"{CRITERIA[point.criterion].words} ({own})"


def _gives_up(remark: Remark, name: Name) -> str:
    more = len(remark.points) - CRITERIA_NAMED
    told = "; ".join(map(_point, remark.points[:CRITERIA_NAMED]))
    return f"gives up: {told}" + (f"; and {more} more" if more > 0 else "")


REMARKS: Mapping[RemarkKind, Callable[[Remark, Name], str]] = {
    "best": lambda r, name: "better than or equal to every other case in everything",
    "alone at the top": lambda r, name: (
        f"alone at the top in: {'; '.join(map(_point, r.points))}"
    ),
    "gives up": _gives_up,
    "does not fit": lambda r, name: (
        f"does not fit: {r.too_long_mm:g} mm too long for its board"
    ),
    "refused": lambda r, name: (
        f"not to be done so: {refusal_line(r.refused, name) if r.refused else ''}"
    ),
}


# -- verdicts on fixes ---------------------------------------------------------


def finding_line(finding: Finding, name: Name = str) -> str:
    """One thing that a comparison shows of a fix."""
    return FINDINGS[finding.kind](finding, name)


def _in_runs(f: Finding) -> str:
    return "" if f.runs == 1 else f" in {f.runs} runs"


def _number(number: float, one: str) -> str:
    return count(int(number), one)


def _was(f: Finding) -> str:
    return "" if f.same else f" ({f.was or 'none'} as built)"


def _all(f: Finding, one: str, many: str) -> str:
    return f"the only {one}" if f.was == 1 else f"all {f.was} {many}"


def _quiet(f: Finding) -> str:
    return f"{_in_runs(f)}; nothing stalls, as built or with it."


def _stalls_on(f: Finding, name: Name) -> str:
    section = section_named(name(f.section) if f.section else "")
    return f"{_number(f.now, 'stall')} on {section} ({f.how})"


FINDINGS: Mapping[FindingKind, Callable[[Finding, Name], str]] = {
    "stalls are new": lambda f, name: (
        f"Makes it worse: {_number(f.now, 'stall')}{_in_runs(f)}, none as built."
    ),
    "all stalls go": lambda f, name: f"Removes {_all(f, 'stall', 'stalls')}{_in_runs(f)}.",
    "some stalls go": lambda f, name: (
        f"Removes {f.was - f.now} of {_number(f.was, 'stall')}{_in_runs(f)}."
    ),
    "no stall goes": lambda f, name: (
        f"Removes none: {_number(f.was, 'stall')}{_in_runs(f)}, as many as before."
    ),
    "more stalls": lambda f, name: (
        f"Makes it worse: {_number(f.now, 'stall')}{_in_runs(f)}, {f.was} as built."
    ),
    "no legs": lambda f, name: (
        "No train finishes a leg, so runs tell nothing of it; its settings do."
    ),
    "needless": lambda f, name: (
        f"Needless for this timetable: as built nothing stalls{_in_runs(f)}."
    ),
    "all trips go": lambda f, name: f"Prevents {_all(f, 'trip', 'trips')}{_quiet(f)}",
    "some trips go": lambda f, name: (
        f"Prevents {f.was - f.now} of {_number(f.was, 'trip')}{_quiet(f)}"
    ),
    "no trip goes": lambda f, name: f"Prevents none of {_number(f.was, 'trip')}{_quiet(f)}",
    "more trips": lambda f, name: f"Makes it worse: {_number(f.now, 'trip')}{_quiet(f)}",
    "chance": lambda f, name: (
        f"Chance alone could do as much (p = {f.now:.2g}): make more runs."
    ),
    "fewer legs": lambda f, name: (
        f"Fewer legs were run, {f.now} and {f.was} as built: trains stood still, so read the "
        "rate and not the number of stalls."
    ),
    "shorts": lambda f, name: f"Shorts in {f.now} of {count(f.of, 'setting')}{_was(f)}.",
    "dead settings": lambda f, name: f"Settings with a dead route: {f.now} of {f.of}{_was(f)}.",
    "joins districts": lambda f, name: (
        f"Joins the rails of {' and '.join(f.names)}, which are to stay apart."
    ),
    "joins supplies": lambda f, name: f"Joins {' and '.join(f.names)} ({f.how}).",
    "shorts lever by lever": lambda f, name: (
        f"Shorts when a lever does not follow its gang: in {f.now} of "
        f"{count(f.of, 'setting')} lever by lever{_was(f)}."
    ),
    "trips": lambda f, name: f"Supplies trip {_number(f.now, 'time')}, {f.was} as built.",
    "stalls stay": lambda f, name: f"Does nothing for the {_stalls_on(f, name)}.",
    "new stalls": lambda f, name: f"New: {_stalls_on(f, name)}.",
    "derailments": lambda f, name: f"Derailments: {f.now}, {f.was} as built.",
}
