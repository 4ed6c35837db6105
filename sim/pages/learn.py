"""Learning a piece, as a document and as a page."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from sim.bench.learning.infer import Join, elsewhere
from sim.bench.learning.study import Model, Study, Telling
from sim.bench.learning.subject import LearnPlace, levers_of, setting_words
from sim.bench.learning.wirings import Match
from sim.bench.readings.model import Reading
from sim.pages.assumptions import print_again
from sim.pages.documents import Asked, heading
from sim.pages.figures import joined, percent
from sim.pages.page import Page
from sim.pages.plain import Document, Plain


def learn_document(form: str, command: str, study: Study) -> Document:
    """Models simplest first, library matches, what to read again and next."""
    subject = study.subject
    return {
        **heading(Asked(None, command), scenario=None, form=form),
        "kind": subject.kind,
        "places": _plain(subject.places),
        "readings": _plain(study.readings),
        "settled": study.settled,
        "models": [_model(study, m) for m in study.models],
        "wirings_that_agree": study.agree,
        "wirings_counted": study.counted,
        "matches": _plain(study.matches),
        "near_matches": _plain(study.near),
        "take_again": [list(way) for way in study.retakes],
        "take_again_complete": study.retakes_complete,
        "rest_alone": None if study.alone is None else list(study.alone),
        "unread_relations": study.unread,
        "next": _next(study),
    }


def _model(study: Study, model: Model) -> dict[str, Any]:
    subject, learned = study.subject, model.learned
    others = elsewhere(learned, subject.settings)
    match = study.matching(model)
    return {
        "words": model.words,
        "cost": learned.cost,
        "wrong_readings": list(model.wrong),
        "matches": _plain(match),
        "told_from_first": _telling(study, model),
        "sections": [
            [
                p.number
                for p, s in zip(subject.places, learned.section_of, strict=True)
                if s == k
            ]
            for k in range(learned.sections)
        ],
        "contacts": [
            {**_join_row(study, j), "or_between": [[o.a, o.b] for o in others.get(j, [])]}
            for j in learned.joins
        ],
        "nets": [
            {
                "levers": levers_of(subject, positions),
                "groups": [[p + 1 for p in g] for g in _groups(nets)],
            }
            for positions, nets in zip(subject.settings, model.chart, strict=True)
        ],
    }


def _telling(study: Study, model: Model) -> dict[str, Any] | None:
    telling = study.telling(model)
    if telling is None:
        return None
    places = study.subject.places
    return {
        "levers": levers_of(study.subject, telling.positions),
        "places": [places[telling.a].number, places[telling.b].number],
        "joined": telling.joined,
    }


def _join_row(study: Study, join: Join) -> dict[str, Any]:
    levers = study.subject.template.levers
    return {
        "sections": [join.a, join.b],
        "when": {levers[x].name: levers[x].positions[p] for x, p in join.clause},
    }


_plain = Plain(
    {
        LearnPlace: "number at=name",
        Reading: "number text",
        Match: "pieces=variants wrong_readings=wrong",
    },
    {"pieces": lambda variants: [dict(v.params) for v in variants]},
)


def _groups(nets: tuple[int, ...]) -> list[list[int]]:
    found: dict[int, list[int]] = {}
    for place, net in enumerate(nets):
        found.setdefault(net, []).append(place)
    return list(found.values())


def _next(study: Study) -> dict[str, Any] | None:
    if study.next is None:
        return None
    places = study.subject.places
    return {
        "levers": levers_of(study.subject, study.next.positions),
        "places": [places[study.next.a].number, places[study.next.b].number],
        "at": [places[study.next.a].name, places[study.next.b].name],
        "expected_bits": round(study.next.bits, 6),
        "joined": round(study.next.joined, 6),
    }


WAYS_TOLD = 6
ALONE_TOLD = 12
NEAR_TOLD = 3
MODELS_TOLD = 3
ELSEWHERE_TOLD = 3


def print_learn(page: Page, study: Study, again: str) -> None:
    """Readings in sum, what contradicts, what is known, what it is, what to read next."""
    page.line(
        f"Learning {'an' if study.subject.kind[:1] in 'aeio' else 'a'} {study.subject.kind}: "
        f"{len(study.readings)} readings at "
        f"{len(study.subject.places)} places in {len(study.subject.settings)} settings."
    )
    _print_retakes(page, study)
    _print_models(page, study)
    _print_matches(page, study)
    _print_doubts(page, study)
    print_next(page, study)
    print_again(page, again)


def _print_retakes(page: Page, study: Study) -> None:
    if not study.retakes:
        return
    page.heading("Readings that cannot all be right")
    page.line("Take these again; any one of these lines is a smallest choice:", indent=1)
    page.items(joined([f"reading {n}" for n in way]) for way in study.retakes[:WAYS_TOLD])
    if not study.retakes_complete or len(study.retakes) > WAYS_TOLD:
        page.line("There are more choices than are told, or smaller ones not found.", indent=1)
    numbers = sorted({n for way in study.retakes[:WAYS_TOLD] for n in way})
    text = {r.number: r.text for r in study.readings}
    page.items((f"reading {n}: {text[n]}" for n in numbers), indent=3)


def _print_models(page: Page, study: Study) -> None:
    for count, model in enumerate(study.models[:MODELS_TOLD], 1):
        page.heading(f"Wiring {count} of {_how_many(study)}: {model.words}")
        if model.wrong:
            wrong = joined([f"reading {n}" for n in model.wrong])
            page.line(f"taking {wrong} as wrong", indent=1)
        print_model(page, study, model)
    if len(study.models) > 1 or study.agree > 1:
        _print_side_by_side(page, study)


def _how_many(study: Study) -> str:
    """Of how many wirings those that are told are some."""
    least = max(study.agree, len(study.models))
    return f"{least}" if study.retakes or study.counted else f"{least} or more"


def _print_side_by_side(page: Page, study: Study) -> None:
    page.heading("These wirings side by side, the simplest first")
    rows = []
    for count, model in enumerate(study.models, 1):
        match, telling = study.matching(model), study.telling(model)
        told = ""
        if telling is not None:
            pair = f"{telling.a + 1}-{telling.b + 1}, {_setting(study, telling)}"
            told = f"{pair}: {'joined' if telling.joined else 'open'}"
        learned = model.learned
        rows.append(
            (
                str(count),
                str(learned.sections),
                str(len(learned.joins)),
                "none" if match is None else match.words,
                told,
            )
        )
    head = ("", "sections", "contacts", "library piece", "told from wiring 1 by")
    page.table(head, rows, "rrrll", indent=1)
    if study.retakes:
        return
    if study.counted and study.agree <= len(study.models):
        page.line("No other wiring agrees with every reading.", indent=1)
        return
    least = max(study.agree, len(study.models))
    words = f"{'' if study.counted else 'At least '}{least} wirings agree with every reading"
    if study.agree > len(study.models):
        words += "; --models lists more of them"
    page.line(f"{words}. Each new reading leaves fewer.", indent=1)


def _setting(study: Study, telling: Telling) -> str:
    return setting_words(study.subject, telling.positions)


def print_model(page: Page, study: Study, model: Model) -> None:
    """Sections as lists of places, and contacts with their conditions."""
    subject, learned = study.subject, model.learned
    names = [
        [f"{p.number} {p.name}" for p, s in zip(subject.places, learned.section_of, strict=True)
         if s == k]
        for k in range(learned.sections)
    ]  # fmt: skip
    page.line("Always joined (one rail section, or bonded):", indent=1)
    page.items((f"section {k}: {joined(group)}" for k, group in enumerate(names, 1)), indent=3)
    if not learned.joins:
        page.line("No lever changes anything.", indent=1)
        return
    page.line("Contacts:", indent=1)
    others = elsewhere(learned, subject.settings)
    page.items((_join(study, j, others.get(j, [])) for j in learned.joins), indent=3)


def _join(study: Study, join: Join, others: Sequence[Join]) -> str:
    levers = study.subject.template.levers
    when = joined([f"{levers[x].name} is {levers[x].positions[p]}" for x, p in join.clause])
    said = f"section {join.a + 1} to section {join.b + 1} while {when}"
    if others:
        pairs = [f"{o.a + 1} to {o.b + 1}" for o in others[:ELSEWHERE_TOLD]]
        more = ", ..." if len(others) > ELSEWHERE_TOLD else ""
        said += f" (or {joined(pairs, 'or')}{more}: no reading here tells)"
    return said


def _print_matches(page: Page, study: Study) -> None:
    if not study.subject.variants:
        return
    page.heading("In the library")
    page.items(f"agrees: {m.words}" for m in study.matches)
    if not study.matches:
        page.line("No piece of this kind agrees with every reading.", indent=1)
        page.items(
            f"would agree but for {joined([f'reading {n}' for n in m.wrong[:ALONE_TOLD]])}"
            f"{' and more' if len(m.wrong) > ALONE_TOLD else ''}: {m.words}"
            for m in study.near[:NEAR_TOLD]
        )


def _print_doubts(page: Page, study: Study) -> None:
    page.heading("How sure this is")
    if study.settled:
        page.line(
            "One chart is left: every other wiring would have read differently.", indent=1
        )
    if study.unread:
        page.line(
            f"{study.unread} relations between nets were never read; each may be either way.",
            indent=1,
        )
    if study.alone is None:
        page.line(
            "Which readings nothing else confirms was not worked out: too many.", indent=1
        )
    elif study.alone:
        told = joined([str(n) for n in study.alone[:ALONE_TOLD]])
        more = ", ..." if len(study.alone) > ALONE_TOLD else ""
        page.line(
            f"{len(study.alone)} readings are confirmed by no other, and would not be noticed "
            f"if they were wrong: {told}{more}.",
            indent=1,
        )
    page.line(
        "A bond inside a section, or metal between places that were not read, cannot be told.",
        indent=1,
    )


def print_next(page: Page, study: Study) -> None:
    """The reading that tells most, if any does."""
    if study.next is None:
        return
    places, ask = study.subject.places, study.next
    one, other = places[ask.a], places[ask.b]
    page.heading("The next reading that tells most")
    page.line(
        f"{one.number}-{other.number} ({one.name}, {other.name}); "
        f"{setting_words(study.subject, ask.positions)}: joined {percent(ask.joined)} likely",
        indent=1,
    )
