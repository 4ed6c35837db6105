"""Resistance of the wires that a builder runs.

Solid wire by gauge number: diameter 0.127 mm x 92^((36 - n) / 39) (ASTM B258),
copper of 1.7241e-8 ohm m at 20 degrees C (IEC 60028).  Stranded wire of the same
gauge number is taken 4 % worse, for the lay of its strands (our assumption).  Wire by area:
the greatest resistance that IEC 60228 allows, class 5 for stranded and class 1 for
solid; sizes that it does not list here are taken at the ohm mm2/km of the nearest
smaller one (our assumption).  Copper gains 0.393 % for each degree above 20.
"""

from __future__ import annotations

from math import pi

COPPER_OHM_M = 1.7241e-8
COPPER_PER_K = 0.00393
REFERENCE_C = 20.0
LAY = 1.04
_CLASS_1_OHM_KM = {0.5: 36.0, 0.75: 24.5, 1.0: 18.1, 1.5: 12.1, 2.5: 7.41}
_CLASS_5_OHM_KM = {0.5: 39.0, 0.75: 26.0, 1.0: 19.5, 1.5: 13.3, 2.5: 7.98}
#: However short the wire, its two ends are worth this much: keeps resistances above 0.
LEAST_OHM = 0.001


def awg_diameter_mm(number: float) -> float:
    """Diameter in mm of solid wire of that gauge number (ASTM B258)."""
    return float(0.127 * 92.0 ** ((36.0 - number) / 39.0))


def ohm_per_m(system: str, size: float, celsius: float = REFERENCE_C) -> float:
    """Resistance of one metre at a temperature.

    ``("awg", number)`` or ``("mm2", area)``, also ``"awg stranded"`` and ``"mm2 solid"``.
    """
    warm = 1.0 + COPPER_PER_K * (celsius - REFERENCE_C)
    if system.startswith("awg"):
        area_m2 = pi / 4.0 * (awg_diameter_mm(size) / 1000.0) ** 2
        lay = LAY if system == "awg stranded" else 1.0
        return COPPER_OHM_M / area_m2 * lay * warm
    table = _CLASS_1_OHM_KM if system == "mm2 solid" else _CLASS_5_OHM_KM
    nearest = max((area for area in table if area <= size), default=min(table))
    return table[nearest] * nearest / size / 1000.0 * warm


def wire_ohm(system: str, size: float, length_mm: float, celsius: float = REFERENCE_C) -> float:
    """Resistance in ohm of one wire, to a microohm so that machines agree."""
    ohm = ohm_per_m(system, size, celsius) * length_mm / 1000.0
    return max(round(ohm, 6), LEAST_OHM)
