"""Files of readings: of pieces on the bench, for ``learn``, and on layouts, for ``locate``.

The groups of the forms are worked out by hand from common practice of turnout wiring (no
source). The places are numbered 1 to 6 at the ends (points, through, diverging; north then
south of each), 7 and 8 the blade and closure rail of the through route, 9 the frog, 10 and
11 the blade and closure rail of the diverging route.
"""

from __future__ import annotations

import random

from tests.guard.toml import Toml

PLACES = (
    "points/north",
    "points/south",
    "through/north",
    "through/south",
    "diverging/north",
    "diverging/south",
    "BS",
    "CS",
    "F",
    "BN",
    "CN",
)
Groups = list[list[int]]
_LIVE: Groups = [[1, 3, 5, 10, 11], [2, 4, 6, 7, 8]]
#: By name: plastic places, and what is joined with the lever through and diverging.
TURNOUTS: dict[str, tuple[list[int], Groups, Groups]] = {
    "live": (
        [],
        [[1, 3], [2, 4, 5, 6, 7, 8, 9, 10, 11]],
        [[2, 6], [1, 3, 4, 5, 7, 8, 9, 10, 11]],
    ),
    "powered": (
        [],
        [[1, 3, 5, 10, 11], [2, 4, 6, 7, 8, 9]],
        [[1, 3, 5, 9, 10, 11], [2, 4, 6, 7, 8]],
    ),
    "all-live": (
        [9],
        [[1, 3, 5, 10, 11], [2, 4, 6, 7, 8]],
        [[1, 3, 5, 10, 11], [2, 4, 6, 7, 8]],
    ),
    "routing": (
        [9],
        [[1, 3], [2, 4, 6, 7, 8], [5, 10, 11]],
        [[1, 3, 5, 10, 11], [2, 6], [4, 7, 8]],
    ),
    "unheard-of": ([], [[1, 3, 9], [2, 6], [4, 7, 8], [5, 10, 11]], [[1, 3], [2, 6, 9]]),
}


def form_texts() -> dict[str, str]:
    """Filled-in forms for ``learn`` by name: whole ones, and some with a few readings."""
    whole = {f"form-{name}": _form(*wiring) for name, wiring in TURNOUTS.items()}
    few = {f"form-few-{seed}": _few(seed) for seed in range(3)}
    return {**whole, **few, "form-bad": whole["form-live"].replace("points/north", "nowhere")}


def _form(plastic: list[int], through: Groups, diverging: Groups) -> str:
    toml = _head(plastic)
    for position, groups in (("through", through), ("diverging", diverging)):
        toml.table("setting", {"levers": {"lever": position}, "groups": groups})
    return str(toml)


def _few(seed: int) -> str:
    """Some readings of a live frog, now and then a wrong one or one in ohms."""
    rng = random.Random(f"guard form {seed}")
    _, *both = TURNOUTS["live"]
    toml = _head([])
    for position, groups in zip(("through", "diverging"), both, strict=True):
        home = {place: k for k, group in enumerate(groups) for place in group}
        read: dict[str, object] = {}
        for _ in range(12):
            a, b = sorted(rng.sample(range(1, 12), 2))
            said = "joined" if home[a] == home[b] else "open"
            read[f"{a}-{b}"] = 0.3 if said == "joined" and rng.random() < 0.3 else said
        if seed == 2:
            read["1-2"] = "joined"
        toml.table("setting", {"levers": {"lever": position}, "read": read})
    return str(toml)


def _head(plastic: list[int]) -> Toml:
    toml = Toml()
    toml.keys(format=1, kind="turnout", plastic=plastic)
    toml.table("[params]", {"gauge_mm": 9.0})
    for number, at in enumerate(PLACES, start=1):
        toml.table("place", {"number": number, "at": at})
    return toml


def readings_text(seed: int, modules: list[tuple[str, str]]) -> str:
    """Readings for ``locate`` between the west ends of some pieces, (module, piece) each."""
    rng = random.Random(f"guard readings {seed}")
    toml = Toml()
    toml.keys(format=1)
    for _ in range(rng.choice([1, 2, 3])):
        one, other = rng.choice(modules), rng.choice(modules)
        lamp = rng.random() < 0.4
        toml.table(
            "reading",
            {
                "from": f"{'/'.join(one)}/north",
                "to": f"{'/'.join(other)}/{'south' if lamp or one == other else 'north'}",
                "supply": "on" if lamp else "off",
                "read": rng.choice(["dark", "lit"]) if lamp else rng.choice(["open", "joined"]),
            },
        )
    route = rng.choice(modules)
    toml.table(
        "train",
        {
            "route": f"{'/'.join(route)}/west-east",
            "saw": rng.choice(["stalls", "runs"]),
        },
    )
    return str(toml)
