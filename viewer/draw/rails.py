"""Draw rails: the state of each, stretches without current, names of poles."""

from __future__ import annotations

from math import hypot

from sim.layout.model import PLASTIC
from viewer.draw.sheet import PieceSheet, Rail, Stretch
from viewer.look import floating_style, off_style, plastic_style, pole_style, short_style
from viewer.scene.scene import About, Lettering, Line, Scene, Style
from viewer.state.moment import Moment
from viewer.state.nets import RailState

#: Width of a rail as a share of the gauge: wider than life, so that it can be seen.
RAIL_SHARE = 0.13
#: How a stretch without current between its rails is hatched, by its kind.
DEAD_STYLES: dict[str, tuple[str, str]] = {
    "floating": ("dead", "dots"),
    "same pole": ("dead", "dashes"),
    "no return": ("dead", "chain"),
    "wrong voltage": ("dead", "long dashes"),
    "tripped": ("dead", "solid"),
    "short": ("short", "zigzag"),
}


def rail_style(rail: RailState, width_mm: float) -> Style:
    """How a rail in that state is drawn."""
    if rail.how == "floating":
        return floating_style(width_mm)
    if rail.how == "short":
        return short_style(width_mm)
    if rail.how == "off":
        return off_style(rail.poles[0], width_mm)
    return pole_style(rail.poles[0], width_mm)


def draw_rails(scene: Scene, piece: PieceSheet, moment: Moment) -> None:
    """Every rail of a piece in its state; a blade as its lever lies."""
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


def draw_stretch(scene: Scene, stretch: Stretch, gauge: float, moment: Moment) -> None:
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


def draw_names(scene: Scene, piece: PieceSheet, moment: Moment) -> None:
    """The pole's name on every rail that is long enough to carry it."""
    size = piece.gauge_mm * 0.42
    for node, place, long in piece.names:
        word = moment.rails[node].word
        if long > size * (len(word) + 2) * 0.65:
            lettering = Lettering("ink", size, 0.0, 8.0, "middle", "ground")
            scene.words(
                place, word, lettering, About("pole name", moment.layout.nodes[node], word)
            )
