"""Texts with units, as people write them on a drawing, turned into numbers.

Exact by definition: 1 in = 25.4 mm, 1 ft = 12 in, 1 mile = 1.609344 km
(international yard and pound agreement, 1959).  Every function raises
``ValueError`` with what it expected.
"""

from __future__ import annotations

import re

LENGTH_FORMS = "a length in mm, or text such as '310 mm', '3.2 cm', '2 m', '12 in', '1.5 ft'"
SPEED_FORMS = "a speed such as '25 mph' or '40 km/h' (scale speeds), or '70 mm/s'"
WIRE_FORMS = (
    "a wire size such as 'AWG 24' (0 to 40), '0.5 mm2' (0.01 to 100), 'AWG 16 stranded' "
    "or '1.5 mm2 solid'"
)

_NUMBER = r"[+-]?(?:\d{1,12}(?:\.\d{0,12})?|\.\d{1,12})"
LENGTH_PATTERN = rf"^\s*({_NUMBER})\s*(mm|cm|m|in|inch|inches|ft|feet|\"|')\s*$"
SPEED_PATTERN = rf"^\s*({_NUMBER})\s*(mph|km/h|mm/s)\s*$"
WIRE_PATTERN = rf"^\s*(?:AWG\s*(\d{{1,2}})|({_NUMBER})\s*mm(?:2|²))(?:\s+(solid|stranded))?\s*$"

_MM = {
    "mm": 1.0,
    "cm": 10.0,
    "m": 1000.0,
    "in": 25.4,
    "inch": 25.4,
    "inches": 25.4,
    '"': 25.4,
    "ft": 304.8,
    "feet": 304.8,
    "'": 304.8,
}
_KM_H = {"km/h": 1.0, "mph": 1.609344}


def length_in_mm(text: str) -> float:
    """Length of ``text`` in mm, to a millionth of a mm."""
    match = re.match(LENGTH_PATTERN, text, re.ASCII)
    if match is None:
        raise ValueError(LENGTH_FORMS)
    return round(float(match[1]) * _MM[match[2]], 6)


def speed_in_mm_s(text: str, scale_ratio: float) -> float:
    """Speed of the model in mm/s; mph and km/h are speeds of the real thing.

    ``v_mm_s = v_km_h / 3.6 * 1000 / scale_ratio``.
    """
    match = re.match(SPEED_PATTERN, text, re.ASCII)
    if match is None:
        raise ValueError(SPEED_FORMS)
    number = float(match[1])
    if match[2] == "mm/s":
        return number
    return number * _KM_H[match[2]] / 3.6 * 1000.0 / scale_ratio


def wire_size(text: str) -> tuple[str, float]:
    """What a wire is and its size: gauge number, or area in mm².

    ``"awg"`` is solid and ``"mm2"`` stranded, as such wire is usually sold;
    ``"awg stranded"`` and ``"mm2 solid"`` where the text says so.
    """
    match = re.match(WIRE_PATTERN, text, re.ASCII)
    if match is None:
        raise ValueError(WIRE_FORMS)
    if match[1] is not None:
        number = int(match[1])
        if number > 40:
            raise ValueError(WIRE_FORMS)
        return "awg stranded" if match[3] == "stranded" else "awg", float(number)
    area = float(match[2])
    if not 0.01 <= area <= 100.0:
        raise ValueError(WIRE_FORMS)
    return "mm2 solid" if match[3] == "solid" else "mm2", area
