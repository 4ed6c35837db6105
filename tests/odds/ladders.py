"""Yard ladders: live-frog turnouts one behind the other, a siding off each."""

from __future__ import annotations

from sim.layout.traffic import Case
from tests.faults.layouts import HEAD, case


def ladder(turnouts: int, contact: float = 0.1, lever: float = 0.01) -> Case:
    """A lead fed at its start, ``turnouts`` turnouts on it, and a train that stays away."""
    pieces = ['[[module.piece]]\nname = "lead"\nkind = "straight"\nlength_mm = 200\n']
    joins = ['["lead/east", "T1/points"]']
    for n in range(1, turnouts + 1):
        pieces.append(
            f'[[module.piece]]\nname = "T{n}"\nkind = "turnout"\nfamily = "live frog"\n'
        )
        pieces.append(f'[[module.piece]]\nname = "S{n}"\nkind = "straight"\nlength_mm = 200\n')
        joins.append(f'["T{n}/diverging", "S{n}/west"]')
        if n < turnouts:
            joins.append(f'["T{n}/through", "T{n + 1}/points"]')
    text = (
        HEAD
        + """
supply = [{ name = "cab" }]
feeder = [
  { name = "feed", supply = "cab", plus = "yard/lead/north", minus = "yard/lead/south" }
]
"""
        + f"assumptions = {{ contact_opens = {contact}, lever_stays = {lever} }}\n"
        + f'[[module]]\nname = "yard"\njoins = [{", ".join(joins)}]\n'
        + "".join(pieces)
    )
    return case(text)
