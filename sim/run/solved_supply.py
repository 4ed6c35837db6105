"""The supply with the circuit solved: volts at every motor, amps of every supply.

Tracing still decides the kinds of dead; what is connected gets the volts that are
left with every other train on, and a supply is overloaded when its current says so.
A short that draws too little to trip anything is no short to a train that still
gets its volts.

A solution holds within bands: while no train has gone further than costs it
:data:`~sim.run.solved_supply.BAND_PLACE_V`, and a unit is told only of volts that
have changed by more than :data:`BAND_V` or have crossed a voltage at which it behaves
otherwise.  The current of a motor is taken as the same at every speed (constant
torque), so speed needs no band.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Collection, Iterable, Sequence
from copy import copy
from dataclasses import replace
from math import inf

from sim.circuit.live import LiveCircuit
from sim.circuit.network import Network
from sim.circuit.operating_point import NO_LOAD, Load
from sim.circuit.voltage_drop import LostIn, losses
from sim.layout.model import PLASTIC, Layout
from sim.layout.traffic import Motor
from sim.power.wiring import is_permanent
from sim.run.consist import Consist, Pickup
from sim.run.supply import Doing, SupplyReading, Where
from sim.run.traced_supply import TracedSupply
from sim.run.train import RunningTrain


class Places:
    """Finds pickups by side and slot; a train's own are looked up again when it turns.

    ``owners`` are the trains by unit.
    """

    def __init__(self, owners: Sequence[RunningTrain]) -> None:
        self._owners = owners
        self._known: dict[int, tuple[Consist, dict[tuple[int, int], Pickup]]] = {}

    def spot(self, side: int, slot: int) -> tuple[int, float, int]:
        """Route, place from the route's start in micrometres, and node."""
        train = self._owners[side >> 1]
        path = train.path
        known = self._known.get(train.index)
        if known is None or known[0] is not path.consist:
            pickups = {(p.side, p.slot): p for p in path.consist.pickups}
            known = self._known[train.index] = path.consist, pickups
        segment, along, node = path.under(known[1][side, slot], train.place_now())
        if not segment.forward:
            along = segment.end_um - segment.begin_um - along
        return segment.route, along, node


class Stations:
    """By side: one place for each piece of metal under its pickups, looked up when asked.

    ``cluster_of`` gives the piece of metal of each node, one more entry standing for
    plastic; ``under`` the pieces under the pickups of each side, which others keep up
    to date: they say which sides have :meth:`moved`.
    """

    def __init__(
        self,
        network: Network,
        cluster_of: Sequence[int],
        under: Sequence[Sequence[int]],
        where: Where,
    ) -> None:
        self._network, self._cluster_of, self._under = network, cluster_of, under
        self._where = where
        self._moved: set[int] = set(range(len(under)))
        self.nodes: list[tuple[int, ...]] = [()] * len(under)

    def moved(self, sides: Iterable[int]) -> None:
        """These sides have to be looked up again."""
        self._moved.update(sides)

    def look_up(self) -> bool:
        """Bring :attr:`nodes` up to date; True if any side had moved."""
        if not self._moved:
            return False
        for side in sorted(self._moved):
            self.nodes[side] = self._nodes_under(side)
        self._moved.clear()
        return True

    def _nodes_under(self, side: int) -> tuple[int, ...]:
        """What is in one piece counts as at the first of its pickups."""
        nowhere = len(self._cluster_of) - 1
        found: dict[int, int] = {}
        for slot, cluster in enumerate(self._under[side]):
            if cluster != nowhere and cluster not in found:
                found[cluster] = self._station(side, slot, cluster)
        return tuple(dict.fromkeys(found.values()))

    def _station(self, side: int, slot: int, cluster: int) -> int:
        network = self._network
        section = cluster
        route, place_um, node = self._where(side, slot)
        if node != PLASTIC and self._cluster_of[node] == cluster:
            section = node
            if len(network.cells[node]) > 1:
                along = network.lines.along(node, route, round(place_um))
                return network.station(node, along)
        return network.cells[section][0].node

    def middle(self, section: int) -> int:
        """A place on ``section``, about half way along it."""
        cells = self._network.cells[section]
        return cells[len(cells) // 2].node


#: Volts that the way since the last solution may have cost a train.
BAND_PLACE_V = 0.03
#: Way between two solutions: no less, and no more.
BAND_UM = 500_000.0, 5_000_000.0
#: Joiners on a metre of rail, on top of its own resistance (ohm): one each 0.3 m.
JOINERS_OHM_M = 0.017


def place_band_um(layout: Layout, motors: Sequence[tuple[Motor, ...]]) -> float:
    """How far a train may go before its volts can have changed by :data:`BAND_PLACE_V`.

    Both rails, at the greatest running current of any unit.
    """
    amps = max((sum(m.running_a for m in own) for own in motors), default=0.0)
    ohm_m = 2.0 * (layout.rail_ohm_m + JOINERS_OHM_M)
    way_m = BAND_PLACE_V / (ohm_m * amps) if amps > 0.0 else BAND_UM[1]
    return min(max(way_m * 1e6, BAND_UM[0]), BAND_UM[1])


def dc_load(motors: Sequence[Motor], doing: Doing) -> Load:
    """Motors straight on the rails, at full torque current, or held as a resistance.

    Standing, a motor is what it is with its wheels held: 12 V and 0.4 A are 30 ohm.
    Turning, it draws its running current whatever the volts, down to where it stops.
    """
    ohm = 1.0 / sum(1.0 / m.standing_ohm for m in motors)
    if doing is Doing.STARTING:
        return Load(ohm=ohm)
    return Load(sum(m.running_a for m in motors), ohm, min(m.turns_down_to_v for m in motors))


def digital_load(motors: Sequence[Motor], doing: Doing, share: float) -> Load:
    """Motors behind decoders, which draw by speed as long as they get their least volts.

    Below those a decoder counts as the resistance that it is just there, so that
    it draws no more than the volts allow.
    """
    starting = doing is Doing.STARTING
    amps = sum(m.starting_a if starting else m.running_a * share for m in motors)
    least = max(m.minimum_v for m in motors)
    return Load(amps, least / amps, least) if amps > 0.0 and least > 0.0 else NO_LOAD


#: Volts by which a solution may be off before a train is told.
BAND_V = 0.05
#: A permanent element of more than this is told apart: a wheel may bridge it.
WORN_OHM = 1.0
#: Shares of measured speed that a digital load is counted in.
SHARES = 8
#: What a contact or joiner is worth when it has been cleaned or renewed (ohm).
GOOD_OHM = 0.05


def _levels(motors: Iterable[Motor]) -> list[float]:
    return sorted(
        v for m in motors for v in (m.start_voltage_v, m.turns_down_to_v, m.minimum_v)
    )


def worn(layout: Layout) -> list[int]:
    """Permanent elements that a wheel may bridge; wiring for this supply keeps them apart."""
    return [
        e
        for e, element in enumerate(layout.elements)
        if is_permanent(element) and (element.resistance_ohm or 0.0) > WORN_OHM
    ]


class SolvedSupply:
    """See :class:`sim.run.supply.SupplyModel`, which this implements.

    Made of a traced supply, which says what is connected, and a circuit, which says
    with how many volts; ``closed`` are the elements that are closed in both.
    ``motors`` are by unit, ``where`` tells where pickups stand, and ``may_break`` says
    that there are permanent elements which the run may open.
    """

    def __init__(
        self,
        layout: Layout,
        traced: TracedSupply,
        circuit: LiveCircuit,
        closed: Iterable[int],
        motors: Sequence[tuple[Motor, ...]],
        where: Where,
        may_break: bool = False,
    ) -> None:
        self.band_um = place_band_um(layout, motors)
        self.traced, self.circuit = traced, circuit
        self._layout = layout
        self._motors = motors
        #: by unit: the volts at which its behaviour changes
        self._levels = [_levels(own) for own in motors]
        self._shut = {*closed}
        #: ohms that faults have given elements; None: a permanent one that is open
        self._other: dict[int, float | None] = {}
        self._has_worn = may_break or any(
            e.kind != "gap" and (e.resistance_ohm or 0.0) > WORN_OHM for e in layout.elements
        )
        self._emf = [0.0] * len(layout.supplies)
        self._doing = [(Doing.IDLE, 0.0)] * len(motors)
        self._loads: list[Load] = [NO_LOAD] * len(motors)
        self._solved: list[SupplyReading] = [SupplyReading("insulated")] * len(motors)
        #: by unit: the traced reading and the volts that ``_solved`` was last held against
        self._basis: list[tuple[SupplyReading, float | None] | None] = [None] * len(motors)
        self._amps = [0.0] * len(layout.supplies)
        self._lost: tuple[int, tuple[tuple[LostIn, float], ...]] | None = None
        self._told_late: dict[int, None] = {}
        #: units with a motor, or whose pickups join places
        self._concerned: list[int] = []
        self._due = True
        self._stations = Stations(circuit.network, traced.cluster_of, traced.under, where)
        # What tracing alone can answer.
        self.same_metal, self.turn, self.off = traced.same_metal, traced.turn, traced.off
        self.is_shorted, self.bridging_units = traced.is_shorted, traced.bridging_units
        self.labels, self.label_of = traced.labels, traced.label_of
        self.pole_at, self.changeable = traced.pole_at, traced.changeable

    # -- what changes -----------------------------------------------------------

    def set_contacts(self, closed: Iterable[int], opened: Iterable[int]) -> None:
        """Contacts that have just closed, and just opened."""
        closed, opened = list(closed), list(opened)
        self._shut.update(closed)
        self._shut.difference_update(opened)
        self.circuit.set_contacts(self._shut)
        self._open_permanent(closed, opened)
        self._due = True
        self.traced.set_contacts(closed, opened)

    def _open_permanent(self, closed: Iterable[int], opened: Iterable[int]) -> None:
        """Tell the circuit of elements that are no contacts and have opened, or closed."""
        before = dict(self._other)
        for e in opened:
            if is_permanent(self._layout.elements[e]):
                self._other[e] = None
        for e in closed:
            if e in self._other and self._other[e] is None:
                del self._other[e]
        if self._other != before:
            self.circuit.set_ohms(self._other)

    def tire(self, element: int, ohm: float | None) -> None:
        """A fault gives an element other ohms, or takes them away."""
        if ohm is not None:
            self._other[element] = ohm
            self._has_worn = True
        else:
            self._other.pop(element, None)
        self.circuit.set_ohms(self._other)
        self._due = True

    def move(self, side: int, slot: int, node: int) -> bool:
        """Put a pickup on a node: another net, or another piece of metal."""
        under = self.traced.under[side]
        before = under[slot]
        moved = self.traced.move(side, slot, node)
        if under[slot] == before:
            return moved
        self._stations.moved((side,))
        # Across a good contact is no more than a little further along the same rail.
        if moved or self._has_worn:
            self._due = moved = True
        return moved

    def drift(self, units: Iterable[int]) -> None:
        """Units have gone on so far that their places are to be looked up again."""
        self._stations.moved(side for unit in units for side in (2 * unit, 2 * unit + 1))
        self._due = True

    def switch(self, supply: int, on: bool) -> None:
        """A supply trips or is switched on again."""
        self.traced.switch(supply, on)
        self.circuit.switch(self._giving())
        self._due = True

    def _giving(self) -> list[bool]:
        """Supplies that are on, but for those whose closed throttle lets nothing through."""
        rows = zip(self.traced.on, self._emf, self._layout.supplies, strict=True)
        return [on and (emf != 0.0 or not s.acts.shut_is_open) for on, emf, s in rows]

    def drive(self, supply: int, volts: float) -> bool:
        """What a supply gives with nothing on it."""
        changed = self._emf[supply] != volts
        if changed:
            self._emf[supply] = volts
            self.circuit.switch(self._giving())
            self._due = True
        return changed

    def load(self, unit: int, doing: Doing, share: float) -> bool:
        """What a unit does, at what share of its measured speed."""
        now = doing, min(1.0, round(share * SHARES) / SHARES) if doing is Doing.RUNNING else 0.0
        if self._doing[unit] == now:
            return False
        self._doing[unit] = now
        self._loads[unit] = self._load(unit)
        if self.traced.reading(unit).verdict not in (None, "short", "wrong voltage"):
            return False  # nothing flows there, whatever its motors would do
        self._due = True
        return True

    # -- the solution -----------------------------------------------------------

    def solve(self) -> Sequence[int]:
        """Trace, then solve; the units that something has changed for."""
        traced = self.traced.solve()
        for unit in traced:
            self._loads[unit] = self._load(unit)
        if traced or self._due:
            self._settle(traced)
        changed = sorted({*traced, *self._told_late})
        self._told_late.clear()
        return changed

    def reading(self, unit: int) -> SupplyReading:
        """The reading of ``unit``, solved anew if it has begun to do something else."""
        if self._due:
            self._settle(())
        return self._solved[unit]

    def amps(self, supply: int) -> float | None:
        """Current of a supply, as last solved."""
        return self._amps[supply]

    def shorted(self) -> frozenset[int]:
        """Supplies that give more than they trip at."""
        return self._over(self._amps)

    def shorted_without(self, units: Collection[int]) -> frozenset[int]:
        """Supplies that would still give too much if ``units`` were lifted."""
        self._look_up()
        left = [u for u in self._concerned if u not in units]
        return self._over(self._settled_for(left)[1])

    def _over(self, amps: Sequence[float]) -> frozenset[int]:
        supplies = self._layout.supplies
        return frozenset(
            s
            for s, a in enumerate(amps)
            if self.traced.on[s] and abs(round(a, 6)) > supplies[s].trip_a
        )

    def losses(self, unit: int) -> tuple[tuple[LostIn, float], ...]:
        """What costs the unit most volts, from its supply and back."""
        if self._lost is None or self._lost[0] != unit:
            self._lost = unit, self._losses(unit)
        return self._lost[1]

    def _losses(self, unit: int) -> tuple[tuple[LostIn, float], ...]:
        self._look_up()
        own = self._stations.nodes[2 * unit], self._stations.nodes[2 * unit + 1]
        if not own[0] or not own[1]:
            return ()
        drawn = self.circuit.drawn(*self._asked_for(self._concerned))
        volts = [e if on else 0.0 for e, on in zip(self._emf, self.traced.on, strict=True)]
        return losses(self._network_now(), self._shut, volts, self._giving(), drawn,
                      (own[0][0], own[1][0]))  # fmt: skip

    def _network_now(self) -> Network:
        """The network with the ohms that faults have given its elements."""
        network = self.circuit.network
        branches = list(network.branches)
        for e, ohm in self._other.items():
            if e in network.branch_of:
                b = network.branch_of[e]
                branches[b] = replace(branches[b], ohm=inf if ohm is None else ohm)
        return replace(network, branches=tuple(branches)) if self._other else network

    def _settle(self, traced: Iterable[int]) -> None:
        """Volts of every unit that has a motor; amps of every supply."""
        self._due, self._lost = False, None
        self._look_up()
        volts, amps = self._settled_for(self._concerned)
        self._amps = [round(a, 6) for a in amps]
        got = dict(zip(self._concerned, volts, strict=True))
        for unit in {**dict.fromkeys(traced), **got}:
            basis = self.traced.reading(unit), got.get(unit)
            if basis == self._basis[unit] and basis[0].verdict != "short":
                continue  # a short depends on amps too
            self._basis[unit] = basis
            reading = self._with_volts(*basis)
            if self._tells(unit, self._solved[unit], reading):
                self._solved[unit] = reading
                self._told_late[unit] = None

    def _settled_for(self, units: Sequence[int]) -> tuple[list[float | None], list[float]]:
        return self.circuit.settle(*self._asked_for(units))

    def _asked_for(
        self, units: Sequence[int], joins: Sequence[tuple[int, ...]] = ()
    ) -> tuple[list[tuple[int, ...]], list[Load], list[float]]:
        """Nodes under the sides of ``units``, their loads, and the supplies' volts."""
        under = [self._stations.nodes[side] for u in units for side in (2 * u, 2 * u + 1)]
        return [*under, *joins], [self._loads[u] for u in units], self._emf

    def _look_up(self) -> None:
        """Find the places of the pickups that have gone on."""
        if not self._stations.look_up():
            return
        nodes = self._stations.nodes
        self._concerned = [
            u
            for u, motors in enumerate(self._motors)
            if motors or len(nodes[2 * u]) > 1 or len(nodes[2 * u + 1]) > 1
        ]

    def _with_volts(self, traced: SupplyReading, volts: float | None) -> SupplyReading:
        """What tracing says, with the volts where current can flow."""
        if volts is None or traced.verdict not in (None, "short"):
            return traced
        steps = traced.steps
        if traced.verdict == "short":
            if not self.shorted().isdisjoint(self.traced.shorted()):
                return traced  # about to trip
            pole = next((p for p in traced.poles if p is not None), None)
            steps = () if pole is None else ((pole // 2, 1),)
        return SupplyReading(None, steps, traced.poles, round(volts, 3))

    def _tells(self, unit: int, old: SupplyReading, new: SupplyReading) -> bool:
        """Whether the difference matters to the train."""
        if old is new:
            return False
        if (old.verdict, old.steps, old.poles) != (new.verdict, new.steps, new.poles):
            return True
        if old.volts is None or new.volts is None:
            return old.volts is not new.volts
        if old.volts == new.volts:
            return False
        if abs(old.volts - new.volts) > BAND_V or old.volts * new.volts < 0.0:
            return True
        levels = self._levels[unit]
        was, now = abs(old.volts), abs(new.volts)
        return bisect_left(levels, was) != bisect_left(levels, now) or bisect_right(
            levels, was
        ) != bisect_right(levels, now)

    # -- places and loads ---------------------------------------------------------

    def _load(self, unit: int) -> Load:
        motors = self._motors[unit]
        doing, share = self._doing[unit]
        if not motors or doing is Doing.IDLE:
            return NO_LOAD
        reading = self.traced.reading(unit)
        fed = [s for s, _ in reading.steps] or [p // 2 for p in reading.poles if p is not None]
        if fed and all(self._layout.supplies[s].acts.decodes for s in fed):
            return digital_load(motors, doing, share)
        return dc_load(motors, doing)

    # -- what if ------------------------------------------------------------------

    def verdict_if(
        self,
        unit: int,
        closed: Iterable[int] = (),
        opened: Iterable[int] = (),
        bridged: Iterable[tuple[int, int]] = (),
        restored: Iterable[int] = (),
        mended: Iterable[int] = (),
    ) -> SupplyReading:
        """The reading of ``unit`` after a change that is only imagined, with its volts."""
        closed, opened, bridged = list(closed), list(opened), list(bridged)
        traced = self.traced.verdict_if(unit, closed, opened, bridged, restored)
        starved = self.traced.reading(unit).verdict is None
        if traced.verdict is not None or not starved:
            return traced  # a place that is dead is cured when it is connected
        circuit = copy(self.circuit)
        circuit.set_contacts((self._shut | set(closed)) - set(opened))
        mends = {e: ohm for e, ohm in self._other.items() if ohm is not None or e not in closed}
        circuit.set_ohms({**mends, **dict.fromkeys(mended, GOOD_OHM)})
        self._look_up()
        units = [unit, *(u for u in self._concerned if u != unit)]
        joins = [(self._stations.middle(a), self._stations.middle(b)) for a, b in bridged]
        volts = circuit.settle(*self._asked_for(units, joins))[0]
        reading = self._with_volts(traced, volts[0])
        need = [m.start_voltage_v for m in self._motors[unit][:1]]
        enough = reading.volts is not None and all(abs(reading.volts) >= v for v in need)
        return reading if enough else replace(reading, verdict="starved")
