"""A setting in the words of the hand that makes it."""

from __future__ import annotations

from collections.abc import Sequence

from sim.layout.model import Layout

#: (gang or lever, position) pairs.
SettingWords = tuple[tuple[str, str], ...]


def setting_words(layout: Layout, positions: Sequence[int]) -> SettingWords:
    """Gangs by their own name, levers that disagree with their gang by theirs.

    ``positions`` has a position index by lever.
    """
    found: list[tuple[str, str]] = []
    for control in layout.controls:
        words = [layout.levers[x].positions[positions[x]] for x in control.levers]
        if len(set(words)) == 1:
            found.append((control.id, words[0]))
        else:
            ids = [layout.levers[x].id for x in control.levers]
            found += zip(ids, words, strict=True)
    return tuple(found)
