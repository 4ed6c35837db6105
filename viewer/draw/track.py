"""Draw the track of one moment: bed, rails, gaps, contacts, levers, pads and wires."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from math import cos, hypot, radians, sin

from sim.layout.model import PLASTIC
from viewer.draw.sheet import PieceSheet, Rail, Sheet, Stretch, Thing
from viewer.look import floating_style, off_style, plastic_style, pole_style, short_style
from viewer.scene.scene import About, Lettering, Line, Point, Scene, Style
from viewer.state.moment import Moment
from viewer.state.nets import RailState

#: Width of a rail as a share of the gauge: wider than life, so that it can be seen.
RAIL_SHARE = 0.13
BED_SHARE = 1.9
#: How a stretch without current between its rails is hatched, by its kind.
DEAD_STYLES: dict[str, tuple[str, str]] = {
    "floating": ("dead", "dots"),
    "same pole": ("dead", "dashes"),
    "no return": ("dead", "chain"),
    "wrong voltage": ("dead", "long dashes"),
    "tripped": ("dead", "solid"),
    "short": ("short", "zigzag"),
}


#: A feeder says which pole it is once this share of the gauge can be made out.
NAMED_FROM = 0.6


@dataclass(frozen=True, slots=True)
class Detail:
    """What is drawn besides the rails."""

    pads: bool = False
    names: bool = True
    lettering_mm: float = 0.0


def draw_board(scene: Scene, sheet: Sheet) -> None:
    """The outline and name of every module."""
    for number, box in sheet.boards:
        module = sheet.layout.modules[number]
        corners = ((box[0], box[1]), (box[2], box[1]), (box[2], box[3]), (box[0], box[3]))
        about = About("board", module.name)
        scene.area(corners, Style("board"), about)
        scene.line((*corners, corners[0]), Style("edge", "dots", 0.0, 1.0), About("edge"))
        gauge = sheet.pieces[0].gauge_mm if sheet.pieces else 9.0
        name = module.name + (" (turned)" if module.turned else "")
        place = ((box[0] + box[2]) / 2.0, box[1] - gauge * 0.9)
        scene.words(place, name, Lettering("quiet", gauge, 10.0, 6.0, "middle"), about)


def draw_piece(scene: Scene, piece: PieceSheet, moment: Moment, detail: Detail) -> None:
    """One piece with everything on it."""
    gauge = piece.gauge_mm
    for line in piece.beds:
        scene.line(line, Style("bed", "solid", gauge * BED_SHARE, 3.0), About("bed"))
    for stretch in piece.stretches:
        _draw_stretch(scene, stretch, gauge, moment)
    _draw_rails(scene, piece, moment)
    for name, at in piece.frogs:
        _draw_frog(scene, name, at, gauge)
    for gap in piece.gaps:
        draw_gap(scene, gap, gauge)
    if scene.shows(gauge * 0.15):
        _draw_bonds(scene, piece, moment)
        _draw_contacts(scene, piece, moment)
    for lever in piece.levers:
        _draw_lever(scene, piece, lever, moment)
    if detail.pads and scene.shows(gauge * 0.25):
        _draw_pads(scene, piece)
    if detail.names:
        _draw_names(scene, piece, moment)


def rail_style(rail: RailState, width_mm: float) -> Style:
    """How a rail in that state is drawn."""
    if rail.how == "floating":
        return floating_style(width_mm)
    if rail.how == "short":
        return short_style(width_mm)
    if rail.how == "off":
        return off_style(rail.poles[0], width_mm)
    return pole_style(rail.poles[0], width_mm)


def _draw_rails(scene: Scene, piece: PieceSheet, moment: Moment) -> None:
    width = piece.gauge_mm * RAIL_SHARE
    plastic = plastic_style(width)
    nodes = moment.layout.nodes
    for rail in piece.rails:
        line = _lies(rail, moment)
        if rail.node == PLASTIC:
            scene.line(line, plastic, About("plastic"))
            continue
        state = moment.rails[rail.node]
        word = f"{state.word} (weak)" if rail.node in moment.weak else state.word
        what = "blade" if rail.lever >= 0 else "rail"
        scene.line(line, rail_style(state, width), About(what, nodes[rail.node], word))


def _lies(rail: Rail, moment: Moment) -> Line:
    if rail.lever < 0 or moment.positions[rail.lever] == rail.position:
        return rail.line
    return rail.opened


def _draw_stretch(scene: Scene, stretch: Stretch, gauge: float, moment: Moment) -> None:
    """A band between the rails where no current can flow though the route is set."""
    if PLASTIC in (stretch.left, stretch.right) or not moment.is_set(stretch.route):
        return
    verdict = moment.power.verdict(stretch.left, stretch.right)
    if verdict is None:
        return
    role, pattern = DEAD_STYLES[verdict]
    about = About("dead stretch", moment.layout.routes[stretch.route].id, verdict)
    scene.line(stretch.line, Style("dead bed", "solid", gauge * 0.8, 3.0), About("dead bed"))
    style = Style(role, pattern, gauge * 0.16, 1.0)  # type: ignore[arg-type]
    scene.line(stretch.line, style, about)
    ends = stretch.line[0], stretch.line[-1]
    long = hypot(ends[1][0] - ends[0][0], ends[1][1] - ends[0][1])
    size = gauge * 0.42
    if long > size * (len(verdict) + 2) * 0.6:
        lettering = Lettering("ink", size, 0.0, 8.0, "middle", "dead bed")
        scene.words(stretch.centre, verdict, lettering, about)


def draw_gap(scene: Scene, gap: Thing, gauge: float) -> None:
    """Two strokes across the rail, the ground showing between them."""
    turn = radians(gap.heading_deg)
    ux, uy = cos(turn), sin(turn)
    half, apart = gauge * 0.24, gauge * 0.07
    x, y = gap.at
    about = About("gap", gap.id, "gap")
    scene.line(
        ((x - ux * apart, y - uy * apart), (x + ux * apart, y + uy * apart)),
        Style("bed", "solid", gauge * 0.2, 2.0),
        About("cut"),
    )
    for side in (-1.0, 1.0):
        px, py = x + ux * apart * side, y + uy * apart * side
        stroke = ((px - uy * half, py + ux * half), (px + uy * half, py - ux * half))
        scene.line(stroke, Style("ink", "solid", gauge * 0.05, 1.0), about)


def _draw_frog(scene: Scene, name: str, at: Point, gauge: float) -> None:
    """A square on its corner round the place where two rails cross."""
    if scene.shows(gauge * 0.25):
        r, (x, y) = gauge * 0.26, at
        corners = ((x - r, y), (x, y + r), (x + r, y), (x, y - r), (x - r, y))
        scene.line(
            corners, Style("ink", "solid", gauge * 0.04, 1.0), About("frog", name, "frog")
        )


def _draw_bonds(scene: Scene, piece: PieceSheet, moment: Moment) -> None:
    for bond in piece.bonds:
        if bond.at != bond.far:
            about = About("bond", bond.id, "bond")
            style = Style("quiet", "dots", piece.gauge_mm * 0.05, 1.0)
            scene.line((bond.at, bond.far), style, about)


def _draw_contacts(scene: Scene, piece: PieceSheet, moment: Moment) -> None:
    gauge = piece.gauge_mm
    for contact in piece.contacts:
        draw_contact(scene, contact, gauge, moment.contact(contact.number))


def contact_place(contact: Thing) -> Point:
    """Where a contact's sign is drawn, and can be touched."""
    return (contact.at[0] + contact.far[0]) / 2.0, (contact.at[1] + contact.far[1]) / 2.0


def draw_contact(scene: Scene, contact: Thing, gauge: float, word: str) -> None:
    """Closed a full disc, open a ring; open though it should close, a ring crossed out."""
    about = About("contact", contact.id, word)
    place = contact_place(contact)
    thin = Style("ink", "solid", gauge * 0.05, 1.0)
    if contact.at != contact.far and word != "open":
        scene.line((contact.at, contact.far), thin, About("link"))
    radius = gauge * 0.13
    if word == "closed":
        scene.disc(place, radius, 2.5, Style("ink"), about)
        return
    scene.disc(place, radius, 2.5, Style("ground"), About("hole"))
    scene.disc(place, radius, 2.5, thin, about, filled=False)
    x, y = place
    r = radius * 1.6
    if word == "stays open":
        alarm = Style("alarm", "solid", gauge * 0.07, 2.0)
        scene.line(((x - r, y - r), (x + r, y + r)), alarm, About("cross"))
        scene.line(((x - r, y + r), (x + r, y - r)), alarm, About("cross"))
    elif word == "tired":
        scene.line(((x - r, y), (x + r, y)), thin, About("bar"))


def _draw_lever(scene: Scene, piece: PieceSheet, lever: Thing, moment: Moment) -> None:
    """A flag with the first letter of the position; three dots while it moves."""
    gauge = piece.gauge_mm
    word = moment.lever(lever.number)
    about = About("lever", lever.id, word)
    x, y = lever.at
    w, h = gauge * 0.5, gauge * 0.45
    box = ((x - w, y - h), (x + w, y - h), (x + w, y + h), (x - w, y + h))
    at_rest = moment.positions[lever.number] == moment.layout.levers[lever.number].rest
    scene.area(box, Style("key"), About("flag"))
    edge = Style("ink", "solid" if at_rest else "dashes", gauge * 0.05, 1.0)
    scene.line((*box, box[0]), edge, about)
    text = "..." if word == "moving" else word[:1].upper()
    scene.words(
        (x, y), text, Lettering("ink", gauge * 0.7, 0.0, 7.0, "middle", "", True), about
    )
    name = lever.id.rpartition("/")[2]
    off = (h + gauge * 0.35) * (1.0 if y >= (piece.box[1] + piece.box[3]) / 2.0 else -1.0)
    outside = (x, y + off)  # not on the rails
    scene.words(
        outside, name, Lettering("quiet", gauge * 0.45, 0.0, 8.0, "middle"), About("name")
    )


def _draw_pads(scene: Scene, piece: PieceSheet) -> None:
    for pad in piece.pads:
        half = pad.size_mm * 0.3
        x, y = pad.at
        box = ((x - half, y - half), (x + half, y - half), (x + half, y + half),
               (x - half, y + half))  # fmt: skip
        about = About("pad", pad.id, "slid over" if pad.slides else "pad")
        scene.area(box, Style("ground"), About("hole"))
        style = Style("quiet", "dots" if pad.slides else "solid", 0.2, 1.0)
        scene.line((*box, box[0]), style, about)


def _draw_names(scene: Scene, piece: PieceSheet, moment: Moment) -> None:
    """The pole's name on every rail that is long enough to carry it."""
    size = piece.gauge_mm * 0.42
    for node, place, long in piece.names:
        word = moment.rails[node].word
        if long > size * (len(word) + 2) * 0.65:
            lettering = Lettering("ink", size, 0.0, 8.0, "middle", "ground")
            scene.words(
                place, word, lettering, About("pole name", moment.layout.nodes[node], word)
            )


def draw_wires(scene: Scene, sheet: Sheet, moment: Moment, fresh: Iterable[int] = ()) -> None:
    """Feeders, jumpers, and insulated joints between pieces. ``fresh`` jumpers stand out."""
    new = set(fresh)
    elements = sheet.layout.elements
    gauge = sheet.pieces[0].gauge_mm if sheet.pieces else 9.0
    for thing in sheet.joiners:
        if elements[thing.number].kind == "gap":
            draw_gap(scene, thing, gauge)
        elif scene.shows(gauge * 0.2):
            _draw_joiner(scene, thing, gauge)
    for thing in sheet.jumpers:
        draw_jumper(scene, thing, gauge, thing.number in new)
    for thing in sheet.feeders:
        _draw_feeder(scene, thing, gauge, moment)
    for brk in sheet.breaks:
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
    """A drop with the pole's name beside the rail."""
    element = moment.layout.elements[thing.number]
    node = element.b if element.b < len(moment.rails) else element.a
    x, y = thing.at
    plus = thing.id.endswith("+")
    down = 1.0 if plus else -1.0
    about = About("feeder", thing.id, moment.layout.nodes[element.a])
    state = moment.rails[node]
    style = rail_style(state, gauge * 0.1)
    tip = (x, y + down * gauge * 1.6)
    scene.line((thing.at, tip), Style(style.role, "solid", gauge * 0.1, 2.0), about)
    w = gauge * 0.3
    scene.area((thing.at, (x - w, y + down * w * 1.6), (x + w, y + down * w * 1.6)),
               Style(style.role), about)  # fmt: skip
    # Plus to the left and minus to the right: two tracks' wires then do not collide.
    said, box = moment.layout.nodes[element.a], "ground"
    if state.how in ("off", "short"):  # in words at the breaker
        box = "alarm fill"
    elif not scene.shows(gauge * NAMED_FROM):
        return  # the names would hide the rails
    lettering = Lettering("ink", gauge * 0.6, 9.0, 0.0, "end" if plus else "start", box)
    aside = (x - down * gauge * 0.5, y + down * gauge * 1.25)
    scene.words(aside, said, lettering, about)
