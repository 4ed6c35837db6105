"""Why a train stalled and why a supply tripped.

Why a train stalled, in words that can be checked.

Why a supply tripped, in words that can be checked, and which trains did it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from sim.layout.model import PLASTIC, Element
from sim.power.graph import pole_name
from sim.records.model import StallSide
from sim.run.consist import Unit
from sim.run.counterfactuals import Cure, beyond, cures, suspects
from sim.run.evidence import Evidence
from sim.run.train import RunningTrain

#: How many of the places where a starved train loses its volts are told.
LOSSES_TOLD = 3
MEANINGS = {
    "floating": "floating: nothing feeds that rail",
    "same pole": "same pole: both rails are joined to the same pole",
    "no return": "no return: the two rails belong to supplies that share nothing; only pickups "
    "that reach past this stretch, or gaps opposite each other, help",
    "wrong voltage": "wrong voltage: the rails belong to two supplies joined the wrong way",
    "insulated": "insulated: no metal under the wheels; only pickups that reach past it, or a "
    "piece with metal there, help",
}


@dataclass(frozen=True, slots=True)
class Why:
    """The cause of one stall; see :class:`sim.records.model.Stall`."""

    section: str
    side: StallSide | None
    cause: tuple[str, ...]
    would_restore: tuple[tuple[str, ...], ...]
    charged_to: str | None


def explain_stall(world: Evidence, mover: RunningTrain) -> Why:
    """The chain from the side that lost supply to what would make it live."""
    unit = mover.power.unit
    left, right = (nodes_under(mover, side) for side in rails_of(mover, unit))
    side = _side(world, mover, left, right)
    # No wire turns a throttle.
    restore = [] if mover.power.torn else cures(world, unit, [*left, *right])
    cause = tuple(_chain(world, mover, side, left, right))
    cause += tuple(_further(world, [*left, *right], restore))
    nodes = (right or left) if side == "right" else (left or right)
    section = world.layout.nodes[nodes[0]] if nodes else ""
    ids = tuple(cure.ids for cure in restore)
    return Why(section, side, cause, ids, _charge(world, mover, restore))


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
) -> Iterator[str]:
    name, kind = mover.power.unit.name, mover.power.kind()
    if mover.power.torn:
        yield f"two throttles pull {name} opposite ways: turn one of them"
        return
    if side is None:
        yield f"{name} is fed, but gets too few volts to start"
        for what, volts in world.supply.losses(mover.power.unit.number)[:LOSSES_TOLD]:
            yield f"{what} costs {volts:.2f} V"
        return
    for word, nodes in (("left", left), ("right", right)):
        if side in (word, "both"):
            yield f"{name} lost supply on the {word} rail, seen from {seen_from(world, mover)}"
        yield _under(world, word, nodes)
    yield MEANINGS.get(kind, kind)
    if kind in MEANINGS and kind not in ("insulated", "no return"):
        yield from _guilty(world, [*left, *right])


def _under(world: Evidence, word: str, nodes: list[int]) -> str:
    if not nodes:
        over = f"plastic{' or dirt' * world.dirt}"
        return f"every pickup on the {word} rail is over {over}"
    names = ", ".join(world.layout.nodes[n] for n in nodes)
    pole = world.supply.pole_at(nodes[0])
    has = "no pole" if pole is None else pole_name(world.layout, pole)
    return f"its pickups on the {word} rail stand on {names}, which has {has}"


def _guilty(world: Evidence, nodes: Iterable[int]) -> Iterator[str]:
    """The open elements around the dead net, and contacts that put it at its pole."""
    told = (_describe(world, e, world.layout.elements[e]) for e in suspects(world, nodes))
    yield from dict.fromkeys(told)


def _further(world: Evidence, nodes: Iterable[int], restore: Iterable[Cure]) -> Iterator[str]:
    """What has to be cured too but touches no rail under the train."""
    named = {change.id for cure in restore for change in cure.changes}
    nodes = list(nodes)
    for e in beyond(world, nodes, suspects(world, nodes)) if named else ():
        element = world.layout.elements[e]
        if element.id in named:
            yield f"further on, {_describe(world, e, element)}"


def _describe(world: Evidence, e: int, element: Element) -> str:
    if element.kind == "gap":
        a, b = world.layout.nodes[element.a], world.layout.nodes[element.b]
        broken = "joiner" if "/joiner-" in element.id else "gap"
        return f"{broken} {element.id} parts {a} from {b}"
    if e in world.broken:
        return f"{element.kind} {element.id} has lost contact"
    levers = dict.fromkeys(lever for clause in element.when for lever, _ in clause)
    words = ", ".join(f"{i} is {p}" for i, p in world.levers.words(levers))
    if e in world.bad:
        return f"contact {element.id} is bad for the whole run ({words})"
    if e in world.levers.stuck:
        return f"contact {element.id} stayed open at its last throw ({words})"
    state = "closed" if e in world.levers.closed else "open"
    return f"contact {element.id} is {state} ({words})"


def _charge(world: Evidence, mover: RunningTrain, restore: list[Cure]) -> str | None:
    """The piece the cause lies in: where it could be cured, or where the train stands."""
    pieces = world.layout.pieces
    for cure in restore:
        for change in cure.changes:
            if change.piece >= 0:
                return pieces[change.piece].id
    here = pieces[world.tracks.piece(mover.path.at(mover.s))]
    return here.id if here.levers else None


def explain_trip(world: Evidence, supply: int) -> tuple[tuple[str, ...], list[RunningTrain]]:
    """What shorts ``supply``, and the trains without which it would not be shorted."""
    name = world.layout.supplies[supply].name
    culprits = _culprits(world, supply)
    amps = world.supply.amps(supply)
    if not world.supply.is_shorted(supply) and amps is not None:
        trip_a = world.layout.supplies[supply].trip_a
        lines = [f"{name} gives {abs(amps):.2f} A, more than the {trip_a:g} A it trips at"]
        return (*lines, "its trains together draw more than it has"), []
    lines = [f"{name} is shorted"]
    if not culprits:
        lines.append("by the wiring itself, in this setting")
    for mover in culprits:
        lines.append(f"{mover.name} joins rails of different poles at {mover.route_id()}")
        lines += _joined_by(world, mover)
    return tuple(lines), culprits


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


def _joined_by(world: Evidence, mover: RunningTrain) -> Iterator[str]:
    for unit in mover.path.consist.units:
        for word, side in zip(("left", "right"), rails_of(mover, unit), strict=True):
            if len(world.supply.labels(side)) > 1:
                names = ", ".join(world.layout.nodes[n] for n in nodes_under(mover, side))
                yield f"{unit.name}: its pickups on the {word} rail stand on {names}"
