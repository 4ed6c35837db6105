"""Random draws as pure functions of the seed, a name and an ordinal.

Because nothing is taken from a shared stream, two cases that differ in one
jumper meet the same fault at the same throw, whatever happened in between.
"""

from __future__ import annotations

from hashlib import blake2b

_SCALE = 2.0**-53


def draw(seed: int, name: str, ordinal: int) -> float:
    """A number in [0, 1), uniform, always the same for the same arguments."""
    digest = blake2b(f"{seed}/{ordinal}/{name}".encode(), digest_size=8).digest()
    return (int.from_bytes(digest, "big") >> 11) * _SCALE


def happens(seed: int, name: str, ordinal: int, probability: float) -> bool:
    """Whether an event of ``probability`` happens at this throw, pass or hour."""
    if probability <= 0.0:
        return False
    return probability >= 1.0 or draw(seed, name, ordinal) < probability
