"""Draw what lies between pieces: feeders, jumpers, joints, and breaks of the drawing."""

from __future__ import annotations

from collections.abc import Iterable
from math import copysign, cos, hypot, radians, sin

from viewer.draw.faults import draw_fault
from viewer.draw.rails import rail_style
from viewer.draw.sheet import Sheet, Thing
from viewer.draw.signs import draw_gap
from viewer.place.ground import Break
from viewer.scene.scene import About, Lettering, Line, Scene, Style
from viewer.state.moment import Moment

#: A feeder says which pole it is once this share of the gauge can be made out.
NAMED_FROM = 0.6


def draw_wires(scene: Scene, sheet: Sheet, moment: Moment, fresh: Iterable[int] = ()) -> None:
    """Joints between pieces, jumpers, feeders and breaks. ``fresh`` jumpers stand out."""
    new = set(fresh)
    elements = sheet.layout.elements
    gauge = sheet.gauge_mm
    for thing in sheet.joiners:
        if elements[thing.number].kind == "gap":
            draw_gap(scene, thing, gauge)
        elif scene.shows(gauge * 0.2):
            _draw_joiner(scene, thing, gauge)
    for thing in sheet.jumpers:
        draw_jumper(scene, thing, gauge, thing.number in new)
    for thing in sheet.feeders:
        _draw_feeder(scene, thing, gauge, moment)
    for thing in (*sheet.joiners, *sheet.feeders):
        draw_fault(scene, moment.fault(thing.number), thing.id, thing.at, gauge)
    for thing in sheet.jumpers:
        middle = jumper_line(thing, gauge)[6]
        draw_fault(scene, moment.fault(thing.number), thing.id, middle, gauge)
    for brk in sheet.breaks:
        _draw_break(scene, brk, gauge)


def _draw_break(scene: Scene, brk: Break, gauge: float) -> None:
    """One letter at both places at which the drawing is broken off and goes on."""
    for pose, says in ((brk.one, brk.says_one), (brk.other, brk.says_other)):
        about = About("break", brk.letter, says)
        turn = radians(pose.heading_deg)
        at = (pose.x_mm + cos(turn) * gauge * 1.1, pose.y_mm + sin(turn) * gauge * 1.1)
        scene.disc(at, gauge * 0.75, 8.0, Style("chosen"), About("hole"))
        style = Style("edge", "solid", gauge * 0.05, 1.0)
        scene.disc(at, gauge * 0.75, 8.0, style, about, filled=False)
        lettering = Lettering("ink", gauge * 0.9, 10.0, 0.0, "middle", "", True)
        scene.words(at, brk.letter, lettering, about)


def _draw_joiner(scene: Scene, thing: Thing, gauge: float) -> None:
    turn = radians(thing.heading_deg)
    ux, uy = cos(turn) * gauge * 0.18, sin(turn) * gauge * 0.18
    x, y = thing.at
    style = Style("quiet", "solid", gauge * 0.05, 1.0)
    off = gauge * 0.12
    nx, ny = -sin(turn) * off, cos(turn) * off
    for s in (-1.0, 1.0):
        line = ((x - ux + s * nx, y - uy + s * ny), (x + ux + s * nx, y + uy + s * ny))
        scene.line(line, style, About("joiner", thing.id, "joiner"))


def jumper_line(thing: Thing, gauge: float) -> Line:
    """A wire hangs in a bow between its two pads."""
    (ax, ay), (bx, by) = thing.at, thing.far
    dx, dy = bx - ax, by - ay
    long = hypot(dx, dy) or 1.0
    bow = min(gauge * 1.4, long * 0.35)
    cx, cy = (ax + bx) / 2.0 - dy / long * bow * 2.0, (ay + by) / 2.0 + dx / long * bow * 2.0
    made = []
    for k in range(13):
        t = k / 12.0
        u = 1.0 - t
        made.append((u * u * ax + 2 * u * t * cx + t * t * bx,
                     u * u * ay + 2 * u * t * cy + t * t * by))  # fmt: skip
    return tuple(made)


def draw_jumper(scene: Scene, thing: Thing, gauge: float, fresh: bool = False) -> None:
    """A jumper; a fresh one in its own colour and in dashes."""
    about = About("jumper", thing.id, "new" if fresh else "there")
    line = jumper_line(thing, gauge)
    style = Style("new wire" if fresh else "wire", "dashes" if fresh else "solid",
                  gauge * 0.1, 2.0)  # fmt: skip
    scene.line(line, style, about)
    for end in (thing.at, thing.far):
        scene.disc(end, gauge * 0.14, 2.5, Style(style.role), About("joint"))
    scene.words(
        line[6], thing.id, Lettering("ink", gauge * 0.42, 0.0, 8.0, "middle", "ground"), about
    )


def _draw_feeder(scene: Scene, thing: Thing, gauge: float, moment: Moment) -> None:
    """A drop with the pole's name beside the rail, on the side away from its pair's rail."""
    element = moment.layout.elements[thing.number]
    node = element.b if element.b < len(moment.rails) else element.a
    x, y = thing.at
    plus = thing.id.endswith("+")
    sign = 1.0 if plus else -1.0
    apart = y - thing.far[1]
    out = sign if apart == 0.0 else copysign(1.0, apart)
    about = About("feeder", thing.id, moment.layout.nodes[element.a])
    state = moment.rails[node]
    style = rail_style(state, gauge * 0.1)
    tip = (x, y + out * gauge * 1.6)
    scene.line((thing.at, tip), Style(style.role, "solid", gauge * 0.1, 2.0), about)
    w = gauge * 0.3
    scene.area((thing.at, (x - w, y + out * w * 1.6), (x + w, y + out * w * 1.6)),
               Style(style.role), about)  # fmt: skip
    # Plus to the left and minus to the right: two tracks' wires then do not collide.
    said, box = moment.layout.nodes[element.a], "ground"
    if state.how in ("off", "short"):  # in words at the breaker
        box = "alarm fill"
    elif not scene.shows(gauge * NAMED_FROM):
        return  # the names would hide the rails
    lettering = Lettering("ink", gauge * 0.6, 9.0, 0.0, "end" if plus else "start", box)
    aside = (x - sign * gauge * 0.5, y + out * gauge * 1.25)
    scene.words(aside, said, lettering, about)
