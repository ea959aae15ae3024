"""Where water boils: the saturation line of IAPWS-IF97, region 4.

Source: IAPWS R7-97(2012), Revised Release on the IAPWS Industrial Formulation 1997, Eqs. (29) to (31), Table
34. Temperatures on the ITS-90. Pure water boils at 99.974 °C at 101.325 kPa, not at 100 °C.
"""

from __future__ import annotations

from math import sqrt

from benchtemp.errors import BadInput

_N1 = 0.11670521452767e4
_N2 = -0.72421316703206e6
_N3 = -0.17073846940092e2
_N4 = 0.12020824702470e5
_N5 = -0.32325550322333e7
_N6 = 0.14915108613530e2
_N7 = -0.48232657361591e4
_N8 = 0.40511340542057e6
_N9 = -0.23855557567849
_N10 = 0.65017534844798e3

LOWEST_K, HIGHEST_K = 273.15, 647.096
LOWEST_KPA, HIGHEST_KPA = 0.611213, 22064.0
ZERO_DEGC_K = 273.15

STANDARD_BOILING_DEGC = 99.9743
"""Boiling temperature at 101.325 kPa by this equation; the shop's rule of 100 °C (212 °F) is common
practice."""


def saturation_temp_degc(pressure_kpa: float) -> float:
    """Return the temperature in °C at which pure water boils at an absolute pressure in kPa.

    Raises:
        BadInput: Outside 0.611213 kPa to 22 064 kPa, where there is no boiling line.
    Source: IAPWS R7-97(2012), Eq. (31); agrees with the scientific formulation within 0.3 mK from 60 to 108
        kPa.

    >>> round(saturation_temp_degc(100.0) + 273.15, 6)
    372.755919
    """
    if not LOWEST_KPA <= pressure_kpa <= HIGHEST_KPA:
        raise BadInput(
            f"Water has no boiling point at {pressure_kpa:g} kPa; give the absolute pressure of the air, "
            "such as 1013hPa."
        )
    beta = sqrt(sqrt(pressure_kpa / 1000.0))
    e = beta * beta + _N3 * beta + _N6
    f = _N1 * beta * beta + _N4 * beta + _N7
    g = _N2 * beta * beta + _N5 * beta + _N8
    d = 2.0 * g / (-f - sqrt(f * f - 4.0 * e * g))
    return (_N10 + d - sqrt((_N10 + d) ** 2 - 4.0 * (_N9 + _N10 * d))) / 2.0 - ZERO_DEGC_K


def saturation_pressure_kpa(temp_degc: float) -> float:
    """Return the absolute pressure in kPa at which pure water boils at `temp_degc` °C.

    Raises:
        BadInput: Outside 0 °C to 373.946 °C.
    Source: IAPWS R7-97(2012), Eq. (30).
    """
    temp_k = temp_degc + ZERO_DEGC_K
    if not LOWEST_K <= temp_k <= HIGHEST_K:
        raise BadInput(
            f"Water has no boiling pressure at {temp_degc:g} °C; give a temperature from 0 to 373.9 °C."
        )
    theta = temp_k + _N9 / (temp_k - _N10)
    a = theta * theta + _N1 * theta + _N2
    b = _N3 * theta * theta + _N4 * theta + _N5
    c = _N6 * theta * theta + _N7 * theta + _N8
    return float((2.0 * c / (-b + sqrt(b * b - 4.0 * a * c))) ** 4) * 1000.0


def saturation_slope_k_per_kpa(pressure_kpa: float) -> float:
    """Return how the boiling temperature changes with pressure, in K/kPa (0.2765 at 101.325 kPa)."""
    step = 1e-4 * pressure_kpa
    rise = saturation_temp_degc(pressure_kpa + step) - saturation_temp_degc(pressure_kpa - step)
    return rise / (2.0 * step)
