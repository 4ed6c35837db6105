"""A naive train: stepped in time, one engine, one dead rail. Shares no code with the engine.

Places in mm on a ring; supply is asked at the end of every step.
"""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass
class Stepped:
    """Constant rates; ``dead`` are stretches of one rail, in mm on the ring."""

    ring_mm: float
    dead: list[tuple[float, float]]
    pickups_mm: list[float]
    place_mm: float
    speed_mm_s: float
    rate: float
    coast: float
    store_s: float = 0.0
    v: float = 0.0
    lost_at: list[float] = field(default_factory=list)
    back_at: list[float] = field(default_factory=list)
    stood_at: float | None = None

    def live(self) -> bool:
        for offset in self.pickups_mm:
            x = (self.place_mm - offset) % self.ring_mm
            if not any(a <= x < b for a, b in self.dead):
                return True
        return False

    def run(self, duration_s: float, step_s: float = 1e-4) -> Stepped:
        had, store, steps = True, self.store_s, round(duration_s / step_s)
        for n in range(1, steps + 1):
            now = n * step_s
            if had or store > 0.0:
                self.v = min(self.speed_mm_s, self.v + self.rate * step_s)
            else:
                self.v = max(0.0, self.v - self.coast * step_s)
            if not had:
                store -= step_s
            self.place_mm += self.v * step_s
            has = self.live()
            if had and not has:
                self.lost_at.append(now)
            if has and not had:
                self.back_at.append(now)
                store = self.store_s
            had = has
            if self.v == 0.0:
                self.stood_at = now
                break
        return self
