"""Every kind of fault: on which parts, what it does there, and how likely it is.

A kind is one kind of part in one bad state.  The survey, exact odds, what readings can
name, rules of a scenario, runs and pictures all take their faults from this table; none
has a list of its own.  Which of them know a kind follows from its entry: a run brings
about what a rule can name, the survey tells what a run can bring about and tracing can
tell, and readings name what has odds of being found.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal, get_args

#: What can be at fault: kinds of elements, and what else has a name.
PartKind = Literal[
    "contact", "bond", "gap", "joiner", "feeder", "bus", "jumper",
    "lever", "supply", "piece", "train",
]  # fmt: skip

#: What a fault does to its part.
#:
#: ``opens``: it does not conduct.  ``tires``: it conducts, through some ohms.  ``closes``:
#: it conducts in every setting.  ``touches``: it conducts, open as it is, while a train is on
#: its piece.  ``stays``: a lever does not go where it is sent.
#: ``gives nothing``: a supply is off; its wires stay joined at its poles.  ``hides metal``:
#: wheels get no contact.
Effect = Literal["opens", "tires", "closes", "touches", "stays", "gives nothing", "hides metal"]
#: Effects that show in which rails are joined to which pole; for the others the circuit
#: has to be solved, or a train run.
TRACED: frozenset[Effect] = frozenset(("opens", "closes", "stays", "gives nothing"))

#: Effects that make what should be open conduct.
HOLDS: frozenset[Effect] = frozenset(("closes", "touches"))

#: What the rules of a scenario call it.
Word = Literal["open", "tired", "never opens", "touched", "stays", "off", "dirt"]
#: What the chance of a rule can hang on.
Per = Literal["run", "throw", "hour", "pass", "metre"]
#: What else may bring it about: a time, or the number of a throw.
When = Literal["at_s", "at_throw"]

PRACTICE = "common practice, no source"
OURS = "our starting value, no source"


@dataclass(frozen=True, slots=True)
class Start:
    """A starting value, its unit and whose it is.  No rate has been published."""

    value: float
    unit: str
    whose: str


#: Starting values of faults, by the field of ``assumptions`` that overrides each.
STARTS: Mapping[str, Start] = {
    "contact_opens": Start(0.002, "per throw", PRACTICE),
    "contacts_bad": Start(0.1, "of the contacts, drawn once a run", PRACTICE),
    "lever_fails": Start(0.005, "per throw", PRACTICE),
    "lever_stays": Start(0.0, "per throw", OURS),
    "tired_ohm": Start(20.0, "ohm", PRACTICE),
    "tired_joiner_ohm": Start(0.1, "ohm", PRACTICE),
    "dirt_mm": Start(5.0, "mm", OURS),
}


@dataclass(frozen=True, slots=True)
class FaultKind:
    """One kind of part in one bad state.

    ``name`` calls it in documents, in files of readings and in tests, for good; pages have
    a phrase of their own for it.  ``words`` are what a rule may call it, the first being
    the usual one, ``per`` what the chance of such a rule may hang on, and ``when`` what may
    bring it about on purpose; without words no run brings it about.  ``lasts``: a rule may
    say how long it lasts, or what clears it.  ``found`` is how likely it is in a part that
    nobody has looked at, 0 where no reading can name it.  The fields ``keys`` of a
    scenario's ``assumptions`` say how often it comes in a run, where that is not left to
    rules alone.
    """

    name: str
    part: PartKind
    effect: Effect
    words: tuple[Word, ...] = ()
    per: tuple[Per, ...] = ()
    when: tuple[When, ...] = ()
    lasts: bool = False
    found: float = 0.0
    keys: tuple[str, ...] = ()

    @property
    def is_traced(self) -> bool:
        """Whether a run can bring it about and tracing can tell: a survey goes through it."""
        return bool(self.words) and self.effect in TRACED


def _wire(part: PartKind, off: float, tired: float) -> tuple[FaultKind, ...]:
    """A wire that hangs loose, or by a dry joint."""
    name = f"{part} off", f"{part} tired"
    return (
        FaultKind(name[0], part, "opens", ("off", "open"), ("run", "hour"), ("at_s",), True,
                  off),
        FaultKind(name[1], part, "tires", ("tired",), ("run", "hour"), ("at_s",), True, tired),
    )  # fmt: skip


#: Contacts together, open or tired, make the "10 % not good in an old or untested piece" of
#: common practice (no source); how likely the others are found is ours, no source.
_ALL = (
    FaultKind("contact open", "contact", "opens", ("open",), ("run", "throw", "hour", "pass"),
              ("at_s", "at_throw"), True, 0.06, ("contact_opens", "contacts_bad")),
    FaultKind("contact tired", "contact", "tires", ("tired",), ("run", "hour", "pass"),
              ("at_s",), True, 0.04),
    FaultKind("contact never opens", "contact", "closes", ("never opens",), ("run", "hour"),
              ("at_s",), True, 0.004),
    # The back of a wheel against a blade that stands open: with a live frog a common short
    # (common practice, no source).  It takes a train, so no meter finds it.
    FaultKind("contact touched", "contact", "touches", ("touched",), ("pass",)),
    # What is inside a piece from the day it was made: found with a meter, brought about by
    # no rule, so that a pattern over a piece's parts means its contacts.
    FaultKind("bond open", "bond", "opens", found=0.003),
    FaultKind("gap bridged", "gap", "closes", found=0.003),
    FaultKind("joiner open", "joiner", "opens", ("open", "off"), ("run", "hour"), ("at_s",),
              True, 0.02),
    FaultKind("joiner tired", "joiner", "tires", ("tired",), ("run", "hour"), ("at_s",), True,
              0.02),
    *_wire("feeder", 0.01, 0.01),
    *_wire("bus", 0.003, 0.003),
    *_wire("jumper", 0.01, 0.01),
    FaultKind("supply off", "supply", "gives nothing", ("off",), ("run", "hour"), ("at_s",),
              True, 0.01),
    FaultKind("lever does not follow", "lever", "stays", ("stays",), ("throw",), ("at_throw",),
              False, 0.005, ("lever_fails", "lever_stays")),
    FaultKind("rail dirty", "piece", "hides metal", ("dirt",), ("metre",)),
    FaultKind("wheel dirty", "train", "hides metal", ("dirt",), ("run",)),
)  # fmt: skip
#: Every kind of fault by its name, in the order in which they are listed.
KINDS: Mapping[str, FaultKind] = {kind.name: kind for kind in _ALL}

#: Kinds that readings can name, and how likely each is in a part nobody has looked at.
FOUND: Mapping[str, float] = {kind.name: kind.found for kind in _ALL if kind.found > 0.0}


def kinds_of(part: str) -> tuple[FaultKind, ...]:
    """What can be wrong with a part of that kind."""
    return _OF_PART.get(part, ())


_OF_PART: Mapping[str, tuple[FaultKind, ...]] = {
    part: tuple(kind for kind in _ALL if kind.part == part)
    for part in dict.fromkeys(kind.part for kind in _ALL)
}


def kind_called(word: str, part: str) -> FaultKind | None:
    """What a rule means by ``word`` on a part of that kind, None where it means nothing."""
    return next((kind for kind in kinds_of(part) if word in kind.words), None)


def kinds_called(word: str) -> tuple[FaultKind, ...]:
    """Everything that a rule may mean by ``word``."""
    return tuple(kind for kind in _ALL if word in kind.words)


def pers_of(word: str) -> tuple[Per, ...]:
    """What the chance of a rule may hang on, whatever part it is for."""
    some = {per for kind in kinds_called(word) for per in kind.per}
    return tuple(per for per in get_args(Per) if per in some)
