"""Where the rails get their supply: supplies, buses, feeders, jumpers, and their wire.

Resistance of the wires that a builder runs.

Solid wire by gauge number: diameter 0.127 mm x 92^((36 - n) / 39) (ASTM B258),
copper of 1.7241e-8 ohm m at 20 degrees C (IEC 60028).  Stranded wire of the same
gauge number is taken 4 % worse, for the lay of its strands (our assumption).  Wire by area:
the greatest resistance that IEC 60228 allows, class 5 for stranded and class 1 for
solid; sizes that it does not list here are taken at the ohm mm2/km of the nearest
smaller one (our assumption).  Copper gains 0.393 % for each degree above 20.

Supplies, buses, feeders, jumpers and districts: where the rails get their supply.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from math import pi

from sim.layout.assembly_log import YOURS, Ledger, Report, matching
from sim.layout.elements import Rail, rail_section
from sim.layout.ground import Ground
from sim.layout.model import District, Element, Supply
from sim.scenario.defaults import FEEDER_WIRE, JUMPER_WIRE, OURS, PRACTICE
from sim.scenario.document import Scenario
from sim.scenario.fields import wire_size
from sim.scenario.problems import shown
from sim.scenario.supplies import DistrictTable, FeederTable, JumperTable, SupplyTable

COPPER_OHM_M = 1.7241e-8
COPPER_PER_K = 0.00393
REFERENCE_C = 20.0
LAY = 1.04
_CLASS_1_OHM_KM = {0.5: 36.0, 0.75: 24.5, 1.0: 18.1, 1.5: 12.1, 2.5: 7.41}
_CLASS_5_OHM_KM = {0.5: 39.0, 0.75: 26.0, 1.0: 19.5, 1.5: 13.3, 2.5: 7.98}
#: However short the wire, its two ends are worth this much: keeps resistances above 0.
LEAST_OHM = 0.001


def awg_diameter_mm(number: float) -> float:
    """Diameter in mm of solid wire of that gauge number (ASTM B258)."""
    return float(0.127 * 92.0 ** ((36.0 - number) / 39.0))


def ohm_per_m(system: str, size: float, celsius: float = REFERENCE_C) -> float:
    """Resistance of one metre at a temperature.

    ``("awg", number)`` or ``("mm2", area)``, also ``"awg stranded"`` and ``"mm2 solid"``.
    """
    warm = 1.0 + COPPER_PER_K * (celsius - REFERENCE_C)
    if system.startswith("awg"):
        area_m2 = pi / 4.0 * (awg_diameter_mm(size) / 1000.0) ** 2
        lay = LAY if system == "awg stranded" else 1.0
        return COPPER_OHM_M / area_m2 * lay * warm
    table = _CLASS_1_OHM_KM if system == "mm2 solid" else _CLASS_5_OHM_KM
    nearest = max((area for area in table if area <= size), default=min(table))
    return table[nearest] * nearest / size / 1000.0 * warm


def wire_ohm(system: str, size: float, length_mm: float, celsius: float = REFERENCE_C) -> float:
    """Resistance in ohm of one wire, to a microohm so that machines agree."""
    ohm = ohm_per_m(system, size, celsius) * length_mm / 1000.0
    return max(round(ohm, 6), LEAST_OHM)


_IN_WORDS = {
    "voltage_v": "voltage with nothing on it",
    "internal_ohm": "internal resistance",
    "trip_a": "current at which it trips",
    "trip_s": "time for which that current must last",
    "retry_s": "pause before it tries again",
}


@dataclass(slots=True)
class Sources:
    """Supplies and bus nodes by name, each as a pair of node numbers (plus, minus)."""

    supplies: list[Supply]
    poles: dict[str, tuple[int, int]]
    buses: dict[str, tuple[int, int]]
    #: by bus: its supply
    behind: dict[str, str]
    fed: set[str]


def lay_supplies(scenario: Scenario, ground: Ground, ledger: Ledger, report: Report) -> Sources:
    """Number the poles of every supply and bus."""
    sources = Sources([], {}, {}, {}, set())
    for number, table in enumerate(scenario.supply):
        if _is_free(table.name, sources, f"supply[{number}].name", report):
            plus, minus = ground.add_node(f"{table.name}+"), ground.add_node(f"{table.name}-")
            sources.poles[table.name] = plus, minus
            sources.supplies.append(_supply(table, plus, minus, ledger))
    for number, bus in enumerate(scenario.bus):
        if not _is_free(bus.name, sources, f"bus[{number}].name", report):
            continue
        sources.buses[bus.name] = (
            ground.add_node(f"{bus.name}+"),
            ground.add_node(f"{bus.name}-"),
        )
        sources.behind[bus.name] = bus.supply
        if bus.supply not in sources.poles:
            report.unknown(f"bus[{number}].supply", "a supply", bus.supply, sources.poles)
    return sources


def _is_free(name: str, sources: Sources, where: str, report: Report) -> bool:
    taken = name in sources.poles or name in sources.buses
    if taken:
        report.error(where, "a name that no other supply or bus has", shown(name))
    return not taken


def _supply(table: SupplyTable, plus: int, minus: int, ledger: Ledger) -> Supply:
    what = f"supply {table.name}"

    def pick(field: str, given: float | None) -> float:
        return ledger.pick(f"{table.kind}.{field}", given, f"{what}: {_IN_WORDS[field]}")

    retry = table.retry_s
    return Supply(
        name=table.name,
        kind=table.kind,
        plus=plus,
        minus=minus,
        voltage_v=pick("voltage_v", table.voltage_v),
        reversed=table.reversed,
        internal_ohm=pick("internal_ohm", table.internal_ohm),
        trip_a=pick("trip_a", table.trip_a),
        trip_s=pick("trip_s", table.trip_s),
        retry_s=None if retry == "never" else pick("retry_s", retry),
        common=table.common,
    )


def reverse(sources: Sources, names: Iterable[str], where: str, report: Report) -> None:
    """Turn the phase of the named supplies, at the supply."""
    for number, name in enumerate(names):
        if name not in sources.poles:
            report.unknown(f"{where}[{number}]", "a supply", name, sources.poles)
    turned = set(names)
    sources.supplies = [
        replace(supply, reversed=not supply.reversed) if supply.name in turned else supply
        for supply in sources.supplies
    ]


def bus_elements(
    scenario: Scenario, sources: Sources, celsius: float, ledger: Ledger
) -> Iterable[Element]:
    """The two wires of each bus."""
    for bus in scenario.bus:
        if bus.name not in sources.buses or bus.supply not in sources.poles:
            continue  # already reported
        given, what = bus.model_fields_set, f"bus {bus.name}"
        ledger.note(f"{what}: wire", bus.wire, YOURS if "wire" in given else PRACTICE)
        length, whose = f"{bus.length:g} mm", YOURS if "length" in given else OURS
        ledger.note(f"{what}: length of each wire", length, whose)
        ohm = wire_ohm(*wire_size(bus.wire), bus.length, celsius)
        pairs = zip(sources.poles[bus.supply], sources.buses[bus.name], strict=True)
        for sign, (pole, node) in zip("+-", pairs, strict=True):
            yield Element(f"{bus.name}{sign}", "bus", pole, node, resistance_ohm=ohm)


def common_elements(sources: Sources, ohm: float) -> Iterable[Element]:
    """Wires that join the minus poles of supplies which name the same common."""
    first: dict[str, Supply] = {}
    for supply in sources.supplies:
        if supply.common is None:
            continue
        if supply.common in first:
            name = f"common {supply.common} {first[supply.common].name} {supply.name}"
            minus = first[supply.common].minus
            yield Element(name, "common", minus, supply.minus, resistance_ohm=ohm)
        else:
            first[supply.common] = supply


def feeder_elements(
    tables: Iterable[FeederTable],
    where: str,
    ground: Ground,
    sources: Sources,
    celsius: float,
    ledger: Ledger,
    report: Report,
) -> Iterable[Element]:
    """The two wires of each feeder that is connected."""
    for number, table in enumerate(tables):
        at = f"{where}[{number}]"
        pair = _source_of(table, at, sources, report)
        plus = ground.node_of(table.plus, report, f"{at}.plus")
        minus = ground.node_of(table.minus, report, f"{at}.minus")
        if not table.connected or pair is None or plus is None or minus is None:
            continue
        if plus == minus and where != "feeder":  # as built, every short is told anyway
            found = f"both on {ground.nodes[plus]!r}: a dead short in every setting"
            report.warn(at, "plus and minus on two rails", found)
        what = f"feeder {table.name}"
        wire = ledger.pick_text(table.wire, FEEDER_WIRE, f"{what}: wire", PRACTICE)
        length = ledger.pick("feeder_length_mm", table.length, f"{what}: length of each wire")
        ohm = wire_ohm(*wire_size(wire), length, celsius)
        sources.fed.add(table.supply or sources.behind[table.bus or ""])
        for sign, pole, node, tap in zip("+-", pair, (plus, minus), (table.plus, table.minus),
                                         strict=True):  # fmt: skip
            yield Element(f"{table.name}{sign}", "feeder", pole, node, resistance_ohm=ohm,
                          taps=("", tap))  # fmt: skip


def _source_of(
    table: FeederTable, at: str, sources: Sources, report: Report
) -> tuple[int, int] | None:
    if table.name in sources.poles or table.name in sources.buses:
        report.error(f"{at}.name", "a name that no supply or bus has", shown(table.name))
        return None
    if table.supply is not None:
        if table.supply not in sources.poles:
            report.unknown(f"{at}.supply", "a supply", table.supply, sources.poles)
        return sources.poles.get(table.supply)
    name = table.bus or ""
    if name not in sources.buses:
        report.unknown(f"{at}.bus", "a bus", name, sources.buses)
    return sources.buses.get(name)


def jumper_elements(
    tables: Iterable[JumperTable],
    where: str,
    count: int,
    ground: Ground,
    celsius: float,
    ledger: Ledger,
    report: Report,
) -> Iterable[Element]:
    """Jumpers; those without a name are numbered on from ``count``."""
    for number, table in enumerate(tables):
        at = f"{where}[{number}]"
        name = table.name or f"jumper {count + number + 1}"
        a = ground.node_of(table.start, report, f"{at}.from")
        b = ground.node_of(table.to, report, f"{at}.to")
        if a is None or b is None:
            continue
        if a == b:
            found = f"{table.start!r} and {table.to!r}, one piece of metal"
            report.error(at, "two different sections", found)
            continue
        wire = ledger.pick_text(table.wire, JUMPER_WIRE, f"{name}: wire", PRACTICE)
        length = ledger.pick("jumper_length_mm", table.length, f"{name}: length")
        ohm = wire_ohm(*wire_size(wire), length, celsius)
        yield Element(name, "jumper", a, b, resistance_ohm=ohm, taps=(table.start, table.to))


def lay_districts(
    scenario: Scenario, ground: Ground, sources: Sources, report: Report
) -> tuple[District, ...]:
    """The rails of each district; a length that a fix adds belongs where it was put."""
    numbers = {supply.name: n for n, supply in enumerate(sources.supplies)}
    holder: dict[int, int] = {}
    kept: list[tuple[int, DistrictTable]] = []
    names: set[str] = set()
    for number, table in enumerate(scenario.district):
        where = f"district[{number}]"
        if table.name in names:
            report.error(
                f"{where}.name", "a name that no other district has", shown(table.name)
            )
        names.add(table.name)
        if table.supply in numbers:
            kept.append((number, table))
        else:
            report.unknown(f"{where}.supply", "a supply", table.supply, numbers)
        _hold(number, table, where, scenario, ground, holder, report)
    _inherit(ground, holder)
    return tuple(
        District(
            table.name,
            numbers[table.supply],
            tuple(sorted(node for node, owner in holder.items() if owner == number)),
        )
        for number, table in kept
    )


def _hold(
    number: int,
    table: DistrictTable,
    where: str,
    scenario: Scenario,
    ground: Ground,
    holder: dict[int, int],
    report: Report,
) -> None:
    sections = ground.nodes[: ground.section_count]
    for place, pattern in enumerate(table.sections):
        found = matching(pattern, sections)
        if not found and not report.broken:
            expected = "a section id, or a pattern that fits one"
            report.warn(
                f"{where}.sections[{place}]", expected, f"{shown(pattern)}, fits nothing"
            )
        for name in found:
            other = holder.setdefault(ground.node_index[name], number)
            if other != number:
                found_in = f"{name!r}, also in {scenario.district[other].name!r}"
                expected = "sections that no other district has"
                report.error(f"{where}.sections[{place}]", expected, found_in)
                break


def _inherit(ground: Ground, holder: dict[int, int]) -> None:
    rails: tuple[Rail, ...] = ("north", "south")
    for piece, at in ground.added_at.items():
        if at not in ground.end_index:
            continue  # already reported
        placed, end = ground.pieces[piece], ground.ends[ground.end_index[at]]
        # an added length lies in its module's own drawing, so north stays north
        for rail in rails:
            owner = holder.get(rail_section(ground, end, rail))
            own = rail_section(ground, ground.ends[placed.first_end], rail)
            if owner is not None:
                holder.setdefault(own, owner)
