"""What a hand can take: levers, contacts, pads, jumpers; which lies under a pointer."""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot
from typing import Literal

from viewer.draw.signs import contact_place
from viewer.draw.wires import jumper_line
from viewer.place.lines import Point
from viewer.scene.camera import Camera
from viewer.window.lane import Lane

ThingKind = Literal["lever", "contact", "pad", "jumper"]

#: A pointer takes what lies within so many points of it.
REACH_PT = 12.0
#: Contacts and pads can be taken once the gauge is so many points wide.
CONTACTS_FROM_PT = 5.0
PADS_FROM_PT = 7.0
#: Among things equally near, smaller ones come first.
ORDER: dict[ThingKind, int] = {"pad": 0, "contact": 1, "lever": 2, "jumper": 3}


@dataclass(frozen=True, slots=True)
class Takeable:
    """One thing: ``number`` is its index among the layout's levers or elements."""

    kind: ThingKind
    id: str
    number: int
    at: Point


def takeable(lane: Lane, px_per_mm: float) -> list[Takeable]:
    """Everything that can be taken at that scale, piece by piece."""
    found: list[Takeable] = []
    sheet = lane.sheet
    for piece in sheet.pieces:
        gauge_pt = piece.gauge_mm * px_per_mm
        found += [Takeable("lever", x.id, x.number, x.at) for x in piece.levers]
        if gauge_pt >= CONTACTS_FROM_PT:
            found += [
                Takeable("contact", c.id, c.number, contact_place(c)) for c in piece.contacts
            ]
        if gauge_pt >= PADS_FROM_PT:
            found += [Takeable("pad", p.id, p.node, p.at) for p in piece.pads if not p.slides]
    for jumper in sheet.jumpers:
        if jumper.number in lane.fresh:
            middle = jumper_line(jumper, sheet.gauge_mm)[6]
            found.append(Takeable("jumper", jumper.id, jumper.number, middle))
    return found


def under(things: list[Takeable], camera: Camera, pointer: Point) -> Takeable | None:
    """The thing nearest to a pointer within reach."""
    best: tuple[float, int, Takeable] | None = None
    for number, thing in enumerate(things):
        x, y = camera.to_px(thing.at)
        far = hypot(x - pointer[0], y - pointer[1])
        if far > REACH_PT:
            continue
        rank = far + 2.0 * ORDER[thing.kind]
        if best is None or rank < best[0]:
            best = rank, number, thing
    return None if best is None else best[2]


def beyond(
    things: list[Takeable], taken: Takeable | None, way: str, camera: Camera
) -> Takeable | None:
    """The nearest thing left, right, up or down of the one taken (or of the view's middle)."""
    x, y = (camera.x_mm, camera.y_mm) if taken is None else taken.at
    dx, dy = {"left": (-1.0, 0.0), "right": (1.0, 0.0), "up": (0.0, 1.0), "down": (0.0, -1.0)}[
        way
    ]
    best: tuple[float, Takeable] | None = None
    for thing in things:
        along = (thing.at[0] - x) * dx + (thing.at[1] - y) * dy
        across = abs((thing.at[0] - x) * dy) + abs((thing.at[1] - y) * dx)
        if along <= 1e-6 or across > 3.0 * along:
            continue
        rank = along + 2.0 * across
        if best is None or rank < best[0]:
            best = rank, thing
    return None if best is None else best[1]


def beside(things: list[Takeable], taken: Takeable | None, steps: int) -> Takeable | None:
    """The next or last thing in order."""
    if not things:
        return None
    ids = [(t.kind, t.id) for t in things]
    here = (
        ids.index((taken.kind, taken.id)) if taken and (taken.kind, taken.id) in ids else None
    )
    if here is None:
        return things[0 if steps > 0 else -1]
    return things[(here + steps) % len(things)]
