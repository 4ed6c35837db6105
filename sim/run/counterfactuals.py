"""What would make a stalled train live, and the contacts that a rail has its pole through.

Through which closed contacts a rail has its pole.

What would make a stalled train live: the smallest sets of single changes.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass
from itertools import combinations

from sim.power.graph import is_closed, shortest_way
from sim.run.consist import Unit
from sim.run.evidence import Evidence


def contacts_to_pole(
    world: Evidence, nodes: Iterable[int], closed: Collection[int]
) -> tuple[int, ...]:
    """Closed contacts on the shortest way from each of ``nodes`` to a pole, nearest first.

    ``closed`` are the contacts taken to be closed.  A single throw that takes the
    pole away cuts every way to it, so it is among these.  Trains are left out.
    """
    layout = world.layout
    poles = {node for s in layout.supplies for node in (s.plus, s.minus)}
    ways = _ways(world, closed)
    found: dict[int, None] = {}
    for node in nodes:
        for e in shortest_way([node], lambda here: ways.get(here, ()), poles.__contains__):
            if layout.elements[e].kind == "contact":
                found[e] = None
    return tuple(found)


def _ways(world: Evidence, closed: Collection[int]) -> dict[int, list[tuple[int, int]]]:
    """By node: (element, node at its other end) of everything that conducts."""
    ways: dict[int, list[tuple[int, int]]] = {}
    for e, x in enumerate(world.layout.elements):
        conducts = e in closed if x.kind == "contact" else e not in world.broken
        if conducts and x.kind != "gap":
            ways.setdefault(x.a, []).append((e, x.b))
            ways.setdefault(x.b, []).append((e, x.a))
    return ways


#: Changes that are tried in pairs at most; a cause further off is not "a wire".
PAIRS_FROM = 24
#: What costs a starved train most is tried first; what costs least cures nothing.
MENDS_TRIED = 6


@dataclass(frozen=True, slots=True)
class Remedy:
    """One thing a hand could do: throw a lever, mend a contact, bridge a gap.

    ``closed`` and ``opened`` are contacts (element indices), ``bridged`` pairs of
    nodes, ``mended`` worn elements that are made as good as new.
    """

    id: str
    piece: int
    closed: tuple[int, ...] = ()
    opened: tuple[int, ...] = ()
    bridged: tuple[tuple[int, int], ...] = ()
    mended: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Cure:
    """Changes that together make the train live."""

    changes: tuple[Remedy, ...]

    @property
    def ids(self) -> tuple[str, ...]:
        """What is changed, by id."""
        return tuple(change.id for change in self.changes)


def cures(world: Evidence, unit: Unit, nodes: list[int]) -> list[Cure]:
    """The smallest sets of single changes that would make ``unit`` live where it stands.

    Single ones where there are any, else pairs: of what touches the dead rails, and
    where that is not enough also of what lies one net further on.  None of them shorts
    a supply or joins two supplies; a supply that is off is taken to come back by itself.
    """
    near = suspects(world, nodes)
    changes = list(_changes(world, near))
    if world.supply.reading(unit.number).verdict is None:  # fed, but with too few volts
        changes = [*_mends(world, unit), *changes]
    single = [Cure((c,)) for c in changes if _lives(world, unit, (c,))]
    if single:
        return single
    pairs = _pairs(world, unit, changes)
    if pairs:
        return pairs
    further = [*beyond(world, nodes, near), *_after_a_throw(world, nodes, near, changes)]
    more = dict.fromkeys([*changes, *_changes(world, further)])
    return _pairs(world, unit, list(more)) if further else []


def _after_a_throw(
    world: Evidence, nodes: Iterable[int], near: Iterable[int], changes: Iterable[Remedy]
) -> list[int]:
    """Contacts that rails at one pole would have it through once a lever is thrown."""
    supply, seen = world.supply, set(near)
    rails = [n for n in nodes if supply.changeable(n)]
    if not rails or any(supply.pole_at(n) is None for n in rails):
        return []
    found: dict[int, None] = {}
    for change in changes:
        if change.opened:
            closed = world.levers.closed.difference(change.opened).union(change.closed)
            found |= dict.fromkeys(contacts_to_pole(world, rails, closed))
    return [e for e in found if e not in seen]


def _pairs(world: Evidence, unit: Unit, changes: list[Remedy]) -> list[Cure]:
    pairs = combinations(changes[:PAIRS_FROM], 2)
    return [Cure(pair) for pair in pairs if _lives(world, unit, pair)]


def suspects(world: Evidence, nodes: Iterable[int]) -> list[int]:
    """Contacts and gaps at the nets of ``nodes``, in the order of the layout.

    Open ones at the edge of a net without pole; closed ones that put a pole on
    one of the rails themselves and, where no rail is without pole, those on the way
    there.  Contacts that are stuck come first: a fault explains more than a design.
    """
    nodes = list(nodes)
    label_of, pole_at = world.supply.label_of, world.supply.pole_at
    dead = {label_of(n) for n in nodes if pole_at(n) is None}
    fed = [n for n in nodes if pole_at(n) is not None and world.supply.changeable(n)]
    leads = () if dead else contacts_to_pole(world, fed, world.levers.closed)
    found = []
    for e, element in enumerate(world.layout.elements):
        if element.kind not in ("contact", "gap") and e not in world.broken:
            continue
        if element.kind == "contact" and e in world.levers.closed:
            near = e in leads or any(
                world.supply.same_metal(end, n) for end in (element.a, element.b) for n in fed
            )
        else:
            ends = {label_of(element.a), label_of(element.b)}
            near = len(ends) > 1 and not ends.isdisjoint(dead)
        if near:
            found.append(e)
    failed = world.levers.stuck | world.broken
    return sorted(found, key=lambda e: e not in failed)


def beyond(world: Evidence, nodes: Iterable[int], near: Iterable[int]) -> list[int]:
    """What parts the nets without pole that ``near`` leads to from others, in order.

    Of two open elements one after the other the further one is found here: it
    touches no rail under the train.
    """
    label_of, pole_at = world.supply.label_of, world.supply.pole_at
    elements = world.layout.elements
    known = {label_of(n) for n in nodes}
    ends = [end for e in near for end in (elements[e].a, elements[e].b)]
    outer = {label_of(n) for n in ends if pole_at(n) is None} - known
    seen = set(near)
    found = []
    for e, element in enumerate(elements):
        if element.kind not in ("contact", "gap") and e not in world.broken:
            continue
        labels = {label_of(element.a), label_of(element.b)}
        if e not in seen and len(labels) > 1 and not labels.isdisjoint(outer):
            found.append(e)
    failed = world.levers.stuck | world.broken
    return sorted(found, key=lambda e: e not in failed)


def _lives(world: Evidence, unit: Unit, changes: tuple[Remedy, ...]) -> bool:
    reading = world.supply.verdict_if(
        unit.number,
        [e for c in changes for e in c.closed],
        [e for c in changes for e in c.opened],
        [pair for c in changes for pair in c.bridged],
        world.supply.off(),
        [e for c in changes for e in c.mended],
    )
    return reading.verdict is None


def _changes(world: Evidence, found: list[int]) -> Iterator[Remedy]:
    """Everything that one hand could change of suspects: mend, throw, bridge."""
    layout = world.layout
    failed = world.levers.stuck | world.broken
    elements = [(e, layout.elements[e]) for e in found]
    open_now = [(e, x) for e, x in elements if x.kind != "gap" and e not in world.levers.closed]
    for e, element in open_now:
        if e in failed:
            yield Remedy(element.id, element.piece, closed=(e,))
    levers = [lever for _, x in elements for clause in x.when for lever, _ in clause]
    for lever in dict.fromkeys(levers):
        yield from _throws(world, lever)
    for e, element in open_now:
        if e not in failed:  # a wire across it does what the contact would do
            yield Remedy(element.id, element.piece, closed=(e,))
    for _, element in elements:
        if element.kind == "gap":
            yield Remedy(element.id, element.piece, bridged=((element.a, element.b),))


def _mends(world: Evidence, unit: Unit) -> Iterator[Remedy]:
    """Contacts, joiners and wires that cost a starved unit volts."""
    at: dict[tuple[str, str], int] = {
        (x.kind, x.id): e for e, x in enumerate(world.layout.elements)
    }
    for where, _ in world.supply.losses(unit.number)[:MENDS_TRIED]:
        e = at.get((where.kind, where.id))
        if e is not None:
            yield Remedy(where.id, world.layout.elements[e].piece, mended=(e,))


def _throws(world: Evidence, lever: int) -> Iterator[Remedy]:
    """The lever in each other position; contacts that are stuck now stay so."""
    layout = world.layout
    described = layout.levers[lever]
    now = [world.levers.position(x) for x in range(len(layout.levers))]
    for position in range(len(described.positions)):
        if position == now[lever]:
            continue
        then = [*now[:lever], position, *now[lever + 1 :]]
        contacts = [e for e in world.levers.contacts_of[lever] if e not in world.levers.stuck]
        closed = [e for e in contacts if is_closed(layout.elements[e], then)]
        opened = [e for e in contacts if e not in closed]
        yield Remedy(described.id, described.piece, tuple(closed), tuple(opened))
