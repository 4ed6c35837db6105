"""One train over one lane, alone: the run's own train, path and power on a cut-out.

What decides a drive is what lies under the train: the rails along its lane, which
of them are one net, which poles these have and behind how many ohms.  That is cut
out of the layout as a :class:`Scene`, which says nothing of where it was, and run.
Scenes that are alike are run once (:class:`Player`), so that a thousand boards of
one kind cost little more than one.

The ohms before a rail are those of one way to its pole, taken up to the next of
1, 2, 5, 10: on the boards of a club they cost an engine some hundredths of a volt.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from math import floor, inf, log10
from typing import Literal

from sim.drive.lane import Lane
from sim.drive.nets import Nets
from sim.layout.model import (
    NOWHERE,
    PLASTIC,
    Element,
    End,
    Layout,
    Module,
    PlacedPiece,
    Route,
    Span,
    Supply,
)
from sim.layout.traffic import Case, Conduct, Train
from sim.pieces.kinds import build
from sim.records.model import Kind, Motion, Record, StallSide
from sim.run.consist import compile_train
from sim.run.run import RollingStart, run

Outcome = Literal["clear", "hesitates", "stops", "shorts"]

#: What is joined by nothing but metal (ohm).
METAL_OHM = 0.001
UM_PER_MM = 1000


#: (length, ((from, to, left, right), …)) in µm and section numbers.
Stretch = tuple[int, tuple[tuple[int, int, int, int], ...]]


@dataclass(frozen=True, slots=True)
class Scene:
    """The rails along a lane, in the direction of travel, and what feeds them.

    ``stretches`` are by segment, with section numbers of the scene.  ``nets`` gives
    the net of each section, ``ohms`` what lies between it and a pole of that net (inf
    where it has none), ``poles`` the net of each pole of ``supplies``.
    """

    stretches: tuple[Stretch, ...]
    nets: tuple[int, ...]
    ohms: tuple[float, ...]
    poles: tuple[int, ...]
    supplies: tuple[Supply, ...]
    rail_ohm_m: float
    pickup_ohm: float
    over: int
    begin_um: int
    way_um: int


@dataclass(frozen=True, slots=True)
class Cut:
    """A scene, and which sections and supplies of the whole its own numbers mean.

    ``opposed`` are DC supplies of the whole, wired in opposite phase to the first on
    the way: their throttles have to stand the other way for a train to go on.
    """

    scene: Scene
    sections: tuple[int, ...]
    supplies: tuple[int, ...]
    opposed: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Played:
    """What came of it.

    ``segment`` and ``place_um`` tell where the front was, in the direction of
    travel, when it stood, lost supply or shorted; ``sections`` what was then under
    the pickups of each side of a vehicle, as (left, right) of the scene; ``side``
    is as the train faces.  ``joined`` are poles that its pickups joined without
    a short, ``trips`` tells that a breaker would have been quick enough.
    """

    outcome: Outcome
    segment: int = -1
    place_um: int = 0
    side: StallSide | None = None
    kind: Kind | None = None
    sections: tuple[tuple[tuple[int, ...], tuple[int, ...]], ...] = ()
    joined: tuple[int, ...] = ()
    shorted: tuple[int, ...] = ()
    trips: bool = False
    lost_some: bool = False  #: clear, but its pickups lost supply for a while


def cut_out(layout: Layout, lane: Lane, nets: Nets) -> Cut:
    """The scene along ``lane`` while the rails are joined as ``nets`` says."""
    index: dict[int, int] = {PLASTIC: PLASTIC}
    stretches = []
    for number, forward in lane.segments:
        route = layout.routes[number]
        spans = [(s.from_um, s.to_um, s.left, s.right) for s in route.spans]
        if not forward:
            n = route.length_um
            spans = [(n - to, n - frm, right, left) for frm, to, left, right in spans[::-1]]
        for node in (x for _, _, left, right in spans for x in (left, right)):
            index.setdefault(node, len(index) - 1)
        stretches.append(
            (route.length_um, tuple((f, t, index[a], index[b]) for f, t, a, b in spans))
        )
    sections = tuple(node for node in index if node != PLASTIC)
    supplies = _supplies({nets.net(n) for n in sections}, nets)
    name: dict[int, int] = {}
    in_scene = tuple(name.setdefault(nets.net(n), len(name)) for n in sections)
    poles = tuple(
        name.setdefault(nets.net_of_pole[2 * s + k], len(name))
        for s in supplies
        for k in (0, 1)
    )
    made = [_nameless(layout.supplies[s], k) for k, s in enumerate(supplies)]
    turned, opposed = _turned_along(stretches, in_scene, poles, made)
    scene = Scene(
        tuple(stretches),
        in_scene,
        tuple(rounded_ohm(nets.ohm(n)) for n in sections),
        poles,
        turned,
        layout.rail_ohm_m,
        layout.pickup_ohm,
        lane.over,
        lane.begin_um,
        lane.way_um,
    )
    return Cut(scene, sections, supplies, tuple(supplies[k] for k in opposed))


def _turned_along(
    stretches: Iterable[Stretch],
    nets: Sequence[int],
    poles: Sequence[int],
    supplies: Sequence[Supply],
) -> tuple[tuple[Supply, ...], tuple[int, ...]]:
    """DC supplies as a driver sets them who goes along the lane; those in opposite phase.

    On DC the phase is the throttle's: each is turned so that the train is driven on
    where it first comes onto that supply.  On digital supplies the phase is as built.
    """
    plus_left: dict[int, bool] = {}
    rails = [
        (nets[a], nets[b])
        for _, spans in stretches
        for _, _, a, b in spans
        if PLASTIC not in (a, b)
    ]
    for rail in dict.fromkeys(rails):
        for k in range(len(supplies)):
            plus, minus = poles[2 * k], poles[2 * k + 1]
            if plus != minus and rail in ((plus, minus), (minus, plus)):
                plus_left.setdefault(k, rail == (plus, minus))
    met = [k for k in plus_left if supplies[k].kind == "dc"]
    stands = {k: plus_left[k] != supplies[k].reversed for k in met}
    turned = tuple(
        replace(s, reversed=plus_left[k]) if k in stands else s for k, s in enumerate(supplies)
    )
    return turned, tuple(k for k in met if stands[k] != stands[met[0]])


def _supplies(touched: set[int], nets: Nets) -> tuple[int, ...]:
    """Supplies with a pole in a touched net, and those that share an island with them.

    Where there is none it is the first: a train is driven by some throttle, and
    stops for want of rails that are fed.
    """
    pole_nets, found = nets.net_of_pole, set[int]()
    reached, grown = set(touched), True
    while grown:
        grown = False
        for s in range(len(pole_nets) // 2):
            both = {pole_nets[2 * s], pole_nets[2 * s + 1]}
            if s not in found and both & reached:
                found.add(s)
                reached |= both
                grown = True
    return tuple(sorted(found)) or tuple(range(len(pole_nets) // 2))[:1]


def _nameless(supply: Supply, number: int) -> Supply:
    return replace(supply, name=str(number), plus=0, minus=0, common=None)


def rounded_ohm(ohm: float) -> float:
    """The next of 0.01, 0.02, 0.05, 0.1, … ohms that is not less."""
    if ohm in (0.0, inf):
        return ohm
    step = max(10.0 ** floor(log10(ohm)), 0.01)
    for factor in (1.0, 2.0, 5.0):
        if ohm <= factor * step * (1.0 + 1e-9):
            return round(factor * step, 9)
    return round(10.0 * step, 9)


def layout_of(scene: Scene) -> Layout:
    """The scene as a layout of plain track, one piece for each segment."""
    count = len(scene.nets)
    poles = [count + k for k in range(len(scene.poles))]
    supplies = tuple(
        replace(s, plus=poles[2 * k], minus=poles[2 * k + 1])
        for k, s in enumerate(scene.supplies)
    )
    ends: list[End] = []
    routes: list[Route] = []
    last = len(scene.stretches) - 1
    for k, (length_um, spans) in enumerate(scene.stretches):
        ends.append(End(f"{k}/in", k, NOWHERE if k == 0 else 2 * k - 1))
        ends.append(End(f"{k}/out", k, NOWHERE if k == last else 2 * k + 2))
        routes.append(
            Route(str(k), k, 2 * k, 2 * k + 1, length_um, tuple(Span(*s) for s in spans), ())
        )
    plain = build("straight", {"gauge_mm": 9.0, "length_mm": 100.0})
    pieces = tuple(
        PlacedPiece(str(k), "lane", plain, (k,), (2 * k, 2 * k + 1), ())
        for k in range(len(routes))
    )
    return Layout(
        nodes=tuple(map(str, range(count + len(poles)))),
        elements=tuple(_bonds(scene, poles)),
        supplies=supplies,
        districts=(),
        levers=(),
        controls=(),
        routes=tuple(routes),
        ends=tuple(ends),
        pieces=pieces,
        modules=(Module("lane", None, 0.0, tuple(range(len(pieces)))),),
        rail_ohm_m=scene.rail_ohm_m,
        pickup_ohm=scene.pickup_ohm,
    )


def _bonds(scene: Scene, poles: Sequence[int]) -> list[Element]:
    """Metal that makes the nets of the scene what they are."""
    first: dict[int, int] = {}
    ways: list[tuple[int, int, float]] = []
    for net, pole in zip(scene.poles, poles, strict=True):
        if first.setdefault(net, pole) != pole:
            ways.append((pole, first[net], METAL_OHM))
    for section, net in enumerate(scene.nets):
        if first.setdefault(net, section) != section:
            ohm = scene.ohms[section]
            ways.append((section, first[net], max(METAL_OHM, ohm) if ohm < inf else METAL_OHM))
    return [
        Element(str(k), "bond", a, b, resistance_ohm=ohm) for k, (a, b, ohm) in enumerate(ways)
    ]


class Player:
    """Runs scenes, each once for the same train and speed."""

    def __init__(self) -> None:
        self._known: dict[object, Played] = {}

    def play(
        self, scene: Scene, train: Train, speed_mm_s: float, standing: bool = False
    ) -> Played:
        """What comes of ``train`` at ``speed_mm_s`` (or from rest) over the scene."""
        same = replace(train, name="", route=0, place_mm=0.0, toward_finish=True, orders=())
        if _is_plain(scene, same):
            return Played("clear")
        if not scene.supplies:  # of the whole layout
            return Played("stops", scene.over, 0, "both", "floating")
        key = scene, same, speed_mm_s, standing
        known = self._known.get(key)
        if known is None:
            known = self._known[key] = _play(scene, same, speed_mm_s, standing)
        return known


def _is_plain(scene: Scene, train: Train) -> bool:
    """Whether one supply alone feeds every rail of the lane, with volts to spare.

    Nothing can happen to a train there, whatever its speed: it would be run for nothing.
    """
    pairs = {(left, right) for _, spans in scene.stretches for _, _, left, right in spans}
    if PLASTIC in (x for pair in pairs for x in pair) or len(scene.supplies) != 1:
        return False
    nets = {(scene.nets[left], scene.nets[right]) for left, right in pairs}
    if len(set(scene.poles)) < 2 or nets not in ({scene.poles}, {scene.poles[::-1]}):
        return False
    return has_volts_to_spare(train, scene.supplies[0], max(scene.ohms))


def has_volts_to_spare(train: Train, supply: Supply, ohm: float) -> bool:
    """Whether ``train`` gets over rails that ``supply`` alone feeds through so many ohms.

    The bound is generous: False says nothing.
    """
    motors = [v.motor for v in train.vehicles if v.motor is not None]
    most_a = sum(max(m.running_a, m.starting_a) for m in motors)
    lost_v = most_a * (2.0 * ohm + supply.internal_ohm)
    needed_v = max((max(m.start_voltage_v, m.minimum_v) for m in motors), default=0.0)
    reach_v = max((m.at_voltage_v for m in motors), default=0.0)
    spare_v = min(m.start_voltage_v - m.turns_down_to_v for m in motors) if motors else 0.0
    if most_a >= supply.trip_a:
        return False
    if supply.kind == "digital":
        return supply.voltage_v - lost_v > needed_v
    return lost_v < spare_v / 2.0 and supply.voltage_v <= reach_v * 2.0


def _play(scene: Scene, train: Train, speed_mm_s: float, standing: bool) -> Played:
    layout = layout_of(scene)
    segment, place_um = _at(scene, scene.begin_um)
    train = replace(train, name="train", route=segment, place_mm=place_um / UM_PER_MM)
    # Long enough to creep over the whole lane, and to wait for a store to run out.
    slowest = max(speed_mm_s / 20.0, 1.0)
    duration_s = scene.way_um / UM_PER_MM / slowest + train.energy_store_s + 60.0
    case = Case("", None, layout, (train,), (), Conduct(duration_s), ())
    start = RollingStart(train, speed_mm_s, way_mm=scene.way_um / UM_PER_MM, standing=standing)
    record = run(case, 0, True, True, start=start, protection="only tells")
    sweep = _Sweep(scene, train)
    shorts = [e for e in record.events if e.what == "short" and e.detail == "begins"]
    if shorts:
        where = _front_um(scene, record, shorts[0].time_s)
        segment, place_um = _at(scene, where)
        return Played(
            "shorts",
            segment,
            place_um,
            sections=sweep.under(where),
            shorted=tuple(sorted({int(e.who) for e in shorts})),
            trips=bool(record.trips),
        )
    if record.stalls:
        stall = record.stalls[0]
        place_um = round(stall.place_mm * UM_PER_MM)
        segment = int(stall.route)
        where = _along(scene, segment, place_um)
        if not record.motions[0].powered:  # dead rails where it begins: it never comes here
            segment, place_um, where = scene.over, 0, scene.begin_um
        return Played(
            "stops", segment, place_um, stall.side, stall.kind, sweep.under(where), sweep.joined
        )
    if record.hesitations:
        lost = record.hesitations[0]
        where = _front_um(scene, record, lost.time_s)
        segment, place_um = _at(scene, where)
        kinds = [d.kind for d in record.dropouts if d.time_s <= lost.time_s + 1e-6]
        return Played(
            "hesitates",
            segment,
            place_um,
            None,
            kinds[-1] if kinds else None,
            sweep.under(where),
            sweep.joined,
        )
    lost_some = bool(record.dropouts)
    return Played("clear", joined=sweep.joined, lost_some=lost_some)


def _along(scene: Scene, segment: int, place_um: int) -> int:
    """A place of a segment, counted from where the driven route is entered."""
    lengths = [length for length, _ in scene.stretches]
    return sum(lengths[:segment]) - sum(lengths[: scene.over]) + place_um


def _at(scene: Scene, along_um: int) -> tuple[int, int]:
    """The segment that a place lies in, and how far in it does."""
    place = along_um + sum(length for length, _ in scene.stretches[: scene.over])
    for number, (length, _) in enumerate(scene.stretches):
        if place < length or number == len(scene.stretches) - 1:
            return number, place
        place -= length
    raise AssertionError("a lane has segments")


def _front_um(scene: Scene, record: Record, time_s: float) -> int:
    """Where the front was at ``time_s``, counted from where the route is entered."""
    last: Motion | None = None
    for motion in record.motions:
        if motion.time_s <= time_s + 1e-9 or last is None:
            last = motion
    if last is None:
        return scene.begin_um
    dt = max(0.0, time_s - last.time_s)
    gone = last.speed_mm_s * dt + last.acceleration_mm_s2 * dt * dt / 2.0
    return _along(scene, int(last.route), round((last.place_mm + gone) * UM_PER_MM))


class _Sweep:
    """What the pickups of a train stand on as it goes along a scene."""

    def __init__(self, scene: Scene, train: Train) -> None:
        self._consist = compile_train(train, 0)[0]
        self._spans: list[tuple[int, int, int, int]] = []
        at = -sum(length for length, _ in scene.stretches[: scene.over])
        for length, spans in scene.stretches:
            self._spans += [(at + f, at + t, left, right) for f, t, left, right in spans]
            at += length
        self.joined = self._joins(scene)

    def under(self, front_um: int) -> tuple[tuple[tuple[int, ...], tuple[int, ...]], ...]:
        """By unit: sections under its left and its right pickups, front first."""
        found: dict[int, list[int]] = {}
        for p in self._consist.pickups:
            place = front_um - p.offset_um
            for low, high, left, right in self._spans:
                if low <= place < high:
                    section = left if p.left else right
                    under = found.setdefault(p.side, [])
                    if section != PLASTIC and section not in under:
                        under.append(section)
                    break
        return tuple(
            (tuple(found.get(u.left, ())), tuple(found.get(u.right, ())))
            for u in self._consist.units
        )

    def _joins(self, scene: Scene) -> tuple[int, ...]:
        """Poles of different nets that one side of a unit ever joins on the way."""
        with_pole: dict[int, list[int]] = {}
        for pole, net in enumerate(scene.poles):
            with_pole.setdefault(net, []).append(pole)
        edges = {e for low, high, _, _ in self._spans for e in (low, high)}
        found: set[int] = set()
        fronts = {e + p.offset_um for e in edges for p in self._consist.pickups}
        for front in sorted(fronts):
            if not scene.begin_um <= front <= scene.begin_um + scene.way_um:
                continue
            for sides in self.under(front):
                for sections in sides:
                    nets = {scene.nets[s] for s in sections} & with_pole.keys()
                    if len(nets) > 1:
                        found.update(p for n in nets for p in with_pole[n])
        return tuple(sorted(found))
