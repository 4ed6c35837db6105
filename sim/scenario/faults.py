"""Table of the file that says what fails during a run: by chance, or on purpose."""

from __future__ import annotations

from typing import Literal, get_args

from pydantic import Field, model_validator

from sim.faults.kinds import Per, Word, kinds_called, pers_of
from sim.scenario.fields import (
    Glob,
    Model,
    Ohm,
    PositiveLength,
    Probability,
    Seconds,
    SomeSeconds,
    expected,
)

Clears = Literal["throw", "nudge"]


class FaultTable(Model):
    """One way to fail. Just one of chance, at_s and at_throw says when."""

    on: Glob = Field(
        description="Id, or a pattern over ids: of contacts, joiners, feeders, jumpers, "
        "buses, levers or supplies; for dirt of pieces, or a train's name. The wires of "
        "feeder 'f' are 'f+' and 'f-', both of them 'f?'."
    )
    what: Word = Field(
        description="open: a contact, joiner or wire that does not conduct. tired: it "
        "conducts badly. never opens: a contact stays closed. touched: the back of a "
        "wheel bridges an open blade while its train is on the piece. stays: a lever does not "
        "move. off: a supply or wire is cut off. dirt: a rail or wheel without contact."
    )
    chance: Probability | None = None
    per: Per | None = Field(
        default=None,
        description="run: from the start. throw, pass: drawn again at each throw, or at "
        "each train that comes onto the piece. hour: once in it, at a random moment. "
        "metre: on each metre of rail (dirt); dirt per run is on a train's pickups.",
    )
    at_s: Seconds | None = Field(default=None, description="On purpose, at this time.")
    at_throw: int | None = Field(
        default=None, ge=1, le=1_000_000, description="On purpose, at this throw of the lever."
    )
    for_s: SomeSeconds | None = Field(
        default=None, description="How long it lasts; default: until the end or cleared."
    )
    cleared_by: tuple[Clears, ...] = Field(
        default=(), description="What sets it right again: a throw, or a nudge on its piece."
    )
    ohm: Ohm | None = Field(default=None, description="tired: what it has then.")
    length_mm: PositiveLength | None = Field(
        default=None, description="dirt on a rail: length of each dirty place."
    )

    @model_validator(mode="after")
    def _fits(self) -> FaultTable:
        when = [self.chance is not None, self.at_s is not None, self.at_throw is not None]
        if sum(when) != 1:
            raise expected("just one of chance, at_s, at_throw")
        if (self.per is None) == (self.chance is not None):
            raise expected("'per' beside 'chance', and only there")
        allowed = pers_of(self.what)
        if self.per is not None and self.per not in allowed:
            raise expected(f"per = {' or '.join(map(repr, allowed))} for {self.what!r}")
        ways = {way for kind in kinds_called(self.what) for way in kind.when}
        if not ways and self.chance is None:
            raise expected(f"a chance for {self.what}")
        if self.at_throw is not None and "at_throw" not in ways:
            some = [word for word in get_args(Word) if _by_throw(word)]
            raise expected(f"at_throw for {' and '.join(map(repr, some))} only")
        if self.at_s is not None and "at_s" not in ways:
            raise expected(f"chance or at_throw for {self.what!r}")
        self._fits_more()
        return self

    def _fits_more(self) -> None:
        lasts = self.for_s is not None or self.cleared_by
        drawn_again = self.at_throw is not None or self.per in ("throw", "pass")
        can_last = any(kind.lasts for kind in kinds_called(self.what))
        if lasts and (not can_last or drawn_again):
            raise expected("for_s and cleared_by only where a fault lasts")
        if self.ohm is not None and self.what != "tired":
            raise expected("ohm for 'tired' only")
        if self.length_mm is not None and self.per != "metre":
            raise expected("length_mm for dirt per metre only")


def _by_throw(word: Word) -> bool:
    """Whether a rule of that word may name a throw."""
    return any("at_throw" in kind.when for kind in kinds_called(word))
