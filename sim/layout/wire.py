"""Resistance of the wires that a builder runs.

Solid wire by gauge number: diameter 0.127 mm x 92^((36 - n) / 39) (ASTM B258),
copper of 1.7241e-8 ohm m at 20 degrees C (IEC 60028).  Stranded wire by area: the
greatest resistance that IEC 60228 allows a class 5 conductor; sizes that it
does not list are taken at the 19.5 ohm mm2/km of its small sizes (our assumption).
"""

from __future__ import annotations

from math import pi

COPPER_OHM_M = 1.7241e-8
_CLASS_5_OHM_KM = {0.5: 39.0, 0.75: 26.0, 1.0: 19.5, 1.5: 13.3, 2.5: 7.98}
_SMALL_OHM_MM2_KM = 19.5
#: However short the wire, its two ends are worth this much: keeps resistances above 0.
LEAST_OHM = 0.001


def awg_diameter_mm(number: float) -> float:
    """Diameter in mm of solid wire of that gauge number (ASTM B258)."""
    return float(0.127 * 92.0 ** ((36.0 - number) / 39.0))


def ohm_per_m(system: str, size: float) -> float:
    """Resistance of one metre: ``("awg", number)`` or ``("mm2", area)``."""
    if system == "awg":
        area_m2 = pi / 4.0 * (awg_diameter_mm(size) / 1000.0) ** 2
        return COPPER_OHM_M / area_m2
    return _CLASS_5_OHM_KM.get(size, _SMALL_OHM_MM2_KM / size) / 1000.0


def wire_ohm(system: str, size: float, length_mm: float) -> float:
    """Resistance in ohm of one wire, to a microohm so that machines agree."""
    return max(round(ohm_per_m(system, size) * length_mm / 1000.0, 6), LEAST_OHM)
