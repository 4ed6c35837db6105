"""Every wiring of a module's pieces that is still possible while they are not fully learned."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any, Literal, get_args, get_origin

from sim.layout.assembly_log import Report
from sim.layout.piece_maker import PieceMaker
from sim.layout.project import Project
from sim.pieces.kinds import KINDS
from sim.scenario.document import Scenario
from sim.scenario.load import frozen, load_text, parse_toml
from sim.scenario.problems import Problem, ScenarioError
from sim.scenario.tracks import PieceTable

AS_IT_IS = "as it is"
Wired = list[tuple[str, Scenario]]


def wirings(
    scenario: Scenario, module: str, unknown: tuple[str, ...], files: tuple[str, ...] = ()
) -> Wired:
    """Every wiring that is still possible, in words and as a scenario.

    ``unknown`` are parameters of library pieces, every value of which is tried;
    ``files`` describe pieces that may lie there instead, as ``learn`` writes them.
    """
    found: Wired = [(AS_IT_IS, scenario)]
    if files:
        found += [_with_file(scenario, module, n, text) for n, text in enumerate(files, 1)]
    if not unknown:
        return found
    others = found[1:]
    found = [("", scenario)]
    for field in unknown:
        values = _values(scenario, module, field)
        found = [
            (f"{words}, {word}".lstrip(", "), _with(made, module, field, value))
            for words, made in found
            for word, value in values
        ]
    own = scenario.module  # known to be usable
    usable = [
        (words, made)
        for words, made in found
        if made.module == own or Project(made).case_or_none()
    ]
    return [*(usable or [(AS_IT_IS, scenario)]), *others]


def _with_file(scenario: Scenario, module: str, number: int, text: str) -> tuple[str, Scenario]:
    """The scenario with a piece from a file; ``text`` is FILE, or PIECE=FILE."""
    named, sign, name = text.rpartition("=")
    table = next(m for m in scenario.module if m.name == module)
    piece = _piece_meant(scenario, table.piece, named if sign else None, module)
    kind = f"possible wiring {number}"
    data = {**_piece_data(name), "kind": kind}
    pieces = tuple(
        PieceTable(name=p.name, kind=kind) if p.name == piece else p for p in table.piece
    )
    modules = tuple(
        m.model_copy(update={"piece": pieces}) if m.name == module else m
        for m in scenario.module
    )
    update = {"piece": (*scenario.piece, frozen(data)), "module": modules, "fix": ()}
    made = scenario.model_copy(update=update)
    Project(made).require()
    return Path(name).name, made


def _piece_data(name: str) -> dict[str, Any]:
    """The tables of a piece file. Raises :class:`ScenarioError`."""
    where = f"--wiring {name}"
    try:
        return parse_toml(load_text(Path(name), where), where)
    except ScenarioError as error:
        raise ScenarioError(
            replace(p, expected=p.expected.replace("a scenario file", "a piece file"))
            for p in error.problems
        ) from None


def _piece_meant(
    scenario: Scenario, pieces: tuple[PieceTable, ...], named: str | None, module: str
) -> str:
    """Name of the piece that a wiring is for: the named one, or the only one with levers."""
    ground = PieceMaker(scenario)
    report = Report()
    with_levers = [
        p.name
        for p in pieces
        if (made := ground.make(p.kind, p.params, "", report)) is not None and made.levers
    ]
    known = [p.name for p in pieces]
    if named is None and len(with_levers) == 1:
        return with_levers[0]
    if named in known:
        return str(named)
    expected = f"PIECE=FILE with a piece of {module!r}: {', '.join(map(repr, known))}"
    raise ScenarioError([Problem("--wiring", expected, repr(named))])


def _values(scenario: Scenario, module: str, field: str) -> list[tuple[str, Any]]:
    table = next(m for m in scenario.module if m.name == module)
    choices: dict[str, Any] = {}
    for piece in table.piece:
        kind = KINDS.get(piece.kind)
        if kind is None or field not in kind.model_fields:
            continue
        choices.update(_choices(field, kind.model_fields[field].annotation))
    if not choices:
        expected = "a parameter with a short list of values that a piece of the module has"
        raise ScenarioError([Problem("--unknown", expected, repr(field))])
    return list(choices.items())


def _choices(field: str, annotation: Any) -> Mapping[str, Any]:
    if annotation is bool:
        return {f"{field} {str(value).lower()}": value for value in (True, False)}
    if get_origin(annotation) is Literal:
        return {f"{field} {value}": value for value in get_args(annotation)}
    return {}


def _with(scenario: Scenario, module: str, field: str, value: Any) -> Scenario:
    """The scenario with one parameter of the module's pieces set."""
    modules = []
    for table in scenario.module:
        if table.name == module:
            pieces = tuple(
                type(p).model_validate({**p.model_dump(), field: value})
                if p.kind in KINDS and field in KINDS[p.kind].model_fields
                else p
                for p in table.piece
            )
            table = table.model_copy(update={"piece": pieces})
        modules.append(table)
    return scenario.model_copy(update={"module": tuple(modules), "fix": ()})
