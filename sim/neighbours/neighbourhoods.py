"""Every way that a show may set up and feed a module."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Neighbourhood:
    """How a module stands: which sides are fed, how it is turned, from what.

    ``other_phase`` turns the last loop's supply; ``supplies`` are the loops' own,
    ``one`` for all loops, ``common`` returns, or ``each side`` its own.
    """

    name: str
    west: bool = True
    east: bool = False
    ring: bool = False
    turned: bool = False
    other_phase: bool = False
    supplies: str = "own"


#: Common practice of module shows, no source.
NEIGHBOURHOODS = (
    Neighbourhood("fed from the west only"),
    Neighbourhood("fed from the east only", west=False, east=True),
    Neighbourhood("fed from both sides", east=True),
    Neighbourhood("in a ring, fed at one place", ring=True),
    Neighbourhood("turned round", east=True, turned=True),
    Neighbourhood("in opposite phase", east=True, other_phase=True),
    Neighbourhood("all loops on one supply", east=True, supplies="one"),
    Neighbourhood("supplies with a common return", east=True, supplies="common"),
    Neighbourhood("another supply on each side", east=True, supplies="each side"),
)
