"""The reading form of ``learn``, as the file has it."""

from __future__ import annotations

from typing import Any, Literal

from pydantic import Field

from sim.learn.own import OwnEnd, OwnLever, OwnRoute, template_of
from sim.learn.subject import Subject, make_subject, subject_of_kind
from sim.pieces.errors import PieceError
from sim.scenario.fields import Model
from sim.scenario.problems import Problem, ReadingsError

OWN_KIND = "own piece"


class PlaceTable(Model):
    """A place and its number: written for whoever fills in the form."""

    number: int
    at: str


class SettingTable(Model):
    """Readings of one setting."""

    levers: dict[str, str] = Field(default_factory=dict)
    groups: tuple[tuple[int, ...], ...] = Field(
        default=(), description="Places that are joined; places of two groups are apart."
    )
    read: dict[str, str | float] = Field(
        default_factory=dict,
        description="By pair of places, as '1-2': joined, open, lit, dark, dim, or ohms; "
        "empty: not read.",
    )


class FormFile(Model):
    """A reading form."""

    format: Literal[1]
    kind: str
    params: dict[str, Any] = Field(default_factory=dict)
    end: tuple[OwnEnd, ...] = ()
    lever: tuple[OwnLever, ...] = ()
    route: tuple[OwnRoute, ...] = ()
    plastic: tuple[int, ...] = Field(
        default=(), description="Places where the rail is plastic."
    )
    place: tuple[PlaceTable, ...] = ()
    setting: tuple[SettingTable, ...] = ()


def subject_of(file: FormFile) -> Subject:
    """What is learned: a library kind of a given shape, or a piece described here."""
    try:
        if file.kind == OWN_KIND:
            return make_subject(
                OWN_KIND, template_of(file.params, file.end, file.lever, file.route)
            )
        return subject_of_kind(file.kind, file.params)
    except PieceError as error:
        raise ReadingsError(
            Problem(field or "kind", expected, found)
            for field, expected, found in error.problems
        ) from None
