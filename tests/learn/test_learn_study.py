"""Every library piece learned back from its own readings, and what bad readings do.

The readings come from tests/twin.py, which shares no code with what is under test.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import replace
from itertools import product

import pytest

from sim.bench.learning.form import FormFile, blank_form
from sim.bench.learning.infer import Relation, elsewhere, infer, relations_of
from sim.bench.learning.piece import of_library, piece_file, piece_of
from sim.bench.learning.study import study
from sim.bench.learning.subject import Subject, Variant, sections_at, subject_of_kind
from sim.bench.learning.wirings import agrees
from sim.bench.readings.model import Reading
from sim.pieces.described import from_data
from sim.pieces.families import ROLE_WORDS, ROLES
from sim.pieces.model import Piece
from sim.pieces.parameters import PieceError
from sim.scenario.load import parse_toml
from tests.learn.simulated import read, truth
from tests.pieces.cases import N_GAUGE, TWIN
from tests.twin import nets

SHAPES = {
    "straight": ("straight", N_GAUGE | {"length_mm": 100.0}),
    "curve": ("curve", N_GAUGE | {"radius_mm": 300.0, "angle_deg": 30.0, "hand": "left"}),
    "insulated": ("insulated straight", N_GAUGE | {"length_mm": 100.0}),
    "feeder length": ("feeder length", N_GAUGE | {"length_mm": 80.0}),
    "siding end": ("siding end", N_GAUGE | {"length_mm": 100.0}),
    "diamond": ("diamond crossing", N_GAUGE),
    "turnout": ("turnout", N_GAUGE),
    "left turnout": ("turnout", N_GAUGE | {"hand": "left"}),
    "double slip": ("double slip", N_GAUGE),
    "crossover": ("single crossover", TWIN),
    "crossover, single levers": ("single crossover", TWIN | {"gangs": "single"}),
    "scissors": ("scissors crossover", TWIN),
    "scissors, per diagonal": ("scissors crossover", TWIN | {"gangs": "per diagonal"}),
}
SUBJECTS: dict[str, Subject] = {
    name: subject_of_kind(kind, params) for name, (kind, params) in SHAPES.items()
}


def cases() -> Iterator[object]:
    for name, subject in SUBJECTS.items():
        for number, variant in enumerate(subject.variants):
            yield pytest.param(subject, variant, id=f"{name}-{number}-{variant.words}")


def same_nets(subject: Subject, one: Piece, other: Piece, plastic: set[int]) -> None:
    """Both pieces join the same places in every setting, by the twin."""
    for positions in subject.settings:
        found = []
        for piece in (one, other):
            setting = {
                x.name: x.positions[p] for x, p in zip(piece.levers, positions, strict=True)
            }
            home = {n: k for k, g in enumerate(nets(piece, setting)) for n in g}
            at = sections_at(subject, piece)
            keys = [None if s is None else home[s] for s in at]
            first: dict[int, int] = {}
            found.append(
                [
                    None if k is None or place in plastic else first.setdefault(k, place)
                    for place, k in enumerate(keys)
                ]
            )
        assert found[0] == found[1]


@pytest.mark.parametrize("name", SUBJECTS)
def test_no_place_stands_for_two_rails_of_any_wiring(name: str) -> None:
    """Where a wheel runs on one section of the template, it runs on one of every variant."""
    template = SUBJECTS[name].template
    for variant in SUBJECTS[name].variants:
        under: dict[str, set[str]] = {}
        for ours, theirs in zip(template.routes, variant.piece.routes, strict=True):
            for one, other in product(ours.spans, theirs.spans):
                if min(one.to_mm, other.to_mm) - max(one.from_mm, other.from_mm) > 0.1:
                    for a, b in ((one.left, other.left), (one.right, other.right)):
                        if a is not None and b is not None:
                            under.setdefault(a, set()).add(b)
        assert {a: b for a, b in under.items() if len(b) > 1} == {}, variant.words


@pytest.mark.parametrize(("subject", "variant"), list(cases()))
def test_a_library_piece_is_learned_back(subject: Subject, variant: Variant) -> None:
    readings, _ = read(subject, variant.piece)
    at = sections_at(subject, variant.piece)
    plastic = [place for place, section in enumerate(at) if section is None]
    found = study(subject, readings, plastic)
    assert found.settled and not found.retakes and found.next is None
    (model,) = found.models
    for r in readings:
        nets_there = model.chart[subject.settings.index(r.probe.positions)]
        assert agrees(nets_there, r)
    (match,) = found.matches
    assert variant in match.variants
    # The learned wiring as a piece, through its file and back, joins the same places.
    text = piece_file(piece_of(subject, model.learned, plastic))
    same_nets(subject, from_data(parse_toml(text)), variant.piece, set(plastic))
    library = of_library(subject, match.variants[0])
    library = replace(library, assumed_dead_mm=None)  # what is written down is no assumption
    assert from_data(parse_toml(piece_file(library))) == library


@pytest.mark.slow
@pytest.mark.parametrize("number", range(20))
def test_scissors_with_single_levers_are_learned_back(number: int) -> None:
    subject = subject_of_kind("scissors crossover", TWIN | {"gangs": "single"})
    test_a_library_piece_is_learned_back(subject, subject.variants[number])


@pytest.mark.parametrize("seed", range(16))
def test_wrong_and_missing_readings_are_noticed_or_named(seed: int) -> None:
    """5 % wrong or missing: right chart, or the wrong readings are among those in doubt."""
    rng = random.Random(seed)
    subject = SUBJECTS[rng.choice([n for n in SUBJECTS if n != "straight"])]
    variant = rng.choice(subject.variants)
    readings, bad = read(subject, variant.piece, wrong=0.025, missing=0.025, seed=seed)
    found = study(subject, readings)
    right = dict(truth(subject, variant.piece))
    first = found.models[0].chart
    is_right = all(
        (first[subject.settings.index(p.positions)][p.a]
         == first[subject.settings.index(p.positions)][p.b]) == (said == "joined")
        for p, said in right.items()
    )  # fmt: skip
    if is_right:
        return
    doubted = {n for way in found.retakes for n in way} | set(found.alone or ())
    doubted |= {n for m in (*found.near, *found.matches) for n in m.wrong}
    assert not found.settled or bad & doubted
    assert found.unread or bad & doubted


def test_a_single_wrong_reading_is_named_and_the_piece_still_found() -> None:
    subject = SUBJECTS["turnout"]
    variant = subject.variants[0]
    readings, _ = read(subject, variant.piece)
    for spoiled in readings[::7]:
        said = "open" if spoiled.said == "joined" else "joined"
        changed = replace(spoiled, said=said, allows=frozenset((said,)))
        others = [changed if r is spoiled else r for r in readings]
        found = study(subject, others)
        named = {n for way in found.retakes for n in way}
        assert spoiled.number in named or spoiled.number in (found.alone or ())
        assert not found.matches
        assert found.near[0].wrong == (spoiled.number,) and variant in found.near[0].variants


def follow(subject: Subject, variant: Variant) -> int:
    """Take the suggested readings until nothing tells more; how many that were."""
    said = dict(truth(subject, variant.piece))
    taken: list[Reading] = []
    while True:
        found = study(subject, taken)
        if found.next is None or len(found.matches) == 1:
            break
        ask = found.next
        probe = next(
            p for p in said
            if (p.a, p.b, p.positions) == (ask.a, ask.b, ask.positions)
        )  # fmt: skip
        word = said[probe]
        taken.append(Reading(len(taken) + 1, probe, word, frozenset((word,))))
    assert variant in found.matches[0].variants
    return len(taken)


def test_suggested_readings_tell_the_families_of_a_turnout_apart() -> None:
    subject = SUBJECTS["turnout"]
    counts = [follow(subject, variant) for variant in subject.variants]
    # Eight wirings need three readings at least (log2 8 = 3); all pairs are 110.
    assert max(counts) <= 6


def test_a_wiring_that_no_library_piece_has_is_learned_too() -> None:
    subject = SUBJECTS["turnout"]
    plain = subject.variants[0].piece
    crossed = replace(plain.contacts[0], when=((("lever", "diverging"),),))
    other = replace(plain.contacts[1], when=((("lever", "through"),),))
    strange = replace(plain, contacts=(crossed, other))
    readings, _ = read(subject, strange)
    found = study(subject, readings)
    assert found.settled and not found.matches
    same_nets(subject, piece_of(subject, found.models[0].learned), strange, set())


def test_contacts_that_could_sit_elsewhere_are_told() -> None:
    """All levers ganged: three rails joined in one setting need two contacts of three."""
    subject = SUBJECTS["scissors"]
    variant = next(v for v in subject.variants if v.words.startswith("live frog, without"))
    readings, _ = read(subject, variant.piece)
    relations = relations_of(readings, subject.settings, len(subject.places))
    learned = infer(relations, subject.settings, len(subject.places))
    assert elsewhere(learned, subject.settings)


def test_what_is_unread_is_said_and_keeps_it_unsettled() -> None:
    subject = SUBJECTS["turnout"]
    readings, _ = read(subject, subject.variants[0].piece)
    some = [r for r in readings if 4 not in (r.probe.a, r.probe.b)]
    found = study(subject, some)
    assert found.unread and not found.settled and found.next is not None
    assert 4 in (found.next.a, found.next.b)


def test_joined_is_passed_on_and_apart_too() -> None:
    relation = Relation(5)
    assert relation.part(0, 3) and relation.join(0, 1) and relation.join(3, 4)
    assert relation.known(1, 4) is False and relation.known(0, 2) is None
    assert not relation.join(1, 4) and not relation.part(0, 1)
    assert relation.join(2, 4) and relation.known(2, 0) is False


def test_a_wiring_parameter_is_refused_since_it_is_what_is_learned() -> None:
    with pytest.raises(PieceError, match="family"):
        subject_of_kind("turnout", N_GAUGE | {"family": "live frog"})
    with pytest.raises(PieceError, match="kind"):
        subject_of_kind("bridge", N_GAUGE)


def test_a_blank_form_of_a_turnout_says_what_its_rails_are_called() -> None:
    """The short names of a turnout's rails mean nothing to a stranger."""
    params = {"gauge_mm": 9, "frog_number": 6}
    form = blank_form(FormFile(format=1, kind="turnout", params=params))
    assert 'at = "F" },  # frog\n' in form
    assert 'at = "BS" },  # blade of the through route\n' in form
    assert set(ROLE_WORDS) == set(ROLES)
    assert parse_toml(form, "form")


def test_a_form_begins_with_what_has_to_be_filled_in() -> None:
    """A scissors has pairs by the thousand; its groups take one line a setting."""
    params = {"gauge_mm": 9, "length_mm": 310, "track_centres_mm": 33}
    file = FormFile(format=1, kind="scissors crossover", params=params)
    lines = blank_form(file).splitlines()
    settings = len(subject_of_kind("scissors crossover", params).settings)
    assert lines.count("groups = []") == settings
    last = max(k for k, line in enumerate(lines) if line == "groups = []")
    assert last < 70 and not any(" = " in line and "-" in line.split(" = ")[0]
                                 for line in lines[:last])  # fmt: skip


def frog_mm(piece: Piece, route: str, frog: str | None) -> tuple[float, ...]:
    """Where a route's rails are ``frog``, or of plastic (None)."""
    spans = next(r for r in piece.routes if r.name == route).spans
    ends = [(s.from_mm, s.to_mm) for s in spans if frog in (s.left, s.right)]
    return (ends[0][0], ends[-1][1]) if ends else ()


@pytest.mark.parametrize("route", ["points-through", "points-diverging"])
def test_a_learned_plastic_frog_is_dead_no_longer_than_one_of_the_library(route: str) -> None:
    """N: dead for 15 mm (common practice, no source), though its casting is twice as long."""
    subject = SUBJECTS["turnout"]
    number = next(p.number for p in subject.places if p.name == "F") - 1
    for variant in subject.variants:
        plastic = [] if sections_at(subject, variant.piece)[number] else [number]
        readings, _ = read(subject, variant.piece)
        (model,) = study(subject, readings, plastic).models
        learned = piece_of(subject, model.learned, plastic)
        if plastic:
            assert frog_mm(learned, route, None) == frog_mm(variant.piece, route, None)
            start, end = frog_mm(learned, route, None)
            assert end - start == pytest.approx(15.0, abs=0.1)
        elif "with frog gaps" in variant.words:
            assert frog_mm(learned, route, "F") == frog_mm(variant.piece, route, "F")
