"""Why a train stalled and why a supply tripped: chains of facts that can be checked."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

from sim.layout.model import PLASTIC, Element
from sim.power.graph import pole_name
from sim.records.causes import Cause, ElementReason, Reason
from sim.records.model import Kind, StallSide
from sim.run.consist import Unit
from sim.run.counterfactuals import Cure, beyond, cures, suspects
from sim.run.evidence import Evidence
from sim.run.train import RunningTrain

if TYPE_CHECKING:
    from sim.circuit.voltage_drop import LostIn

#: How many of the places where a starved train loses its volts are told.
LOSSES_TOLD = 3
#: What kinds of dead some element is guilty of.
_GUILT: frozenset[Kind] = frozenset({"floating", "same pole", "wrong voltage"})
_RAILS: tuple[Literal["left", "right"], ...] = ("left", "right")


@dataclass(frozen=True, slots=True)
class Why:
    """The cause of one stall; see :class:`sim.records.model.Stall`."""

    section: str
    side: StallSide | None
    cause: Cause
    would_restore: tuple[tuple[str, ...], ...]
    charged_to: str | None


def explain_stall(world: Evidence, mover: RunningTrain) -> Why:
    """The chain from the side that lost supply to what would make it live."""
    unit = mover.power.unit
    left, right = (nodes_under(mover, side) for side in rails_of(mover, unit))
    side = _side(world, mover, left, right)
    # No wire turns a throttle.
    restore = [] if mover.power.torn else cures(world, unit, [*left, *right])
    reasons = tuple(_chain(world, mover, side, left, right))
    reasons += tuple(_further(world, [*left, *right], restore))
    nodes = (right or left) if side == "right" else (left or right)
    section = world.layout.nodes[nodes[0]] if nodes else ""
    ids = tuple(cure.ids for cure in restore)
    return Why(section, side, Cause(side or "", reasons), ids, _charge(world, mover, restore))


def rails_of(mover: RunningTrain, unit: Unit) -> tuple[int, int]:
    """The unit's sides on the left and the right rail of the route that the front is on."""
    sides = unit.left, unit.right
    return sides if mover.path.at(mover.s).forward else (sides[1], sides[0])


def seen_from(world: Evidence, mover: RunningTrain) -> str:
    """The end of that route from which left and right are meant."""
    layout = world.layout
    route = layout.routes[mover.path.at(mover.s).route]
    return layout.ends[route.start].id.rpartition("/")[2]


def nodes_under(mover: RunningTrain, side: int) -> list[int]:
    """Sections under the pickups of one side, front first, each once."""
    path = mover.path
    nodes = [path.node_under(p, mover.s) for p in path.consist.pickups if p.side == side]
    return [n for n in dict.fromkeys(nodes) if n != PLASTIC]


def _side(
    world: Evidence, mover: RunningTrain, left: list[int], right: list[int]
) -> StallSide | None:
    """The side that lost its supply: the one without metal, or without a pole.

    Of two rails at one pole it is the one that a contact puts there; None when
    both sides are fed and the voltage alone is too low.
    """
    if mover.power.kind() == "starved":
        return None
    insulated = mover.power.kind() == "insulated"
    dead = [
        not nodes or (not insulated and world.supply.pole_at(nodes[0]) is None)
        for nodes in (left, right)
    ]
    if not any(dead) and mover.power.kind() == "same pole":
        dead = [any(map(world.supply.changeable, nodes)) for nodes in (left, right)]
    if dead[0] == dead[1]:
        return "both"
    return "left" if dead[0] else "right"


def _chain(
    world: Evidence,
    mover: RunningTrain,
    side: StallSide | None,
    left: list[int],
    right: list[int],
) -> Iterator[Reason]:
    name, kind = mover.power.unit.name, mover.power.kind()
    if mover.power.torn:
        yield Reason("throttles opposed", who=name)
        return
    if side is None or kind == "starved":
        yield Reason("too few volts", who=name)
        yield from map(_costs, world.supply.losses(mover.power.unit.number)[:LOSSES_TOLD])
        return
    for rail, nodes in zip(_RAILS, (left, right), strict=True):
        if side in (rail, "both"):
            yield Reason("lost supply", who=name, side=rail, at=seen_from(world, mover))
        yield _under(world, rail, nodes)
    if kind != "tripped":  # that halts a train, and is no stall
        yield Reason(kind)
    if kind in _GUILT:
        yield from _guilty(world, [*left, *right])


def _costs(lost: tuple[LostIn, float]) -> Reason:
    where, volts = lost
    if where.kind == "rail":
        return Reason("rail costs", sections=(where.id,), numbers=(volts,))
    if where.kind == "supply":
        return Reason("supply costs", who=where.id, numbers=(volts,))
    return Reason("element costs", elements=(where.id,), numbers=(volts,))


def _under(world: Evidence, rail: Literal["left", "right"], nodes: list[int]) -> Reason:
    if not nodes:
        return Reason("over plastic or dirt" if world.dirt else "over plastic", side=rail)
    pole = world.supply.pole_at(nodes[0])
    has = "" if pole is None else pole_name(world.layout, pole)
    return Reason("stands on", side=rail, sections=_sections(world, nodes), at=has)


def _sections(world: Evidence, nodes: Iterable[int]) -> tuple[str, ...]:
    return tuple(world.layout.nodes[n] for n in nodes)


def _guilty(world: Evidence, nodes: Iterable[int]) -> Iterator[Reason]:
    """The open elements around the dead net, and contacts that put it at its pole."""
    told = (_describe(world, e, world.layout.elements[e]) for e in suspects(world, nodes))
    yield from dict.fromkeys(told)


def _further(
    world: Evidence, nodes: Iterable[int], restore: Iterable[Cure]
) -> Iterator[Reason]:
    """What has to be cured too but touches no rail under the train."""
    named = {change.id for cure in restore for change in cure.changes}
    nodes = list(nodes)
    for e in beyond(world, nodes, suspects(world, nodes)) if named else ():
        element = world.layout.elements[e]
        if element.id in named:
            yield replace(_describe(world, e, element), further=True)


def _describe(world: Evidence, e: int, element: Element) -> Reason:
    ids = (element.id,)
    if element.kind == "gap":
        joiner = "/joiner-" in element.id  # one that is open is laid out as a gap
        kind: ElementReason = "joiner parts" if joiner else "gap parts"
        return Reason(kind, elements=ids, sections=_sections(world, (element.a, element.b)))
    if e in world.broken:
        return Reason("lost contact", elements=ids, at=element.kind)
    levers = dict.fromkeys(lever for clause in element.when for lever, _ in clause)
    lie = tuple(world.levers.words(levers))
    if e in world.bad:
        return Reason("bad for the run", elements=ids, levers=lie)
    if e in world.levers.stuck:
        return Reason("stayed open", elements=ids, levers=lie)
    closed = e in world.levers.closed
    return Reason("is closed" if closed else "is open", elements=ids, levers=lie)


def _charge(world: Evidence, mover: RunningTrain, restore: list[Cure]) -> str | None:
    """The piece the cause lies in: where it could be cured, or where the train stands."""
    pieces = world.layout.pieces
    for cure in restore:
        for change in cure.changes:
            if change.piece >= 0:
                return pieces[change.piece].id
    here = pieces[world.tracks.piece(mover.path.at(mover.s))]
    return here.id if here.levers else None


def explain_trip(world: Evidence, supply: int) -> tuple[Cause, list[RunningTrain]]:
    """What shorts ``supply``, and the trains without which it would not be shorted."""
    name = world.layout.supplies[supply].name
    culprits = _culprits(world, supply)
    amps = world.supply.amps(supply)
    if not world.supply.is_shorted(supply) and amps is not None:
        trip_a = world.layout.supplies[supply].trip_a
        too_much = Reason("overloaded", who=name, numbers=(abs(amps), trip_a))
        return Cause("", (too_much, Reason("trains draw it"))), []
    reasons = [Reason("shorted", who=name)]
    if not culprits:
        reasons.append(Reason("by the wiring"))
    for mover in culprits:
        reasons.append(Reason("joins poles", who=mover.name, at=mover.route_id()))
        reasons += _joined_by(world, mover)
    return Cause("", tuple(reasons)), culprits


def _culprits(world: Evidence, supply: int) -> list[RunningTrain]:
    """Trains that each make the short; else all that only make it together, or each anew."""
    bridging = world.supply.bridging_units()
    units: dict[RunningTrain, list[int]] = {}
    for unit in bridging:
        units.setdefault(world.owners[unit], []).append(unit)
    alone = [
        mover for mover, own in units.items() if supply not in world.supply.shorted_without(own)
    ]
    if alone or supply in world.supply.shorted_without(bridging):
        return alone
    return list(units)


def _joined_by(world: Evidence, mover: RunningTrain) -> Iterator[Reason]:
    for unit in mover.path.consist.units:
        for rail, side in zip(_RAILS, rails_of(mover, unit), strict=True):
            if len(world.supply.labels(side)) > 1:
                under = _sections(world, nodes_under(mover, side))
                yield Reason("bridges", who=unit.name, side=rail, sections=under)
