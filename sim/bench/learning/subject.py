"""What is learned: a piece whose shape is known and whose wiring is not.

The shape of a piece that is not in the library: ends, levers and routes.

What is learned: a piece whose shape is known and whose wiring is not.

The *template* is a piece of the shape in which every stretch of rail that any
wiring could part is a section of its own.  Places are stretches of the template; the
ends of a frog, which are no place, belong to it or to the rails beside it.

Settings of a piece that is learned, in words.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import groupby, pairwise, product
from typing import Any, NamedTuple

from pydantic import Field

from sim.bench.diagnosis.model import layout_of
from sim.bench.diagnosis.next_reading import settings_near
from sim.bench.readings.model import Positions
from sim.layout.model import Layout
from sim.pieces.described import from_data
from sim.pieces.families import FAMILIES
from sim.pieces.kinds import KINDS, build
from sim.pieces.model import Piece, Route, Section, Span
from sim.pieces.parameters import PieceError
from sim.power.settings import rest_positions
from sim.scenario.fields import Model, Name

#: Where blades are taken to lie, as shares of a route's length from its points.
TIP_SHARE, HEEL_SHARE = 0.1, 0.4


class OwnEnd(Model):
    """An end, and which way the track leaves the piece there."""

    name: Name
    outward: str = Field(description="west or east", pattern="^(west|east)$")


class OwnLever(Model):
    """A lever and its positions."""

    name: Name
    positions: tuple[Name, ...] = Field(default=("through", "diverging"), min_length=2)


class OwnRoute(Model):
    """A way through the piece; blades are near ``from``."""

    start: Name = Field(alias="from")
    to: Name
    length_mm: float = Field(default=100.0, gt=0.0, le=100_000.0)
    needs: dict[str, str] = Field(default_factory=dict)


def template_of(
    params: Mapping[str, Any],
    ends: Sequence[OwnEnd],
    levers: Sequence[OwnLever],
    routes: Sequence[OwnRoute],
) -> Piece:
    """A piece with a rail section of its own at each rail of each end.

    Raises :class:`PieceError` where the parts do not fit one another.
    """
    outward = {end.name: end.outward for end in ends}
    unknown = [n for r in routes for n in (r.start, r.to) if n not in outward]
    if unknown:
        raise PieceError([("route", "ends that are listed", ", ".join(map(repr, unknown)))])
    data: dict[str, Any] = {
        "kind": "own piece",
        **params,
        "sections": [f"{end.name}-{side}" for end in ends for side in ("north", "south")],
        "ends": [
            {
                "name": end.name,
                "outward": end.outward,
                "north": f"{end.name}-north",
                "south": f"{end.name}-south",
            }
            for end in ends
        ],
        "levers": [{"name": x.name, "positions": list(x.positions)} for x in levers],
        "routes": [_route(r, outward) for r in routes],
    }
    return from_data(data)


def _route(route: OwnRoute, outward: Mapping[str, str]) -> dict[str, Any]:
    half = route.length_mm / 2.0
    # Going in at a west end the north rail is on the left, at an east end on the right;
    # going out it is the other way round.
    left, right = ("north", "south") if outward[route.start] == "west" else ("south", "north")
    out_left, out_right = (
        ("north", "south") if outward[route.to] == "east" else ("south", "north")
    )
    return {
        "from": route.start,
        "to": route.to,
        "length_mm": route.length_mm,
        "spans": [
            {"from_mm": 0.0, "to_mm": half, "left": f"{route.start}-{left}",
             "right": f"{route.start}-{right}"},
            {"from_mm": half, "to_mm": route.length_mm, "left": f"{route.to}-{out_left}",
             "right": f"{route.to}-{out_right}"},
        ],
        "points": [
            {
                "lever": lever,
                "position": position,
                "tip_mm": route.length_mm * TIP_SHARE,
                "heel_mm": route.length_mm * HEEL_SHARE,
            }
            for lever, position in route.needs.items()
        ],
    }  # fmt: skip


@dataclass(frozen=True, slots=True)
class LearnPlace:
    """A place to read at: ``name`` is ``end/north`` or, between the ends, a rail's role.

    ``section`` is the template's.
    """

    number: int
    name: str
    section: str


@dataclass(frozen=True, slots=True)
class FrogEnd:
    """A section of the template at an end of a frog.

    A metal frog is as long as its casting, a plastic one is dead for less: what is left
    of it at each end then is the rail ``beside`` it.
    """

    section: str
    frog: str
    beside: str


@dataclass(frozen=True, slots=True)
class Variant:
    """A library piece of the subject's shape; ``words`` say which."""

    words: str
    params: tuple[tuple[str, Any], ...]
    piece: Piece


@dataclass(frozen=True, slots=True)
class Subject:
    """An unknown piece: its template, where it can be read, and in which settings."""

    kind: str
    template: Piece
    places: tuple[LearnPlace, ...]
    settings: tuple[Positions, ...]
    variants: tuple[Variant, ...]
    frog_ends: tuple[FrogEnd, ...] = ()

    @property
    def layout(self) -> Layout:
        """The template by itself, for settings in words."""
        return layout_of(self.template)


def subject_of_kind(kind: str, params: Mapping[str, Any]) -> Subject:
    """A library kind of unknown wiring. Raises :class:`PieceError` for a shape that is none."""
    if kind not in KINDS:
        raise PieceError([("kind", "one of " + ", ".join(KINDS), repr(kind))])
    wiring = sorted(_choices(kind) - {"gangs"})
    given = [name for name in wiring if name in params]
    if given:
        raise PieceError(
            [
                (name, "nothing: the wiring is what is learned", repr(params[name]))
                for name in given
            ]
        )
    variants = tuple(_variants(kind, params))
    template, frog_ends = _with_frog_ends(_finest(variants), variants)
    return make_subject(kind, template, variants, frog_ends)


def make_subject(
    kind: str,
    template: Piece,
    variants: tuple[Variant, ...] = (),
    frog_ends: tuple[FrogEnd, ...] = (),
) -> Subject:
    """Number the places of ``template`` and list its settings."""
    layout = layout_of(template)
    rest = tuple(rest_positions(layout))
    settings = settings_near(layout, range(len(layout.levers)), rest)
    places = tuple(_places(template, {end.section for end in frog_ends}))
    return Subject(kind, template, places, settings, variants, frog_ends)


def _choices(kind: str) -> set[str]:
    names = {"family", "frog_gaps", "centre_gap", "corners", "gap_in"}
    return names & set(KINDS[kind].model_fields)


def _variants(kind: str, params: Mapping[str, Any]) -> Iterator[Variant]:
    options: dict[str, list[Any]] = {
        "family": list(FAMILIES),
        "frog_gaps": [False, True],
        "centre_gap": [False, True],
        "corners": ["plastic", "fed"],
        "gap_in": ["north", "south", "both"],
    }
    names = [name for name in options if name in _choices(kind)]
    refused: PieceError | None = None
    found = 0
    for values in product(*(options[name] for name in names)):
        chosen = dict(zip(names, values, strict=True))
        try:
            piece = build(kind, {**params, **chosen})
        except PieceError as error:
            refused = refused or error
            continue
        found += 1
        yield Variant(_words(chosen), tuple(chosen.items()), piece)
    if not found and refused is not None:
        raise refused


def _words(chosen: Mapping[str, Any]) -> str:
    said = []
    for name, value in chosen.items():
        word = name.replace("_", " ")
        if value is True:
            said.append(f"with {word}")
        elif value is False:
            said.append(f"without {word}")
        else:
            said.append(value if name == "family" else f"{word} {value}")
    return ", ".join(said)


def _finest(variants: tuple[Variant, ...]) -> Piece:
    """The variant with the most sections, and of those the most metal."""

    def fineness(variant: Variant) -> tuple[int, float]:
        spans = [s for route in variant.piece.routes for s in route.spans]
        plastic_mm = sum(s.to_mm - s.from_mm for s in spans if None in (s.left, s.right))
        return len(variant.piece.sections), -round(plastic_mm)

    return max(variants, key=fineness).piece


class _Stretch(NamedTuple):
    """A stretch of one rail of a route, of one section or of plastic."""

    from_mm: float
    to_mm: float
    section: str | None


def _with_frog_ends(
    finest: Piece, variants: tuple[Variant, ...]
) -> tuple[Piece, tuple[FrogEnd, ...]]:
    """The template: the finest piece, its frogs parted where those of plastic end."""
    found: dict[FrogEnd, None] = {}
    routes = []
    for number, route in enumerate(finest.routes):
        others = [variant.piece.routes[number] for variant in variants]
        left, right = (
            list(_parted(_rail(route, side), [_rail(o, side) for o in others], found))
            for side in (0, 1)
        )
        routes.append(replace(route, spans=tuple(_across(left, right))))
    sections = dict.fromkeys(Section(end.section) for end in found)
    template = replace(finest, routes=tuple(routes), sections=(*finest.sections, *sections))
    return template, tuple(found)


def _rail(route: Route, side: int) -> list[_Stretch]:
    """The left (0) or right (1) rail of a route, stretch by stretch."""
    runs = groupby(route.spans, key=lambda span: (span.left, span.right)[side])
    spans = ((section, list(run)) for section, run in runs)
    return [_Stretch(run[0].from_mm, run[-1].to_mm, section) for section, run in spans]


def _parted(
    rail: list[_Stretch], others: list[list[_Stretch]], found: dict[FrogEnd, None]
) -> Iterator[_Stretch]:
    """``rail``, with the ends parted off of what is plastic in the middle in another one."""
    plastic = [s for other in others for s in other if s.section is None]
    for k, whole in enumerate(rail):
        within = [p for p in plastic if whole.from_mm <= p.from_mm and p.to_mm <= whole.to_mm]
        before = rail[k - 1].section if k > 0 else None
        after = rail[k + 1].section if k + 1 < len(rail) else None
        if whole.section is None or before is None or after is None or not within:
            yield whole
            continue
        low, high = min(p.from_mm for p in within), max(p.to_mm for p in within)
        for stretch in (
            _Stretch(whole.from_mm, low, before),
            _Stretch(low, high, None),
            _Stretch(high, whole.to_mm, after),
        ):
            if stretch.section is None:
                yield stretch._replace(section=whole.section)
            elif stretch.to_mm > stretch.from_mm:
                name = f"{whole.section}-beside-{stretch.section}"
                found[FrogEnd(name, whole.section, stretch.section)] = None
                yield stretch._replace(section=name)


def _across(left: list[_Stretch], right: list[_Stretch]) -> Iterator[Span]:
    """Spans of two rails side by side."""
    cuts = sorted({s.from_mm for s in (*left, *right)} | {left[-1].to_mm})
    for low, high in pairwise(cuts):
        one, other = (
            next(s.section for s in rail if s.from_mm <= low < s.to_mm)
            for rail in (left, right)
        )
        yield Span(low, high, one, other)


def _places(template: Piece, frog_ends: Collection[str]) -> Iterator[LearnPlace]:
    """Both rails of every end, then every other stretch that a wheel runs on."""
    seen = set(frog_ends)
    number = 0
    for end in template.ends:
        for side, section in (("north", end.north), ("south", end.south)):
            number += 1
            seen.add(section)
            yield LearnPlace(number, f"{end.name}/{side}", section)
    for route in template.routes:
        for span in route.spans:
            for name in (span.left, span.right):
                if name is not None and name not in seen:
                    seen.add(name)
                    number += 1
                    yield LearnPlace(number, name, name)


def sections_at(subject: Subject, piece: Piece) -> list[str | None]:
    """By place: the section of another piece of the same shape there; None for plastic."""
    ends = {end.name: end for end in piece.ends}
    found: list[str | None] = []
    for place in subject.places:
        end, _, side = place.name.partition("/")
        if side in ("north", "south") and end in ends:
            found.append(ends[end].north if side == "north" else ends[end].south)
        else:
            found.append(_section_there(subject.template, place.section, piece))
    return found


def _section_there(template: Piece, section: str, piece: Piece) -> str | None:
    """What ``piece`` has in the middle of the longest span of the template's section."""
    best: tuple[float, int, bool, float] | None = None
    for number, route in enumerate(template.routes):
        for span in route.spans:
            long, middle = span.to_mm - span.from_mm, (span.from_mm + span.to_mm) / 2.0
            if section in (span.left, span.right) and (best is None or long > best[0]):
                best = long, number, span.left == section, middle
    if best is None:
        return None
    _, number, on_left, middle = best
    for span in piece.routes[number].spans:
        if span.from_mm <= middle <= span.to_mm:
            return span.left if on_left else span.right
    return None


def setting_words(subject: Subject, positions: Positions) -> str:
    """A setting in words, gangs by their names."""
    return ", ".join(f"{n} {p}" for n, p in levers_of(subject, positions).items()) or "no lever"


def levers_of(subject: Subject, positions: Positions) -> dict[str, str]:
    """By lever or gang: its position."""
    template = subject.template
    at = {x.name: x.positions[p] for x, p in zip(template.levers, positions, strict=True)}
    found: dict[str, str] = {}
    for gang in template.gangs:
        if len({at[x] for x in gang.levers}) == 1:
            found[gang.name] = at[gang.levers[0]]
            for x in gang.levers:
                at.pop(x)
    return {**found, **at}
