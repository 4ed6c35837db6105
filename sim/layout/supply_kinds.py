"""The kinds of supply: all that a circuit, a run or a check has to know to tell them apart."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

#: What a scenario calls them.
SupplyKindName = Literal["dc", "digital"]


@dataclass(frozen=True, slots=True)
class SupplyKind:
    """How a kind of supply behaves.

    ``has_throttle``: the throttle belongs to the supply.  It gives nothing until a hand
    opens it, then every train on it goes, the way that the sign of its volts says; the hand
    turns that, so two loops short through a train only while they stand against each other.
    Without, it always gives all, each train has its own orders, and two loops that are
    opposed short through any train.  ``shut_is_open``: at no volts nothing flows through
    it, as if it were cut off.  ``decodes``: a decoder in each engine gives the motor what
    it needs, at rest a current rather than a resistance; it works down to least volts of
    its own, and can fill an energy store.
    """

    name: SupplyKindName
    has_throttle: bool
    shut_is_open: bool
    decodes: bool


_ALL = (
    SupplyKind("dc", has_throttle=True, shut_is_open=True, decodes=False),
    SupplyKind("digital", has_throttle=False, shut_is_open=False, decodes=True),
)
SUPPLY_KINDS: Mapping[SupplyKindName, SupplyKind] = {kind.name: kind for kind in _ALL}
