"""A weighing, as a document and as a page."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from sim.judge.criteria import CRITERIA, Criterion, Weighed, Weighing
from sim.judge.verdict import count
from sim.pages.assumptions import print_again, print_assumptions
from sim.pages.documents import Asked, assumptions_list, heading
from sim.pages.figures import joined
from sim.pages.page import Page
from sim.pages.phrases import caution_line, refusal_line, remark_line, shown, unrun_line
from sim.pages.plain import Document, Plain


def weigh_document(asked: Asked, weighing: Weighing) -> Document:
    """All criteria and all cases; values by the criterion's name, null: unknown or no limit."""
    return {
        **heading(asked, scenario=weighing.scenario, seed=weighing.seed),
        "runs": weighing.runs,
        "criteria": _plain(CRITERIA),
        **_plain(weighing),
        "notes": notes_of(weighing),
        "assumptions": assumptions_list(weighing.assumptions),
    }


_plain = Plain(
    {
        Weighing: "weights cases",
        Criterion: "name words better unit",
        Weighed: "name note found values faults stalled_low=low stalled_high=high "
        "fits=work.fits opened=work.opened held_down=work.held_down replaced=work.replaced "
        "unmeasured_wires=work.unmeasured refused=work.refused cautions=work.cautions "
        "undominated beaten_by says=remarks score",
    },
    {
        **dict.fromkeys(("opened", "held_down", "replaced"), list),
        "refused": lambda refused: [refusal_line(r) for r in refused],
        "cautions": lambda cautions: [caution_line(c) for c in cautions],
        "says": lambda remarks: [remark_line(r) for r in remarks],
        "weights": dict,
        "unit": lambda unit: unit or None,
        "values": lambda values: {c.name: v for c, v in zip(CRITERIA, values, strict=True)},
    },
)


def notes_of(weighing: Weighing) -> list[str]:
    """What was left out, and what was counted otherwise."""
    return [*weighing.notes, *map(unrun_line, weighing.unrun)]


#: Hazards that are told of each case.
CAUTIONS_TOLD = 8
#: Columns of the page that the names of the criteria and what is better are given.
NAMES_WIDE = 38
#: Blanks between two columns of a table.
GAP = 3


def print_weigh(page: Page, weighing: Weighing, command: str) -> None:
    """The cases, the table, what nothing beats and why, the work's hazards."""
    page.line(
        f"Weighing {count(len(weighing.cases), 'case')} of '{weighing.scenario}', "
        f"{count(weighing.runs, 'run')} each, seed {weighing.seed}"
    )
    page.heading("The cases", "cases")
    page.items(
        (f"{k} {c.name}{' (found)' if c.found else ''}{f': {c.note}' if c.note else ''}")
        for k, c in enumerate(weighing.cases)
    )
    _print_table(page, weighing)
    _print_choice(page, weighing)
    _print_hazards(page, weighing)
    for note in notes_of(weighing):
        page.line(f"Note: {note}.", indent=1)
    print_assumptions(page, weighing.assumptions)
    print_again(page, command, weighing.seed)


def _print_table(page: Page, weighing: Weighing) -> None:
    page.heading("Side by side, a column for each case (* nothing beats it)", "criteria")
    rows = []
    for k, criterion in enumerate(CRITERIA):
        unit = f", {criterion.unit}" if criterion.unit else ""
        cells = [_cell(k, case) for case in weighing.cases]
        rows.append((f"{criterion.words}{unit}", criterion.better, *cells))
    if weighing.weights:
        scores = (f"{c.score:g}" for c in weighing.cases)
        rows.append(("by your weights (0 is best)", "less", *scores))
    columns = [f"{k}{'*' if c.undominated else ''}" for k, c in enumerate(weighing.cases)]
    wide = [
        max(len(line) for row in rows for line in row[2 + k].split("\n"))
        for k in range(len(columns))
    ]
    for first, last in blocks(wide, page.width - NAMES_WIDE):
        some = [(*row[:2], *row[2 + first : 2 + last]) for row in rows]
        if first:
            page.line()
        page.table(("", "better", *columns[first:last]), some, "ll" + "r" * (last - first))
    if any(c.work.unmeasured for c in weighing.cases):
        page.line(
            "Wires without a stated length count with the starting value below.", indent=1
        )
    faults = joined([f"{k} of {c.faults}" for k, c in enumerate(weighing.cases)])
    page.line(f"Single faults tried, by case: {faults.replace(' of ', ': ')}.", indent=1)


def blocks(wide: Sequence[int], room: int) -> Iterator[tuple[int, int]]:
    """Columns (first, last + 1) that fit side by side in ``room``, as even as can be.

    One that is wider than that has a block of its own.
    """

    def cut(most: int) -> list[int]:
        """First columns of blocks that hold no more than ``most`` columns."""
        first = [0]
        held = 0
        for k, width in enumerate(wide):
            if k > first[-1] and (held + width + GAP > room or k - first[-1] >= most):
                first.append(k)
                held = 0
            held += width + GAP
        return first

    fewest = len(cut(len(wide)))
    most = next(n for n in range(1, len(wide) + 1) if len(cut(n)) == fewest)
    starts = cut(most)
    yield from zip(starts, [*starts[1:], len(wide)], strict=True)


def _cell(k: int, case: Weighed) -> str:
    value = case.values[k]
    if value is None:
        return shown(k, value)
    text = f"{value:g}"
    if CRITERIA[k].name == "stalled" and case.low is not None and case.high is not None:
        text += f"\n({case.low:.0f}-{case.high:.0f})"
    return text


def _print_choice(page: Page, weighing: Weighing) -> None:
    free = [k for k, c in enumerate(weighing.cases) if c.undominated]
    page.heading("What nothing beats, and what each gives up", "choices")
    if len(weighing.cases) == 1:
        page.line("There is nothing to choose: no fix in the file, and none found.", indent=1)
        return
    if len(free) == 1:
        only = weighing.cases[free[0]].name
        page.line(f"'{only}' is nowhere worse than any other case.", indent=1)
    else:
        page.line(
            f"{joined([str(k) for k in free])}: for each of them, every other case is worse in "
            "something. Which one to take is yours to say; no criterion is weighed here unless "
            "you give it a weight.",
            indent=1,
        )
    for k, case in enumerate(weighing.cases):
        if case.beaten_by is not None:
            page.line(f"{k} {case.name}: '{case.beaten_by}' is nowhere worse and somewhere "
                      "better", indent=1)  # fmt: skip
        else:
            page.line(f"{k}* {case.name}", indent=1)
        page.items(map(remark_line, case.remarks), indent=3)
    if weighing.weights:
        best = min(weighing.cases, key=lambda c: c.score if c.score is not None else 0.0)
        page.line(f"By your weights '{best.name}' comes first.", indent=1)


def _print_hazards(page: Page, weighing: Weighing) -> None:
    told = [c for c in weighing.cases if c.work.refused or c.work.cautions]
    if not told:
        return
    page.heading("Hazards of the work", "hazards")
    for case in told:
        page.line(case.name, indent=1)
        cautions = list(case.work.cautions)
        more = len(cautions) - CAUTIONS_TOLD
        page.items([f"refused: {refusal_line(r)}" for r in case.work.refused], indent=3)
        page.items(map(caution_line, cautions[:CAUTIONS_TOLD]), indent=3)
        if more > 0:
            page.line(f"and {more} more", indent=3)
