"""Elements that pieces bring, and the joiners or gaps where pieces meet."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from sim.layout.assembly_log import YOURS, Ledger, Report, is_glob, matching
from sim.layout.ground import EndPlace, Ground, Placed
from sim.layout.joints import Joint, Joints
from sim.layout.levers import Switches
from sim.layout.model import Clause, Element
from sim.pieces.model import Condition, Contact
from sim.scenario.defaults import OURS
from sim.scenario.document import AssumptionsTable, Scenario
from sim.scenario.fixes import FixTable
from sim.scenario.problems import shown
from sim.scenario.tracks import GapTable, JoinerTable

Rail = Literal["north", "south"]
#: What is at a rail of a joint: insulated, a joiner gone open, or ohms.
State = Literal["gap", "open"] | float


@dataclass(frozen=True, slots=True)
class Ohms:
    """Resistances that hold for all elements of a kind."""

    contact: float
    joiner: float
    solder: float
    bond: float
    common: float
    rail_m: float
    pickup: float
    wire_celsius: float


def settle_ohms(table: AssumptionsTable, ledger: Ledger) -> Ohms:
    """The scenario's resistances, or the starting ones."""
    return Ohms(
        ledger.pick("contact_ohm", table.contact_ohm, "resistance of a good contact"),
        ledger.pick("joiner_ohm", table.joiner_ohm, "resistance of a clean joiner"),
        ledger.pick("solder_ohm", table.solder_ohm, "resistance of a soldered joiner"),
        ledger.pick("bond_ohm", table.bond_ohm, "resistance of a strip or wire in a piece"),
        ledger.pick("common_ohm", table.common_ohm, "resistance of a wire to a common"),
        ledger.pick("rail_ohm_m", table.rail_ohm_m, "resistance of one rail"),
        ledger.pick("pickup_ohm", table.pickup_ohm, "resistance of one pickup"),
        ledger.pick("wire_celsius", table.wire_celsius, "temperature of the wires"),
    )


@dataclass(frozen=True, slots=True)
class Luck:
    """Chances of all contacts for which nothing else is said.

    ``opens``: one throw misses.  ``bad``: one of a piece that is not tested is open
    for a whole run.
    """

    opens: float
    bad: float

    def bad_of(self, placed: Placed) -> float:
        """The chance that a contact of ``placed`` is open for a whole run."""
        if placed.contacts_bad is not None:
            return placed.contacts_bad
        return self.bad if placed.tested is False else 0.0


def settle_luck(
    table: AssumptionsTable, ground: Ground, ledger: Ledger, report: Report
) -> Luck:
    """The scenario's chances, or the starting ones."""
    opens = ledger.pick(
        "contact_opens",
        table.contact_opens,
        "a contact that should close stays open",
        any(placed.piece.contacts for placed in ground.pieces),
    )
    untested = [p for p in ground.pieces if p.tested is False and p.contacts_bad is None]
    what = "contacts of pieces not tested that are bad for a whole run"
    if untested:
        return Luck(opens, ledger.pick("contacts_bad", table.contacts_bad, what))
    if table.contacts_bad is not None and not report.broken:
        expected = "a piece that says tested = false, for its contacts to be bad"
        report.warn("assumptions.contacts_bad", expected, "none: it changes nothing",
                    "nothing-untested")  # fmt: skip
    unsaid = [p for p in ground.pieces if p.piece.contacts and p.tested is None]
    if any(p.contacts_bad is None for p in unsaid):
        words = "none, as no piece says tested = false"
        ledger.note("contacts that are bad for a whole run", words, OURS, True)
    return Luck(opens, 0.0)


def piece_elements(
    ground: Ground, switches: Switches, ohms: Ohms, luck: Luck, ledger: Ledger
) -> Iterable[Element]:
    """Bonds, contacts and gaps of every piece, in order of pieces."""
    for number, placed in enumerate(ground.pieces):
        piece, at = placed.piece, ground.node_index
        for bond in piece.bonds:
            a, b = at[f"{placed.id}/{bond.a}"], at[f"{placed.id}/{bond.b}"]
            yield Element(f"{placed.id}/{bond.name}", "bond", a, b, piece=number,
                          resistance_ohm=ohms.bond)  # fmt: skip
        if placed.contacts_bad is not None and piece.contacts:
            what = f"contacts of {placed.id} that are bad for a whole run"
            ledger.note(what, f"{placed.contacts_bad:g} of them, drawn once a run", YOURS)
        for contact in piece.contacts:
            name = f"{placed.id}/{contact.name}"
            own = placed.opens.get(contact.name)
            if own is not None:
                ledger.note(f"contact {name} stays open", f"{own:g} per throw", YOURS)
            worn = placed.contact_ohm.get(contact.name)
            if worn is not None:
                ledger.note(f"resistance of contact {name}", f"{worn:g} ohm", YOURS)
            yield _contact(ground, switches, number, contact, ohms,
                           luck.opens if own is None else own, luck.bad_of(placed))  # fmt: skip
        for gap in piece.gaps:
            a, b = at[f"{placed.id}/{gap.a}"], at[f"{placed.id}/{gap.b}"]
            yield Element(f"{placed.id}/{gap.name}", "gap", a, b, piece=number)


def _contact(
    ground: Ground,
    switches: Switches,
    number: int,
    contact: Contact,
    ohms: Ohms,
    opens: float,
    bad: float,
) -> Element:
    placed = ground.pieces[number]
    return Element(
        id=f"{placed.id}/{contact.name}",
        kind="contact",
        a=ground.node_index[f"{placed.id}/{contact.a}"],
        b=ground.node_index[f"{placed.id}/{contact.b}"],
        when=_when(placed.id, contact.when, switches),
        makes_at=contact.makes_at,
        breaks_at=contact.breaks_at,
        opens=opens,
        bad=bad,
        resistance_ohm=placed.contact_ohm.get(contact.name, ohms.contact),
        piece=number,
    )


def _when(piece_id: str, condition: Condition, switches: Switches) -> tuple[Clause, ...]:
    return tuple(
        tuple(
            (lever, switches.levers[lever].positions.index(position))
            for lever, position in (
                (switches.lever_index[f"{piece_id}/{name}"], position)
                for name, position in clause
            )
        )
        for clause in condition
    )


def note_joiners(tables: Iterable[JoinerTable], ledger: Ledger) -> None:
    """Write down the resistances of joiners that the scenario states."""
    for table in tables:
        if table.resistance_ohm is not None:
            rails = "" if table.rails == "both" else f", {table.rails} rail"
            what = f"resistance of the joiner at {table.at}{rails}"
            ledger.note(what, f"{table.resistance_ohm:g} ohm", YOURS)


class Settings:
    """What the scenario and the fix say of the joints, by end and rail."""

    def __init__(self, ground: Ground, joints: Joints, ohms: Ohms, report: Report) -> None:
        self._ground, self._joints = ground, joints
        self._ohms, self._report = ohms, report
        self._said: dict[tuple[int, Rail], State] = {}

    def gaps(self, tables: Iterable[GapTable], where: str) -> None:
        """Put insulated joiners where ``tables`` say."""
        for number, table in enumerate(tables):
            self._say(table, f"{where}[{number}].at", "gap")

    def joiners(self, tables: Iterable[JoinerTable], where: str) -> None:
        """Note what ``tables`` tell of joiners."""
        for number, table in enumerate(tables):
            state: State = self._ohms.solder if table.soldered else "open"
            if table.resistance_ohm is not None:
                state = table.resistance_ohm
            self._say(table, f"{where}[{number}].at", state)

    def _say(self, table: GapTable | JoinerTable, where: str, state: State) -> None:
        index = self._ground.end_index
        if is_glob(table.at):
            ends = [index[name] for name in matching(table.at, index)]
            ends = [end for end in ends if end in self._joints.mate]
            if not ends and not self._report.broken:
                expected = "a pattern that fits a joined end"
                self._report.error(where, expected, shown(table.at))
        else:
            end = self._ground.end_of(table.at, self._report, where, "an end")
            if end is None:
                return
            if end not in self._joints.mate and not self._report.broken:
                found = f"{table.at!r}, joined to nothing"
                self._report.error(where, "an end that is joined to another", found)
            ends = [end]
        rails: tuple[Rail, ...] = ("north", "south")
        for end in ends:
            for rail in rails:
                if table.rails in ("both", rail):
                    self._set(end, rail, state)

    def _set(self, end: int, rail: Rail, state: State) -> None:
        if self._said.get((end, rail)) != "gap":  # a gap outweighs any joiner
            self._said[end, rail] = state

    def at(self, end: int, rail: Rail, mate: int, mate_rail: Rail) -> State:
        """State of one rail of a joint, whichever of its two ends it was said of."""
        said = [self._said.get((end, rail)), self._said.get((mate, mate_rail))]
        if "gap" in said:
            return "gap"
        known = [state for state in said if state is not None]
        return known[0] if known else self._ohms.joiner


def mate_rail(one: EndPlace, rail: Rail, other: EndPlace) -> Rail:
    """The rail of ``other`` that ``rail`` of ``one`` meets.

    Left looking out of one end meets right looking out of the other.
    """
    looking_left = (rail == "north") == (one.end.outward == "east")
    return "north" if looking_left == (other.end.outward == "west") else "south"


def rail_section(ground: Ground, end: EndPlace, rail: Rail) -> int:
    """Node of the section that is the ``rail`` of that end."""
    section = end.end.north if rail == "north" else end.end.south
    return ground.node_index[f"{ground.pieces[end.piece].id}/{section}"]


def joint_elements(ground: Ground, joints: Joints, settings: Settings) -> Iterable[Element]:
    """Joiners and insulated joints, two for every joint."""
    for joint in joints.all:
        for rail in ("north", "south"):
            yield _at_joint(ground, joint, rail, settings)


def _at_joint(ground: Ground, joint: Joint, rail: Rail, settings: Settings) -> Element:
    one, other = ground.ends[joint.first], ground.ends[joint.second]
    meets = mate_rail(one, rail, other)
    a, b = rail_section(ground, one, rail), rail_section(ground, other, meets)
    state = settings.at(joint.first, rail, joint.second, meets)
    start, name = ground.pieces[one.piece].id, f"{one.end.name}-{rail}"
    if state == "gap":
        return Element(f"{start}/gap-{name}", "gap", a, b)
    if state == "open":  # no connection, but a place that can be bridged again
        return Element(f"{start}/joiner-{name}", "gap", a, b)
    return Element(f"{start}/joiner-{name}", "joiner", a, b, resistance_ohm=state)


def settle_joints(
    scenario: Scenario,
    fix: FixTable | None,
    fix_at: str,
    ground: Ground,
    joints: Joints,
    ohms: Ohms,
    report: Report,
) -> Settings:
    """Everything that is said of joints, as built and by the fix."""
    settings = Settings(ground, joints, ohms, report)
    settings.gaps(scenario.gap, "gap")
    settings.joiners(scenario.joiner, "joiner")
    if fix is not None:
        settings.gaps(fix.gap, f"{fix_at}.gap")
    return settings
