"""Whether a case is in order, the slow way: every drive of every setting made anew.

Nothing is kept from one setting to the next, and a fault is another layout: an open
element is a gap there, a welded contact a bond.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import replace

from sim.drive.alone import Player
from sim.drive.drive import Drive, Drives
from sim.drive.use import in_use, stands_of, trains_of, with_stuck
from sim.layout.traffic import Case

#: Scenes that are alike come out alike: that is held elsewhere, and would only cost time.
PLAYER = Player()

Told = tuple[tuple[int, ...], frozenset[Drive]]


def drives_one_by_one(
    case: Case,
    every_setting: bool = False,
    failed: Collection[int] = (),
    welded: Collection[int] = (),
    stuck: Mapping[int, int] | None = None,
) -> list[Told]:
    """By setting in use: how the levers lie, and all drives."""
    elements = list(case.layout.elements)
    for e in welded:
        elements[e] = replace(elements[e], kind="bond", when=())
    for e in failed:
        elements[e] = replace(elements[e], kind="gap", when=())
    layout = replace(case.layout, elements=tuple(elements))
    case = replace(case, layout=layout)
    return list(_settings(case, every_setting, stuck or {}))


def _settings(case: Case, every_setting: bool, stuck: Mapping[int, int]) -> Iterator[Told]:
    lanes = Drives(case.layout, case.conduct).lanes
    trains, stands = trains_of(case), stands_of(case)
    for use in in_use(case, lanes, every_setting, stuck):
        for asked in use.settings:
            positions = with_stuck(asked, stuck)
            drives = Drives(case.layout, case.conduct, PLAYER)
            shut_in = lanes.shut_in(asked)
            goings = set()
            for train, over in enumerate(use.reached):
                for route, forward in over:
                    if route in shut_in:
                        continue
                    if lanes.is_set(route, positions):
                        goings.add((train, route, forward))
                    elif stuck and lanes.is_set(route, asked):
                        instead = lanes.comes_onto(route, forward, positions)
                        if instead is not None:
                            goings.add((train, *instead))
            made = (
                drives.drive(trains[n], r, f, positions, stands.get((n, r, f), ()))
                for n, r, f in goings
            )
            yield positions, frozenset(d for d in made if d is not None)
