"""What a fix does to elements that are already there, and to a scenario's own wire.

Put other wire in the place of a scenario's own: what a fix rewires.

What a fix does to elements that are already there: solder, cut, clean, switch over.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import TypeVar

from sim.layout.assembly_log import YOURS, Ledger, Report, is_glob, matching
from sim.layout.elements import Ohms
from sim.layout.ground import Ground
from sim.layout.levers import Switches
from sim.layout.model import District, Element
from sim.scenario.defaults import OURS
from sim.scenario.document import Scenario
from sim.scenario.fixes import ChangeoverTable, FixTable, RewireTable
from sim.scenario.problems import nearest, shown
from sim.scenario.supplies import BusTable, FeederTable, JumperTable

T = TypeVar("T", BusTable, FeederTable, JumperTable)


def rewired(scenario: Scenario, fix: FixTable | None, where: str, report: Report) -> Scenario:
    """``scenario`` with the wires of its buses, feeders and jumpers that ``fix`` states."""
    if fix is None or not fix.rewire:
        return scenario
    feeder, bus = list(scenario.feeder), list(scenario.bus)
    jumper = list(scenario.jumper)
    jumper_names = [table.name or f"jumper {n + 1}" for n, table in enumerate(jumper)]
    names = [*(b.name for b in bus), *(f.name for f in feeder), *jumper_names]
    for number, table in enumerate(fix.rewire):
        at = f"{where}[{number}].of"
        found = set(matching(table.of, names))
        if not found and is_glob(table.of):
            if not report.broken:
                expected = "a pattern that fits a bus, feeder or jumper"
                report.error(at, expected, f"{shown(table.of)}, fits nothing")
        elif not found:
            report.unknown(at, "the name of a bus, feeder or jumper", table.of, names)
        bus = _with(bus, [b.name for b in bus], found, table)
        feeder = _with(feeder, [f.name for f in feeder], found, table)
        jumper = _with(jumper, jumper_names, found, table)
    new = {"bus": tuple(bus), "feeder": tuple(feeder), "jumper": tuple(jumper)}
    return scenario.model_copy(update=new)


def _with(
    tables: Sequence[T], names: Sequence[str], chosen: set[str], new: RewireTable
) -> list[T]:
    update: dict[str, object] = {"wire": new.wire}
    if new.length is not None:
        update["length"] = new.length
    return [
        table.model_copy(update=update) if name in chosen else table
        for table, name in zip(tables, names, strict=True)
    ]


_CAN_BE_CUT = ("bond", "jumper", "joiner", "feeder", "common")


def remedied(
    elements: list[Element],
    fix: FixTable,
    where: str,
    ohms: Ohms,
    ledger: Ledger,
    report: Report,
) -> list[Element]:
    """``elements`` with the fix's soldering, cleaning and cutting done."""
    solder = _chosen(elements, fix.solder, f"{where}.solder", "joiner", report)
    clean = _chosen(elements, fix.clean, f"{where}.clean", "contact", report)
    cut = _cut(elements, fix.cut, f"{where}.cut", report)
    if clean:
        text = f"{fix.clean_opens:g} per throw"
        ledger.note(f"cleaned contacts of {fix.name!r} stay open", text, YOURS)
    for table in fix.changeover:
        whose = YOURS if "opens" in table.model_fields_set else OURS
        what = f"a contact of the changeover on {table.lever} stays open"
        ledger.note(what, f"{table.opens:g} per throw", whose)
    done: list[Element] = []
    for element in elements:
        if element.id in cut:
            if element.kind == "joiner":  # an insulated joiner takes its place
                done.append(replace(element, kind="gap", resistance_ohm=None))
        elif element.id in solder:
            done.append(replace(element, kind="joiner", resistance_ohm=ohms.solder))
        elif element.id in clean:
            done.append(
                replace(element, opens=fix.clean_opens, bad=0.0, resistance_ohm=ohms.contact)
            )
        else:
            done.append(element)
    return done


def _chosen(
    elements: list[Element], patterns: Iterable[str], where: str, kind: str, report: Report
) -> set[str]:
    """Ids of that kind that the patterns fit; a joiner gone open counts as a joiner."""
    ids = [e.id for e in elements if e.kind == kind or (kind == "joiner" and _is_open(e))]
    chosen: set[str] = set()
    for number, pattern in enumerate(patterns):
        found = matching(pattern, ids)
        if not found and is_glob(pattern) and not report.broken:
            expected = f"a pattern that fits a {kind}"
            report.error(f"{where}[{number}]", expected, f"{shown(pattern)}, fits nothing")
        elif not found:
            report.unknown(f"{where}[{number}]", f"the id of a {kind}", pattern, ids)
        chosen.update(found)
    return chosen


def _is_open(element: Element) -> bool:
    return element.kind == "gap" and "/joiner-" in element.id


def _cut(elements: list[Element], names: Iterable[str], where: str, report: Report) -> set[str]:
    kinds = {element.id: element.kind for element in elements}
    cut: set[str] = set()
    for number, name in enumerate(names):
        pair = {f"{name}+", f"{name}-"} & {n for n, kind in kinds.items() if kind == "feeder"}
        if name in kinds and kinds[name] in _CAN_BE_CUT:
            cut.add(name)
        elif pair:
            cut |= pair
        elif name in kinds:
            expected = "a bond, jumper, joiner or feeder"
            report.error(f"{where}[{number}]", expected, f"{shown(name)}, a {kinds[name]}")
        else:
            known = [n for n, kind in kinds.items() if kind in _CAN_BE_CUT]
            what = "the id of a bond, jumper, joiner or feeder"
            report.unknown(f"{where}[{number}]", what, name, known)
    return cut


def changeover_elements(
    tables: Iterable[ChangeoverTable],
    where: str,
    ground: Ground,
    switches: Switches,
    ohms: Ohms,
    report: Report,
) -> Iterable[Element]:
    """Contacts that a changeover on a lever adds, one for each position it serves."""
    for number, table in enumerate(tables):
        at = f"{where}[{number}]"
        section = ground.node_of(table.section, report, f"{at}.section")
        lever = switches.lever_index.get(table.lever)
        if lever is None:
            report.unknown(f"{at}.lever", "a lever", table.lever, switches.lever_index)
        for position, target in table.to.items():
            node = ground.node_of(target, report, f"{at}.to.{position}")
            if lever is None or section is None or node is None:
                continue
            positions = switches.levers[lever].positions
            if position not in positions:
                hint = nearest(position, positions) or ": " + ", ".join(map(repr, positions))
                expected = f"a position of {table.lever!r}{hint}"
                report.error(f"{at}.to.{position}", expected, shown(position))
                continue
            owner, _, name = ground.nodes[section].rpartition("/")
            yield Element(
                id=f"{owner}/changeover-{name}-{position}",
                kind="contact",
                a=section,
                b=node,
                when=(((lever, positions.index(position)),),),
                opens=table.opens,
                resistance_ohm=ohms.contact,
                piece=ground.piece_index[owner],
            )


def warn_of_jumpers(
    tables: Iterable[JumperTable],
    where: str,
    ground: Ground,
    districts: Iterable[District],
    report: Report,
) -> None:
    """Pads that a moving contact slides over, and wires from one district to another."""
    district_of = {node: district.name for district in districts for node in district.nodes}
    for number, table in enumerate(tables):
        nodes: list[int | None] = []
        for key, ref in (("from", table.start), ("to", table.to)):
            node, pad = ground.pads.get(ref, (ground.node_index.get(ref), None))
            nodes.append(node)
            if pad is not None and pad.slides:
                expected = "a pad that no moving contact slides over"
                report.warn(f"{where}[{number}].{key}", expected, shown(ref))
        names = [district_of.get(node) if node is not None else None for node in nodes]
        if None not in names and names[0] != names[1]:
            found = f"a wire from {names[0]!r} to {names[1]!r}"
            report.warn(f"{where}[{number}]", "districts kept apart", found)
