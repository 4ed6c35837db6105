"""Whether the currents of a solution add up to nothing at every node."""

from __future__ import annotations

import numpy as np

from sim.circuit.elements import Vector
from sim.circuit.islands import ACCURACY, Islands


def left_over(net: Islands, branch_a: Vector, source_a: Vector) -> tuple[Vector, Vector]:
    """Current left over at each node, and the sum of the amounts that meet there."""
    over, amount = np.zeros(net.nodes), np.zeros(net.nodes)
    flows = [(r.a, r.b, branch_a[k]) for k, r in enumerate(net.resistances)]
    flows += [(s.minus, s.plus, source_a[k]) for k, s in enumerate(net.sources)]
    flows += [(d.a, d.b, d.amps) for d in net.drains]
    for start, end, amps in flows:
        over[start] -= amps
        over[end] += amps
        amount[start] += abs(amps)
        amount[end] += abs(amps)
    return over, amount


def is_balanced(net: Islands, volts: Vector, branch_a: Vector, source_a: Vector) -> bool:
    """Whether no metal has more left over than rounding explains."""
    if not (np.isfinite(branch_a).all() and np.isfinite(source_a).all()):
        return False
    over, amount = left_over(net, branch_a, source_a)
    by_metal, total = np.zeros(net.nodes), np.zeros(net.nodes)
    np.add.at(by_metal, net.metal, over)
    np.add.at(total, net.metal, amount)
    # Differences of nearly equal volts leave this much in a branch's current at best.
    noise = _noise(net, volts, total)
    return bool((np.abs(by_metal) <= ACCURACY * total + noise).all())


def _noise(net: Islands, volts: Vector, amount: Vector) -> float:
    """Amps of rounding accepted at a node.

    Some ulps of the volts there are, through all conductances, as every node's
    rounding has to go somewhere; but no more than a hundredth of a millionth of
    what supplies and loads could move.
    """
    greatest = float(np.abs(volts).max(initial=0.0))
    greatest += sum(abs(net.sources[k].volts) for k in net.on)
    behind = [net.sources[k] for k in net.on if net.sources[k].ohm > net.least]
    moved = sum(abs(s.volts) / s.ohm for s in behind)
    moved += sum(abs(d.amps) for d in net.drains)
    siemens = sum(1.0 / net.resistances[k].ohm for k in net.live)
    siemens += sum(1.0 / s.ohm for s in behind)
    most = moved + (float(amount.max(initial=0.0)) if net.ideal else 0.0)
    return min(1e-14 * greatest * siemens, 1e-8 * most) + 1e-13 * moved
