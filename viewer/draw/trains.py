"""Draw trains: vehicles, their pickups lit one by one, and why one stands."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import cos, hypot, radians, sin
from textwrap import wrap

from sim.judge.verdict import section_named
from sim.layout.model import PLASTIC
from sim.pages.changes import changes_in_words
from sim.pages.words import KINDS
from sim.records.model import Stall
from viewer.draw.sheet import Sheet
from viewer.place.ground import Ground
from viewer.scene.scene import About, Anchor, BlockRoom, Lettering, Point, Scene, Style
from viewer.state.moment import Moment
from viewer.state.trains import Spot, StandingPickup, StandingTrain, StandingVehicle

#: Half the width of a vehicle as a share of the gauge.
BODY_SHARE = 0.86
#: Notes are wrapped at so many characters.
NOTE_WIDE = 48
#: A name keeps off trains whose first vehicle is within so many gauges.
NAME_NEAR = 14.0


def draw_trains(scene: Scene, sheet: Sheet, moment: Moment) -> None:
    """All trains of the moment."""
    for train in moment.trains:
        _draw_train(scene, sheet.ground, moment, train)
    for train in moment.trains:  # on top of every train, so that no name is covered
        _draw_name(scene, sheet.ground, moment, train)


def _gauge(ground: Ground, spot: Spot) -> float:
    layout = ground.layout
    return layout.pieces[layout.routes[spot.route].piece].piece.gauge_mm


def place_of(ground: Ground, spot: Spot) -> Point:
    """A spot on the ground, mid-track."""
    pose = ground.on_route(spot.route, spot.place_mm)
    return pose.x_mm, pose.y_mm


def stretches(
    ground: Ground, vehicle: StandingVehicle, gauge: float
) -> list[tuple[Point, Point]]:
    """Front and rear of a vehicle; of each part where a break of the drawing parts it."""
    found: list[tuple[Point, Point]] = []
    for front, rear in vehicle.parts:
        a, b = place_of(ground, front), place_of(ground, rear)
        if found and hypot(a[0] - found[-1][1][0], a[1] - found[-1][1][1]) < gauge:
            found[-1] = found[-1][0], b
        else:
            found.append((a, b))
    return [(a, b) for a, b in found if a != b]


def _body(front: Point, rear: Point, gauge: float, leads: bool) -> list[Point]:
    """The outline of a vehicle from above, with a nose where it leads."""
    (ax, ay), (bx, by) = front, rear
    long = hypot(bx - ax, by - ay)
    ux, uy = (bx - ax) / long, (by - ay) / long
    half, inset = gauge * BODY_SHARE, min(long * 0.02, gauge * 0.2)
    nose = min(gauge * 0.7, long * 0.25) if leads else 0.0
    tip = (ax + ux * inset, ay + uy * inset)
    shoulder = (ax + ux * (inset + nose), ay + uy * (inset + nose))
    tail = (bx - ux * inset, by - uy * inset)
    nx, ny = -uy * half, ux * half
    wide = 0.35 if leads else 1.0
    return [
        (tip[0] + nx * wide, tip[1] + ny * wide),
        (shoulder[0] + nx, shoulder[1] + ny),
        (tail[0] + nx, tail[1] + ny),
        (tail[0] - nx, tail[1] - ny),
        (shoulder[0] - nx, shoulder[1] - ny),
        (tip[0] - nx * wide, tip[1] - ny * wide),
    ]


def _draw_train(scene: Scene, ground: Ground, moment: Moment, train: StandingTrain) -> None:
    gauge = _gauge(ground, train.front)
    for vehicle in train.vehicles:
        about = About("vehicle", f"{train.name}: {vehicle.name}",
                      "powered" if train.powered else "without supply")  # fmt: skip
        for number, (front, rear) in enumerate(stretches(ground, vehicle, gauge)):
            body = _body(front, rear, gauge, vehicle.leads and number == 0)
            scene.area(body, Style("train fill" if vehicle.motor else "bed"), about)
            edge = Style("train", "solid", gauge * 0.06, 1.5 if vehicle.motor else 1.0)
            scene.line([*body, body[0]], edge, About("edge"))
    for pickup in train.pickups:
        _draw_pickup(scene, ground, moment, train, pickup)


def _first_middle(ground: Ground, train: StandingTrain) -> Point:
    """The middle of a train's first vehicle, or of what of it lies before a break."""
    parts = stretches(ground, train.vehicles[0], _gauge(ground, train.front))
    one, other = parts[0] if parts else (place_of(ground, train.front),) * 2
    return (one[0] + other[0]) / 2.0, (one[1] + other[1]) / 2.0


def _draw_name(scene: Scene, ground: Ground, moment: Moment, train: StandingTrain) -> None:
    """Beside the first vehicle, on the side on which no other train is near."""
    gauge = _gauge(ground, train.front)
    at = _first_middle(ground, train)
    ahead = place_of(ground, train.vehicles[0].front)
    long = hypot(ahead[0] - at[0], ahead[1] - at[1]) or 1.0
    nx, ny = -(ahead[1] - at[1]) / long, (ahead[0] - at[0]) / long
    if (ny, nx) < (0.0, 0.0):  # the northern side is the first choice
        nx, ny = -nx, -ny
    off = gauge * 1.9
    others = [_first_middle(ground, t) for t in moment.trains if t.name != train.name]
    near = [p for p in others if hypot(p[0] - at[0], p[1] - at[1]) < gauge * NAME_NEAR]
    if sum((p[0] - at[0]) * nx + (p[1] - at[1]) * ny > 0.0 for p in near) * 2 > len(near):
        nx, ny = -nx, -ny
    anchor: Anchor = "middle" if abs(nx) < 0.6 else "start" if nx > 0.0 else "end"
    lettering = Lettering("ink", gauge * 0.7, 10.0, 0.0, anchor, "ground", True)
    place = at[0] + nx * off, at[1] + ny * off
    scene.words(place, train.name, lettering, About("train", train.name))


def pickup_word(moment: Moment, train: StandingTrain, pickup: StandingPickup) -> str:
    """What a pickup gets: ``lit``, ``a pole but no current``, ``nothing`` or ``no metal``."""
    if pickup.node == PLASTIC:
        return "no metal"
    power = moment.power
    if not power.poles(pickup.node):
        return "nothing"
    left, right = train.units[pickup.unit]
    sides = train.sides.get(left, ()), train.sides.get(right, ())
    fed = [next((n for n in side if power.poles(n)), None) for side in sides]
    if None in fed:
        return "a pole but no current"
    a, b = (n for n in fed if n is not None)
    return "lit" if power.verdict(a, b) is None else "a pole but no current"


def _draw_pickup(
    scene: Scene, ground: Ground, moment: Moment, train: StandingTrain, pickup: StandingPickup
) -> None:
    """Lit: full, in the pole's colour. A pole but no current: ringed. Nothing: hollow."""
    gauge = _gauge(ground, pickup.spot)
    at = ground.rail_at(pickup.spot.route, pickup.spot.place_mm, pickup.on_left)
    word = pickup_word(moment, train, pickup)
    node = "plastic or dirt" if pickup.node == PLASTIC else moment.layout.nodes[pickup.node]
    about = About("pickup", f"{train.name} on {node}", word)
    radius = gauge * 0.17
    scene.disc(at, radius, 3.0, Style("ground"), About("hole"))
    if word in ("lit", "a pole but no current"):
        pole = moment.power.poles(pickup.node)[0]
        colour = Style(f"pole {pole % 4}", "solid", gauge * 0.06, 1.0)
        if word == "lit":
            scene.disc(at, radius, 3.0, colour, about)
        else:
            scene.disc(at, radius * 0.5, 1.5, colour, about)
    ring = Style("ink", "solid", gauge * 0.05, 1.0)
    dark = about if word in ("nothing", "no metal") else About("ring")
    scene.disc(at, radius, 3.0, ring, dark, filled=False)
    if word == "no metal":
        x, y = at
        scene.line(((x - radius, y), (x + radius, y)), ring, About("bar"))


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
    side = {"left": "its left wheels have", "right": "its right wheels have"}.get(
        stall.side or "", "it has"
    )
    lines = [f"{stall.train} stands: {side} no supply", f"on {section_named(stall.section)}"]
    meaning = KINDS.get(stall.kind)
    lines.append(f"{stall.kind}: {meaning}" if meaning else stall.kind)
    guilty = guilty_of(stall, moment)
    told = next((c for g in guilty for c in stall.cause if g in c), None)
    if told is not None:
        lines.append(told)
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
    layout = moment.layout
    ids = [e.id for e in layout.elements if e.kind in ("contact", "gap", "joiner", "feeder")]
    ids += [x.id for x in layout.levers]
    failed = [c for c in stall.cause if "stayed open" in c]
    named = [i for c in failed for i in ids if f" {i} " in f"{c} "]
    if not named and stall.would_restore:
        named = list(nearest_first(stall)[0])
    if not named:
        named = [i for c in stall.cause for i in ids if f" {i} " in f"{c} "]
    # A lever is named beside its contact: ring the contact only.
    levers = {x.id for x in layout.levers}
    found = [i for i in named if i not in levers] or named
    return tuple(dict.fromkeys(found))


def draw_notes(scene: Scene, sheet: Sheet, moment: Moment) -> None:
    """The cause beside every stalled train, and a ring round what is guilty."""
    by_name = {t.name: t for t in moment.trains}
    seen = [place_of(sheet.ground, t.front) for t in moment.trains if t.name in moment.stalls]
    for stall in moment.stalls.values():
        named = note_of(stall, moment).guilty
        seen += [sheet.where[name] for name in named if name in sheet.where]
    beside = [*sheet.spots, *(place_of(sheet.ground, v.rear) for t in moment.trains
                              for v in t.vehicles)] if moment.stalls else []  # fmt: skip
    for name, stall in sorted(moment.stalls.items()):
        train = by_name.get(name)
        if train is None:
            continue
        note = note_of(stall, moment)
        gauge = _gauge(sheet.ground, train.front)
        for guilty in note.guilty:
            if guilty in sheet.where:
                ring(scene, sheet.where[guilty], gauge, guilty)
        front = place_of(sheet.ground, train.front)
        _cross(scene, front, gauge, name)
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
