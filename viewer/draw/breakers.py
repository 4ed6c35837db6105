"""Draw the breakers of all supplies in a row: closed, tripped, or fed into a short."""

from __future__ import annotations

from sim.layout.model import Layout
from viewer.scene.scene import About, Lettering, Point, Scene, Style
from viewer.state.moment import Moment

#: Width of a sign with its words, in sizes: of the sign, and for each character.
SIGN_WIDE, CHARACTER_WIDE = 3.4, 0.62


def breaker_word(moment: Moment, supply: int) -> str:
    """``on``, ``tripped``, or ``shorted`` while a short has not tripped it yet."""
    if supply in moment.off:
        return "tripped"
    return "shorted" if supply in moment.power.shorted() else "on"


def by_weight(layout: Layout, moment: Moment) -> list[tuple[int, str]]:
    """(supply, word): those that are not simply on first, so that no room hides them."""
    words = [(k, breaker_word(moment, k)) for k in range(len(layout.supplies))]
    return sorted(words, key=lambda w: (w[1] == "on", w[0]))


def draw_breakers(
    scene: Scene, moment: Moment, left: float, middle: float, wide: float, size: float
) -> None:
    """A row of signs from ``left`` on, ``middle`` points below the top of a flat camera.

    What has no room is counted at the end.
    """
    layout = moment.layout
    shown = by_weight(layout, moment)
    x, end = left, left + wide
    for number, (supply, word) in enumerate(shown):
        name = layout.supplies[supply].name
        long = size * (SIGN_WIDE + CHARACTER_WIDE * (len(name) + len(word) + 3))
        rest = len(shown) - number
        more = size * CHARACTER_WIDE * 12 if rest > 1 else 0.0
        if x + long + more > end and number:
            about = About("breakers", "", f"and {rest} more")
            scene.words((x, -middle), f"and {rest} more", Lettering("ink", 0.0, size), about)
            return
        _draw_breaker(scene, (x, -middle), size, name, word)
        x += long


def _draw_breaker(scene: Scene, at: Point, size: float, name: str, word: str) -> None:
    """A blade between two contacts: it lies on both, or stands off one of them."""
    about = About("breaker", name, word)
    x, y = at
    wide = size * 1.8
    ink, alarm = Style("ink", "solid", 0.0, 1.5), Style("alarm", "solid", 0.0, 2.0)
    tip = (x + wide, y) if word != "tripped" else (x + wide * 0.85, y + size * 0.75)
    for px in (x, x + wide):
        scene.disc((px, y), 0.0, size * 0.2, Style("ink"), About("post"))
    if word == "shorted":
        scene.line(((x, y), (x + wide, y)), Style("short", "zigzag", 0.0, 2.0), about)
    else:
        scene.line(((x, y), tip), ink if word == "on" else alarm, about)
    said = f"{name} {word}" if word == "on" else f"{name} {word.upper()}"
    strong = word != "on"
    box = "alarm fill" if strong else ""
    lettering = Lettering("ink", 0.0, size, 0.0, "start", box, strong)
    scene.words((x + wide + size * 0.7, y), said, lettering, about)


__all__ = ["breaker_word", "by_weight", "draw_breakers"]
