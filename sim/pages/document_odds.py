"""The document of exact odds."""

from __future__ import annotations

from collections.abc import Sequence

from sim.odds.model import Odds, RouteOdds, SettingOdds
from sim.pages.documents import FORMAT_VERSION, Asked, Document, assumptions_list


def odds_document(asked: Asked, odds: Odds, others: Sequence[Odds]) -> Document:
    """Odds of every route in every setting; ``others`` are the cases to compare with."""
    return {
        "format_version": FORMAT_VERSION,
        "scenario": odds.scenario,
        "fix": odds.fix,
        "command": asked.command,
        "skipped": list(odds.skipped),
        "left_out": list(odds.left_out),
        **_overall(odds),
        "cases": [{"name": o.fix or "as built", **_overall(o)} for o in (odds, *others)],
        "settings": [_setting(s) for s in odds.settings],
        "parts": [
            {
                "part": w.part,
                "kind": w.kind,
                "chance": w.chance,
                "birnbaum": w.birnbaum,
                "fussell_vesely": w.fussell_vesely,
            }
            for w in odds.weights
        ],
        "assumptions": assumptions_list(odds.assumptions),
    }


def _overall(odds: Odds) -> Document:
    return {
        "odds": odds.odds,
        "short_odds": odds.short,
        "routes_not_live": odds.expected,
        "dead_anyway": odds.anyway,
    }


def _setting(setting: SettingOdds) -> Document:
    return {
        "levers": dict(setting.setting),
        "in_timetable": setting.used,
        "odds": setting.odds,
        "short_odds": setting.short,
        "routes": [_route(r) for r in setting.routes],
    }


def _route(route: RouteOdds) -> Document:
    return {
        "route": route.route,
        "odds": route.odds,
        "short_odds": route.short,
        "dead_anyway": route.anyway,
        "other_places_odds": route.beyond,
        "cut_sets": [list(s) for s in route.cuts],
        "cut_set_count": route.cut_count,
        "path_sets": [list(s) for s in route.paths],
        "path_set_count": route.path_count,
    }
