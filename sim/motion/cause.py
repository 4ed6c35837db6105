"""Why a train stalled, in words that can be checked, and what would cure it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING

from sim.layout.model import PLASTIC, Element
from sim.motion.consist import Unit
from sim.power.graph import is_closed
from sim.power.joined import pole_name
from sim.records.model import StallSide

if TYPE_CHECKING:
    from sim.motion.mover import Mover
    from sim.motion.world import World

#: Single changes that are tried in pairs at most; a cause further off is not "a wire".
PAIRS_FROM = 24


@dataclass(frozen=True, slots=True)
class Why:
    """The cause of one stall; see :class:`sim.records.model.Stall`."""

    section: str
    side: StallSide | None
    cause: tuple[str, ...]
    would_restore: tuple[tuple[str, ...], ...]
    charged_to: str | None


@dataclass(frozen=True, slots=True)
class Change:
    """One thing a builder could do: throw a lever, mend a contact, bridge a gap …"""

    id: str
    piece: int
    closed: tuple[int, ...] = ()
    opened: tuple[int, ...] = ()
    bridged: tuple[tuple[int, int], ...] = ()
    supply: int = -1


def explain_stall(world: World, mover: Mover) -> Why:
    """The chain from the side that lost supply to what would make it live."""
    unit = mover.power.unit
    left, right = (_nodes(mover, unit.left), _nodes(mover, unit.right))
    side = _side(world, mover, left, right)
    restore = _restoring(world, mover, unit, [*left, *right])
    cause = tuple(_chain(world, mover, side, left, right))
    nodes = right if side == "right" else left
    section = world.layout.nodes[nodes[0]] if nodes else ""
    return Why(
        section, side, cause, tuple(ids for ids, _ in restore), _charge(world, mover, restore)
    )


def _nodes(mover: Mover, side: int) -> list[int]:
    """Sections under the pickups of one side, front first, each once."""
    nodes = [
        mover.path.node_under(p, mover.s) for p in mover.path.consist.pickups if p.side == side
    ]
    return [n for n in dict.fromkeys(nodes) if n != PLASTIC]


def _side(world: World, mover: Mover, left: list[int], right: list[int]) -> StallSide | None:
    """The side that lost its supply.

    The one without metal, or without a pole; where both rails have a pole, the
    one whose pole is not its district's own at that place.
    """
    if mover.power.verdict == "starved":
        return None
    dead = [not nodes or world.supply.pole_at(nodes[0]) is None for nodes in (left, right)]
    if all(dead):
        return "both"
    if any(dead):
        return "left" if dead[0] else "right"
    if mover.power.verdict == "same pole":
        return _wrong_pole(world, mover, left, right)
    return "both"


def _wrong_pole(world: World, mover: Mover, left: list[int], right: list[int]) -> StallSide:
    """Of two rails at one pole, the one that a contact puts there."""
    changeable = world.supply.changeable
    loose = [any(changeable(n) for n in nodes) for nodes in (left, right)]
    if loose[0] != loose[1]:
        return "left" if loose[0] else "right"
    return "both"


# -- the chain in words ---------------------------------------------------------


def _chain(
    world: World, mover: Mover, side: StallSide | None, left: list[int], right: list[int]
) -> Iterator[str]:
    name = mover.power.unit.name
    if mover.power.verdict == "starved":
        yield f"{name} is fed, but gets too few volts to start"
        return
    for word, nodes in (("left", left), ("right", right)):
        if side in (word, "both"):
            yield f"{name} lost supply on its {word} side"
            yield from _under(world, word, nodes)
    yield _meaning(str(mover.power.verdict))
    nodes = [*left, *right] if side == "both" else right if side == "right" else left
    yield from _guilty(world, nodes)


def _under(world: World, word: str, nodes: list[int]) -> Iterator[str]:
    if not nodes:
        yield f"every {word} pickup stands on plastic"
        return
    names = ", ".join(world.layout.nodes[n] for n in nodes)
    pole = world.supply.pole_at(nodes[0])
    has = "no pole" if pole is None else pole_name(world.layout, pole)
    yield f"its {word} pickups stand on {names}, which has {has}"


def _meaning(verdict: str) -> str:
    return {
        "floating": "floating: nothing feeds that rail",
        "same pole": "same pole: both rails are joined to the same pole",
        "no return": "no return: the two rails belong to supplies that share nothing",
        "wrong voltage": "wrong voltage: the rails belong to two supplies joined the wrong way",
        "insulated": "insulated: no metal under the wheels",
    }.get(verdict, verdict)


def _guilty(world: World, nodes: list[int]) -> Iterator[str]:
    """The open elements around the dead net, and contacts that put it at its pole."""
    seen: set[str] = set()
    for e in _around(world, nodes):
        element = world.layout.elements[e]
        text = _describe(world, e, element)
        if text not in seen:
            seen.add(text)
            yield text


def _describe(world: World, e: int, element: Element) -> str:
    if element.kind == "gap":
        return f"gap {element.id} parts it from its neighbour"
    levers = [lever for clause in element.when for lever, _ in clause]
    words = ", ".join(f"{i} is {p}" for i, p in world.levers.words(dict.fromkeys(levers)))
    if e in world.levers.stuck:
        return f"contact {element.id} stayed open at its last throw ({words})"
    if e in world.levers.closed:
        return f"contact {element.id} is closed ({words})"
    return f"contact {element.id} is open ({words})"


def _around(world: World, nodes: Iterable[int]) -> list[int]:
    """Contacts and gaps that touch the nets of ``nodes``, in the order of the layout.

    Contacts that are stuck come first: a fault explains more than a design.
    """
    labels = {world.supply.label_of(n) for n in nodes}
    fed = {world.supply.label_of(n) for n in nodes if world.supply.pole_at(n) is not None}
    found = []
    for e, element in enumerate(world.layout.elements):
        if element.kind not in ("contact", "gap"):
            continue
        ends = {world.supply.label_of(element.a), world.supply.label_of(element.b)}
        if element.kind == "contact" and e in world.levers.closed:
            # A closed contact matters only where it is what feeds a rail.
            near = bool(ends & fed) and not {element.a, element.b}.isdisjoint(nodes)
        else:
            near = bool(ends & (labels - fed)) and len(ends) > 1
        if near:
            found.append(e)
    return sorted(found, key=lambda e: e not in world.levers.stuck)


# -- what would cure it ---------------------------------------------------------

Cure = tuple[tuple[str, ...], tuple[Change, ...]]


def _restoring(world: World, mover: Mover, unit: Unit, nodes: list[int]) -> list[Cure]:
    """Minimal sets of single changes that would make the unit live, short nothing."""
    changes = list(_changes(world, nodes))
    single = [c for c in changes if _cures(world, unit, (c,))]
    if single:
        return [((c.id,), (c,)) for c in single]
    pairs = combinations(changes[:PAIRS_FROM], 2)
    return [((a.id, b.id), (a, b)) for a, b in pairs if _cures(world, unit, (a, b))]


def _cures(world: World, unit: Unit, changes: tuple[Change, ...]) -> bool:
    reading = world.supply.verdict_if(
        unit.number,
        [e for c in changes for e in c.closed],
        [e for c in changes for e in c.opened],
        [pair for c in changes for pair in c.bridged],
        [c.supply for c in changes if c.supply >= 0],
    )
    return reading.verdict is None


def _changes(world: World, nodes: list[int]) -> Iterator[Change]:
    """Everything near the dead rails that one hand could change."""
    layout = world.layout
    near = _around(world, nodes)
    levers: dict[int, None] = {}
    for e in near:
        element = layout.elements[e]
        if element.kind == "gap":
            yield Change(element.id, element.piece, bridged=((element.a, element.b),))
        elif e not in world.levers.closed:
            yield Change(element.id, element.piece, closed=(e,))
        levers.update((lever, None) for clause in element.when for lever, _ in clause)
    for lever in levers:
        yield from _throws(world, lever)
    for s, state in enumerate(world.breakers.states):
        if not state.on:
            yield Change(layout.supplies[s].name, -1, supply=s)


def _throws(world: World, lever: int) -> Iterator[Change]:
    layout = world.layout
    described = layout.levers[lever]
    now = [world.levers.position(x) for x in range(len(layout.levers))]
    for position in range(len(described.positions)):
        if position == now[lever]:
            continue
        then = [*now[:lever], position, *now[lever + 1 :]]
        contacts = world.levers.contacts_of[lever]
        closed = [e for e in contacts if is_closed(layout.elements[e], then)]
        opened = [e for e in contacts if e not in closed]
        yield Change(described.id, described.piece, tuple(closed), tuple(opened))


def _charge(world: World, mover: Mover, restore: list[Cure]) -> str | None:
    """The piece the cause lies in: where it could be cured, or where the train stands."""
    pieces = world.layout.pieces
    for _, changes in restore:
        for change in changes:
            if change.piece >= 0:
                return pieces[change.piece].id
    here = pieces[world.layout.routes[mover.path.at(mover.s).route].piece]
    return here.id if here.levers else None


# -- trips ----------------------------------------------------------------------


def explain_trip(world: World, supply: int) -> tuple[tuple[str, ...], list[Mover]]:
    """What shorts ``supply``, and the trains without which it would not be shorted."""
    culprits: dict[Mover, None] = {}
    for unit in world.supply.bridging_units():
        if supply not in world.supply.shorted_without(unit):
            culprits[world.unit_owner[unit]] = None
    lines = [f"{world.layout.supplies[supply].name} is shorted"]
    if not culprits:
        lines.append("by the wiring itself, in this setting")
    for mover in culprits:
        lines.append(f"{mover.train.name} joins rails of different poles at {mover.route_id()}")
        lines += _joined_by(world, mover)
    return tuple(lines), list(culprits)


def _joined_by(world: World, mover: Mover) -> Iterator[str]:
    for unit in mover.path.consist.units:
        for word, side in (("left", unit.left), ("right", unit.right)):
            if len(world.supply.labels(side)) > 1:
                names = ", ".join(world.layout.nodes[n] for n in _nodes(mover, side))
                yield f"{unit.name}: its {word} pickups stand on {names}"
