"""What a campaign has to run: the case as assumed, and with other assumptions."""

from __future__ import annotations

import pickle
import zlib
from collections.abc import Sequence
from dataclasses import dataclass
from hashlib import blake2b

from sim.layout.assemble import assemble
from sim.layout.traffic import Case
from sim.motion.run import is_random
from sim.scenario.bands import Band, assuming, bands_of
from sim.scenario.document import Scenario


@dataclass(frozen=True, slots=True, order=True)
class Task:
    """Replication ``replication`` of all cases of variant ``variant``."""

    variant: int
    replication: int


@dataclass(frozen=True, slots=True)
class Variant:
    """As built and every fix, under one set of assumptions.

    ``band`` and ``value`` tell which assumption differs from the scenario's, and
    its value; None for the scenario's own.
    """

    cases: tuple[Case, ...]
    band: Band | None = None
    value: float | None = None

    @property
    def random(self) -> tuple[bool, ...]:
        """By case: whether anything in it is left to chance."""
        return tuple(is_random(case) for case in self.cases)


@dataclass(frozen=True, slots=True)
class Plan:
    """All variants, the scenario's own first, and the seed of all chance."""

    variants: tuple[Variant, ...]
    seed: int
    digest: str  #: the same where results are the same


def plan_campaign(scenario: Scenario, seed: int, each_band: bool = True) -> Plan:
    """The variants of ``scenario``: its own, and both ends of each band that matters.

    An assumption that no part of any case uses makes no variants.  Raises
    ``ScenarioError`` where a fix cannot be built.
    """
    own = Variant(_cases(scenario))
    variants = [own]
    for band in bands_of(scenario) if each_band else ():
        for value in (band.low, band.high):
            cases = _cases(assuming(scenario, band.field, value))
            parts = [(c.layout, c.wear) for c in cases]
            if value != band.value and parts != [(c.layout, c.wear) for c in own.cases]:
                variants.append(Variant(cases, band, value))
    return Plan(tuple(variants), seed, _digest(scenario, seed))


def _cases(scenario: Scenario) -> tuple[Case, ...]:
    return (assemble(scenario), *(assemble(scenario, name) for name in scenario.fix_names))


def _digest(scenario: Scenario, seed: int) -> str:
    from importlib.metadata import PackageNotFoundError, version

    try:
        made_by = version("gapwright")
    except PackageNotFoundError:
        made_by = "?"
    text = f"{made_by}/{seed}/{scenario.model_dump_json()}"
    return blake2b(text.encode("utf-8", "replace"), digest_size=16).hexdigest()


def packed(cases: Sequence[Case]) -> bytes:
    """Cases in a form that travels to a worker: small, and the same every time."""
    return zlib.compress(pickle.dumps(tuple(cases), protocol=4), 1)


def unpacked(parcel: bytes) -> tuple[Case, ...]:
    """The cases of :func:`packed`. Only for what this program has packed itself."""
    cases: tuple[Case, ...] = pickle.loads(zlib.decompress(parcel))
    return cases
