"""One vocabulary of faults: how likely each is, and who knows which."""

from __future__ import annotations

import pytest

from sim.bench.diagnosis.model import faults_of
from sim.faults.kinds import FOUND, KINDS
from sim.layout.traffic import standing
from tests.faults.layouts import case, loops
from tests.faults.test_faults_run import OVAL, faulty


def odds_of(text: str, *rules: str, odds: dict[str, float] | None = None) -> dict[str, float]:
    made = faulty(text, *rules)
    faults = faults_of(made.layout, odds, standing=standing(made.wear))
    return {f.id: f.odds for f in faults if f.turn < 2}


def test_what_the_file_does_not_say_has_the_odds_that_the_page_tells() -> None:
    """A contact that misses once in 500 throws (the starting value) is no good contact.

    0.06 for a bad one, and 0.002 for a good one that missed: 1 - 0.94 * 0.998.
    """
    found = faults_of(case(loops()).layout)
    told = {f.kind: f.odds for f in found}
    assert told.pop("contact open") == pytest.approx(1 - 0.94 * 0.998, abs=1e-12)
    assert told == {name: FOUND[name] for name in told}
    assert {"joiner tired", "feeder tired", "lever does not follow"} <= set(told)


def test_what_the_file_says_of_a_part_outweighs_and_the_user_outweighs_that() -> None:
    joiner, lever, cab = "m/home/joiner-east-north", "m/T/lever", "cab"
    rules = (
        f'on = "{joiner}"\nwhat = "open"\nchance = 0.3\nper = "run"',
        f'on = "{joiner}"\nwhat = "tired"\nchance = 0.2\nper = "run"',
        f'on = "{lever}"\nwhat = "stays"\nchance = 0.1\nper = "throw"',
        f'on = "{cab}"\nwhat = "off"\nchance = 0.4\nper = "run"',
        'on = "m/T/through"\nwhat = "open"\nchance = 0.5\nper = "run"',
        'on = "m/T/through"\nwhat = "never opens"\nchance = 0.25\nper = "run"',
        'on = "drop+"\nwhat = "off"\nat_s = 3',  # on purpose: says nothing of how likely
    )
    said = {
        f"{joiner}: joiner open": 0.3,
        f"{joiner}: joiner tired": 0.2,
        f"{lever}: lever does not follow": 0.1,
        f"{cab}: supply off": 0.4,
        "m/T/through: contact open": 0.5,
        "m/T/through: contact never opens": 0.25,
        "drop+: feeder off": KINDS["feeder off"].found,
    }
    found = odds_of(OVAL, *rules)
    assert {key: found[key] for key in said} == pytest.approx(said, abs=1e-12)
    own = {"joiner open": 0.01, cab: 0.02}
    found = odds_of(OVAL, *rules, odds=own)
    assert found[f"{joiner}: joiner open"] == 0.01
    assert found[f"{cab}: supply off"] == 0.02
    assert found[f"{joiner}: joiner tired"] == 0.2
