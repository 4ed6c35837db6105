"""Seeds of replications."""

from __future__ import annotations

from hashlib import blake2b


def replication_seed(seed: int, replication: int) -> int:
    """Seed of replication ``replication`` (from 0): a pure function of both numbers.

    32 bits, short enough to be typed again by a person who wants to see that
    one replication.
    """
    text = f"replication {replication} of seed {seed}".encode()
    return int.from_bytes(blake2b(text, digest_size=4).digest(), "big")
