"""Text from outside put into SVG and HTML: no markup, and nothing that XML forbids.

XML 1.0 (fifth edition), 2.2: of the control characters only tab and line ends may
stand in a document at all, and neither halves of characters nor U+FFFE and U+FFFF.
"""

from __future__ import annotations

import html
from unicodedata import category


def shown(text: str) -> str:
    """``text`` with every character that cannot be shown as ``?``; line ends stay."""
    return "".join(c if _may_stand(c) else "?" for c in text)


def _may_stand(char: str) -> bool:
    if char in "\t\n":
        return True
    return category(char) not in ("Cc", "Cs") and char not in "\ufffe\uffff"


def escape(text: str, quote: bool = True) -> str:
    """:func:`shown`, and escaped for SVG or HTML."""
    return html.escape(shown(text), quote)


def finalize(value: object) -> object:
    """For templates: what is put in is shown; markup that we made stays as it is."""
    return shown(value) if type(value) is str else value
