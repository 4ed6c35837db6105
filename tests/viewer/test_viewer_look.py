"""Colours can be told apart on their ground, and nothing rests on colour alone.

Okabe and Ito, Color Universal Design (2008): the RGB values.  WCAG 2.1: 1.4.3
(text 4.5:1), 1.4.11 (graphics 3:1), 1.4.1 (not by colour alone).
"""

from __future__ import annotations

import pytest

from viewer import look
from viewer.look import GRAPHIC_ROLES, LOOKS, TEXT_ROLES, Look, contrast, pole_style

GROUNDS = ("ground", "board", "panel", "key")


def test_contrast_is_that_of_wcag() -> None:
    """#767676 on white passes 4.5:1, #777777 fails (WCAG 2.1)."""
    assert contrast((0x76,) * 3, look.WHITE) >= 4.5  # type: ignore[arg-type]
    assert contrast((0x77,) * 3, look.WHITE) < 4.5  # type: ignore[arg-type]
    assert contrast(look.BLACK, look.WHITE) == pytest.approx(21.0)


def test_three_colours_of_the_set_fail_on_white_and_are_not_used_there() -> None:
    """Orange, sky blue and yellow do not reach 3:1 on white (WCAG 2.1 formula)."""
    for colour in (look.ORANGE, look.SKY_BLUE, look.YELLOW):
        assert contrast(colour, look.WHITE) < 3.0
        used = {r for r in GRAPHIC_ROLES if look.LIGHT.colour(r) == colour}
        assert not used


@pytest.mark.parametrize("shown", LOOKS.values(), ids=lambda x: x.name)
def test_every_graphic_stands_out_from_its_ground(shown: Look) -> None:
    for role in GRAPHIC_ROLES:
        assert contrast(shown.colour(role), shown.colour("ground")) >= 3.0, role


@pytest.mark.parametrize("shown", LOOKS.values(), ids=lambda x: x.name)
def test_every_word_can_be_read_on_whatever_it_is_written_on(shown: Look) -> None:
    for role in TEXT_ROLES:
        for ground in GROUNDS:
            assert contrast(shown.colour(role), shown.colour(ground)) >= 4.5, (role, ground)
    for box in ("alarm fill", "dead bed", "chosen", "bed"):
        assert contrast(shown.colour("ink"), shown.colour(box)) >= 4.5, box


def test_poles_are_the_published_colours() -> None:
    """230 159 0; 86 180 233; 0 158 115; 240 228 66; 0 114 178; 213 94 0; 204 121 167."""
    published = {
        (230, 159, 0), (86, 180, 233), (0, 158, 115), (240, 228, 66), (0, 114, 178),
        (213, 94, 0), (204, 121, 167),
    }  # fmt: skip
    for shown in LOOKS.values():
        assert {shown.colour(f"pole {k}") for k in range(4)} <= published


def test_poles_differ_without_their_colour() -> None:
    """Pattern and bars alone tell the poles of five supplies from each other."""
    signs = {(pole_style(p, 1.0).pattern, pole_style(p, 1.0).bars) for p in range(10)}
    assert len(signs) == 10
    others = {
        look.floating_style(1.0).pattern,
        look.short_style(1.0).pattern,
        look.off_style(0, 1.0).pattern,
    }
    assert len(others) == 3
    assert others.isdisjoint({pattern for pattern, _ in signs})
