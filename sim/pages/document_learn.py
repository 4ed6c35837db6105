"""The document of learning a piece."""

from __future__ import annotations

from typing import Any

from sim.learn.infer import Join, elsewhere
from sim.learn.match import Match
from sim.learn.settings import levers_of
from sim.learn.study import Model, Study
from sim.pages.documents import FORMAT_VERSION, Document


def learn_document(form: str, command: str, study: Study) -> Document:
    """Models simplest first, library matches, what to read again and next."""
    subject = study.subject
    return {
        "format_version": FORMAT_VERSION,
        "scenario": None,
        "form": form,
        "command": command,
        "kind": subject.kind,
        "places": [{"number": p.number, "at": p.name} for p in subject.places],
        "readings": [{"number": r.number, "text": r.text} for r in study.readings],
        "settled": study.settled,
        "models": [_model(study, m) for m in study.models],
        "wirings_that_agree": study.agree,
        "wirings_counted": study.counted,
        "matches": [_match(m) for m in study.matches],
        "near_matches": [_match(m) for m in study.near],
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
        "matches": None if match is None else _match(match),
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
            {**_join(study, j), "or_between": [[o.a, o.b] for o in others.get(j, [])]}
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


def _join(study: Study, join: Join) -> dict[str, Any]:
    levers = study.subject.template.levers
    return {
        "sections": [join.a, join.b],
        "when": {levers[x].name: levers[x].positions[p] for x, p in join.clause},
    }


def _groups(nets: tuple[int, ...]) -> list[list[int]]:
    found: dict[int, list[int]] = {}
    for place, net in enumerate(nets):
        found.setdefault(net, []).append(place)
    return list(found.values())


def _match(match: Match) -> dict[str, Any]:
    return {
        "pieces": [dict(v.params) for v in match.variants],
        "wrong_readings": list(match.wrong),
    }


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
