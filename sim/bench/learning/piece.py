"""From a learned wiring to a piece, and to the file that describes it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Any

import tomli_w

from sim.bench.learning.infer import Clause, Learned
from sim.bench.learning.subject import Subject, Variant
from sim.pieces.described import to_data
from sim.pieces.model import Contact, Gap, Piece, Route, Section, Span
from sim.scenario.problems import Problem, ScenarioError

LEARNED = "learned"


def piece_of(
    subject: Subject, learned: Learned, plastic: Sequence[int] = (), note: str = ""
) -> Piece:
    """The subject with the wiring that was learned.

    Raises :class:`ScenarioError` where one rail of the shape was read as two.  Sections
    are named after the first of their rails.  ``plastic`` places, counted
    from 0, have no metal.  Where a frog has some its ends belong to it, else to the rails
    beside it.  Any other rail of the template that no place is on stays by itself.
    """
    template = subject.template
    _check_one_rail(subject, learned)
    first = _first_rails(subject, learned)
    name_of = _names(subject, learned, first, plastic)
    used = list(dict.fromkeys(n for n in name_of.values() if n is not None))
    routes = tuple(
        replace(route, spans=tuple(_spans(route.spans, name_of))) for route in template.routes
    )
    notes = [*template.notes, *([note] if note else [])]
    return replace(
        template,
        kind=f"{LEARNED} {subject.kind}",
        family="",
        sections=tuple(Section(name) for name in used),
        ends=tuple(
            replace(end, north=_metal(name_of, end.north), south=_metal(name_of, end.south))
            for end in template.ends
        ),
        routes=routes,
        bonds=(),
        gaps=tuple(_gaps(template, routes, name_of)),
        contacts=tuple(_contacts(subject, learned, first)),
        pads=tuple(
            replace(pad, section=name_of[pad.section] or "")
            for pad in template.pads
            if name_of[pad.section] is not None
        ),
        notes=tuple(notes),
    )


def _check_one_rail(subject: Subject, learned: Learned) -> None:
    first: dict[str, tuple[int, str]] = {}
    problems = []
    for place, number in zip(subject.places, learned.section_of, strict=True):
        before, name = first.setdefault(place.section, (number, place.name))
        if before != number:
            problems.append(
                Problem(
                    "piece",
                    f"one rail from {name} to {place.name}, as this shape has it (an "
                    "'own piece' may have two)",
                    "readings that part them",
                )
            )
    if problems:
        raise ScenarioError(problems)


def _first_rails(subject: Subject, learned: Learned) -> dict[int, str]:
    """By learned section: the first of its rails, which names it."""
    first: dict[int, str] = {}
    for place, number in zip(subject.places, learned.section_of, strict=True):
        first.setdefault(number, place.section)
    return first


def _names(
    subject: Subject, learned: Learned, first: dict[int, str], plastic: Sequence[int]
) -> dict[str, str | None]:
    """By rail of the template: the section it belongs to now, None where it is plastic."""
    name_of: dict[str, str | None] = {s.name: s.name for s in subject.template.sections}
    for place, number in zip(subject.places, learned.section_of, strict=True):
        name_of[place.section] = first[number]
    for number in plastic:
        name_of[subject.places[number].section] = None
    for end in subject.frog_ends:
        name_of[end.section] = name_of[end.frog] or name_of[end.beside]
    return name_of


def _metal(name_of: dict[str, str | None], section: str) -> str:
    return name_of[section] or section


def _spans(spans: Sequence[Span], name_of: dict[str, str | None]) -> Iterator[Span]:
    last: Span | None = None
    for span in spans:
        left = None if span.left is None else name_of[span.left]
        right = None if span.right is None else name_of[span.right]
        if last is not None and (last.left, last.right) == (left, right):
            last = replace(last, to_mm=span.to_mm)
            continue
        if last is not None:
            yield last
        last = replace(span, left=left, right=right)
    if last is not None:
        yield last


def _gaps(
    template: Piece, routes: Iterable[Route], name_of: dict[str, str | None]
) -> Iterator[Gap]:
    """Where two sections meet along a rail, and where the template has a gap."""
    pairs: dict[tuple[str, str], None] = {}
    for gap in template.gaps:
        a, b = name_of[gap.a], name_of[gap.b]
        if a is not None and b is not None and a != b:
            pairs[min(a, b), max(a, b)] = None
    for route in routes:
        tips = {
            points.tip_mm for points in route.points
        }  # there a blade lies on its stock rail
        for before, after in pairwise(route.spans):
            if before.to_mm in tips:
                continue
            for a, b in ((before.left, after.left), (before.right, after.right)):
                if a is not None and b is not None and a != b:
                    pairs[min(a, b), max(a, b)] = None
    for a, b in pairs:
        yield Gap(f"gap-{a}-{b}", a, b)


def _contacts(subject: Subject, learned: Learned, first: dict[int, str]) -> Iterator[Contact]:
    """One contact for each pair of sections and lever; settings of several levers together."""
    levers = subject.template.levers
    grouped: dict[tuple[int, int, int], list[Clause]] = {}
    for number, join in enumerate(learned.joins):
        alone = number if len(join.clause) == 1 else -1
        grouped.setdefault((join.a, join.b, alone), []).append(join.clause)
    for count, ((a, b, _), clauses) in enumerate(grouped.items(), 1):
        when = tuple(
            tuple((levers[x].name, levers[x].positions[p]) for x, p in clause)
            for clause in clauses
        )
        yield Contact(f"contact-{count}", first[a], first[b], when)


def of_library(subject: Subject, variant: Variant, note: str = "") -> Piece:
    """The library piece that matches, under the name of a learned one."""
    notes = [*variant.piece.notes, *([note] if note else [])]
    return replace(variant.piece, kind=f"{LEARNED} {subject.kind}", notes=tuple(notes))


def piece_file(piece: Piece) -> str:
    """TOML of a piece, for ``[[piece]] file = ...`` of a scenario."""
    return tomli_w.dumps(_tidy(to_data(piece)))


def _tidy(value: Any) -> Any:
    """Without empty lists and texts, which the form fills in by itself."""
    if isinstance(value, dict):
        made = {key: _tidy(item) for key, item in value.items()}
        return {key: item for key, item in made.items() if item not in ([], "", None)}
    return [_tidy(item) for item in value] if isinstance(value, list) else value
