"""How much a reading is expected to tell: Shannon's information, in bits.

C. E. Shannon, A mathematical theory of communication (1948): of an outcome with
probability p one learns -log2 p bits.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Sequence
from math import log2

#: Less than this is nothing: it comes from rounding.
LEAST_BITS = 1e-9


def entropy(weights: Iterable[float]) -> float:
    """Bits that are still open between possibilities of those weights, in any scale."""
    some = [w for w in weights if w > 0.0]
    total = sum(some)
    if len(some) < 2:
        return 0.0
    bits = -sum(w / total * log2(w / total) for w in some)
    return bits if bits > LEAST_BITS else 0.0


def expected_bits(weights: Sequence[float], outcomes: Sequence[Hashable | None]) -> float:
    """Bits that a reading is expected to tell about which candidate is the true one.

    ``weights`` and ``outcomes`` are by candidate: how likely it is, and what would
    be read if it were true; None where the candidate does not say.  A candidate
    that does not say is as likely to give any of the outcomes that others give, or
    one that nobody gives, so it tells nothing about itself.
    """
    classes: dict[Hashable, float] = {}
    unsaid = 0.0
    for weight, outcome in zip(weights, outcomes, strict=True):
        if outcome is None:
            unsaid += weight
        else:
            classes[outcome] = classes.get(outcome, 0.0) + weight
    total = sum(classes.values()) + unsaid
    if total <= 0.0 or not classes:
        return 0.0
    ways = len(classes) + (1 if unsaid else 0)
    share = unsaid / ways
    mixed = [w + share for w in classes.values()] + ([share] if unsaid else [])
    bits = entropy(mixed)
    if unsaid:
        bits -= unsaid / total * log2(ways)
    return bits if bits > LEAST_BITS else 0.0
