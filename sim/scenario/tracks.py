"""Tables of the file that lay the track, and the parameters of library pieces in them.

Parameters of library pieces as a scenario writes them: lengths may be texts.

Tables of the file that lay the track: modules, their pieces, and how they join.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Literal

from pydantic import ConfigDict, Field, ValidationError, model_validator

from sim.pieces.kinds import KINDS
from sim.scenario import fields
from sim.scenario.fields import (
    FileName,
    Glob,
    Model,
    Name,
    NameOrFile,
    Ohm,
    PositiveLength,
    Probability,
    Ref,
    expected,
)
from sim.scenario.problems import Problem, shown
from sim.scenario.refusals import problems_of


def ready_params(
    kind: str, params: Mapping[str, Any], gauge_mm: float, where: str
) -> tuple[dict[str, Any], list[Problem]]:
    """``params`` as numbers and with the scenario's gauge, and what is wrong with them."""
    ready, problems = _lengths(params, where)
    if "gauge_mm" in KINDS[kind].model_fields:
        ready.setdefault("gauge_mm", gauge_mm)
    try:
        KINDS[kind].model_validate(ready)
    except ValidationError as error:
        said = {problem.where for problem in problems}
        for path, problem in problems_of(error, ready, KINDS[kind]):
            at = f"{where}.{problem.where}" if path else where
            if at not in said:
                problems.append(Problem(at, problem.expected, problem.found))
    return ready, problems


def _lengths(params: Mapping[str, Any], where: str) -> tuple[dict[str, Any], list[Problem]]:
    ready: dict[str, Any] = {}
    problems: list[Problem] = []
    for key, value in params.items():
        ready[key] = value
        if key.endswith("_mm") and isinstance(value, str):
            try:
                ready[key] = fields.length_in_mm(value)
            except ValueError as error:
                problems.append(Problem(f"{where}.{key}", str(error), shown(value)))
    return ready, problems


Rails = Literal["both", "north", "south"]


class PieceTable(Model):
    """One piece of track on a module; further keys are its kind's own parameters."""

    model_config = ConfigDict(extra="allow")

    name: Name
    kind: str = Field(min_length=1, max_length=80)
    tested: bool | None = Field(
        default=None,
        description="Whether somebody has proved every contact of the piece, each route both "
        "ways. False: some of them are bad, see contacts_bad.",
    )
    contacts_bad: Probability | None = Field(
        default=None,
        description="Share of this piece's contacts that are open for a whole run; by default "
        "that of the assumptions where tested is false, else 0.",
    )
    opens: dict[str, Probability] = Field(
        default_factory=dict,
        description="By contact: probability per throw that it does not close when it should.",
    )
    fails: dict[str, Probability] = Field(
        default_factory=dict,
        description="By lever: probability per throw that it stays where it was.",
    )
    contact_ohm: dict[str, Ohm] = Field(
        default_factory=dict, description="By contact: its resistance when it is closed."
    )

    @property
    def params(self) -> dict[str, Any]:
        """The parameters of its kind, as written."""
        return dict(self.model_extra or {})


class EndsTable(Model):
    """Ends of a module, each list from north to south."""

    west: tuple[Ref, ...] | None = Field(
        default=None, description="'piece/end' at the west edge."
    )
    east: tuple[Ref, ...] | None = Field(
        default=None, description="'piece/end' at the east edge."
    )


class ModuleTable(Model):
    """A portable board carrying pieces, here or in a file of its own.

    Where the show and the file say the same key, the show's word counts.
    """

    name: Name = Field(description="What the board is called in this show.")
    file: FileName | None = Field(
        default=None,
        description="The board's own file: a path from the scenario's folder. A file is one "
        "board, so a show names it once.",
    )
    like: NameOrFile | None = Field(
        default=None,
        description="A board of this show, or the file of one, of the same kind: everything "
        "but the name, the history and how it stands is taken from there.",
    )
    turned: bool = Field(
        default=False, description="It stands turned round, west end to the east."
    )
    length_mm: PositiveLength | None = Field(default=None, description="Length of the board.")
    ends: EndsTable = Field(
        default_factory=EndsTable,
        description="Default: every unjoined end that leads out that way, in order of pieces.",
    )
    joins: tuple[tuple[Ref, Ref], ...] = Field(
        default=(), description="Pairs of 'piece/end' that meet within the module."
    )
    piece: tuple[PieceTable, ...] = Field(min_length=1)


class LineTable(Model):
    """Modules end to end: the east end of each meets the west end of the next."""

    modules: tuple[Name, ...] = Field(
        default=(),
        min_length=1,
        description="Names of boards from west to east; the path of a board's file, which has "
        "a slash, or a pattern over such paths, brings these boards in. Default: all boards, "
        "in the order of the file.",
    )
    ring: bool = Field(default=False, description="The last module meets the first.")
    turned: tuple[Name, ...] = Field(
        default=(),
        description="Modules that stand turned round, west end to the east, as with the "
        "board's own 'turned'.",
    )


class JoinTable(Model):
    """Two ends that meet, wherever they are."""

    a: Ref = Field(description="'module/piece/end'")
    b: Ref = Field(description="'module/piece/end'")


class GapTable(Model):
    """Insulated joiners at a joint, in place of metal ones."""

    at: Glob = Field(description="'module/piece/end', or a pattern over such ids.")
    rails: Rails = Field(default="both", description="As named in that end's own piece.")


class JoinerTable(Model):
    """What is known of the joiners at a joint."""

    at: Glob = Field(description="'module/piece/end', or a pattern over such ids.")
    rails: Rails = Field(default="both", description="As named in that end's own piece.")
    soldered: bool = False
    open: bool = Field(default=False, description="It has lost contact altogether.")
    resistance_ohm: Ohm | None = None

    @model_validator(mode="after")
    def _one_state(self) -> JoinerTable:
        said = [self.soldered, self.open, self.resistance_ohm is not None]
        if sum(said) != 1:
            raise expected("just one of soldered = true, open = true, resistance_ohm = ...")
        return self
