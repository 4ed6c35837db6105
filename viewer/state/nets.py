"""Which poles reach which rail while given contacts are closed and given trains stand."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

from sim.layout.model import PLASTIC, Layout
from sim.power.graph import is_closed, pole_name
from sim.power.poles import Pattern, PoleState, Source, Verdict, pole_state, sources_of
from sim.power.wiring import Wiring, wire
from sim.run.traced_supply import merged

#: Pickups of one side that stand on several sections join them.
Bridge = tuple[int, ...]
How = Literal["fed", "floating", "short", "off"]


@dataclass(frozen=True, slots=True)
class RailState:
    """What one section is. ``word`` is what a drawing says of it."""

    how: How
    poles: tuple[int, ...]
    word: str


@dataclass(slots=True)
class Power:
    """One solution; see :class:`Nets`. ``labels`` are by cluster, trains counted."""

    wiring: Wiring
    labels: list[int]
    state: PoleState
    if_all_on: PoleState
    poles_of: dict[int, tuple[int, ...]]
    names: Sequence[str]

    def label(self, node: int) -> int:
        """The net that ``node`` is in."""
        return self.labels[self.wiring.cluster_of[node]]

    def poles(self, node: int) -> tuple[int, ...]:
        """All poles in the net of ``node``, by number."""
        return self.poles_of.get(self.label(node), ())

    def rail(self, node: int) -> RailState:
        """What the section ``node`` is."""
        poles = self.poles(node)
        if not poles:
            return RailState("floating", (), "floating")
        if self.state.touches_short(poles[0]):
            return RailState("short", poles, "short")
        names = " and ".join(self.names[p] for p in poles)
        if not any(self.state.sources[p // 2].on for p in poles):
            return RailState("off", poles, f"{names} off")
        return RailState("fed", poles, names)

    def verdict(self, left: int, right: int) -> Verdict:
        """What the two rails are worth together; None is live."""
        if PLASTIC in (left, right):
            return "insulated"
        a = next(iter(self.poles(left)), None)
        b = next(iter(self.poles(right)), None)
        found = self.state.kind(a, b)
        off = not all(s.on for s in self.state.sources)
        if (
            found not in (None, "short")
            and off
            and self.if_all_on.kind(a, b) in (None, "short")
        ):
            return "tripped"
        return found

    def shorted(self) -> tuple[int, ...]:
        """Numbers of the supplies in a short."""
        return tuple(sorted({s for short in self.state.shorts for s in short}))


class Nets:
    """Solves a layout again and again; what has been asked before is remembered.

    ``loose`` are elements that are always closed, but that a run may open.
    """

    REMEMBERED = 512

    def __init__(
        self, layout: Layout, failed: Iterable[int] = (), loose: Iterable[int] = ()
    ) -> None:
        self.layout, self.loose = layout, frozenset(loose)
        self.names = tuple(pole_name(layout, p) for p in range(2 * len(layout.supplies)))
        self.wiring = wire(layout, failed, self.loose)
        first = self.wiring.terminals
        self._alone = [first + c for c in range(len(layout.nodes))]
        for terminal, cluster in enumerate(self.wiring.terminal_clusters):
            self._alone[cluster] = terminal
        self._known: dict[object, Power] = {}
        self._closed: dict[tuple[int, ...], frozenset[int]] = {}
        self.notes: dict[object, object] = {}  #: kept by whoever writes notes on the layout

    def closed_at(self, positions: Sequence[int]) -> frozenset[int]:
        """Contacts closed in a setting of the levers, none failing; and what is loose."""
        key = tuple(positions)
        known = self._closed.get(key)
        if known is None:
            known = self._closed[key] = self.loose | frozenset(
                i
                for i, e in enumerate(self.layout.elements)
                if e.kind == "contact" and is_closed(e, positions)
            )
        return known

    def solve(
        self,
        closed: frozenset[int],
        bridges: frozenset[Bridge] = frozenset(),
        off: frozenset[int] = frozenset(),
    ) -> Power:
        """Nets and poles with those contacts, and what is loose, closed; supplies off."""
        key = closed, bridges, off
        known = self._known.get(key)
        if known is None:
            if len(self._known) >= self.REMEMBERED:
                self._known.clear()
            known = self._known[key] = self._solve(closed, bridges, off)
        return known

    def _solve(
        self, closed: frozenset[int], bridges: frozenset[Bridge], off: frozenset[int]
    ) -> Power:
        labels = list(self._alone)
        joined: list[Sequence[int]] = []
        for number, patch in enumerate(self.wiring.patches):
            here = frozenset(e for e, _, _ in patch.contacts if e in closed)
            found = self.wiring.label_patch(number, here)
            for cluster, label in zip(patch.members, found.labels, strict=True):
                labels[cluster] = label
            joined += found.joins
        cluster_of = self.wiring.cluster_of
        joined += [[labels[cluster_of[n]] for n in bridge] for bridge in sorted(bridges)]
        now = merged(joined)
        if now:
            labels = [now.get(x, x) for x in labels]
        lowest: dict[int, int] = {}
        poles_of: dict[int, list[int]] = {}
        pattern = []
        for pole, terminal in enumerate(self.wiring.terminal_of):
            label = now.get(terminal, terminal)
            pattern.append(lowest.setdefault(label, pole))
            poles_of.setdefault(label, []).append(pole)
        return self._power(labels, tuple(pattern), poles_of, off)

    def _power(
        self,
        labels: list[int],
        pattern: Pattern,
        poles_of: dict[int, list[int]],
        off: frozenset[int],
    ) -> Power:
        nominal = sources_of(self.layout.supplies)
        sources = tuple(Source(s.volts, k not in off) for k, s in enumerate(nominal))
        return Power(
            self.wiring,
            labels,
            pole_state(pattern, sources),
            pole_state(pattern, nominal),
            {label: tuple(poles) for label, poles in poles_of.items()},
            self.names,
        )
