"""Volts, drops and coin tests, and netlists, as documents and as a page."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from sim.circuit.measure import Standing, StartingTrain
from sim.circuit.netlist import node_numbers
from sim.circuit.network import Network
from sim.circuit.voltage_drop import FarEnd, SettingVolts, VoltsReport, Weakest
from sim.judge.verdict import count
from sim.layout.traffic import Assumption, Case
from sim.pages.assumptions import print_again, print_assumptions
from sim.pages.documents import Asked, assumptions_list, heading
from sim.pages.figures import case_name, joined
from sim.pages.page import Page
from sim.pages.phrases import lost_in
from sim.pages.plain import Document, Plain


def volts_document(
    asked: Asked, report: VoltsReport, assumptions: Sequence[Assumption] = ()
) -> Document:
    """Every setting: its sections, its modules, and what costs most."""
    return {
        **heading(asked, scenario=report.scenario, fix=report.fix),
        **_plain(report),
        "assumptions": assumptions_list(assumptions),
    }


def _weakest(place: Weakest | None) -> Document | None:
    return None if place is None else {"section": place.section, **_plain(place)}


_plain = Plain(
    {
        VoltsReport: "total skipped starting_train=train settings",
        StartingTrain: "whose ohm starting_a=amps",
        SettingVolts: "levers weakest sections modules shorted costs "
        "costs_left_out=more_costs costs_by_kind=kinds",
        Weakest: "route place_mm open_v volts drop_percent=drop",
        FarEnd: "route place_mm open_v loop_ohm short_a trips does_not_trip=weak",
        Standing: "supply current_a=amps trips",
    },
    {
        "levers": dict,
        "drop_percent": lambda drop: round(100 * drop, 2),
        "ohm": lambda ohm: round(ohm, 6),
        "weakest": _weakest,
        "sections": lambda places: {place.section: place for place in places},
        "modules": lambda ends: {end.module: end for end in ends},
        "costs": lambda costs: [{"what": lost_in(w), "volts": volts} for w, volts in costs],
        "costs_by_kind": dict,
    },
)


def netlist_document(
    asked: Asked, case: Case, network: Network, positions: Sequence[int], text: str
) -> Document:
    """One setting: position of every lever, number of every place, the netlist."""
    levers = zip(case.layout.levers, positions, strict=True)
    return {
        **heading(asked, scenario=case.scenario, fix=case.fix),
        "levers": {lever.id: lever.positions[p] for lever, p in levers},
        "nodes": dict(node_numbers(network)),
        "netlist": text,
        "assumptions": assumptions_list(case.assumptions),
    }


#: Shares of the volts that may be lost at full load: common practice, no source.
GOOD, LIMIT = 0.05, 0.10
#: More settings than this are not counted, more levers than this not named.
MANY, LEVERS_NAMED = 10**6, 16
#: Sections whose volts differ by less than this are told once for all settings.
SAME_V = 0.05


def print_volts(
    page: Page, report: VoltsReport, assumptions: Sequence[Assumption], command: str
) -> None:
    """The worst of all first, then what settings share, then each setting."""
    page.line(f"Volts of '{report.scenario}' {case_name(report.fix)}")
    train = report.train
    page.line(
        f"At each place one starting train ({train.whose}: {train.ohm:.3g} Ω on DC, "
        f"{train.amps:.3g} A on digital), throttles fully open, and nothing else."
    )
    many = count(report.total, "setting") if report.total <= MANY else "Very many settings"
    page.line(f"{many}; {len(report.settings)} worked out.")
    page.line(
        f"Up to {100 * GOOD:.0f} % lost is called good, up to {100 * LIMIT:.0f} % usable, and "
        "a coin across the rails is to trip the supply: common practice, no source."
    )
    if report.skipped:
        page.line(report.skipped)
    _print_worst(page, report)
    shared = _shared(report.settings)
    if len(report.settings) > 1 and shared:
        page.heading("The same in every setting", "same")
        _print_sections(page, shared.values())
    for setting in report.settings:
        _print_setting(page, setting, shared if len(report.settings) > 1 else {})
    print_assumptions(page, assumptions)
    print_again(page, command)


def _print_worst(page: Page, report: VoltsReport) -> None:
    shorted = sum(bool(s.shorted) for s in report.settings)
    if shorted:
        many = count(len(report.settings), "setting")
        page.line(f"SHORTED by the wiring itself in {shorted} of {many}.")
    places = [(s.weakest, s) for s in report.settings]
    known = [(w, s) for w, s in places if w is not None]
    if not known:
        page.line("No place has supply in any setting.")
        return
    worst, setting = max(known, key=lambda pair: pair[0].drop)
    page.line(
        f"Weakest of all: {_where(page, worst)}, {worst.volts:.2f} V of {worst.open_v:.2f} V: "
        f"{_lost(worst)} ({_levers(page, setting)})."
    )
    weak = {m.module: m for s in report.settings for m in s.modules if m.weak and not m.trips}
    if weak:
        boards = joined([page.names.board(name) for name in weak])
        page.line(f"A short at the far end of {boards} trips nothing: it goes on heating.")
    else:
        page.line("A short trips its supply wherever there is supply.")


def _lost(place: Weakest) -> str:
    word = "good" if place.drop <= GOOD else "usable" if place.drop <= LIMIT else "too much"
    return f"{100 * place.drop:.1f} % lost, {word}"


def _place(page: Page, place: Weakest | FarEnd) -> str:
    """Where on which route; the piece is named by the section beside, if it has one."""
    beside = isinstance(place, Weakest) and place.route.rpartition("/")[0] in place.section
    return page.names.along(place.route, place.place_mm, "bare" if beside else "row")


def _where(page: Page, place: Weakest) -> str:
    return f"{page.names.section(place.section)} at {_place(page, place)}"


def _levers(page: Page, setting: SettingVolts) -> str:
    if len(setting.levers) <= LEVERS_NAMED:
        return page.names.levers(setting.levers)
    positions = dict.fromkeys(position for _, position in setting.levers)
    numbers = [(p, sum(position == p for _, position in setting.levers)) for p in positions]
    return joined([f"{count(n, 'lever')} {position}" for position, n in numbers])


def _shared(settings: Sequence[SettingVolts]) -> dict[str, Weakest]:
    """Sections that every setting tells, with volts that hardly differ."""
    seen: dict[str, list[Weakest]] = {}
    for setting in settings:
        for section in setting.sections:
            seen.setdefault(section.section, []).append(section)
    return {
        name: min(found, key=lambda w: w.volts)
        for name, found in seen.items()
        if len(found) == len(settings)
        and max(w.volts for w in found) - min(w.volts for w in found) < SAME_V
    }


def _print_setting(page: Page, setting: SettingVolts, shared: dict[str, Weakest]) -> None:
    levers = _levers(page, setting)
    page.heading(levers if setting.levers else levers.capitalize(), "settings")
    for short in setting.shorted:
        then = "trips" if short.trips else "does NOT trip: it goes on heating"
        page.line(f"SHORT: {short.supply} gives {short.amps:.1f} A and {then}.", indent=1)
    _print_sections(page, (s for s in setting.sections if s.section not in shared))
    page.table(
        ("far end of", "on", "loop", "short", "trips"),
        [_row(page, m) for m in setting.modules],
        numbers="llrrl",
        indent=1,
    )
    if setting.costs and setting.weakest is not None:
        weakest = page.names.the(setting.weakest.section, "section")
        page.line(f"What costs {weakest} most:", indent=1)
        told = [
            f"{lost_in(what, page.names.say)}: {volts:.2f} V" for what, volts in setting.costs
        ]
        more = setting.more_costs
        page.items([*told, *([f"and {more} more that cost less"] if more else [])], 3)
        page.line(f"By kind: {_kinds(setting)}.", indent=1)


def _cost(page: Page, what: str) -> str:
    """What volts are lost in: an element, the length of a rail, the inside of a supply."""
    rail = what.removeprefix("rail of ")
    return page.names.section(rail) if page.names.is_node(rail) else page.names.part(what)


def _kinds(setting: SettingVolts) -> str:
    names = {"supply": "inside the supply"}
    return ", ".join(f"{names.get(k, f'{k}s together')} {v:.2f} V" for k, v in setting.kinds)


def _print_sections(page: Page, sections: Iterable[Weakest]) -> None:
    rows = [
        (
            page.names.section(s.section, "row"),
            _place(page, s),
            f"{s.volts:.2f} V",
            _lost(s),
        )
        for s in sections
    ]
    page.table(("section", "weakest at", "left", "drop"), rows, numbers="llr", indent=1)


def _row(page: Page, end: FarEnd) -> tuple[str, str, str, str, str]:
    trips = joined(end.trips) or "nothing"
    if end.trips and end.weak:
        trips += f", not {joined(end.weak)}"
    board, place = page.names.board(end.module), _place(page, end)
    return board, place, f"{end.loop_ohm:.2f} Ω", f"{end.short_a:.1f} A", trips
