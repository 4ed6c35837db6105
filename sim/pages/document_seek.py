"""The document of a search."""

from __future__ import annotations

from collections.abc import Sequence

from sim.layout.traffic import Assumption
from sim.pages.documents import FORMAT_VERSION, Asked, Document, assumptions_list, mm
from sim.seek.fixes import data_of
from sim.seek.model import Conflict, Crossing, Found, FoundSet, Option


def seek_document(
    asked: Asked, found: Found, assumptions: Sequence[Assumption] = ()
) -> Document:
    """What was sought, every set that was found, its fixes, and the figures of the proof."""
    wanted, figures = found.asked, found.figures
    return {
        "format_version": FORMAT_VERSION,
        "scenario": found.scenario,
        "fix": found.fix,
        "command": asked.command,
        "demands": list(wanted.demands),
        "use": list(wanted.use),
        "most": wanted.most,
        "most_cuts": wanted.most_cuts,
        "size": found.size,
        "complete": found.complete,
        "sets": [_set(one) for one in found.sets],
        "more_sets": found.more_sets,
        "conflicts": [_conflict(c) for c in found.conflicts],
        "hopeless": list(found.hopeless),
        "crossings": [_crossing(c) for c in found.crossings],
        "refused_pads": [{"pad": ref, "why": why} for ref, why in found.refused_pads],
        "figures": {
            "changes": figures.changes,
            "refused": figures.refused,
            "possible": figures.possible,
            "cut_sets": figures.cut_sets,
            "examined": figures.examined,
            "pruned": dict(sorted(figures.pruned.items())),
        },
        "notes": list(found.notes),
        "assumptions": assumptions_list(assumptions),
    }


def _set(one: FoundSet) -> Document:
    return {
        "size": one.size,
        "cuts": list(one.cuts),
        "changes": [
            {"joins": change.words, "ways": [_way(option) for option in change.options]}
            for change in one.changes
        ],
        "fixes": [data_of(fix) for fix in one.fixes],
    }


def _way(option: Option) -> Document:
    return {
        "way": option.way,
        "from": option.start,
        "to": option.to,
        "length_mm": None if option.length_mm is None else mm(option.length_mm),
        "cautions": list(option.cautions),
    }


def _conflict(conflict: Conflict) -> Document:
    return {
        "demands": list(conflict.demands),
        "without": [{"demand": d, "size": size} for d, size in conflict.without],
        "why": list(conflict.why),
    }


def _crossing(crossing: Crossing) -> Document:
    return {
        "route": crossing.route,
        "from_mm": mm(crossing.from_mm),
        "to_mm": mm(crossing.to_mm),
        "too_long_for": list(crossing.short_of),
    }
