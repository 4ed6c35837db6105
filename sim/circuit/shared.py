"""What is known of the circuit of a layout, shared by all its runs."""

from __future__ import annotations

from collections import OrderedDict

from sim.circuit.groups import Group
from sim.circuit.loads import Settled
from sim.circuit.network import build_network
from sim.circuit.ports import Ports
from sim.circuit.reduce import Reduction
from sim.layout.model import Layout

#: More states than this of contacts and supplies are not told apart: start afresh.
STATES_REMEMBERED = 50_000
#: Layouts whose work is kept; a campaign runs as built and all fixes in turn, again and again.
LAYOUTS_REMEMBERED = 8


class Memory:
    """What is known of one layout, shared by all its runs in this process.

    All of it is what follows from its key alone, so who worked it out first does
    not show.
    """

    def __init__(self, layout: Layout) -> None:
        self.layout = layout
        self.network = build_network(layout)
        self.reduction = Reduction(self.network)
        self.applied = -1  #: number of the state that the reduction is in
        self.numbers: dict[object, int] = {}
        self.last = -1
        self.ports: OrderedDict[object, Ports] = OrderedDict()
        self.settled: OrderedDict[object, Settled] = OrderedDict()
        self.groups: OrderedDict[object, list[Group]] = OrderedDict()
        self.bare: OrderedDict[object, list[float]] = OrderedDict()

    def number(self, key: object) -> int:
        """The number of a state; the same for the same state as long as it is known."""
        if key not in self.numbers and len(self.numbers) >= STATES_REMEMBERED:
            # Numbers go on from the first of a new batch, so that no run mixes two.
            for memo in (self.ports, self.settled, self.groups, self.bare):
                memo.clear()
            self.numbers = {}
        if key not in self.numbers:
            self.numbers[key] = self.last = self.last + 1
        return self.numbers[key]


_MEMORIES: list[Memory] = []


def memory_of(layout: Layout) -> Memory:
    """What is known of ``layout``; of those used last some are kept."""
    for memory in _MEMORIES:
        if memory.layout is layout:
            return memory
    memory = Memory(layout)
    _MEMORIES.append(memory)
    del _MEMORIES[:-LAYOUTS_REMEMBERED]
    return memory
