"""A slow, independent answer to: which rails of one piece are joined?

It reads nothing but a :class:`~sim.pieces.model.Piece` and merges sets until
nothing changes, so that it shares no code with the model under test.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from sim.pieces.model import Piece


def nets(
    piece: Piece,
    setting: Mapping[str, str],
    extra_joins: Iterable[tuple[str, str]] = (),
    open_contacts: Iterable[str] = (),
) -> list[set[str]]:
    """Sets of sections that are one node electrically, in the order of the sections.

    ``setting`` gives the position of every lever (``moving`` closes nothing);
    ``extra_joins`` are jumpers; ``open_contacts`` are contacts that have failed.
    """
    joins = [(bond.a, bond.b) for bond in piece.bonds]
    joins += list(extra_joins)
    failed = set(open_contacts)
    for contact in piece.contacts:
        closed = any(
            all(setting[lever] == position for lever, position in clause)
            for clause in contact.when
        )
        if closed and contact.name not in failed:
            joins.append((contact.a, contact.b))
    groups = [{section.name} for section in piece.sections]
    changed = True
    while changed:
        changed = False
        for a, b in joins:
            first = next(group for group in groups if a in group)
            second = next(group for group in groups if b in group)
            if first is not second:
                first |= second
                groups.remove(second)
                changed = True
    return groups


def poles(
    piece: Piece,
    setting: Mapping[str, str],
    feeders: Mapping[str, str],
    extra_joins: Iterable[tuple[str, str]] = (),
    open_contacts: Iterable[str] = (),
) -> dict[str, str]:
    """Which pole every section has: its name, ``floating``, or ``short``.

    ``feeders`` maps sections to poles, two different poles of one net are a
    short; so this is for pieces on one supply, or for shorts of any kind.
    """
    found: dict[str, str] = {}
    for group in nets(piece, setting, extra_joins, open_contacts):
        reached = {pole for section, pole in feeders.items() if section in group}
        state = "short" if len(reached) > 1 else next(iter(reached), "floating")
        found.update(dict.fromkeys(group, state))
    return found
