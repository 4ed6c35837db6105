"""``gapwright netlist``: the circuit of one setting as a SPICE netlist."""

from __future__ import annotations

import argparse
from collections.abc import Iterable
from typing import TYPE_CHECKING

from sim.command import frame, options
from sim.command.frame import DONE, UsageError

if TYPE_CHECKING:
    from sim.circuit.network import Network
    from sim.layout.traffic import Case

RESULT_DEPENDS_ON = ("fix", "setting", "open", "load")


def configure(parser: argparse.ArgumentParser) -> None:
    """Add the arguments."""
    options.add_scenario(parser)
    options.add_fix(parser)
    parser.add_argument(
        "--setting",
        action="append",
        default=[],
        metavar="LEVER=POSITION",
        help="put a lever or gang, 'module/piece/name', to a position; give it again for "
        "more; the others are at rest",
    )
    parser.add_argument(
        "--open",
        action="append",
        default=[],
        metavar="ID",
        help="take an element, such as a contact or a joiner, as open; give it again for more",
    )
    parser.add_argument(
        "--load",
        action="append",
        default=[],
        metavar="SECTION,SECTION=OHM",
        help="put a resistance between the middles of two sections",
    )
    parser.add_argument(
        "--output", metavar="PATH", default="-", help="where to write it (default: - )"
    )
    options.add_json(parser, "the netlist, the setting and the number of every place")


def run(given: argparse.Namespace) -> int:
    """Write the netlist."""
    case = frame.build(given)
    from dataclasses import replace

    from sim.circuit.netlist import netlist
    from sim.circuit.network import build_network
    from sim.power.graph import closed_elements

    positions = _positions(case, given.setting)
    failed = {_element(case, name) for name in given.open}
    kept = tuple(
        replace(e, kind="gap") if n in failed else e for n, e in enumerate(case.layout.elements)
    )
    layout = replace(case.layout, elements=kept)
    network = build_network(layout)
    closed = closed_elements(layout, positions)
    loads = [_load(case, network, text) for text in given.load]
    title = f"{case.scenario}, {case.fix or 'as built'}"
    text = netlist(network, closed, title, loads)
    if given.json is not None:
        from sim.pages.volts import netlist_document

        asked = frame.asked(given, case.scenario, RESULT_DEPENDS_ON)
        frame.write_json(given.json, netlist_document(asked, case, network, positions, text))
    if given.output != "-" or given.json != "-":
        frame.write_text("--output", given.output, text)
    return DONE


def _positions(case: Case, texts: list[str]) -> list[int]:
    """Position index of every lever."""
    from sim.power.settings import rest_positions

    layout = case.layout
    positions = rest_positions(layout)
    controls = {c.id: c.levers for c in layout.controls}
    controls |= {lever.id: (n,) for n, lever in enumerate(layout.levers)}
    for text in texts:
        name, _, position = text.rpartition("=")
        if name not in controls:
            raise UsageError(
                f"--setting: expected a lever or gang, {_some(controls)}, got {text!r}"
            )
        for lever in controls[name]:
            known = layout.levers[lever].positions
            if position not in known:
                expected = f"a position of {name!r}, {_some(known)}"
                raise UsageError(f"--setting: expected {expected}, got {text!r}")
            positions[lever] = known.index(position)
    return positions


def _element(case: Case, name: str) -> int:
    for number, element in enumerate(case.layout.elements):
        if element.id == name:
            return number
    known = [e.id for e in case.layout.elements if e.kind != "gap"]
    raise UsageError(f"--open: expected an element, {_some(known)}, got {name!r}")


def _load(case: Case, network: Network, text: str) -> tuple[str, int, int, float]:
    names, _, value = text.rpartition("=")
    nodes = {name: n for n, name in enumerate(case.layout.nodes)}
    known = {name for name, n in nodes.items() if network.cells[n]}
    one, other = _pair(names, known)
    try:
        ohm = float(value)
    except ValueError:
        ohm = -1.0
    if one not in known or other not in known or not 0.0 < ohm < 1e12:
        raise UsageError(
            f"--load: expected two sections and a resistance above 0, such as "
            f"{_some(sorted(known))} in 'SECTION,SECTION=7.5', got {text!r}"
        )
    a, b = (network.station(nodes[n], network.lines.middle(nodes[n])) for n in (one, other))
    return text, a, b, ohm


def _pair(names: str, known: set[str]) -> tuple[str, str]:
    """Two names at a comma, of which there may be some within the names."""
    at = [k for k, c in enumerate(names) if c == ","]
    ways = [(names[:k], names[k + 1 :]) for k in at]
    return next((way for way in ways if set(way) <= known), ("", ""))


def _some(names: Iterable[str]) -> str:
    """A few of the names, for people."""
    known = [repr(name) for name in names]
    return (
        ", ".join(known[:4]) + (", ..." if len(known) > 4 else "") or "of which there are none"
    )
