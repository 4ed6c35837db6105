"""Nothing that XML forbids, and no markup, gets from a text into a drawing or a page.

Source: XML 1.0 (fifth edition), production 2 (Char).
"""

from __future__ import annotations

import xml.etree.ElementTree as ET

from hypothesis import given
from hypothesis import strategies as st
from markupsafe import Markup

from viewer.escape import escape, finalize, shown


@given(st.text(st.characters()))
def test_any_text_makes_xml_that_says_it(text: str) -> None:
    element = ET.fromstring(f'<t a="{escape(text)}">{escape(text, quote=False)}</t>')
    assert (element.text or "") == shown(text)
    assert len(shown(text)) == len(text)


def test_control_characters_are_shown_as_questions() -> None:
    assert shown("a\x1b[31m\x00\ufffe\x85b\n") == "a?[31m???b\n"
    assert shown("é 漢字 🚂") == "é 漢字 🚂"
    assert escape("<b>\x07") == "&lt;b&gt;?"


def test_templates_leave_our_own_markup_alone() -> None:
    made = Markup("<b>\n</b>")
    assert finalize(made) is made
    assert finalize("a\x07") == "a?"
    assert finalize(3) == 3
