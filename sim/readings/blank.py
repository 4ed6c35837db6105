"""A file of readings to be filled in: what can be written, and the names of the layout."""

from __future__ import annotations

import json
from collections.abc import Iterator

from sim.layout.model import Layout, Route

#: What can be said, for who writes the file by hand.
_HEAD = """\
# Readings for 'gapwright locate'. Write down what was seen; lines that begin with # are
# not read. Take the # away from a sample, change it, copy it as often as needed.
format = 1
"""
_MORE = """\

# What an engine did on a route: runs, stalls or trips. The stretch may be left out; a
# lever that is not named stands as the route needs it, or else at rest.
"""
_METER = """\

# What a meter said, all supplies off and unplugged, trains lifted: joined, open, or ohms
# without quotes. where: "layout", "board" (its module by itself), "bench" (the piece out).
"""
_LAMP = """\

# What a lamp or a loaded meter said across two rails, supply on: lit, dim, dark or trips.
"""


def blank_readings(layout: Layout, fix: str | None = None) -> str:
    """The file as text: nothing in it is read but its format and ``fix``."""
    route = next((r for r in layout.routes if r.points), None) or next(
        iter(layout.routes), None
    )
    lines = [_HEAD]
    if fix is not None:
        lines.append(f"fix = {_quoted(fix)}\n")
    if route is not None:
        lines += [_MORE, *_train(layout, route)]
        one, other = _rails(layout, route)
        lines += [_METER, *_reading(layout, route, one, other, "off", "open")]
        lines += [_LAMP, *_reading(layout, route, one, other, "on", "dark")]
    lines += _names(layout)
    return "".join(lines)


def _train(layout: Layout, route: Route) -> Iterator[str]:
    yield "# [[train]]\n"
    yield f"# route = {_quoted(route.id)}\n"
    yield f"# levers = {_levers(layout, route)}\n"
    yield f"# from_mm = 0\n# to_mm = {route.length_um / 1000:g}\n"
    yield '# saw = "stalls"\n'


def _reading(
    layout: Layout, route: Route, one: str, other: str, supply: str, read: str
) -> Iterator[str]:
    yield "# [[reading]]\n"
    yield f"# from = {_quoted(one)}\n# to = {_quoted(other)}\n"
    yield f"# levers = {_levers(layout, route)}\n"
    yield f'# where = "layout"\n# supply = "{supply}"\n# read = "{read}"\n'


def _rails(layout: Layout, route: Route) -> tuple[str, str]:
    """Both rails where a route begins."""
    end = layout.ends[route.start].id
    return f"{end}/north", f"{end}/south"


def _levers(layout: Layout, route: Route) -> str:
    said = [
        f"{_quoted(layout.levers[p.lever].id)} = "
        f"{_quoted(layout.levers[p.lever].positions[p.position])}"
        for p in route.points
    ]
    return "{ " + ", ".join(said) + " }" if said else "{}"


def _names(layout: Layout) -> Iterator[str]:
    yield "\n# Levers and gangs, with their positions:\n"
    for control in layout.controls:
        yield f"#   {control.id}: {', '.join(control.positions)}\n"
    yield "# Routes, with their length:\n"
    for route in layout.routes:
        yield f"#   {route.id}: {route.length_um / 1000:g} mm\n"
    yield "# Places: rails at ends, and rail sections.\n"
    for end in layout.ends:
        yield f"#   {end.id}/north, {end.id}/south\n"
    for name in layout.nodes:
        if "/" in name:
            yield f"#   {name}\n"


def _quoted(text: str) -> str:
    """A TOML basic string: what JSON escapes, TOML reads, and names hold no controls."""
    return json.dumps(text, ensure_ascii=False)
