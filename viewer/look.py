"""How roles look on a light and on a dark ground; nothing rests on colour alone.

Colours are the set of Okabe and Ito (Color Universal Design, 2008).  Orange, sky
blue and yellow do not reach 3:1 on white and are left to the dark ground (WCAG
2.1, 1.4.11); a test measures every pair.  A pole is told three ways: by colour,
by pattern (plus solid, minus in long dashes, one bar across the rail for each
supply after the first), and by its name written along the rail.  Floating, tripped and
shorted rails have patterns that no pole has.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from viewer.scene.scene import Style

Rgb = tuple[int, int, int]
GroundName = Literal["light", "dark"]

BLACK: Rgb = (0, 0, 0)
WHITE: Rgb = (255, 255, 255)
ORANGE: Rgb = (230, 159, 0)
SKY_BLUE: Rgb = (86, 180, 233)
GREEN: Rgb = (0, 158, 115)
YELLOW: Rgb = (240, 228, 66)
BLUE: Rgb = (0, 114, 178)
VERMILION: Rgb = (213, 94, 0)
PURPLE: Rgb = (204, 121, 167)

#: Supplies share colours two by two; the bars across the rail tell them apart.
SUPPLY_COLOURS = 2


@dataclass(frozen=True, slots=True)
class Look:
    """One ground and the colour of every role on it."""

    name: GroundName
    colours: Mapping[str, Rgb]

    def colour(self, role: str) -> Rgb:
        """The colour of a role; an unknown one is ink."""
        return self.colours.get(role, self.colours["ink"])


LIGHT = Look(
    "light",
    {
        "ground": WHITE,
        "ink": BLACK,
        "quiet": (95, 95, 95),
        "bed": (236, 236, 236),
        "board": (247, 247, 247),
        "edge": (118, 118, 118),
        "panel": (244, 244, 244),
        "key": (255, 255, 255),
        "chosen": (205, 225, 240),
        "pole 0": VERMILION,
        "pole 1": BLUE,
        "pole 2": PURPLE,
        "pole 3": GREEN,
        "floating": (118, 118, 118),
        "plastic": (118, 118, 118),
        "short": BLACK,
        "dead": (90, 90, 90),
        "dead bed": (255, 232, 178),
        "alarm": BLACK,
        "alarm fill": YELLOW,
        "train": (60, 60, 60),
        "train fill": (222, 222, 222),
        "wire": BLACK,
        "new wire": GREEN,
        "hand": BLUE,
    },
)

DARK = Look(
    "dark",
    {
        "ground": (16, 18, 22),
        "ink": (245, 245, 245),
        "quiet": (178, 178, 178),
        "bed": (38, 41, 47),
        "board": (24, 27, 32),
        "edge": (128, 128, 128),
        "panel": (28, 31, 37),
        "key": (45, 49, 57),
        "chosen": (24, 62, 88),
        "pole 0": ORANGE,
        "pole 1": SKY_BLUE,
        "pole 2": PURPLE,
        "pole 3": GREEN,
        "floating": (150, 150, 150),
        "plastic": (150, 150, 150),
        "short": WHITE,
        "dead": (170, 170, 170),
        "dead bed": (92, 70, 20),
        "alarm": YELLOW,
        "alarm fill": (70, 62, 0),
        "train": (225, 225, 225),
        "train fill": (66, 70, 78),
        "wire": WHITE,
        "new wire": YELLOW,
        "hand": SKY_BLUE,
    },
)

LOOKS: Mapping[GroundName, Look] = {"light": LIGHT, "dark": DARK}

#: Roles that must be made out against the ground they lie on (3:1).
GRAPHIC_ROLES = (
    "edge", "pole 0", "pole 1", "pole 2", "pole 3", "floating", "plastic", "short", "dead",
    "alarm", "train", "wire", "new wire", "hand",
)  # fmt: skip
#: Roles that words are written in (4.5:1 on ground, board, panel and key).
TEXT_ROLES = ("ink", "quiet")


def pole_style(pole: int, width_mm: float) -> Style:
    """How a rail on pole number ``pole`` (2 per supply, plus first) is drawn."""
    supply, minus = divmod(pole, 2)
    role = f"pole {2 * (supply % SUPPLY_COLOURS) + minus}"
    return Style(role, "long dashes" if minus else "solid", width_mm, 2.0, bars=supply)


def floating_style(width_mm: float) -> Style:
    """A rail that nothing feeds."""
    return Style("floating", "dots", width_mm, 2.0)


def off_style(pole: int, width_mm: float) -> Style:
    """A rail on a supply that has tripped: the pole's colour and bars, in a chain."""
    on = pole_style(pole, width_mm)
    return Style(on.role, "chain", width_mm, 2.0, on.bars)


def short_style(width_mm: float) -> Style:
    """A rail in a short."""
    return Style("short", "zigzag", width_mm, 2.0)


def plastic_style(width_mm: float) -> Style:
    """Where a rail is plastic."""
    return Style("plastic", "dashes", width_mm * 0.5, 1.0)


def luminance(colour: Rgb) -> float:
    """Relative luminance (WCAG 2.1)."""
    parts = []
    for value in colour:
        share = value / 255.0
        parts.append(share / 12.92 if share <= 0.04045 else ((share + 0.055) / 1.055) ** 2.4)
    return 0.2126 * parts[0] + 0.7152 * parts[1] + 0.0722 * parts[2]


def contrast(one: Rgb, other: Rgb) -> float:
    """Contrast ratio of two colours (WCAG 2.1), 1 to 21."""
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)
