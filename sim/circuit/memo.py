"""Remembering what was worked out, up to a number of things."""

from __future__ import annotations

from collections import OrderedDict
from typing import TypeVar

T = TypeVar("T")


def remember(memo: OrderedDict[object, T], key: object, value: T, most: int) -> T:
    """Keep ``value``; past ``most`` of them the one kept first, or not moved since, goes."""
    memo[key] = value
    if len(memo) > most:
        memo.popitem(last=False)
    return value
