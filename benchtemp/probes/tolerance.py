"""How far an unchecked type K thermocouple may be off: the tolerance classes.

Sources: IEC 60584-1:2013 (classes 1, 2, 3) and ASTM E230/E230M Table 1 (standard and special limits), as
reproduced in makers' comparison tables. Initial values of new wire, reference junction at 0 °C.
"""

from __future__ import annotations

from enum import StrEnum
from typing import NamedTuple

from benchtemp.errors import BadInput


class ToleranceClass(StrEnum):
    """A class printed on a probe's packet."""

    IEC_1 = "IEC class 1"
    IEC_2 = "IEC class 2"
    IEC_3 = "IEC class 3"
    ASTM_STANDARD = "ASTM standard limits"
    ASTM_SPECIAL = "ASTM special limits"


class _Band(NamedTuple):
    low_degc: float
    high_degc: float
    fixed_k: float
    share: float
    """Tolerance as a share of the temperature in °C; the larger of both counts."""


# The IEC prints break points (333 °C, 375 °C, -167 °C) where both terms meet within 0.005 K, so "the larger
# of both" says the same everywhere except within a fraction of a kelvin of a break.
_BANDS: dict[ToleranceClass, tuple[_Band, ...]] = {
    ToleranceClass.IEC_1: (_Band(-40.0, 1000.0, 1.5, 0.004),),
    ToleranceClass.IEC_2: (_Band(-40.0, 1200.0, 2.5, 0.0075),),
    ToleranceClass.IEC_3: (_Band(-200.0, 40.0, 2.5, 0.015),),
    ToleranceClass.ASTM_STANDARD: (_Band(0.0, 1260.0, 2.2, 0.0075), _Band(-200.0, 0.0, 2.2, 0.02)),
    ToleranceClass.ASTM_SPECIAL: (_Band(0.0, 1260.0, 1.1, 0.004),),
}


def class_tolerance_k(temp_degc: float, tolerance_class: ToleranceClass) -> float:
    """Return how far a new probe of a class may be off at `temp_degc` °C, in K either way.

    IEC class 3 must be ordered specially below -40 °C (note of the standard, from memory), ASTM standard
    limits below 0 °C likewise.

    Raises:
        BadInput: The class says nothing about this temperature.
    """
    for band in _BANDS[tolerance_class]:
        if band.low_degc <= temp_degc <= band.high_degc:
            return max(band.fixed_k, band.share * abs(temp_degc))
    low = min(band.low_degc for band in _BANDS[tolerance_class])
    high = max(band.high_degc for band in _BANDS[tolerance_class])
    raise BadInput(
        f"{tolerance_class} says nothing about {temp_degc:g} °C, only about {low:g} to {high:g} °C; choose "
        "another class."
    )


def class_slope_limit(tolerance_class: ToleranceClass) -> float:
    """Return the largest error of a class as a share of the temperature, a bound for a slope error."""
    return max(band.share for band in _BANDS[tolerance_class] if band.high_degc > 0.0)
