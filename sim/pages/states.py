"""The page of the chart of states, folded where there are very many.

Which of very many settings are told, so that the rest follow from them.

The page of the chart of states.

A layout has many sections and most of them are the same in every setting: those
are told once, and each setting tells only what differs.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from sim.judge.verdict import count
from sim.pages.assumptions import print_again
from sim.pages.page import Page
from sim.pages.words import KINDS, case_name, how_in_words, joined
from sim.power.chart import Chart, DeadStretch, JoinedSupplies, RouteState, Setting

#: More different settings than this are not told one by one.
TOLD_AT_MOST = 24


def thrown_from(first: Setting, other: Setting) -> tuple[tuple[str, str], ...]:
    """Levers that lie otherwise than in ``first``, as they lie in ``other``."""
    return tuple(b for a, b in zip(first.levers, other.levers, strict=True) if a != b)


def one_thing_thrown(settings: Sequence[Setting]) -> list[Setting]:
    """Settings that differ from the first by one lever or gang only.

    What is thrown in one of them is not part of what is thrown in any that comes
    to be told before it: two gangs thrown are told by each of them alone.
    """
    first = settings[0]
    thrown = {n: frozenset(x for x, _ in thrown_from(first, s)) for n, s in enumerate(settings)}
    kept: list[tuple[frozenset[str], int]] = []
    for n in sorted(range(1, len(settings)), key=lambda n: (len(thrown[n]), n)):
        if not any(levers < thrown[n] for levers, _ in kept):
            kept.append((thrown[n], n))
    return [settings[n] for n in sorted(n for _, n in kept)]


def against(first: Setting, other: Setting) -> Setting:
    """``other`` with only those sections and routes that differ from ``first``."""
    fed, routes = set(first.fed_by), set(first.routes)
    return replace(
        other,
        levers=thrown_from(first, other),
        fed_by=tuple(f for f in other.fed_by if f not in fed),
        routes=tuple(r for r in other.routes if r not in routes),
    )


NOTHING = "nothing"
#: So many of the shorted settings are named that are not told otherwise.
SHORTS_NAMED = 8

Fed = tuple[str, tuple[str, ...]]


def print_states(page: Page, chart: Chart, command: str, drives: str = "") -> None:
    """The counts first, then what every setting has in common, then each setting.

    ``drives`` says what the drives in use come to.
    """
    page.line(f"States of '{chart.scenario}' {case_name(chart.fix)}")
    if drives:
        page.line(drives)
    dead = sum(s.dead for s in chart.settings)
    short = sum(s.short for s in chart.settings)
    page.line(
        f"{_how_many(chart.total)} in {count(chart.groups, 'group')} of levers; of "
        f"{len(chart.settings)} charted {dead} {'has' if dead == 1 else 'have'} a dead route "
        f"and {short} {'is' if short == 1 else 'are'} shorted."
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
        _print_facts(page, common, dict(common.fed_by))
    same: dict[tuple[object, ...], list[Setting]] = {}
    for s in part:
        same.setdefault((s.fed_by, s.routes, s.shorts, s.joined), []).append(s)
    if len(same) > TOLD_AT_MOST:
        _print_folded(page, part, common)
        return
    for number, settings in enumerate(same.values(), 1):
        s = settings[0]
        rest = _Facts(
            tuple(f for f in s.fed_by if f not in fed),
            tuple(r for r in s.routes if r not in routes),
        )
        name = "Setting" if len(settings) == 1 else f"{len(settings)} settings alike"
        _print_setting(page, f"{number}. {name}", settings, rest)


def _print_folded(page: Page, part: Sequence[Setting], common: _Facts) -> None:
    """The first of very many settings, and what each lever or gang alone makes of it."""
    first, told = part[0], one_thing_thrown(part)
    page.line()
    page.line(
        f"Of these {len(part)} settings the first is told, and what is different from it "
        "with one lever or gang thrown. All of them are in the document (--json PATH). "
        "Levers that one hand throws together, as a gang, make fewer settings."
    )
    rest = _Facts(
        tuple(f for f in first.fed_by if f not in set(common.fed_by)),
        tuple(r for r in first.routes if r not in set(common.routes)),
    )
    _print_setting(page, "1. The first setting", [first], rest)
    for number, setting in enumerate(told, 2):
        other = against(first, setting)
        facts = _Facts(other.fed_by, other.routes)
        fed = dict(setting.fed_by)
        _print_setting(page, f"{number}. As the first, but for", [other], facts, setting, fed)
    known = {id(s) for s in told}
    left = [s for s in part[1:] if id(s) not in known]
    dead, short = sum(s.dead for s in left), sum(s.short for s in left)
    page.heading(
        f"{count(len(left), 'more setting')}: {dead} with a dead route, {short} shorted"
    )
    page.items([f"SHORT: {_levers(s)}" for s in left if s.short][:SHORTS_NAMED], indent=1)


def _print_setting(
    page: Page,
    name: str,
    settings: Sequence[Setting],
    facts: _Facts,
    whole: Setting | None = None,
    fed: Mapping[str, tuple[str, ...]] | None = None,
) -> None:
    """One setting, or several that come to the same; ``facts`` are what to tell of it.

    ``whole`` is the setting where ``settings`` has but a part of it.
    """
    first = settings[0]
    judged = whole or first
    verdict = joined([w for w, on in (("short", judged.short), ("dead", judged.dead)) if on])
    page.heading(f"{name}: {verdict or 'every route that is set is live'}")
    page.items((_levers(s) for s in settings), indent=1)
    for short in first.shorts:
        page.line(f"SHORT of {joined(short.poles)} through:", indent=1)
        page.items(short.elements, indent=3)
    for both in first.joined:
        _print_joined(page, both)
    _print_facts(page, facts, dict(judged.fed_by) if fed is None else fed)


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


def _print_facts(page: Page, facts: _Facts, fed: Mapping[str, tuple[str, ...]]) -> None:
    _print_sections(page, facts.fed_by)
    _print_routes(page, facts.routes, fed)


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


def _print_routes(
    page: Page, routes: Sequence[RouteState], fed: Mapping[str, tuple[str, ...]]
) -> None:
    """Routes with nothing to tell by name only, the others stretch by stretch.

    A single dead stretch is a line; more of them, or plastic, are a table.  ``fed``
    tells which rail it is that floats, where it is known.
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
        rows = list(_stretches(r, fed))
        if len(rows) == 1 and len(r.dead) == 1:
            page.line(f"{r.state.upper()}: {r.route}: {_in_a_line(r.dead[0], fed)}", indent=1)
            continue
        page.line(f"{r.state.upper()}: {r.route}", indent=1)
        page.table(("from mm", "to mm", "Left", "Right", "Why"), rows, "rr", indent=3)


def _in_a_line(dead: DeadStretch, fed: Mapping[str, tuple[str, ...]]) -> str:
    sides = [_short_name(dead.left), _short_name(dead.right)]
    bare = [_short_name(x) for x in _bare(dead, fed)]
    where = f"{dead.kind} from {dead.from_mm:.1f} to {dead.to_mm:.1f} mm"
    return f"{where}, {joined(bare)}" if bare else f"{where}, {joined(sides)}"


def _bare(dead: DeadStretch, fed: Mapping[str, tuple[str, ...]]) -> list[str]:
    """The rails of a floating stretch that are known to be fed by nothing."""
    if dead.kind != "floating":
        return []
    return [x for x in (dead.left, dead.right) if x is not None and fed.get(x) == ()]


def _why(dead: DeadStretch, fed: Mapping[str, tuple[str, ...]]) -> str:
    bare = _bare(dead, fed)
    if len(bare) != 1:
        return dead.kind if not bare else "floating, both"
    return f"floating, {'left' if bare[0] == dead.left else 'right'}"


def _stretches(
    route: RouteState, fed: Mapping[str, tuple[str, ...]]
) -> Iterator[tuple[str, ...]]:
    """Dead stretches and plastic in order of place.

    Plastic is told for each side alone: where the other side changes does not matter.
    """
    rows = [
        (d.from_mm, d.to_mm, _short_name(d.left), _short_name(d.right), _why(d, fed))
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
