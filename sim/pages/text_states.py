"""The page of the chart of states.

A layout has many sections and most of them are the same in every setting: those
are told once, and each setting tells only what differs.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from sim.judge.verdict import count
from sim.pages.page import Page, case_name, joined
from sim.pages.text_assumptions import print_again
from sim.pages.words import KINDS, how_in_words
from sim.power.chart_model import Chart, JoinedSupplies, RouteState, Setting

NOTHING = "nothing"

Fed = tuple[str, tuple[str, ...]]


def print_states(page: Page, chart: Chart, command: str) -> None:
    """The count first, then what every setting has in common, then each setting."""
    page.line(f"States of '{chart.scenario}' {case_name(chart.fix)}")
    dead = sum(s.dead for s in chart.settings)
    short = sum(s.short for s in chart.settings)
    page.line(
        f"{_how_many(chart.total)} in {count(chart.groups, 'group')} of levers; of "
        f"{len(chart.settings)} charted {dead} have a dead route and {short} are shorted."
    )
    if chart.skipped:
        page.line(chart.skipped)
    parts = _parts(chart.settings)
    for number, part in enumerate(parts, 1):
        if len(parts) > 1:
            page.heading(f"Group {number} of {len(parts)}: {_pieces(part)}")
        _print_part(page, part)
    _print_kinds(page, chart)
    print_again(page, command)


def _how_many(total: int) -> str:
    return "More than a million settings" if total > 10**6 else count(total, "setting")


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
        _print_setting(page, "The one setting", part, _Facts(part[0].fed_by, part[0].routes))
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
    for number, settings in enumerate(same.values(), 1):
        s = settings[0]
        rest = _Facts(
            tuple(f for f in s.fed_by if f not in fed),
            tuple(r for r in s.routes if r not in routes),
        )
        name = "Setting" if len(settings) == 1 else f"{len(settings)} settings alike"
        _print_setting(page, f"{number}. {name}", settings, rest)


def _print_setting(page: Page, name: str, settings: Sequence[Setting], facts: _Facts) -> None:
    """One setting, or several that come to the same; ``facts`` are what to tell of it."""
    first = settings[0]
    verdict = joined([w for w, on in (("short", first.short), ("dead", first.dead)) if on])
    page.heading(f"{name}: {verdict or 'every route that is set is live'}")
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
    _print_sections(page, facts.fed_by)
    _print_routes(page, facts.routes)


def _print_sections(page: Page, fed_by: Sequence[Fed]) -> None:
    """A row for each set of poles: the sections that they feed, piece by piece."""
    rows: dict[str, dict[str, list[str]]] = {}
    for section, poles in fed_by:
        piece, _, name = section.rpartition("/")
        pieces = rows.setdefault(joined(poles) or NOTHING, {})
        pieces.setdefault(piece, []).append(name)
    if rows:
        page.line()
    fed = sorted(rows, key=lambda poles: (poles == NOTHING, poles))
    page.table(("Fed by", "Sections"), ((poles, _by_piece(rows[poles])) for poles in fed))


def _by_piece(pieces: dict[str, list[str]]) -> str:
    """``board/scissors: A-outer, A-mid; west/A: north``."""
    return "; ".join(f"{piece}: {', '.join(names)}" for piece, names in pieces.items())


def _print_routes(page: Page, routes: Sequence[RouteState]) -> None:
    """Routes with nothing to tell by name only, the others stretch by stretch.

    A single dead stretch is a line; more of them, or plastic, are a table.
    """
    quiet: dict[str, dict[str, list[str]]] = {}
    rest = []
    for r in routes:
        state = r.state.capitalize() if r.set else "Not set"
        if r.set and (r.dead or r.insulated or r.state != "live"):
            rest.append(r)
            continue
        piece, _, name = r.route.rpartition("/")
        quiet.setdefault(state, {}).setdefault(piece, []).append(name)
    if routes:
        page.line()
    for state, pieces in quiet.items():
        page.line(f"{state}: {_by_piece(pieces)}", indent=1)
    for r in rest:
        rows = list(_stretches(r))
        if len(rows) == 1 and len(r.dead) == 1:
            from_mm, to_mm, left, right, why = rows[0]
            where = f"from {from_mm} to {to_mm} mm, {left} and {right}"
            page.line(f"{r.state.upper()}: {r.route}: {why} {where}", indent=1)
            continue
        page.line(f"{r.state.upper()}: {r.route}", indent=1)
        page.table(("from mm", "to mm", "Left", "Right", "Why"), rows, "rr", indent=3)


def _stretches(route: RouteState) -> Iterator[tuple[str, ...]]:
    """Dead stretches and plastic in order of place.

    Plastic is told for each side alone: where the other side changes does not matter.
    """
    rows = [
        (d.from_mm, d.to_mm, _short_name(d.left), _short_name(d.right), d.kind)
        for d in route.dead
    ]
    for side, columns in (("left", ("plastic", "")), ("right", ("", "plastic"))):
        merged: list[tuple[float, float]] = []
        for span in sorted(route.insulated, key=lambda s: s.from_mm):
            if span.side not in (side, "both"):
                continue
            if merged and merged[-1][1] == span.from_mm:
                merged[-1] = (merged[-1][0], span.to_mm)
            else:
                merged.append((span.from_mm, span.to_mm))
        rows += [(from_mm, to_mm, *columns, "insulated") for from_mm, to_mm in merged]
    for from_mm, to_mm, left, right, why in sorted(rows):
        yield f"{from_mm:.1f}", f"{to_mm:.1f}", left, right, why


def _print_kinds(page: Page, chart: Chart) -> None:
    """What the kinds on this page mean, once."""
    routes = [r for s in chart.settings for r in s.routes if r.set]
    kinds = {d.kind for r in routes for d in r.dead}
    told: list[str] = sorted(kinds)
    if any(r.insulated for r in routes):
        told.append("insulated")
    if told:
        page.heading("Words")
        page.items(f"{kind}: {KINDS[kind]}" for kind in told)


def _short_name(section: str | None) -> str:
    return "plastic" if section is None else section.rpartition("/")[2]
