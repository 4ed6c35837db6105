"""Draw why a train stands: the cause beside it, and a ring round what is guilty."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import cos, radians, sin
from textwrap import wrap

from sim.judge.verdict import section_named
from sim.pages.phrases import reason_line
from sim.pages.words import KINDS, changes_in_words
from sim.records.causes import Reason
from sim.records.model import Stall
from viewer.draw.sheet import Sheet
from viewer.draw.trains import gauge_at, place_of, reason_in_words
from viewer.scene.scene import About, BlockRoom, Point, Scene, Style
from viewer.state.moment import Moment

#: Notes are wrapped at so many characters.
NOTE_WIDE = 48


@dataclass(frozen=True, slots=True)
class Note:
    """Why one train stands: lines to write beside it, and what to ring."""

    train: str
    lines: tuple[str, ...]
    guilty: tuple[str, ...]


def note_of(stall: Stall, moment: Moment) -> Note:
    """A stall in a builder's words, the guilty element and the shortest cure last."""
    known = moment.nets.notes.get(stall)
    if isinstance(known, Note):
        return known
    note = _make_note(stall, moment)
    moment.nets.notes[stall] = note
    return note


def _make_note(stall: Stall, moment: Moment) -> Note:
    one = stall.side in ("left", "right")
    side = f"its wheels on the {stall.side} rail have" if one else "it has"
    lines = [f"{stall.train} stands: {side} no supply", f"on {section_named(stall.section)}"]
    meaning = KINDS.get(stall.kind)
    lines.append(f"{stall.kind}: {meaning}" if meaning else stall.kind)
    guilty = guilty_of(stall, moment)
    told = next((r for g in guilty for r in stall.cause.reasons if _tells_of(r, g)), None)
    if told is not None:
        lines.append(reason_line(told))
    cures = nearest_first(stall)
    if cures:
        words = changes_in_words(moment.layout)
        cure = " and ".join(words.get(i, i) for i in cures[0])
        lines.append(f"it would go again: {cure}")
    here = stall.section.partition("/")[0]
    short = [line.replace(f"{here}/", "") if here else line for line in lines]
    return Note(
        stall.train,
        tuple(x for line in short for x in wrap(line, NOTE_WIDE, break_on_hyphens=False)),
        guilty,
    )


def _tells_of(reason: Reason, id: str) -> bool:
    return id in reason.elements or id in dict(reason.levers)


def nearest_first(stall: Stall) -> list[tuple[str, ...]]:
    """Its cures; those on the piece where it stands first, then those on its module.

    In a loop a gap on the far side may cure it too: the one that the train has just
    crossed tells more.
    """
    piece = stall.section.rpartition("/")[0]
    module = stall.section.partition("/")[0]

    def away(cure: tuple[str, ...]) -> tuple[int, int]:
        return (
            sum(not i.startswith(f"{piece}/") for i in cure),
            sum(not i.startswith(f"{module}/") for i in cure),
        )

    return sorted(stall.would_restore, key=away)


def guilty_of(stall: Stall, moment: Moment) -> tuple[str, ...]:
    """What has failed; else what would cure it; else every element that the cause names."""
    named = stall.cause.failed
    if not named and stall.would_restore:
        named = nearest_first(stall)[0]
    if not named:
        named = stall.cause.elements
    # Where a lever would have to be moved as well, what is in its way is ringed alone.
    levers = {x.id for x in moment.layout.levers}
    return tuple(i for i in named if i not in levers) or named


def notes_of(moment: Moment) -> list[Note]:
    """Of every train that stands without supply, or whose supply is off, by name."""
    notes = [note_of(stall, moment) for stall in moment.stalls.values()]
    for name, standing in moment.standing.items():
        if standing.why == "supply off":
            line = f"{name} stands: {reason_in_words(standing, moment)}"
            notes.append(Note(name, tuple(wrap(line, NOTE_WIDE, break_on_hyphens=False)), ()))
    return sorted(notes, key=lambda n: n.train)


def draw_notes(scene: Scene, sheet: Sheet, moment: Moment) -> None:
    """The cause beside every train without supply, and a ring round what is guilty."""
    notes = notes_of(moment)
    if not notes:
        return
    by_name = {t.name: t for t in moment.trains}
    told = {note.train for note in notes}
    seen = [place_of(sheet.ground, t.front) for t in moment.trains if t.name in told]
    for note in notes:
        seen += [sheet.where[name] for name in note.guilty if name in sheet.where]
    beside = [*sheet.spots, *(place_of(sheet.ground, v.rear) for t in moment.trains
                              for v in t.vehicles)]  # fmt: skip
    for note in notes:
        train = by_name.get(note.train)
        if train is None:
            continue
        gauge = gauge_at(sheet.ground, train.front)
        for guilty in note.guilty:
            if guilty in sheet.where:
                ring(scene, sheet.where[guilty], gauge, guilty)
        front = place_of(sheet.ground, train.front)
        _cross(scene, front, gauge, note.train)
        _write(scene, sheet, front, note, gauge, seen, beside)


def ring(scene: Scene, at: Point, gauge: float, who: str) -> None:
    """Two rings, so that it stands out whatever lies below."""
    about = About("guilty", who, "ringed")
    outer = Style("alarm", "solid", gauge * 0.12, 3.0)
    scene.disc(at, gauge * 0.75, 11.0, outer, about, filled=False)


def _cross(scene: Scene, at: Point, gauge: float, who: str) -> None:
    about = About("stall", who, "stands")
    scene.disc(at, gauge * 0.5, 7.0, Style("alarm fill"), about)
    style = Style("alarm", "solid", gauge * 0.1, 2.0)
    scene.disc(at, gauge * 0.5, 7.0, style, About("ring"), filled=False)
    r = gauge * 0.25
    x, y = at
    for turn in (45.0, 135.0):
        c, s = cos(radians(turn)) * r, sin(radians(turn)) * r
        scene.line(((x - c, y - s), (x + c, y + s)), style, About("cross"))


def _write(
    scene: Scene, sheet: Sheet, at: Point, note: Note, gauge: float,
    seen: Sequence[Point], beside: Sequence[Point],
) -> None:  # fmt: skip
    """Lines of text toward the middle of the drawing, tied to the train by a line."""
    _, south, _, north = sheet.ground.bounds
    inward = -1.0 if at[1] > (south + north) / 2.0 else 1.0
    # Below a train in the upper half of the ground, above one in the lower half.
    anchor = (at[0], at[1] + inward * gauge * 5.0)
    # Of a train that is out of sight only that it stands is said.
    lines = note.lines if scene.sees(at) else note.lines[:1]
    room = BlockRoom(inward > 0.0, seen, beside, at)
    scene.block(anchor, lines, About("cause", note.train), room)
