"""The page of the chart of states.

A layout has many sections and most of them are the same in every setting: those
are told once, and each setting tells only what differs.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from sim.judge.verdict import count
from sim.pages.page import Page, case_name, joined
from sim.pages.text_assumptions import print_again
from sim.pages.words import how_in_words, kind_in_words
from sim.power.chart_model import Chart, JoinedSupplies, RouteState, Setting

Fed = tuple[str, tuple[str, ...]]


def print_states(page: Page, chart: Chart, command: str) -> None:
    """The count first, then what every setting has in common, then each setting."""
    page.line(f"States of '{chart.scenario}' {case_name(chart.fix)}")
    dead = sum(s.dead for s in chart.settings)
    short = sum(s.short for s in chart.settings)
    page.line(
        f"{count(chart.total, 'setting')} in {count(chart.groups, 'group')} of levers; of "
        f"{len(chart.settings)} charted {dead} have a dead route and {short} are shorted."
    )
    if chart.skipped:
        page.line(chart.skipped)
    parts = _parts(chart.settings)
    for number, part in enumerate(parts, 1):
        if len(parts) > 1:
            page.heading(f"Group {number} of {len(parts)}: {_pieces(part)}")
        _print_part(page, part)
    print_again(page, command)


def _parts(settings: Iterable[Setting]) -> list[list[Setting]]:
    """Settings that speak of the same levers and routes belong together."""
    found: dict[tuple[object, ...], list[Setting]] = {}
    for s in settings:
        key = (tuple(x for x, _ in s.levers), tuple(r.route for r in s.routes))
        found.setdefault(key, []).append(s)
    return list(found.values())


def _pieces(part: Sequence[Setting]) -> str:
    names = list(dict.fromkeys(lever.rpartition("/")[0] for lever, _ in part[0].levers))
    if not names:
        return "track without levers"
    return joined(names[:4]) if len(names) < 5 else f"{len(names)} pieces"


@dataclass(frozen=True, slots=True)
class _Facts:
    """What a setting is, apart from its levers."""

    fed_by: tuple[Fed, ...]
    routes: tuple[RouteState, ...]


def _print_part(page: Page, part: Sequence[Setting]) -> None:
    if len(part) == 1:
        _print_setting(page, part, _Facts(part[0].fed_by, part[0].routes))
        return
    fed = set(part[0].fed_by).intersection(*(s.fed_by for s in part[1:]))
    routes = set(part[0].routes).intersection(*(s.routes for s in part[1:]))
    common = _Facts(
        tuple(f for f in part[0].fed_by if f in fed),
        tuple(r for r in part[0].routes if r in routes),
    )
    if common.fed_by or common.routes:
        page.heading("The same in every setting")
        _print_facts(page, common)
    same: dict[tuple[object, ...], list[Setting]] = {}
    for s in part:
        same.setdefault((s.fed_by, s.routes, s.shorts, s.joined), []).append(s)
    for settings in same.values():
        s = settings[0]
        rest = _Facts(
            tuple(f for f in s.fed_by if f not in fed),
            tuple(r for r in s.routes if r not in routes),
        )
        _print_setting(page, settings, rest)


def _print_setting(page: Page, settings: Sequence[Setting], facts: _Facts) -> None:
    """One setting, or several that come to the same; ``facts`` are what to tell of it."""
    first = settings[0]
    verdict = joined([w for w, on in (("short", first.short), ("dead", first.dead)) if on])
    page.heading(f"Setting: {verdict or 'every route that is set is live'}")
    page.items((_levers(s) for s in settings), indent=1)
    for short in first.shorts:
        page.line(f"SHORT of {joined(short.poles)} through:", indent=1)
        page.items(short.elements, indent=3)
    for both in first.joined:
        _print_joined(page, both)
    _print_facts(page, facts)


def _levers(setting: Setting) -> str:
    """``board/scissors: AW through, BE through``."""
    pieces: dict[str, list[str]] = {}
    for lever, position in setting.levers:
        piece, _, name = lever.rpartition("/")
        pieces.setdefault(piece, []).append(f"{name} {position}")
    said = "; ".join(f"{p}: {', '.join(names)}" for p, names in pieces.items())
    return said or "no levers"


def _print_joined(page: Page, both: JoinedSupplies) -> None:
    page.line(f"Joins {joined(both.poles)} {how_in_words(both.how)}.", indent=1)
    if both.elements:
        page.items(both.elements, indent=3)


def _print_facts(page: Page, facts: _Facts) -> None:
    if facts.fed_by:
        page.line()
    _print_sections(page, facts.fed_by)
    if facts.routes:
        page.line()
    _print_routes(page, facts.routes)


def _print_sections(page: Page, fed_by: Sequence[Fed]) -> None:
    """Sections of one piece on the same poles share a row."""
    rows: dict[tuple[str, str], list[str]] = {}
    for section, poles in fed_by:
        piece, _, name = section.rpartition("/")
        rows.setdefault((piece, joined(poles) or "nothing"), []).append(name)
    page.table(
        ("Piece", "Sections", "Fed by"),
        ((piece, ", ".join(names), poles) for (piece, poles), names in rows.items()),
    )


def _print_routes(page: Page, routes: Sequence[RouteState]) -> None:
    """Routes with nothing to say share a row; the others have one each."""
    rows: dict[tuple[str, str, str], list[str]] = {}
    for r in routes:
        piece, _, name = r.route.rpartition("/")
        state = r.state if r.set else "not set"
        rows.setdefault((piece, state, _remarks(r)), []).append(name)
    page.table(
        ("Piece", "Routes", "State", "Where and why"),
        ((p, ", ".join(names), state, why) for (p, state, why), names in rows.items()),
    )


def _remarks(route: RouteState) -> str:
    if not route.set:
        return ""
    said = [
        f"{d.from_mm:.1f} to {d.to_mm:.1f} mm {kind_in_words(d.kind)}: "
        f"left {_short_name(d.left)}, right {_short_name(d.right)}"
        for d in route.dead
    ]
    said += [
        f"{s.from_mm:.1f} to {s.to_mm:.1f} mm plastic under "
        + ("both wheels" if s.side == "both" else f"the {s.side} wheel")
        for s in route.insulated
    ]
    return "\n".join(said)


def _short_name(section: str | None) -> str:
    return "plastic" if section is None else section.rpartition("/")[2]
