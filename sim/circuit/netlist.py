"""The circuit of one state as a SPICE netlist, for other programs to solve.

Node numbers are those of the network, and comments name them.  Isolated supplies
have no common reference, but a netlist needs one: each island gets a resistance
from its first node to node 0.  Nothing flows there, as an island touches node 0
nowhere else.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from math import inf

from sim.circuit.network import LEAST_OHM, RAIL, Network
from sim.power.poles import sources_of
from sim.power.wiring import Forest

#: From an island to the reference; no current flows in it.
REFERENCE_OHM = 1.0


def netlist(
    network: Network,
    closed: Collection[int],
    title: str,
    loads: Sequence[tuple[str, int, int, float]] = (),
    on: Sequence[bool] | None = None,
) -> str:
    """The netlist as text.

    ``closed`` are the contacts (element indices) that are closed; ``loads`` are
    (name, node, node, ohm), and ``on`` tells which supplies are.
    """
    lines = [f"* {_plain(title)}", "* Nodes:"]
    lines += [f"*   {n + 1} {_plain(name)}" for n, name in enumerate(network.names)]
    lines.append("* Branches:")
    islands = Forest(len(network.names))
    for number, a, b, ohm, name in _branches(network, closed):
        islands.join(a, b)
        lines.append(f"R{number + 1} {a + 1} {b + 1} {_value(ohm)} ; {_plain(name)}")
    for number, (name, a, b, ohm) in enumerate(loads, start=1):
        islands.join(a, b)
        lines.append(f"RL{number} {a + 1} {b + 1} {_value(ohm)} ; {_plain(name)}")
    lines.append("* Supplies, each with its internal resistance:")
    for s, (source, supply) in enumerate(
        zip(sources_of(network.layout.supplies), network.layout.supplies, strict=True)
    ):
        if on is not None and not on[s]:
            continue
        plus, minus = network.poles[2 * s], network.poles[2 * s + 1]
        islands.join(plus, minus)
        lines.append(f"V{s + 1} s{s + 1} {minus + 1} DC {_value(source.volts)}")
        ohm = max(supply.internal_ohm, LEAST_OHM)
        lines.append(f"RS{s + 1} s{s + 1} {plus + 1} {_value(ohm)} ; {_plain(supply.name)}")
    lines.append("* References, in which nothing flows:")
    roots = dict.fromkeys(islands.roots())
    lines += [f"RG{k} {n + 1} 0 {_value(REFERENCE_OHM)}" for k, n in enumerate(roots, start=1)]
    return "\n".join([*lines, ".op", ".end", ""])


def _branches(
    network: Network, closed: Collection[int]
) -> Iterator[tuple[int, int, int, float, str]]:
    elements = network.layout.elements
    for number, b in enumerate(network.branches):
        if b.element == RAIL:
            name = f"rail of {network.layout.nodes[network.section[b.a]]}"
        else:
            name = elements[b.element].id
            if elements[b.element].kind == "contact" and b.element not in closed:
                continue
        if b.ohm < inf and b.a != b.b:
            yield number, b.a, b.b, max(b.ohm, LEAST_OHM), name


def _value(number: float) -> str:
    """A number as every SPICE reads it, to the last digit."""
    return repr(float(number))


def _plain(text: str) -> str:
    """Text that cannot end a comment."""
    return "".join(c if c.isprintable() else "?" for c in text)


def node_numbers(network: Network) -> Mapping[str, int]:
    """Number of each node in the netlist, by its name."""
    return {name: n + 1 for n, name in enumerate(network.names)}
