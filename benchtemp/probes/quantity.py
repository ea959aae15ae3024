"""Numbers with their units, as people type them: `835hPa`, `1600m`, `5250ft`, `6cm`, `29.92inHg`.

A number without a unit is refused: 1013 may be hPa or a slip for kPa, 5250 may be feet or metres, and either
slip would make a wrong reference that looks right.
"""

from __future__ import annotations

import re
from math import isfinite

from benchtemp.errors import BadInput

_WRITTEN = re.compile(r"\s*([+\-\N{MINUS SIGN}]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*([^\s\d].*?)?\s*")

# Factors as in NIST SP 811 (from memory; the tests check them against an independent library).
_PRESSURE_HPA = {
    "hpa": 1.0,
    "mbar": 1.0,
    "mb": 1.0,
    "kpa": 10.0,
    "pa": 0.01,
    "bar": 1000.0,
    "atm": 1013.25,
    "mmhg": 1.333224,
    "torr": 1013.25 / 760.0,
    "inhg": 33.86389,
    "psi": 68.94757,
}
_LENGTH_M = {
    "m": 1.0,
    "km": 1000.0,
    "cm": 0.01,
    "mm": 0.001,
    "ft": 0.3048,
    "feet": 0.3048,
    "'": 0.3048,
    "in": 0.0254,
    "inch": 0.0254,
    '"': 0.0254,
}
_CONCENTRATION_G_PER_L = {"g/l": 1.0, "mg/l": 0.001, "ppm": 0.001}

LOWEST_PRESSURE_HPA, HIGHEST_PRESSURE_HPA = 500.0, 1100.0
"""Air pressure where people live, with room to spare."""
LOWEST_SEA_LEVEL_HPA, HIGHEST_SEA_LEVEL_HPA = 870.0, 1090.0
"""Pressures the weather has ever made at sea level (round figures, from memory)."""
LOWEST_ALTITUDE_M, HIGHEST_ALTITUDE_M = -450.0, 5200.0
"""From the shore of the lowest lake to the highest towns (round figures, from memory)."""
DEEPEST_CM = 50.0


def _split(written: str, what: str, examples: str) -> tuple[float, str]:
    """Return the number and the unit as typed, the unit empty where there is none."""
    if "," in written:
        raise BadInput(
            f"{what} '{written}' holds a comma; write the number with a point and no separators, such as "
            f"{examples}."
        )
    found = _WRITTEN.fullmatch(written)
    if not found:
        raise BadInput(f"{what} '{written}' is not a number with a unit; write it such as {examples}.")
    value = float(found[1].replace("\N{MINUS SIGN}", "-"))
    if not isfinite(value):
        raise BadInput(f"{what} '{written}' is too large to be one; write it such as {examples}.")
    return value, found[2] or ""


def _convert(written: str, what: str, units: dict[str, float], examples: str) -> float:
    value, unit = _split(written, what, examples)
    if not unit:
        raise BadInput(f"{what} '{written.strip()}' has no unit; add one, such as {examples}.")
    factor = units.get(unit.casefold())
    if factor is None:
        raise BadInput(
            f"{what} '{written.strip()}' has the unit '{unit}', which is not one for it; write it such as "
            f"{examples}."
        )
    return value * factor


def _air_pressure_hpa(written: str, what: str, low_hpa: float, high_hpa: float, examples: str) -> float:
    """Return a pressure in hPa within bounds; outside, name the unit it was probably meant in."""
    result = _convert(written, what, _PRESSURE_HPA, examples)
    if low_hpa <= result <= high_hpa:
        return result
    number, _ = _split(written, what, examples)
    meant = [
        unit
        for unit in ("hPa", "kPa", "inHg", "mmHg")
        if low_hpa <= number * _PRESSURE_HPA[unit.casefold()] <= high_hpa
    ]
    hint = f"did you mean {number:g}{meant[0]}?" if meant else f"write it such as {examples}."
    raise BadInput(
        f"{what} {written.strip()} ({result:.5g} hPa) is outside {low_hpa:.0f} to {high_hpa:.0f} hPa; {hint}"
    )


def pressure_hpa(written: str) -> float:
    """Return the pressure of the air, typed with its unit, in hPa.

    Raises:
        BadInput: No number, no unit, a unit of something else, or a pressure no air has where people live,
            with the reading it was probably meant to be.

    >>> round(pressure_hpa("29.92inHg"), 1)
    1013.2
    """
    return _air_pressure_hpa(
        written, "The pressure", LOWEST_PRESSURE_HPA, HIGHEST_PRESSURE_HPA, "835hPa or 24.7inHg"
    )


def sea_level_hpa(written: str) -> float:
    """Return a barometer reading reduced to sea level, typed with its unit, in hPa.

    Raises:
        BadInput: As for `pressure_hpa`; at sea level the bounds are narrower.
    """
    return _air_pressure_hpa(
        written, "The barometer reading", LOWEST_SEA_LEVEL_HPA, HIGHEST_SEA_LEVEL_HPA, "1013hPa or 29.92inHg"
    )


def pressure_difference_hpa(written: str) -> float:
    """Return an uncertainty of a pressure typed with its unit, in hPa.

    Raises:
        BadInput: No number, no unit, a unit of something else, or not above 0.
    """
    result = _convert(written, "The pressure uncertainty", _PRESSURE_HPA, "1hPa")
    if not 0.0 < result <= 100.0:
        raise BadInput(
            f"A pressure uncertainty of {written.strip()} cannot be; write how far the pressure may be off, "
            "such as 1hPa."
        )
    return result


def altitude_m(written: str) -> float:
    """Return an altitude typed with its unit, in m.

    Raises:
        BadInput: No number, no unit, a unit of something else, or a height where nobody brews, with the
            reading it was probably meant to be.

    >>> round(altitude_m("5250ft"), 1)
    1600.2
    """
    examples = "1600m or 5250ft"
    result = _convert(written, "The altitude", _LENGTH_M, examples)
    if LOWEST_ALTITUDE_M <= result <= HIGHEST_ALTITUDE_M:
        return result
    number, _ = _split(written, "The altitude", examples)
    in_feet_m = number * _LENGTH_M["ft"]
    hint = (
        f"did you mean {number:g}ft, which is {in_feet_m:.0f} m?"
        if LOWEST_ALTITUDE_M <= in_feet_m <= HIGHEST_ALTITUDE_M
        else f"write it such as {examples}."
    )
    raise BadInput(
        f"An altitude of {written.strip()} ({result:.0f} m) is outside {LOWEST_ALTITUDE_M:.0f} to "
        f"{HIGHEST_ALTITUDE_M:.0f} m; {hint}"
    )


def depth_cm(written: str) -> float:
    """Return a depth of immersion typed with its unit, in cm.

    Raises:
        BadInput: No number, no unit, a unit of something else, or deeper than any pot.
    """
    result = _convert(written, "The depth", _LENGTH_M, "6cm") * 100.0
    if not 0.0 <= result <= DEEPEST_CM:
        raise BadInput(
            f"A depth of {written.strip()} ({result:g} cm) is not one in a pot (0 to {DEEPEST_CM:g} cm); "
            "write how far the probe's tip is under water, such as 6cm."
        )
    return result


def dissolved_g_per_l(written: str) -> float:
    """Return the amount of dissolved solids typed with its unit, in g/L (1 ppm is taken as 1 mg/L).

    Raises:
        BadInput: No number, no unit, a unit of something else, or more than any drinking water holds.
    """
    result = _convert(written, "The dissolved solids", _CONCENTRATION_G_PER_L, "0.3g/L or 300ppm")
    if not 0.0 <= result <= 5.0:
        raise BadInput(
            f"Dissolved solids of {written.strip()} ({result:g} g/L) are not those of drinking water (0 to 5 "
            "g/L); write them such as 0.3g/L or 300ppm."
        )
    return result
