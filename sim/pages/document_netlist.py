"""The document of a netlist: the text itself, and what its numbers stand for."""

from __future__ import annotations

from collections.abc import Sequence

from sim.circuit.netlist import node_numbers
from sim.circuit.network import Network
from sim.layout.traffic import Case
from sim.pages.documents import FORMAT_VERSION, Asked, Document, assumptions_list


def netlist_document(
    asked: Asked, case: Case, network: Network, positions: Sequence[int], text: str
) -> Document:
    """One setting: position of every lever, number of every place, the netlist."""
    levers = zip(case.layout.levers, positions, strict=True)
    return {
        "format_version": FORMAT_VERSION,
        "scenario": case.scenario,
        "fix": case.fix,
        "command": asked.command,
        "levers": {lever.id: lever.positions[p] for lever, p in levers},
        "nodes": dict(node_numbers(network)),
        "netlist": text,
        "assumptions": assumptions_list(case.assumptions),
    }
