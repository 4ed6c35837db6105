"""What fails in a run: rules of the scenario, part by part."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from sim.faults.kinds import FaultKind, kind_called, kinds_called
from sim.layout.assembly_log import YOURS, Ledger, Report, is_glob, matching
from sim.layout.model import Element, Lever, Supply
from sim.layout.traffic import Train, Wear
from sim.scenario.faults import FaultTable


@dataclass(frozen=True, slots=True)
class Parts:
    """Everything that can fail, by the ids that a rule may name."""

    elements: list[Element]
    levers: list[Lever]
    supplies: Sequence[Supply]
    pieces: Sequence[str]
    trains: Sequence[Train]
    #: ids of elements that a fix has soldered or cleaned: no rule holds for them
    mended: frozenset[str] = frozenset()

    def ids(self) -> Iterator[tuple[str, str, int]]:
        """(id, kind, index) of each."""
        for i, e in enumerate(self.elements):
            if e.id not in self.mended:
                yield e.id, e.kind, i
        for i, x in enumerate(self.levers):
            yield x.id, "lever", i
        for i, s in enumerate(self.supplies):
            yield s.name, "supply", i
        for i, name in enumerate(self.pieces):
            yield name, "piece", i
        for i, train in enumerate(self.trains):
            yield train.name, "train", i


def lay_faults(
    tables: Sequence[FaultTable],
    parts: Parts,
    ledger: Ledger,
    report: Report,
    tired_ohm: float | None = None,
    tired_joiner_ohm: float | None = None,
) -> tuple[Wear, ...]:
    """Rules of ``tables``, one for each part.

    ``tired_ohm`` is the scenario's own where a table gives no ohms, ``tired_joiner_ohm``
    that of joiners, where they are worth something else.
    What is drawn at each throw, and what is open from the start, becomes a chance
    of its element or lever instead (changed in ``parts``), so that exact odds and
    runs rest on the same number.
    """
    known = list(parts.ids())
    found: list[Wear] = []
    for number, table in enumerate(tables):
        where = f"fault[{number}]"
        possible = [(*row, k) for row in known if (k := kind_called(table.what, row[1]))]
        names = set(matching(table.on, [row[0] for row in possible]))
        chosen = [row for row in possible if row[0] in names]
        if not chosen:
            _unknown(table, where, possible, parts, report)
            continue
        _note(table, ledger)
        for name, kind, index, fault in chosen:
            if not _check(table, fault, where, report):
                break
            if not _folded(table, fault, index, parts):
                tired = _usual(kind, tired_ohm, tired_joiner_ohm)
                found.append(_wear(number, table, name, fault, index, ledger, tired))
    return tuple(found)


def _usual(
    kind: str, tired_ohm: float | None, tired_joiner_ohm: float | None
) -> tuple[str, float | None]:
    """The assumption that a tired part of that kind goes by, and the scenario's own value.

    Files that give no ohms for joiners but for tired parts mean both.
    """
    if kind == "joiner" and (tired_joiner_ohm is not None or tired_ohm is None):
        return "tired_joiner_ohm", tired_joiner_ohm
    return "tired_ohm", tired_ohm


def _unknown(
    table: FaultTable,
    where: str,
    possible: Iterable[tuple[str, str, int, FaultKind]],
    parts: Parts,
    report: Report,
) -> None:
    what = f"the id of a {' or '.join(k.part for k in kinds_called(table.what))}"
    if table.on in parts.mended or report.broken:
        return
    if is_glob(table.on):
        report.warn(f"{where}.on", f"a pattern that fits {what}", f"{table.on!r}, fits nothing")
    else:
        report.unknown(f"{where}.on", what, table.on, [row[0] for row in possible])


def _check(table: FaultTable, fault: FaultKind, where: str, report: Report) -> bool:
    """Whether the rule makes sense for that kind of part."""
    expected = None
    if table.per is not None and table.per not in fault.per:
        if fault.effect == "hides metal":
            expected = "dirt per metre on pieces, per run on the pickups of trains"
        else:
            expected = f"a {fault.part} to fail per run or hour, as no throw moves it"
    elif table.at_throw is not None and "at_throw" not in fault.when:
        expected = f"at_s for a {fault.part}, as no throw moves it"
    if expected is not None:
        report.error(f"{where}.per", expected, f"{table.per or 'at_throw'!s}")
    return expected is None


def _note(table: FaultTable, ledger: Ledger) -> None:
    if table.chance is not None:
        text = f"{table.chance:g} per {table.per}"
        ledger.note(f"fault {table.what!r} of {table.on}", text, YOURS)


def _folded(table: FaultTable, fault: FaultKind, index: int, parts: Parts) -> bool:
    """Make the rule a chance of its part, where that says all of it."""
    chance = table.chance
    if chance is None or table.for_s is not None or table.cleared_by:
        return False
    if fault.effect == "stays":
        lever = parts.levers[index]
        parts.levers[index] = replace(lever, fails=_either(lever.fails, chance))
        return True
    if fault.effect != "opens" or table.per not in ("throw", "run"):
        return False
    element = parts.elements[index]
    if fault.part == "contact" and table.per == "run":
        element = replace(element, bad=_either(element.bad, chance))
    else:
        element = replace(element, opens=_either(element.opens, chance))
    parts.elements[index] = element
    return True


def _either(one: float, other: float) -> float:
    """The chance of one or the other, being independent."""
    return round(1.0 - (1.0 - one) * (1.0 - other), 12)


def _wear(
    number: int,
    table: FaultTable,
    name: str,
    fault: FaultKind,
    index: int,
    ledger: Ledger,
    tired: tuple[str, float | None],
) -> Wear:
    ohm = length = None
    if fault.effect == "tires":
        key, usual = tired
        given = usual if table.ohm is None else table.ohm
        ohm = ledger.pick(key, given, f"resistance of tired {table.on}")
    if table.per == "metre":
        length = ledger.pick("dirt_mm", table.length_mm, "length of a dirty place")
    return Wear(
        name=f"{name}: {table.what} ({number + 1})",
        part=name,
        kind=fault.part,
        index=index,
        fault=fault.name,
        what=table.what,
        chance=table.chance,
        per=table.per,
        at_s=table.at_s,
        at_throw=table.at_throw,
        for_s=table.for_s,
        cleared_by=table.cleared_by,
        ohm=ohm,
        length_mm=length,
    )
