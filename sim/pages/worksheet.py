"""The worksheet, as a document and as text, and the words that its drawn forms share."""

from __future__ import annotations

from collections.abc import Sequence

from sim.analyses.handwork.hazards import Refusal
from sim.analyses.handwork.tasks import Task
from sim.bench.worksheet.model import (
    LOAD_OHM,
    Expected,
    Lit,
    MeterRow,
    MeterTable,
    Spot,
    StepOfWork,
    WireRow,
    Worksheet,
)
from sim.pages.assumptions import print_again, print_assumptions
from sim.pages.documents import Asked, assumptions_list, heading
from sim.pages.page import Page
from sim.pages.phrases import (
    SAFETY,
    STAGES,
    caution_line,
    refusal_line,
    refusal_words,
    task_line,
)
from sim.pages.plain import Document, Plain


def worksheet_document(asked: Asked, sheet: Worksheet) -> Document:
    """Places, wires, order of work, tables of readings before and after, cautions."""
    return {
        **heading(asked, scenario=sheet.scenario, fix=sheet.fix),
        **_plain(sheet),
        "cautions": list(SAFETY),
        "refused": [refusal_line(r) for r in sheet.refused],
        "hints": [caution_line(c) for c in sheet.hints],
        "assumptions": assumptions_list(sheet.assumptions),
    }


def _expected(expected: Expected) -> Document:
    if not expected.joined:
        return {"read": "open"}
    return {"read": "joined", "ohm": expected.ohm, "good_up_to_ohm": expected.good_ohm}


_plain = Plain(
    {
        Worksheet: "pieces places=spots wires steps trial continuity=meter lamp lamp_left_out",
        Spot: "number ref section piece x_mm y_mm face solder iron_s refused",
        WireRow: "name from=start from_words=start_words to to_words cut_mm measured wire "
        "bare_mm sleeve_mm way",
        StepOfWork: lambda step: {"title": STAGES[step.stage], "details": step.details},
        Task: task_line,
        Refusal: refusal_words,
        MeterTable: "board settings left_out readings=rows must_stay_open=isolation",
        MeterRow: lambda row: {
            "places": (row.a, row.b),
            "before": row.before,
            "after": row.after,
        },
        Expected: _expected,
        Lit: "state volts good_from_v=good_from good_to_v=good_to",
    }
)


#: Settings side by side in a table of text.
SIDE_BY_SIDE = 2

CONTINUITY_HEAD = (
    "Board apart from its neighbours, supply off and unplugged, trains lifted. Each cell: "
    "before, then after; ohms are with the meter's leads, good up to the number in brackets. "
    "Tick what was read."
)
ISOLATION_HEAD = (
    "These must read open in every lever position with the fix, before power comes on; "
    "about 0.3 ohm here is a short."
)
LAMP_HEAD = (
    f"In the layout, current-limited supply on at full: {LOAD_OHM:g} ohm 10 W across the two "
    "rails (or a lamp: bright is live). Levers that are not named stand at rest. It gets hot: "
    "a few seconds each. Volts across the load; in brackets the band that counts as good."
)


def expected_words(expected: Expected | None) -> str:
    """``open``, ``0.3 ohm (0.6)``, or a dash where the place is not there."""
    if expected is None:
        return "-"
    if not expected.joined:
        return "open"
    return f"{expected.ohm:.1f} ohm ({expected.good_ohm:.1f})"


def cell_words(before: Expected | None, after: Expected | None) -> str:
    """What is read before and after, once where that is the same."""
    was, now = expected_words(before), expected_words(after)
    return now if was == now else f"{was}, then {now}"


def lit_words(lit: Lit | None) -> str:
    """``11.5 V (10.9 to 12.0)``, ``dark (floating)``, or a dash."""
    if lit is None:
        return "-"
    if lit.state == "short":
        return "the supply trips"
    if lit.volts is None:
        return f"dark ({lit.state})"
    return f"{lit.volts:.1f} V ({lit.good_from:.1f} to {lit.good_to:.1f})"


def place_words(number: int | None, words: str) -> str:
    """``3 board/scissors/pad-1``, or the words alone."""
    return words if number is None else f"{number} {words}"


def length_words(wire: WireRow) -> str:
    """``170 mm``, marked where nobody measured it."""
    return f"{wire.cut_mm:.0f} mm{'' if wire.measured else ' (a guess: measure)'}"


def print_worksheet(page: Page, sheet: Worksheet, command: str) -> None:
    """The whole sheet."""
    page.line(f"Worksheet of '{sheet.scenario}', fix '{sheet.fix}'")
    if sheet.note:
        page.line(sheet.note)
    page.heading("Cautions")
    page.items(SAFETY)
    if sheet.refused:
        page.heading("Not to be done so")
        page.items(map(refusal_line, sheet.refused))
    _print_spots(page, sheet)
    _print_wires(page, sheet)
    if sheet.trial:
        page.heading("Trial with loose wires, before anything is soldered")
        page.items(map(task_line, sheet.trial), numbered=True)
    page.heading("Order of work")
    for number, step in enumerate(sheet.steps, 1):
        page.line(f"{number}. {STAGES[step.stage]}", indent=1)
        page.items(map(task_line, step.details), indent=4)
    if sheet.hints:
        page.heading("To mind")
        page.items(map(caution_line, sheet.hints))
    for table in sheet.meter:
        _print_table(page, table)
    _print_lamp(page, sheet)
    print_assumptions(page, sheet.assumptions)
    print_again(page, command)


def _print_spots(page: Page, sheet: Worksheet) -> None:
    if not sheet.spots:
        return
    page.heading("Numbered places")
    rows = [
        (
            str(s.number),
            s.words,
            f"{round(s.x_mm)}, {round(s.y_mm)}",
            s.face,
            f"NOT: {refusal_words(s.refused)}"
            if s.refused
            else "solder"
            if s.solder
            else "test",
        )
        for s in sheet.spots
    ]
    page.table(("", "place", "mm east, north", "face", "for"), rows, "rlrll", indent=1)


def _print_wires(page: Page, sheet: Worksheet) -> None:
    if not sheet.wires:
        return
    page.heading("Wires")
    rows = [
        (
            w.name,
            w.start_words if w.start is None else f"place {w.start}",
            w.to_words if w.to is None else f"place {w.to}",
            length_words(w),
            w.wire,
            f"{w.sleeve_mm:g} mm",
            w.way,
        )
        for w in sheet.wires
    ]
    columns = ("wire", "from", "to", "cut", "size", "sleeve", "way")
    page.table(columns, rows, "lllrlrl", indent=1)


def _print_table(page: Page, table: MeterTable) -> None:
    if table.rows:
        page.heading(f"Meter: board '{table.board}' by itself")
        page.line(CONTINUITY_HEAD, indent=1)
        for low in range(0, len(table.settings), SIDE_BY_SIDE):
            high = min(low + SIDE_BY_SIDE, len(table.settings))
            _print_rows(page, table.settings[low:high], table.rows, low)
    if table.left_out:
        page.line(f"{table.left_out} more settings are left out.", indent=1)
    if table.isolation:
        page.heading(f"Isolation: board '{table.board}' by itself")
        page.line(ISOLATION_HEAD, indent=1)
        page.items(f"{r.a} to {r.b}: open" for r in table.isolation)


def _print_rows(
    page: Page, settings: Sequence[str], rows: Sequence[MeterRow], low: int
) -> None:
    made = []
    for r in rows:
        cells = [cell_words(r.before[k], r.after[k]) for k in range(low, low + len(settings))]
        made.append((f"{r.a} to {r.b}", *cells))
    page.table(("places", *settings), made, indent=1)


def _print_lamp(page: Page, sheet: Worksheet) -> None:
    if not sheet.lamp:
        return
    page.heading("Lamp or loaded meter across the rails")
    page.line(LAMP_HEAD, indent=1)
    rows = [
        (
            r.setting,
            r.route,
            f"{r.from_mm:.0f} to {r.to_mm:.0f}",
            lit_words(r.before),
            lit_words(r.after),
        )
        for r in sheet.lamp
    ]
    page.table(("levers", "route", "mm", "before", "after"), rows, "llrll", indent=1)
    if sheet.lamp_left_out:
        page.line(f"{sheet.lamp_left_out} more rows are left out.", indent=1)
