"""Tracing a fault, as a document and as a page.

The document of tracing a fault.

The page of tracing a fault.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sim.bench.diagnosis.locate import Explanation, Findings, Retake
from sim.bench.diagnosis.next_reading import OHMS, Reply, Suggestion
from sim.bench.readings.model import LAMP_SAYS, SAID_WORDS, Probe, probe_words
from sim.faults.kinds import FOUND, OURS
from sim.faults.possible import Fault
from sim.layout.model import Layout
from sim.layout.traffic import Assumption
from sim.pages.assumptions import print_again, print_assumptions
from sim.pages.documents import FORMAT_VERSION, Asked, Document
from sim.pages.figures import joined, percent
from sim.pages.page import Page
from sim.pages.phrases import fault_line

#: The one outcome that a word stands for first.
_OUTCOME = {OHMS: "joined"} | {word: outcome for outcome, word in LAMP_SAYS.items()}


def locate_document(
    asked: Asked, fix: str | None, layout: Layout, found: Findings, odds: dict[str, float]
) -> Document:
    """What explains the readings, most likely first, and the reading to take next."""
    return {
        "format_version": FORMAT_VERSION,
        "scenario": asked.scenario,
        "fix": fix,
        "command": asked.command,
        "readings": [
            {"number": r.number, "text": r.text, "said": r.said, "allows": sorted(r.allows)}
            for r in found.readings
        ],
        "nothing_contradicts_sound": found.sound,
        "explanations": [
            {"faults": _faults(e.faults), "share": round(e.share, 6), "group": e.group}
            for e in found.explanations
        ],
        "groups": found.groups,
        "mend_then_read_again": found.may_hide_another,
        "searched": {
            "faults_at_once": found.faults_at_once,
            "complete": found.complete,
            "sets": found.looked_at,
            "single_faults": _few(found.left_out.singles),
        },
        "weighed_for_next": {
            "explanations": _few(found.left_out.explanations),
            "pieces": _few(found.left_out.pieces),
            "places": _few(found.left_out.places),
            "one_lever_at_a_time": found.left_out.settings,
        },
        "ways_to_take_again": _few(found.left_out.retakes),
        "impossible": found.impossible,
        "take_again": [_retake_row(r) for r in found.retakes],
        "doubts": [_retake_row(r) for r in found.doubts],
        "next": _suggestion(layout, found.easy),
        "next_opened": _suggestion(layout, found.opened),
        "assumptions": _assumptions(odds),
    }


def _assumptions(odds: dict[str, float]) -> list[dict[str, str]]:
    """The odds of every kind of fault, then of the others that the user gives odds of."""
    kinds = [
        {
            "what": f"odds of {name}",
            "value": f"{odds.get(name, found):g}",
            "whose": "yours" if name in odds else OURS,
        }
        for name, found in FOUND.items()
    ]
    others = [
        {"what": f"odds of {name}", "value": f"{value:g}", "whose": "yours"}
        for name, value in odds.items()
        if name not in FOUND
    ]
    return kinds + others


def _few(counts: tuple[int, int]) -> dict[str, int]:
    """How many were gone through or are listed, of how many."""
    return {"looked_at": counts[0], "of": counts[1]}


def _faults(faults: tuple[Fault, ...]) -> list[dict[str, Any]]:
    return [{"kind": f.kind, "part": f.part} for f in faults]


def _retake_row(retake: Retake) -> dict[str, Any]:
    faults = None if retake.faults is None else _faults(retake.faults)
    return {"readings": list(retake.readings), "then": faults, "share": round(retake.share, 6)}


def _suggestion(layout: Layout, suggestion: Suggestion | None) -> dict[str, Any] | None:
    if suggestion is None:
        return None
    probe = suggestion.ask.probe
    return {
        "what": probe.what,
        "from": suggestion.ask.a,
        "to": suggestion.ask.b,
        "where": probe.where,
        "levers": {
            x.id: x.positions[p] for x, p in zip(layout.levers, probe.positions, strict=True)
        },
        "reach": suggestion.ask.reach,
        "expected_bits": round(suggestion.bits, 6),
        "answers": [
            {
                "read": r.said,
                "outcome": _OUTCOME.get(r.said, r.said),
                "outcomes": sorted(r.allows),
                "share": None if r.share is None else round(r.share, 6),
                "left": r.left,
                "left_is_exact": r.exact,
            }
            for r in suggestion.replies
        ],
    }


TOLD = 12
MEND = "Mend this, then read again: a second may hide behind it."
_REACH_WORDS = {
    "end": "at the ends of the piece",
    "top": "on the tops of the rails, a fine probe tip needed",
    "opened": "only with the piece opened",
}


def print_findings(page: Page, layout: Layout, found: Findings, readings: bool = True) -> None:
    """What the readings say, what explains them, and what to read next."""
    if readings:
        page.heading("Readings" if found.readings else "No readings yet")
        page.items((r.text for r in found.readings), numbered=True)
    if found.impossible:
        _print_impossible(page, found)
        return
    if found.retakes:
        _print_retakes(page, found)
        return
    _print_explanations(page, found)
    if found.doubts:
        page.heading("Or a reading was wrong")
        page.items(_retake(r) for r in found.doubts[:TOLD])
        _more(page, len(found.doubts[:TOLD]), max(len(found.doubts), found.left_out.retakes[1]))
    _print_next(page, layout, found)


def _print_explanations(page: Page, found: Findings) -> None:
    if found.sound:
        page.heading("Nothing that was read contradicts a sound layout")
        if len(found.explanations) == 1:
            _print_singles(page, found)
            if found.complete:
                page.line("No fault that can be told would read like this.", indent=1)
            else:
                page.line("None of those would read like this.", indent=1)
            return
        page.line("If something is wrong, it can still be one of these:", indent=1)
    else:
        page.heading("What explains all readings, most likely first")
    rows = [
        (str(k), _words(e), percent(e.share))
        for k, e in enumerate(found.explanations[:TOLD], 1)
    ]
    page.table(("", "fault", "share"), rows, "rlr", indent=1)
    more = len(found.explanations) - TOLD
    if more > 0:
        page.line(
            f"and {more} more, less likely; the document (--json) has them all.", indent=1
        )
    _print_singles(page, found)
    if not found.complete and found.faults_at_once > 1:
        page.line(
            f"There may be more with {found.faults_at_once} faults at once: not all such sets "
            "were gone through.",
            indent=1,
        )
    if not found.complete:
        page.line("Shares are of what was gone through.", indent=1)


def _print_singles(page: Page, found: Findings) -> None:
    """How many single faults were gone through, where not all were."""
    looked, every = found.left_out.singles
    if looked < every:
        which = "near the readings" if found.readings else "the likeliest"
        page.line(
            f"Of {every} single faults {looked} were gone through, {which}; the others were "
            "not. Readings near the place that gives trouble bring in those that matter.",
            indent=1,
        )


def _more(page: Page, told: int, every: int) -> None:
    """That there are more lines than are printed."""
    if every > told:
        page.line(f"and {every - told} more, less likely.", indent=1)


def _print_impossible(page: Page, found: Findings) -> None:
    page.heading("Readings that cannot all be right")
    page.line(
        "Whatever is joined to one thing is joined to each other; these readings break that, "
        "whatever is wrong with the metal.",
        indent=1,
    )
    _print_again(page, found)


def _print_retakes(page: Page, found: Findings) -> None:
    page.heading("Readings that no faults explain")
    page.line(
        f"No set of up to {found.faults_at_once} faults gives all of these readings.", indent=1
    )
    _print_again(page, found)


def _print_again(page: Page, found: Findings) -> None:
    page.line(
        "Take these readings again; the smallest choice, any one line is enough:", indent=1
    )
    page.items(_retake(r) for r in found.retakes[:TOLD])
    _more(page, len(found.retakes[:TOLD]), max(len(found.retakes), found.left_out.retakes[1]))
    if not found.complete:
        page.line("There are other choices as small, or smaller ones not found.", indent=1)


def _retake(retake: Retake) -> str:
    numbers = joined([f"reading {n}" for n in retake.readings])
    if retake.faults is None:
        return numbers
    if not retake.faults:
        return f"{numbers}; without it nothing need be wrong"
    return f"{numbers}; without it: {joined(_each(retake.faults))}"


def _print_next(page: Page, layout: Layout, found: Findings) -> None:
    if found.easy is None and found.opened is None:
        _print_end(page, found)
        return
    few = found.left_out.of_next
    page.heading("The next reading that tells most" + (" of those weighed" if few else ""))
    for suggestion in (found.easy, found.opened):
        if suggestion is not None:
            _print_suggestion(page, layout, suggestion)
    _print_weighed(page, found)
    if any(e.faults for e in found.explanations):
        page.line(
            "Supply off and unplugged and trains lifted for a meter; a lamp needs it on.",
            indent=1,
        )


def _print_weighed(page: Page, found: Findings) -> None:
    """What was passed over when the next reading was chosen."""
    out = found.left_out
    said = []
    for (looked, every), what in (
        (out.explanations, "explanations, the likeliest"),
        (out.pieces, "pieces, spread evenly"),
        (out.places, "places on these"),
    ):
        if looked < every:
            said.append(f"{looked} of {every} {what}")
    if out.settings:
        said.append("settings in which one lever or gang is moved")
    if said:
        page.line(f"Weighed were {joined(said)}: there may be a better one.", indent=1)


def _each(faults: tuple[Fault, ...]) -> list[str]:
    return [fault_line(f.kind, f.part, f.turn) for f in faults]


def _words(explanation: Explanation) -> str:
    return joined(_each(explanation.faults)) or "nothing is wrong"


def _print_end(page: Page, found: Findings) -> None:
    left = [e for e in found.simplest if e.faults]
    if len(left) == 1 and not found.sound:
        page.heading("One explanation is left")
        page.line(_words(left[0]), indent=1)
        if len(found.explanations) > 1:
            page.line("The others need more faults at once.", indent=1)
        page.line(MEND, indent=1)
    elif left:
        few = found.left_out.of_next
        page.heading(
            "No reading that was weighed can tell these apart"
            if few
            else "No reading that may be suggested can tell these apart"
        )
        page.items(_words(e) for e in left[:TOLD])
        _more(page, len(left[:TOLD]), len(left))
        _print_weighed(page, found)
        page.line(f"Begin with the most likely one. {MEND}", indent=1)


def _print_suggestion(page: Page, layout: Layout, suggestion: Suggestion) -> None:
    ask = suggestion.ask
    page.line(
        f"{probe_words(layout, ask.probe, ask.a, ask.b)} ({_REACH_WORDS[ask.reach]})",
        indent=1,
    )
    page.items(_reply(ask.probe, reply) for reply in suggestion.replies)


def _reply(probe: Probe, reply: Reply) -> str:
    likely = "" if reply.share is None else f"{percent(reply.share)} likely, "
    number = f"{reply.left}" if reply.exact else f"about {reply.left} (an estimate)"
    left = f"leaves {number}" if reply.left else "would contradict the other readings"
    return f"{SAID_WORDS[probe.what, reply.said]}: {likely}{left}"


def print_locate(
    page: Page, layout: Layout, found: Findings, odds: Mapping[str, float], title: str,
    command: str,
) -> None:  # fmt: skip
    """The whole page."""
    page.line(title)
    print_findings(page, layout, found)
    print_odds(page, odds)
    print_again(page, command)


def print_odds(page: Page, odds: Mapping[str, float]) -> None:
    """How likely faults were taken to be."""
    said = [
        Assumption(
            f"odds of {name}",
            f"{odds.get(name, found):g}",
            "yours" if name in odds else OURS,
        )
        for name, found in FOUND.items()
    ]
    said += [
        Assumption(f"odds of {name}", f"{value:g}", "yours")
        for name, value in odds.items()
        if name not in FOUND
    ]
    print_assumptions(page, said)
    page.line(
        "A part to which the scenario gives a chance of failing has that instead; a contact is "
        "open also where it has just missed at a throw.",
        indent=1,
    )
