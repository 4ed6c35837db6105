"""Exact motion at constant acceleration. Units: micrometres, seconds, µm/s, µm/s².

Only +, -, *, / and the square root are used: these are the same to the last bit
on every machine.
"""

from __future__ import annotations

from math import inf, sqrt

US_PER_S = 1_000_000
#: What takes less is over at the microsecond it begins at: half of the shortest time there is.
LEAST_S = 0.5 / US_PER_S


def seconds(time_us: int) -> float:
    """Whole microseconds as seconds."""
    return time_us / US_PER_S


def speed_after(speed: float, acceleration: float, distance: float) -> float:
    """Speed after ``distance``: v² = u² + 2 a d, never below zero."""
    square = speed * speed + 2.0 * acceleration * distance
    return sqrt(square) if square > 0.0 else 0.0


def time_over(speed: float, acceleration: float, distance: float) -> float:
    """Seconds to cover ``distance`` (not negative); infinite when it stops before.

    The form 2 d / (u + v) does not lose digits when the acceleration is small.
    """
    if distance <= 0.0:
        return 0.0
    square = speed * speed + 2.0 * acceleration * distance
    if square < 0.0:
        return inf
    total = speed + sqrt(square)
    return 2.0 * distance / total if total > 0.0 else inf


def distance_to_speed(speed: float, goal: float, acceleration: float) -> float:
    """Distance in which the speed changes to ``goal`` at ``acceleration``."""
    return (goal * goal - speed * speed) / (2.0 * acceleration)


def coasting_deceleration(speed: float, distance: float) -> float:
    """Deceleration a = v² / (2 d) from a coasting test; infinite for no run-out."""
    return speed * speed / (2.0 * distance) if distance > 0.0 else inf


def distance_until_braking(
    speed: float, acceleration: float, braking: float, room: float
) -> float:
    """Distance that can still be run before braking has to begin.

    ``room`` is what is left to the place to stop at, ``braking`` the
    deceleration then used.  From v'² = v² + 2 a x and v'² = 2 b (room - x).
    Infinite where the train slows down at least as hard already and has room.
    """
    if acceleration + braking <= 0.0:
        return inf if speed * speed < 2.0 * braking * room else 0.0
    x = (2.0 * braking * room - speed * speed) / (2.0 * (acceleration + braking))
    return x if x > 0.0 else 0.0


def first_root(a: float, b: float, c: float) -> float:
    """The first t >= 0 at which c + b t + a t² is no longer positive; infinite if never."""
    if c <= 0.0:
        return 0.0
    if a == 0.0:
        return -c / b if b < 0.0 else inf
    square = b * b - 4.0 * a * c
    if square < 0.0:
        return inf
    q = -0.5 * (b + (sqrt(square) if b >= 0.0 else -sqrt(square)))
    roots = [r for r in (q / a if a else inf, c / q if q else inf) if r >= 0.0]
    return min(roots, default=inf)
