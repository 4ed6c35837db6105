"""The library's one entry point: a kind and its parameters give a piece."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

from pydantic import ValidationError

from sim.pieces.crossover import CrossoverParams, build_crossover, crossover_roles
from sim.pieces.diamond import DiamondParams, build_diamond, diamond_roles
from sim.pieces.double_slip import DoubleSlipParams, build_double_slip, double_slip_roles
from sim.pieces.model import Piece
from sim.pieces.parameters import USUAL_FROGS, Params, PieceError, validation_problems
from sim.pieces.plain import (
    CurveParams,
    FeederLengthParams,
    InsulatedStraightParams,
    SidingEndParams,
    StraightParams,
    build_curve,
    build_feeder_length,
    build_insulated_straight,
    build_siding_end,
    build_straight,
    plain_roles,
)
from sim.pieces.roles import Key, Role, Roles, gang_roles, pad_roles, parts_of
from sim.pieces.scissors import ScissorsParams, build_scissors, scissors_roles
from sim.pieces.turnout import TurnoutParams, build_turnout, single_turnout_roles

#: the parameters of every kind, for validation and for a JSON Schema
KINDS: dict[str, type[Params]] = {
    "straight": StraightParams,
    "curve": CurveParams,
    "insulated straight": InsulatedStraightParams,
    "feeder length": FeederLengthParams,
    "siding end": SidingEndParams,
    "turnout": TurnoutParams,
    "single crossover": CrossoverParams,
    "scissors crossover": ScissorsParams,
    "diamond crossing": DiamondParams,
    "double slip": DoubleSlipParams,
}

_BUILDERS: dict[type[Params], Callable[[Any], Piece]] = {
    StraightParams: build_straight,
    CurveParams: build_curve,
    InsulatedStraightParams: build_insulated_straight,
    FeederLengthParams: build_feeder_length,
    SidingEndParams: build_siding_end,
    TurnoutParams: build_turnout,
    CrossoverParams: build_crossover,
    ScissorsParams: build_scissors,
    DiamondParams: build_diamond,
    DoubleSlipParams: build_double_slip,
}

#: what the parts of each kind are
_ROLES: dict[str, Callable[[Piece], dict[Key, Role]]] = {
    "straight": plain_roles,
    "curve": plain_roles,
    "insulated straight": plain_roles,
    "feeder length": plain_roles,
    "siding end": plain_roles,
    "turnout": single_turnout_roles,
    "single crossover": crossover_roles,
    "scissors crossover": scissors_roles,
    "diamond crossing": diamond_roles,
    "double slip": double_slip_roles,
}


def build(kind: str, params: Mapping[str, object]) -> Piece:
    """Build a library piece.

    ``params`` are the fields of ``KINDS[kind]``, ``gauge_mm`` among them.
    Raises :class:`PieceError` with every problem of the parameters, or of the
    geometry that they ask for.
    """
    if kind not in KINDS:
        raise PieceError([("kind", "one of " + ", ".join(KINDS), repr(kind))])
    try:
        checked = KINDS[kind].model_validate(dict(params))
    except ValidationError as error:
        raise PieceError(validation_problems(error)) from None
    return build_from(checked)


def build_from(params: Params) -> Piece:
    """Build a piece from parameters that are validated already."""
    make = _BUILDERS[type(params)]
    if getattr(params, "frog_number", 0.0) is not None or _has_angle(params):
        return make(params)
    return _with_usual_frog(params, make)


def _has_angle(params: Params) -> bool:
    return isinstance(params, DiamondParams) and params.angle_deg is not None


def _with_usual_frog(params: Params, make: Callable[[Any], Piece]) -> Piece:
    """The piece with the most slender frog that its length has room for, and a note of it.

    Raises the error of the last that was tried, which needs the least room.
    """
    for number in USUAL_FROGS:
        try:
            piece = make(params.model_copy(update={"frog_number": number}))
        except PieceError as error:
            too_short = [field for field, _, _ in error.problems] == ["length_mm"]
            if not too_short or number == USUAL_FROGS[-1]:
                raise
        else:
            why = "our starting value" if number == USUAL_FROGS[0] else "what fits the length"
            note = f"frogs of No. {number:g} ({why}: count yours)"
            return replace(piece, notes=(note, *piece.notes))
    raise AssertionError  # there is a last one


def roles_of(piece: Piece) -> Roles:
    """What each part of a piece is; nothing for a piece described rail by rail."""
    told = _ROLES.get(piece.kind)
    if told is None:
        return {}
    found = told(piece)
    found |= gang_roles(piece)
    found |= pad_roles(piece, found)
    return {key: found[key] for key in parts_of(piece) if key in found}
