"""The network seen from a few of its nodes, renewed at little cost when little has changed.

A run asks the same network again and again: a contact has moved, a train stands one
place further on.  This is what is asked and how it is answered, in the order of the file.

**Nodal analysis.**  Resistances between nodes are a matrix ``G`` of conductances with
``G v = j``: ``v`` are the volts of the nodes, ``j`` the currents put in there.  An island
(nodes that closed branches and live supplies join) has no reference of its own, so one
node of each is tied to a datum through 1 S.  Nothing flows there as long as what is drawn
from an island comes back to it, which :mod:`sim.circuit.operating_point` sees to.

**Kron reduction.**  Of a subnetwork the rest needs to know the *boundary* nodes alone,
those that something outside touches too.  Its *interior* is eliminated: with boundary b
and interior i, ::

    G_bb - G_bi G_ii⁻¹ G_ib    the Schur complement: conductances at the boundary
         - G_ii⁻¹ G_ib         transfer: interior volts for a volt at each boundary node
           G_ii⁻¹              ohms: interior volts for an ampere put in, boundary at 0 V

An interior island that does not reach the boundary gets its datum here.

**Nested dissection along the track.**  The branches are parted into *subnetworks*, about
one a module, that meet their neighbours in a few joints of the rails.  Four neighbours
are put together and the nodes that only they touch are eliminated, four of these
*composites* again, and so on.  So a contact that moves renews one subnetwork and the
composites above it: a state costs the logarithm of the layout's size, where factorising
the whole costs its size.  What one state of a subnetwork, or of the parts of a composite,
came to is remembered.  In a subnetwork contacts come last: what cannot move is
eliminated once for all.

**Backbone.**  Poles and bus wires reach all over the layout; they are in no subnetwork.
The last Schur complement is put on them, and here the supplies come in by modified nodal
analysis: the current of each is an unknown of its own, with ``v_plus - v_minus + R i = V``.
Nothing is divided by an internal resistance, however small it is.

**Ports.**  The nodes that are asked for, such as those under pickups, are carried up
through the same parts as Thévenin equivalents (volts for a volt at each boundary node,
and the ohms behind them), to end as ohms between the ports and shares of the supplies.

A. George, "Nested dissection of a regular finite element mesh" (1973); G. Kron, "Tensor
analysis of networks" (1939); C.-W. Ho and others, "The modified nodal approach to network
analysis" (1975): all from memory.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import accumulate
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from sim.circuit.network import LEAST_OHM, Branch, Network
from sim.circuit.nodal import CircuitError

Matrix = NDArray[np.float64]
Joins = list[tuple[int, int]]  #: pairs of rows that something conducts between
T = TypeVar("T")


def remember(memo: OrderedDict[object, T], key: object, value: T, most: int) -> T:
    """Keep ``value``; past ``most`` of them the one kept first, or not moved since, goes."""
    memo[key] = value
    if len(memo) > most:
        memo.popitem(last=False)
    return value


# -- partition: subnetworks along the track, composites of neighbours, the backbone ----------

#: A subnetwork holds a module's branches, or where there are more than this, some pieces'.
BRANCHES_OF_A_SUBNETWORK = 160
#: Parts of a composite: more make it wider, fewer make more levels of them.
PARTS_OF_A_COMPOSITE = 4
BACKBONE = -1  #: instead of a subnetwork's number


@dataclass(frozen=True, slots=True)
class Subnetwork:
    """Branches that are reduced together; ``row`` gives each of their nodes its row.

    First come the ``boundary`` nodes, which something outside touches too; up to row
    ``switched`` follow those that a contact touches, and then all others.
    """

    branches: tuple[int, ...]
    row: dict[int, int]
    boundary: int
    switched: int


@dataclass(frozen=True, slots=True)
class Composite:
    """Neighbouring parts put together: rows for the boundary nodes of all of them.

    The first ``boundary`` of its ``size`` rows are its own boundary.  ``rows`` gives by
    part the rows of that part's boundary nodes, ``columns`` the same for numpy, and
    ``entries`` where the part's matrix goes in this one's, row after row.
    """

    parts: tuple[int, ...]
    size: int
    boundary: int
    rows: tuple[tuple[int, ...], ...]
    columns: tuple[NDArray[np.intp], ...]
    entries: tuple[NDArray[np.intp], ...]


@dataclass(frozen=True, slots=True)
class Partition:
    """Parts are numbered: subnetworks first, then composites, each after its parts.

    ``above`` gives by subnetwork the composites that it is in, ``subnetwork_of`` by
    branch its subnetwork or :data:`BACKBONE`, ``home`` by node a subnetwork that has a
    row for it.  ``backbone_row`` numbers the backbone's nodes, the boundary of the last
    part first.
    """

    subnetworks: tuple[Subnetwork, ...]
    composites: tuple[Composite, ...]
    above: tuple[tuple[int, ...], ...]
    subnetwork_of: tuple[int, ...]
    home: tuple[int, ...]
    backbone_row: dict[int, int]
    backbone_branches: tuple[int, ...]


def partition(network: Network) -> Partition:
    """Part the branches of ``network``, and put neighbours together again and again."""
    groups, backbone = _by_module(network)
    groups = _along_the_track(network, groups)
    backbone_nodes = {*network.poles, *_nodes_of(network, backbone)}
    touched = [_nodes_of(network, branches) for branches in groups]
    home = {n: number for number in reversed(range(len(groups))) for n in touched[number]}
    # A node that no subnetwork touches, such as a lone section, gets a row in the first.
    others = [n for n in range(len(network.names)) if n not in home]
    touched[0] += sorted(others, key=lambda n: n in backbone_nodes)
    home.update(dict.fromkeys(others, 0))
    dissection = _Dissection(network, touched, backbone_nodes)
    for branches, nodes in zip(groups, touched, strict=True):
        dissection.add(branches, nodes)
    top = dissection.compose()
    row = {n: k for k, n in enumerate([*top, *sorted(backbone_nodes - {*top})])}
    subnetwork_of = {b: number for number, branches in enumerate(groups) for b in branches}
    return Partition(
        tuple(dissection.subnetworks),
        tuple(dissection.composites),
        tuple(dissection.above(n) for n in range(len(groups))),
        tuple(subnetwork_of.get(b, BACKBONE) for b in range(len(network.branches))),
        tuple(home[n] for n in range(len(network.names))),
        row,
        tuple(backbone),
    )


def _by_module(network: Network) -> tuple[list[list[int]], list[int]]:
    """Branches by module, large modules piece by piece; then those that no piece has."""
    layout = network.layout
    module_of = {p: n for n, m in enumerate(layout.modules) for p in m.pieces}
    piece_at = {placed.id: n for n, placed in enumerate(layout.pieces)}
    piece_of = [piece_at.get(name.rpartition("/")[0], -1) for name in layout.nodes]
    by_piece: dict[int, list[int]] = {}
    for number, b in enumerate(network.branches):
        pieces = [piece_of[network.section[n]] for n in (b.a, b.b)]
        by_piece.setdefault(next((p for p in pieces if p >= 0), -1), []).append(number)
    backbone = by_piece.pop(-1, [])
    groups: list[list[int]] = []
    filling: dict[int, list[int]] = {}
    for piece in sorted(by_piece):
        module = module_of.get(piece, -1)
        group = filling.get(module)
        if group is None or len(group) + len(by_piece[piece]) > BRANCHES_OF_A_SUBNETWORK:
            group = filling[module] = []
            groups.append(group)
        group += by_piece[piece]
    return groups or [[]], backbone


def _nodes_of(network: Network, branches: Iterable[int]) -> list[int]:
    """Nodes that these branches touch, in the order of the branches."""
    ends = (n for b in branches for n in (network.branches[b].a, network.branches[b].b))
    return list(dict.fromkeys(ends))


def _along_the_track(network: Network, groups: list[list[int]]) -> list[list[int]]:
    """Groups in the order in which one walks over them, so that neighbours stay together."""
    users: dict[int, list[int]] = {}
    for number, branches in enumerate(groups):
        for node in _nodes_of(network, branches):
            users.setdefault(node, []).append(number)
    beside: list[dict[int, None]] = [{} for _ in groups]
    for numbers in users.values():
        if len(numbers) == 2:  # what more of them share is a bus or pole, not a joint of rails
            a, b = numbers
            beside[a][b] = beside[b][a] = None
    walked: dict[int, None] = {}
    for start in sorted(range(len(groups)), key=lambda n: (len(beside[n]), n)):
        ahead = [start]
        while ahead:
            here = ahead.pop()
            if here not in walked:
                walked[here] = None
                ahead += [n for n in sorted(beside[here], reverse=True) if n not in walked]
    return [groups[n] for n in walked]


class _Dissection:
    """Subnetworks and composites as they are made, with the boundary of each."""

    def __init__(
        self, network: Network, touched: Sequence[Sequence[int]], backbone: set[int]
    ) -> None:
        self._network = network
        self.subnetworks: list[Subnetwork] = []
        self.composites: list[Composite] = []
        #: by node: how many subnetworks touch it, and the backbone
        self._users: dict[int, int] = dict.fromkeys(backbone, 1)
        for nodes in touched:
            for node in nodes:
                self._users[node] = self._users.get(node, 0) + 1
        #: by part: its boundary nodes, each with how many of its users are inside
        self._boundary: list[dict[int, int]] = []
        self._composite_of: dict[int, int] = {}

    def add(self, branches: Sequence[int], nodes: Sequence[int]) -> None:
        """A subnetwork of these branches, with rows for these nodes."""
        network, users = self._network, self._users
        boundary = [n for n in nodes if users[n] > 1]
        moving = _nodes_of(network, (b for b in branches if b in network.contacts))
        switched = [n for n in moving if users[n] == 1]
        others = [n for n in nodes if users[n] == 1 and n not in {*switched}]
        row = {n: k for k, n in enumerate([*boundary, *switched, *others])}
        self.subnetworks.append(
            Subnetwork(tuple(branches), row, len(boundary), len(boundary) + len(switched))
        )
        self._boundary.append(dict.fromkeys(boundary, 1))

    def compose(self) -> list[int]:
        """Composites of composites until one part is left; its boundary."""
        level = list(range(len(self.subnetworks)))
        while len(level) > 1:
            fours = [
                level[k : k + PARTS_OF_A_COMPOSITE]
                for k in range(0, len(level), PARTS_OF_A_COMPOSITE)
            ]
            level = [self._put_together(p) if len(p) > 1 else p[0] for p in fours]
        return list(self._boundary[-1])

    def _put_together(self, parts: Sequence[int]) -> int:
        """The number of the composite of ``parts``."""
        inside: dict[int, int] = {}
        for part in parts:
            for node, users in self._boundary[part].items():
                inside[node] = inside.get(node, 0) + users
        boundary = [n for n in inside if inside[n] < self._users[n]]
        interior = [n for n in inside if inside[n] == self._users[n]]
        row = {n: k for k, n in enumerate([*boundary, *interior])}
        rows = tuple(tuple(row[n] for n in self._boundary[part]) for part in parts)
        columns = tuple(np.array(at, dtype=np.intp) for at in rows)
        entries = tuple((len(row) * at[:, None] + at).ravel() for at in columns)
        number = len(self._boundary)
        self._composite_of.update(dict.fromkeys(parts, number))
        self._boundary.append({n: inside[n] for n in boundary})
        self.composites.append(
            Composite(tuple(parts), len(row), len(boundary), rows, columns, entries)
        )
        return number

    def above(self, part: int) -> tuple[int, ...]:
        """The composites that a part is in, from the smallest on."""
        found = []
        while part in self._composite_of:
            part = self._composite_of[part]
            found.append(part)
        return tuple(found)


# -- Kron reduction: eliminating the interior of a part --------------------------------------

#: What ties an island to its datum (siemens).
DATUM_S = 1.0


@dataclass(frozen=True, slots=True, eq=False)
class SchurComplement:
    """A part without its interior; for b boundary and i interior nodes, boundary rows first.

    ``siemens`` (b, b) are the conductances at the boundary, ``transfer`` (i, b) the
    interior volts for a volt at each boundary node, ``ohm`` (i, i) the interior volts for
    an ampere put in there.  ``joins`` tells which boundary rows the part joins,
    ``island`` by row the lowest one that it is joined to.  Two are never the same one,
    so that one may be a key of what follows from it.
    """

    siemens: Matrix
    transfer: Matrix
    ohm: Matrix
    joins: Joins
    island: list[int]


def eliminate(siemens: Matrix, boundary: int, joins: Joins) -> SchurComplement:
    """Eliminate all rows but the first ``boundary``; ``siemens`` is used up.

    Raises :class:`CircuitError` where values lie too far apart for double precision.
    """
    island = islands_of(len(siemens), joins)
    tie_to_datum(siemens, boundary, island)
    left = [(row, low) for row, low in enumerate(island[:boundary]) if low != row]
    across = siemens[:boundary, boundary:]
    ohm = inverse_of(siemens[boundary:, boundary:])
    transfer = -ohm @ across.T
    kept = siemens[:boundary, :boundary] + across @ transfer
    return SchurComplement(kept, transfer, ohm, left, island)


def islands_of(size: int, joins: Iterable[tuple[int, int]]) -> list[int]:
    """For each row the lowest one that ``joins`` join it to."""
    low = list(range(size))
    for a, b in joins:
        while low[a] != a:
            a = low[a]
        while low[b] != b:
            b = low[b]
        if a < b:
            low[b] = a
        else:
            low[a] = b
    for row, under in enumerate(low):
        low[row] = low[under]  # lower rows are done already
    return low


def tie_to_datum(siemens: Matrix, boundary: int, island: Sequence[int]) -> None:
    """Tie the lowest row of each island that does not reach the boundary."""
    for row in range(boundary, len(island)):
        if island[row] == row:
            siemens[row, row] += DATUM_S


def put_branch(siemens: Matrix, row: Mapping[int, int], branch: Branch, worth: float) -> Joins:
    """Put a branch of so many siemens into a matrix; the rows that it joins."""
    a, b = row[branch.a], row[branch.b]
    if a != b:
        siemens[a, a] += worth
        siemens[b, b] += worth
        siemens[a, b] -= worth
        siemens[b, a] -= worth
    return [(a, b)] if worth else []


def inverse_of(block: Matrix) -> Matrix:
    """The inverse of a small block."""
    if not len(block):
        return block
    try:
        return np.asarray(np.linalg.inv(block), dtype=np.float64)
    except np.linalg.LinAlgError as error:
        message = "resistances lie too far apart to be computed with"
        raise CircuitError(message) from error


# -- ports as a part shows them at its boundary ----------------------------------------------


@dataclass(frozen=True, slots=True)
class Thevenin:
    """The m ports in one part, seen over its b boundary nodes.

    ``transfer`` (m, b) are the volts of a port for a volt at each boundary node, ``ohm``
    (m, m) those for an ampere put in at each port with the boundary held at 0 V.
    ``island`` gives by port the lowest boundary row of its island, or for an island that
    does not reach the boundary a negative number of its own.
    """

    transfer: Matrix
    ohm: Matrix
    island: list[int]


NO_PORTS = Thevenin(np.zeros((0, 0)), np.zeros((0, 0)), [])


def past_interior(
    ports: Thevenin, boundary: int, complement: SchurComplement, first: int
) -> Thevenin:
    """Ports seen over all rows of a part, now over its boundary; ``ports`` is used up.

    Islands that end here are numbered from ``first`` up, as :class:`Thevenin` says.
    """
    transfer, ohm, island = ports.transfer[:, :boundary], ports.ohm, complement.island
    interior = ports.transfer[:, boundary:]
    if interior.shape[1]:
        transfer = transfer + interior @ complement.transfer
        ohm += interior @ complement.ohm @ interior.T
    lows = [row if row < 0 else island[row] for row in ports.island]
    return Thevenin(transfer, ohm, [n if n < boundary else ~(first + n) for n in lows])


def ports_of_composite(
    below: Sequence[Thevenin], composite: Composite, complement: SchurComplement, first: int
) -> Thevenin:
    """The ports of all parts of a composite, part after part."""
    parts = [below[part] for part in composite.parts]
    total = sum(len(part.island) for part in parts)
    if total == 0:
        return Thevenin(np.zeros((0, composite.boundary)), NO_PORTS.ohm, [])
    transfer, ohm = np.zeros((total, composite.size)), np.zeros((total, total))
    island: list[int] = []
    for part, rows, columns in zip(parts, composite.rows, composite.columns, strict=True):
        if part.island:
            begin, end = len(island), len(island) + len(part.island)
            transfer[begin:end, columns] = part.transfer
            ohm[begin:end, begin:end] = part.ohm
            island += [row if row < 0 else rows[row] for row in part.island]
    return past_interior(Thevenin(transfer, ohm, island), composite.boundary, complement, first)


# -- a subnetwork in the state that it is in -------------------------------------------------

#: States that are remembered of each subnetwork, of each composite and of the backbone.
STATES_REMEMBERED = 512


class LiveSubnetwork:
    """One subnetwork, its contacts closed or open; ``first`` numbers islands that end in it."""

    def __init__(self, network: Network, subnetwork: Subnetwork, first: int) -> None:
        self._network, self._subnetwork, self._first = network, subnetwork, first
        #: siemens of closed contacts, and of permanent branches that are not as built
        self._closed: dict[int, float] = {}
        self._changed: dict[int, float] = {}
        self._permanents: OrderedDict[object, SchurComplement] = OrderedDict()
        self._complements: OrderedDict[object, SchurComplement] = OrderedDict()

    def set(self, branch: int, siemens: float) -> bool:
        """Let a branch conduct so much; whether that is news."""
        if branch in self._network.contacts:
            worth, usual = self._closed, 0.0
        else:
            worth, usual = self._changed, self._network.siemens(branch)
        if worth.get(branch, usual) == siemens:
            return False
        worth[branch] = siemens
        if siemens == usual:
            del worth[branch]
        return True

    def complement(self) -> SchurComplement:
        """The Schur complement at its boundary."""
        subnetwork, permanent = self._subnetwork, self._permanent()
        key = permanent, frozenset(self._closed.items())
        known = self._complements.get(key)
        if known is not None:
            return known
        siemens, joins = permanent.siemens.copy(), list(permanent.joins)
        for branch, worth in sorted(self._closed.items()):
            joins += put_branch(siemens, subnetwork.row, self._network.branches[branch], worth)
        made = eliminate(siemens, subnetwork.boundary, joins)
        return remember(self._complements, key, made, STATES_REMEMBERED)

    def _permanent(self) -> SchurComplement:
        """Without its contacts: what touches none of them eliminated once for all."""
        key = frozenset(self._changed.items())
        known = self._permanents.get(key)
        if known is not None:
            return known
        network, subnetwork = self._network, self._subnetwork
        siemens = np.zeros((len(subnetwork.row), len(subnetwork.row)))
        joins: Joins = []
        for branch in subnetwork.branches:
            if branch not in network.contacts:
                worth = self._changed.get(branch, network.siemens(branch))
                joins += put_branch(siemens, subnetwork.row, network.branches[branch], worth)
        made = eliminate(siemens, subnetwork.switched, joins)
        return remember(self._permanents, key, made, STATES_REMEMBERED)

    def ports(self, rows: Sequence[int]) -> Thevenin:
        """The nodes in these rows as ports: past what is permanent, then past contacts."""
        subnetwork = self._subnetwork
        if not rows:
            return Thevenin(np.zeros((0, subnetwork.boundary)), NO_PORTS.ohm, [])
        at = np.arange(len(rows))
        own = np.zeros((len(rows), len(subnetwork.row)))
        own[at, list(rows)] = 1.0
        ports = Thevenin(own, np.zeros((len(rows), len(rows))), list(rows))
        ports = past_interior(ports, subnetwork.switched, self._permanent(), self._first)
        return past_interior(ports, subnetwork.boundary, self.complement(), self._first)


# -- the backbone, and the supplies ----------------------------------------------------------

On = tuple[bool, ...]  #: by supply


@dataclass(frozen=True, slots=True)
class BackboneSolution:
    """For n nodes of the backbone and s supplies: ``ohm`` (n, n), ``share`` (n, s) and
    ``short_a`` (s, s) as :class:`Ports` has them; ``island`` by node the lowest row of
    its island; ``feeds`` by such a row the supplies that are on there."""

    ohm: Matrix
    share: Matrix
    short_a: Matrix
    island: list[int]
    feeds: dict[int, tuple[int, ...]]


class Backbone:
    """Poles, bus wires and supplies, and the last Schur complement put on them."""

    def __init__(self, network: Network, parting: Partition) -> None:
        self._network, self._parting = network, parting
        supplies = len(network.layout.supplies)
        row = [parting.backbone_row[pole] for pole in network.poles]
        self._poles = [(row[2 * s], row[2 * s + 1]) for s in range(supplies)]
        #: siemens of its branches that are not as built
        self._changed: dict[int, float] = {}
        self._bare: OrderedDict[object, tuple[Matrix, Joins]] = OrderedDict()
        self._solutions: OrderedDict[object, BackboneSolution] = OrderedDict()

    def set(self, branch: int, siemens: float) -> None:
        """Let one of its branches, such as a bus wire, conduct so much."""
        if siemens == self._network.siemens(branch):
            self._changed.pop(branch, None)
        else:
            self._changed[branch] = siemens

    def solve(self, top: SchurComplement, on: On) -> BackboneSolution:
        """With the Schur complement of the last part, and the supplies that are ``on``."""
        state = on, tuple(sorted(self._changed.items()))
        known = self._solutions.get((top, state))
        if known is not None:
            return known
        bare = self._bare.get(state)
        if bare is None:
            bare = remember(self._bare, state, self._without_top(on), STATES_REMEMBERED)
        made = self._solved(bare, top, on)
        return remember(self._solutions, (top, state), made, STATES_REMEMBERED)

    def _without_top(self, on: On) -> tuple[Matrix, Joins]:
        """Nodes first, then the currents of the supplies into their plus poles, negative."""
        network, row = self._network, self._parting.backbone_row
        live = [s for s, gives in enumerate(on) if gives]
        matrix = np.zeros((len(row) + len(live), len(row) + len(live)))
        joins: Joins = []
        for branch in self._parting.backbone_branches:
            worth = self._changed.get(branch, network.siemens(branch))
            joins += put_branch(matrix, row, network.branches[branch], worth)
        for unknown, s in enumerate(live, start=len(row)):
            for pole, sign in zip(self._poles[s], (1.0, -1.0), strict=True):
                matrix[pole, unknown] += sign
                matrix[unknown, pole] += sign
            matrix[unknown, unknown] = -max(network.layout.supplies[s].internal_ohm, LEAST_OHM)
            joins.append(self._poles[s])
        return matrix, joins

    def _solved(
        self, bare: tuple[Matrix, Joins], top: SchurComplement, on: On
    ) -> BackboneSolution:
        matrix, joins = bare[0].copy(), [*top.joins, *bare[1]]
        size, boundary = len(self._parting.backbone_row), len(top.siemens)
        matrix[:boundary, :boundary] += top.siemens
        island = islands_of(size, joins)
        tie_to_datum(matrix, 0, island)
        inverse = inverse_of(matrix)
        live = [s for s, gives in enumerate(on) if gives]
        share, short_a = np.zeros((size, len(on))), np.zeros((len(on), len(on)))
        share[:, live] = inverse[:size, size:]
        short_a[np.ix_(live, live)] = -inverse[size:, size:]
        feeds: dict[int, tuple[int, ...]] = {}
        for s in live:
            low = island[self._poles[s][0]]
            feeds[low] = (*feeds.get(low, ()), s)
        return BackboneSolution(inverse[:size, :size], share, short_a, island, feeds)


# -- the whole -------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Ports:
    """The network seen from some of its nodes, for m ports and s supplies.

    ``ohm`` (m, m): volts at one port that an ampere drawn at another costs;
    ``share`` (m, s): volts at a port for a volt of each supply; ``short_a`` (s, s):
    amps of each supply for a volt of each, nothing drawn.  An ampere drawn at a
    port adds ``share[port, supply]`` to that supply's current.  ``island`` gives by
    port the first port of its island, ``feeds`` by such a port the supplies of it.
    """

    ohm: list[list[float]]
    share: list[list[float]]
    short_a: list[list[float]]
    island: list[int]
    feeds: dict[int, tuple[int, ...]]

    def open_v(self, plus: int, minus: int, supply_v: Sequence[float]) -> float:
        """Volts between two ports with nothing drawn anywhere."""
        volts = 0.0
        for up, down, v in zip(self.share[plus], self.share[minus], supply_v, strict=True):
            volts += (up - down) * v
        return volts


class Reduction:
    """One network in one state of its contacts and supplies, seen from any ports."""

    def __init__(self, network: Network) -> None:
        self.network = network
        self.partition = parting = partition(network)
        sizes = [len(s.row) for s in parting.subnetworks] + [c.size for c in parting.composites]
        #: by part: its rows are numbered from here up among the rows of all parts
        self._first = list(accumulate(sizes, initial=0))
        self._subnetworks = [
            LiveSubnetwork(network, subnetwork, first)
            for subnetwork, first in zip(parting.subnetworks, self._first, strict=False)
        ]
        self._backbone = Backbone(network, parting)
        self._composed: list[OrderedDict[object, SchurComplement]] = [
            OrderedDict() for _ in parting.composites
        ]
        #: by part: what it comes to, and the ports in it; None before anybody has asked
        self._complement: list[SchurComplement | None] = [None] * len(sizes)
        self._thevenin: list[Thevenin] = [NO_PORTS] * len(sizes)
        self._rows: dict[int, tuple[int, ...]] = {}  #: by subnetwork: those of its ports
        self._asked: tuple[int, ...] = ()
        self._order: list[int] = []
        self._stale = set(range(len(self._subnetworks)))
        self._on = [True] * len(network.layout.supplies)
        self.set({b: network.branches[b].ohm for b in network.contacts})

    def set(self, changes: Mapping[int, float | None]) -> None:
        """Give branches other ohms; None opens one."""
        for branch, ohm in changes.items():
            number = self.partition.subnetwork_of[branch]
            siemens = 0.0 if ohm is None else 1.0 / max(ohm, LEAST_OHM)
            if number == BACKBONE:
                self._backbone.set(branch, siemens)
            elif self._subnetworks[number].set(branch, siemens):
                self._stale.add(number)

    def switch(self, supply: int, on: bool) -> None:
        """A supply trips or comes back."""
        self._on[supply] = on

    def ports(self, nodes: Sequence[int]) -> Ports:
        """The network as seen from ``nodes``.

        Raises :class:`CircuitError` where values lie too far apart for double precision.
        """
        asked = tuple(nodes)
        if asked != self._asked:
            self._asked, self._order = asked, self._place(asked)
        self._renew()
        top, below = self._complement[-1], self._thevenin[-1]
        assert top is not None
        base = self._backbone.solve(top, tuple(self._on))
        ohm = below.ohm + below.transfer @ base.ohm @ below.transfer.T
        share = below.transfer @ base.share
        island = [low if low < 0 else base.island[low] for low in below.island]
        if self._order != list(range(len(asked))):
            back = np.argsort(self._order)
            ohm, share = ohm[back][:, back], share[back]
            island = [island[k] for k in back]
        first_of: dict[int, int] = {}
        for port, low in enumerate(island):
            first_of.setdefault(low, port)
        return Ports(
            ohm.tolist(),
            share.tolist(),
            base.short_a.tolist(),
            [first_of[low] for low in island],
            {port: base.feeds.get(low, ()) for low, port in first_of.items()},
        )

    def _place(self, nodes: Sequence[int]) -> list[int]:
        """Find each port its subnetwork; positions in ``nodes``, subnetwork by subnetwork."""
        wanted: dict[int, list[int]] = {}
        for position, node in enumerate(nodes):
            wanted.setdefault(self.partition.home[node], []).append(position)
        rows = {
            number: tuple(self.partition.subnetworks[number].row[nodes[p]] for p in positions)
            for number, positions in wanted.items()
        }
        self._stale.update(n for n in {*rows, *self._rows} if rows.get(n) != self._rows.get(n))
        self._rows = rows
        return [position for number in sorted(wanted) for position in wanted[number]]

    def _renew(self) -> None:
        """Every subnetwork that has changed, and the composites above it."""
        due: set[int] = set()
        for number in sorted(self._stale):
            subnetwork = self._subnetworks[number]
            self._complement[number] = subnetwork.complement()
            self._thevenin[number] = subnetwork.ports(self._rows.get(number, ()))
            due.update(self.partition.above[number])
        self._stale.clear()
        for number in sorted(due):
            composite = self.partition.composites[number - len(self._subnetworks)]
            complement = self._complement[number] = self._composite(number, composite)
            self._thevenin[number] = ports_of_composite(
                self._thevenin, composite, complement, self._first[number]
            )

    def _composite(self, number: int, composite: Composite) -> SchurComplement:
        """What the parts of a composite come to together."""
        parts = tuple([c for p in composite.parts if (c := self._complement[p]) is not None])
        memo = self._composed[number - len(self._subnetworks)]
        known = memo.get(parts)
        if known is not None:
            return known
        flat = np.zeros(composite.size * composite.size)
        joins: Joins = []
        for part, entries, rows in zip(parts, composite.entries, composite.rows, strict=True):
            flat[entries] += part.siemens.ravel()
            joins += [(rows[a], rows[b]) for a, b in part.joins]
        siemens = flat.reshape(composite.size, composite.size)
        made = eliminate(siemens, composite.boundary, joins)
        return remember(memo, parts, made, STATES_REMEMBERED)
