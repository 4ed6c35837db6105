"""A search, as a document and as a page."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from typing import Any

from sim.analyses.handwork.hazards import Refusal
from sim.analyses.search.model import (
    Conflict,
    Crossing,
    Demand,
    Found,
    FoundChange,
    FoundSet,
    Option,
)
from sim.analyses.search.options import data_of
from sim.judge.verdict import count
from sim.layout.traffic import Assumption
from sim.pages.assumptions import print_again, print_assumptions
from sim.pages.documents import Asked, assumptions_list, heading
from sim.pages.figures import case_name, joined
from sim.pages.page import Page
from sim.pages.phrases import refusal_line, refusal_words
from sim.pages.places import Form, Names
from sim.pages.plain import Document, Plain


def seek_document(
    asked: Asked, found: Found, assumptions: Sequence[Assumption] = ()
) -> Document:
    """What was sought, every set that was found, its fixes, and the figures of the proof."""
    return {
        **heading(asked, scenario=found.scenario, fix=found.fix),
        **_plain(found),
        "assumptions": assumptions_list(assumptions),
    }


_plain = Plain(
    {
        Found: "demands=asked.demands use=asked.use most=asked.most "
        "most_cuts=asked.most_cuts size complete sets more_sets conflicts hopeless crossings "
        "refused_pads figures notes",
        FoundSet: "size cuts changes fixes",
        FoundChange: "joins=words ways=options",
        Option: "way from=start to length_mm cautions",
        Crossing: "route from_mm to_mm too_long_for=short_of",
        Refusal: lambda refusal: {"pad": refusal.pad, "why": refusal_words(refusal)},
    },
    {
        "fixes": lambda fixes: [data_of(fix) for fix in fixes],
        "pruned": lambda pruned: dict(sorted(pruned.items())),
        "without": lambda sizes: [{"demand": d, "size": size} for d, size in sizes],
    },
)


DEMAND_WORDS: dict[Demand, str] = {
    "live": "no dead place in any setting that the timetable uses",
    "no short": "nothing shorted in any setting of the gangs",
    "apart": "the loops independent, with every lever by itself",
    "contact": "alive with any one contact open",
    "lever": "alive and without a short when any one lever does not follow its gang",
}
#: Pads that are listed as refused.
REFUSED_TOLD = 6


def demand_words(found: Found, demand: Demand) -> str:
    """A demand in words, for the settings that were asked about."""
    if demand == "live" and found.asked.gangs:
        return "no dead place in any setting of the gangs"
    return DEMAND_WORDS[demand]


def print_seek(
    page: Page, found: Found, assumptions: Sequence[Assumption], command: str
) -> None:
    """What was asked, what was found, how it was proved, what it rests on."""
    page.line(f"Search of '{found.scenario}', {case_name(found.fix)}")
    page.heading("What was asked for", "asked")
    page.items(demand_words(found, d) for d in found.asked.demands)
    if found.size is None:
        _print_none(page, found)
    else:
        _print_sets(page, found)
    _print_crossings(page, found)
    _print_proof(page, found)
    _print_refused(page, found)
    print_assumptions(page, assumptions)
    print_again(page, command)


def _print_sets(page: Page, found: Found) -> None:
    if found.size == 0:
        page.heading("Nothing needs to be changed")
        page.line("Every demand is met as it is.", indent=1)
        return
    total = len(found.sets) + found.more_sets
    kept = "" if found.asked.every_size else " of that size"
    page.heading(
        f"The smallest cure takes {count(found.size or 0, 'change')}; "
        f"there {'is' if total == 1 else 'are'} {count(total, 'set')}{kept}",
        "sets",
    )
    for number, one in enumerate(found.sets, 1):
        _print_set(page, number, one)
    if found.more_sets:
        page.line(f"and {count(found.more_sets, 'more set')}, not listed", indent=1)


def _print_set(page: Page, number: int, one: FoundSet) -> None:
    page.line()
    page.line(f"Set {number}: {count(one.size, 'change')}", indent=1)
    for cut in one.cuts:
        page.line(f"Cut: {cut}", indent=3)
    for change in one.changes:
        _print_change(page, change)
    if one.fixes:
        page.line(f"As fixes: {joined([fix.name for fix in one.fixes])}", indent=3)


def _print_change(page: Page, change: FoundChange) -> None:
    page.line(f"Join {_change(page.names, change)}", indent=3)
    if not change.options:
        page.line("No way to make it with what was allowed.", indent=5)
    rows = []
    for option in change.options:
        length = "" if option.length_mm is None else f"{option.length_mm:g} mm of wire; "
        minds = "; ".join(_caution(page.names, option, said) for said in option.cautions)
        text = f"{option.way}: {_places(page.names, option)}; {length}{minds}"
        rows.append(text.rstrip("; "))
    page.items(rows, indent=5)


def _change(names: Names, change: FoundChange) -> str:
    """What a change joins: two sections, or a section that a lever switches over."""
    for option in change.options:
        if option.way == "changeover":
            return f"changeover on {_places(names, option, ' ')}"
    words = change.words.split(" to ")
    for place in range(1, len(words)):  # names of sections may hold the word
        a, b = " to ".join(words[:place]), " to ".join(words[place:])
        if names.is_node(a) and names.is_node(b):
            return names.pair(names.section, a, b)
    return change.words


def _places(names: Names, option: Option, to: str = " to ") -> str:
    """Between what an option is made."""
    data: dict[str, Any] = dict(option.fix).get(option.way, {})
    if option.way == "feeder":
        rails = names.pair(
            lambda id, form: f"{names.pad(id, form)} ({'+' if id == data['plus'] else '-'})",
            data["plus"], data["minus"], "and",
        )  # fmt: skip
        return f"{option.start} to {rails}"
    if option.way == "changeover":
        told = (f"{w} {names.section(s, 'row')}" for w, s in data["to"].items())
        feeding = f"feeding {names.section(data['section'], 'row')}: {', '.join(told)}"
        return f"{names.lever(data['lever'])}{to}{feeding}"
    return names.pair(partial(_pad, names, option), option.start, option.to)


def _pad(names: Names, option: Option, id: str, form: Form) -> str:
    """A pad; one of a length that the option adds is known by the end where that goes."""
    for what, data in option.fix:
        piece, _, pad = id.rpartition("/")
        if what == "added_length" and piece == f"{data['at'].split('/')[0]}/{data['name']}":
            return names.added(id, pad.split("-")[1], data["at"])
    return names.pad(id, form)


def _caution(names: Names, option: Option, said: str) -> str:
    """A caution; one that begins with a pad or piece is told of that."""
    of, colon, what = said.partition(": ")
    if not colon:
        return said
    here = option.start.rpartition("/")[0] == option.to.rpartition("/")[0]
    named = names.pad(of, "bare" if here else "row") if of.count("/") == 2 else names.piece(of)
    return f"{named}: {what}"


def _print_none(page: Page, found: Found) -> None:
    page.heading("No cure")
    limit = (
        f"Up to {count(found.asked.most, 'change')} in each independent part and "
        f"{count(found.asked.most_cuts, 'cut')} do not meet these demands together."
    )
    page.line(limit, indent=1)
    page.line("Allow more with --most and --cuts, or ask for less.", indent=1)
    for conflict in found.conflicts:
        _print_conflict(page, found, conflict)
    if found.hopeless:
        page.line("On poles already and not live, whatever is wired:", indent=1)
        page.items(found.hopeless, indent=3)


def _print_conflict(page: Page, found: Found, conflict: Conflict) -> None:
    words = [f"'{demand_words(found, d)}'" for d in conflict.demands]
    if len(words) == 1:
        page.line(f"Not even {words[0]} can be had within these limits.", indent=1)
    else:
        page.line(f"{joined(words)} cannot be had together within these limits.", indent=1)
    for demand, size in conflict.without:
        page.line(
            f"Without '{demand_words(found, demand)}': {count(size, 'change')}.", indent=3
        )
    page.items(conflict.why, indent=3)


def _print_crossings(page: Page, found: Found) -> None:
    if not found.crossings:
        return
    page.heading("Between the gaps of a crossing", "crossings")
    page.line(
        "These stretches have one rail of each loop. With isolated supplies no wire makes "
        "them live, so pickups must reach past them.",
        indent=1,
    )
    page.items(_crossing(page.names, c) for c in found.crossings)


def _crossing(names: Names, stretch: Crossing) -> str:
    reach = "every train reaches past it"
    if stretch.short_of:
        reach = f"too long for {joined(stretch.short_of)}"
    place = f"from {stretch.from_mm:g} to {stretch.to_mm:g} mm"
    long_mm = stretch.to_mm - stretch.from_mm
    return f"{names.route(stretch.route)}: {long_mm:g} mm, {place}; {reach}"


def _print_proof(page: Page, found: Found) -> None:
    figures = found.figures
    page.heading("How far this is proved", "proof")
    alone = figures.changes - figures.refused
    lines = [
        f"{count(figures.cut_sets, 'choice')} of cuts, none among them, were gone through",
        f"of {count(figures.changes, 'single change')} (counted for each choice of cuts) "
        f"{figures.refused} short or join loops by themselves, {alone} remain",
        f"of {figures.possible} sets that these make, {figures.examined} had to be examined",
        *(
            f"{count(n, 'branch', 'branches')} given up: {why}"
            for why, n in sorted(figures.pruned.items())
        ),
    ]
    page.items(lines)
    if found.complete:
        limit = f"up to {count(found.asked.most, 'change')} in each independent part"
        page.line(
            f"The search is complete {limit} and {count(found.asked.most_cuts, 'cut')}: adding "
            "wire only ever joins, so no set with a shorting one in it was worth a look.",
            indent=1,
        )
    else:
        page.line("A stated limit was reached, so a smaller cure is not ruled out.", indent=1)
    for note in found.notes:
        page.line(f"Note: {note}.", indent=1)


def _print_refused(page: Page, found: Found) -> None:
    if not found.refused_pads:
        return
    page.heading(
        f"Where nothing may be soldered: {count(len(found.refused_pads), 'pad')}", "pads"
    )
    told = found.refused_pads[:REFUSED_TOLD]
    page.items(refusal_line(r, page.names.say) for r in told)
    if len(found.refused_pads) > len(told):
        page.line(f"and {len(found.refused_pads) - len(told)} more", indent=1)
