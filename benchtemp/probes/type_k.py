"""Type K thermocouples on the ITS-90: emf and temperature, both ways.

Source: NIST Standard Reference Database 60, type K (reproduces NIST Monograph 175, 1993; the same function
stands in IEC 60584-1). Temperatures in °C, emf in mV with the reference junction at 0 °C.

The published inverse polynomials are off by up to 0.05 °C, so they are not used: the inverse starts from a
table of the direct function and takes Newton steps until it agrees with that function far below 1 µK.
"""

from __future__ import annotations

from bisect import bisect_right
from functools import cache
from math import exp
from typing import Protocol, overload

import numpy as np
import numpy.typing as npt

from benchtemp.errors import BadInput

FloatArray = npt.NDArray[np.float64]
BoolArray = npt.NDArray[np.bool_]

LOWEST_DEGC = -270.0
HIGHEST_DEGC = 1372.0

# Highest power first, as Horner's scheme takes them. NIST SRD 60, table of coefficients for type K.
_BELOW_0 = (
    -0.163226974860e-22,
    -0.198892668780e-19,
    -0.104516093650e-16,
    -0.310888728940e-14,
    -0.574103274280e-12,
    -0.675090591730e-10,
    -0.499048287770e-08,
    -0.328589067840e-06,
    0.236223735980e-04,
    0.394501280250e-01,
    0.0,
)
_ABOVE_0 = (
    -0.121047212750e-25,
    0.971511471520e-22,
    -0.320207200030e-18,
    0.560750590590e-15,
    -0.560728448890e-12,
    0.318409457190e-09,
    -0.994575928740e-07,
    0.185587700320e-04,
    0.389212049750e-01,
    -0.176004136860e-01,
)
_A0, _A1, _A2 = 0.118597600000e00, -0.118343200000e-03, 0.126968600000e03

# A step this small leaves an error below 1e-8 K: Newton's method squares it, times half of the curvature over
# the slope, which is nowhere above 0.12 per K (at -270 °C).
_LAST_STEP_K = 1e-4
_CHUNK = 16384
"""Values worked on at a time, so that all intermediate arrays stay in the processor's cache."""


class OutOfRange(BadInput):
    """A temperature or an emf that a type K thermocouple cannot have."""


def _horner(coefficients: tuple[float, ...], t: float) -> tuple[float, float]:
    """Return a polynomial and its derivative at `t`."""
    value = slope = 0.0
    for coefficient in coefficients:
        slope = slope * t + value
        value = value * t + coefficient
    return value, slope


def _emf_and_slope(t: float, *, above_0: bool) -> tuple[float, float]:
    """Return mV and mV/K at `t` °C by the function of one side, also a little beyond its end."""
    if not above_0:
        return _horner(_BELOW_0, t)
    value, slope = _horner(_ABOVE_0, t)
    bump = _A0 * exp(_A1 * (t - _A2) ** 2)
    return value + bump, slope + 2.0 * _A1 * (t - _A2) * bump


def _horner_array(coefficients: tuple[float, ...], t: FloatArray) -> tuple[FloatArray, FloatArray]:
    value = np.full_like(t, coefficients[0])
    slope = np.zeros_like(t)
    for coefficient in coefficients[1:]:
        slope *= t
        slope += value
        value *= t
        value += coefficient
    return value, slope


def _emf_and_slope_array(t: FloatArray, *, above_0: bool) -> tuple[FloatArray, FloatArray]:
    """Return mV and mV/K at many temperatures by the function of one side."""
    if not above_0:
        return _horner_array(_BELOW_0, t)
    value, slope = _horner_array(_ABOVE_0, t)
    away = t - _A2
    bump = away * away
    bump *= _A1
    np.exp(bump, out=bump)
    bump *= _A0
    value += bump
    away *= bump
    away *= 2.0 * _A1
    slope += away
    return value, slope


LOWEST_MV = _emf_and_slope(LOWEST_DEGC, above_0=False)[0]
HIGHEST_MV = _emf_and_slope(HIGHEST_DEGC, above_0=True)[0]


@cache
def _nodes(*, above_0: bool) -> tuple[FloatArray, FloatArray]:
    """Return temperatures 1 K apart and their emf, the table the inverse starts from."""
    temps = np.arange(0.0, HIGHEST_DEGC + 1.0) if above_0 else np.arange(LOWEST_DEGC, 1.0)
    return temps, _emf_and_slope_array(temps, above_0=above_0)[0]


@cache
def _node_lists(*, above_0: bool) -> tuple[list[float], list[float]]:
    """Return the same table for one value at a time, where plain lists are quicker."""
    temps, emfs = _nodes(above_0=above_0)
    return temps.tolist(), emfs.tolist()


def _direct_array(temp_degc: FloatArray, *, above_0: bool) -> FloatArray:
    """Return mV for temperatures of one side."""
    return _emf_and_slope_array(temp_degc, above_0=above_0)[0]


def _inverse_array(emf_mv: FloatArray, *, above_0: bool) -> FloatArray:
    """Return °C for emf values of one side, all within range."""
    temps, emfs = _nodes(above_0=above_0)
    t = np.interp(emf_mv, emfs, temps)
    value, slope = _emf_and_slope_array(t, above_0=above_0)
    value -= emf_mv
    value /= slope
    t -= value
    moving = np.flatnonzero(np.abs(value) >= _LAST_STEP_K)
    for _ in range(8):  # only values below about -150 °C, where the function bends, ever get here
        if not moving.size:
            break
        value, slope = _emf_and_slope_array(t[moving], above_0=above_0)
        step = (value - emf_mv[moving]) / slope
        t[moving] -= step
        moving = moving[np.abs(step) >= _LAST_STEP_K]
    return np.clip(t, temps[0], temps[-1], out=t)


class _OneSide(Protocol):
    def __call__(self, values: FloatArray, /, *, above_0: bool) -> FloatArray: ...


def _by_side(values: FloatArray, outside: BoolArray, function: _OneSide) -> FloatArray:
    """Apply the function of each side of 0 to the values of that side; NaN for what is outside."""
    flat = np.asarray(values, dtype=np.float64).ravel()
    result = np.full_like(flat, np.nan)
    usable = (~outside & ~np.isnan(values)).ravel()
    for start in range(0, flat.size, _CHUNK):
        part = flat[start : start + _CHUNK]
        inside = usable[start : start + _CHUNK]
        above = part > 0.0
        for above_0 in (False, True):
            chosen = inside & (above if above_0 else ~above)
            if chosen.all():
                result[start : start + _CHUNK] = function(part, above_0=above_0)
            elif chosen.any():
                result[start : start + _CHUNK][chosen] = function(part[chosen], above_0=above_0)
    return result.reshape(values.shape)


@overload
def emf_mv(temp_degc: float) -> float: ...
@overload
def emf_mv(temp_degc: FloatArray) -> FloatArray: ...
def emf_mv(temp_degc: float | FloatArray) -> float | FloatArray:
    """Return the emf in mV of a junction at `temp_degc` °C, reference junction at 0 °C.

    Args:
        temp_degc: One temperature, or an array of any shape, -270 to 1372 °C.
    Returns: mV, in the shape given; in an array NaN where the temperature is NaN or out of range
        (`temp_outside` tells which).

    Raises:
        OutOfRange: One temperature was given and lies outside.
    Source: NIST SRD 60 type K (Monograph 175), with the exponential term above 0 °C.

    >>> round(emf_mv(100.0), 3)
    4.096
    """
    if isinstance(temp_degc, np.ndarray):
        return _by_side(temp_degc, temp_outside(temp_degc), _direct_array)
    if not LOWEST_DEGC <= temp_degc <= HIGHEST_DEGC:
        raise OutOfRange(
            f"{temp_degc:g} °C is outside what type K covers, −270 to 1372 °C; check unit and value."
        )
    return _emf_and_slope(temp_degc, above_0=temp_degc > 0.0)[0]


@overload
def temp_degc(emf_mv: float) -> float: ...
@overload
def temp_degc(emf_mv: FloatArray) -> FloatArray: ...
def temp_degc(emf_mv: float | FloatArray) -> float | FloatArray:
    """Return the temperature in °C of a junction that gives `emf_mv` mV against 0 °C.

    Args:
        emf_mv: One emf, or an array of any shape, -6.4577 to 54.8864 mV.
    Returns: °C, in the shape given, within 1 µK of the exact inverse of `emf_mv`; in an array NaN where the
        emf is NaN or out of range (`emf_outside` tells which).

    Raises:
        OutOfRange: One emf was given and lies outside, as with an open probe.

    >>> round(temp_degc(4.096), 2)
    99.99
    """
    if isinstance(emf_mv, np.ndarray):
        return _by_side(emf_mv, emf_outside(emf_mv), _inverse_array)
    if not LOWEST_MV <= emf_mv <= HIGHEST_MV:
        raise OutOfRange(
            f"{emf_mv:g} mV is outside what type K can give, −6.458 to 54.886 mV; is the probe open, or the "
            "unit not mV?"
        )
    above_0 = emf_mv > 0.0
    temps, emfs = _node_lists(above_0=above_0)
    # The function above 0 begins at 2e-9 mV, so an emf just above 0 stands before the table.
    at = min(max(bisect_right(emfs, emf_mv), 1), len(emfs) - 1)
    low, high = emfs[at - 1], emfs[at]
    t = temps[at - 1] + (emf_mv - low) / (high - low)
    for _ in range(9):
        value, slope = _emf_and_slope(t, above_0=above_0)
        step = (value - emf_mv) / slope
        t -= step
        if abs(step) < _LAST_STEP_K:
            break
    return min(max(t, temps[0]), temps[-1])


def measured_degc(emf_mv_measured: float, reference_junction_degc: float) -> float:
    """Return the probe's temperature in °C from its emf and the temperature of the reference junction.

    The emf of the reference junction is added, not its temperature: the function is not a straight line, and
    adding temperatures is wrong by 0.9 K at 93 °C with terminals at 25 °C.

    Args:
        emf_mv_measured: mV between the terminals.
        reference_junction_degc: Temperature of the terminals, °C.

    Raises:
        OutOfRange: The sum is no emf of type K (an open probe), or the reference junction cannot be so.
    """
    return temp_degc(emf_mv_measured + emf_mv(reference_junction_degc))


def seebeck_mv_per_k(temp_degc: float) -> float:
    """Return how the emf changes with temperature at `temp_degc` °C, in mV/K.

    Raises:
        OutOfRange: The temperature is outside -270 to 1372 °C.
    """
    emf_mv(temp_degc)
    return _emf_and_slope(temp_degc, above_0=temp_degc > 0.0)[1]


def temp_outside(temp_degc: FloatArray) -> BoolArray:
    """Return True where a temperature in °C (not NaN) lies outside the reference function."""
    return np.asarray((temp_degc < LOWEST_DEGC) | (temp_degc > HIGHEST_DEGC))


def emf_outside(emf_mv: FloatArray) -> BoolArray:
    """Return True where an emf in mV (not NaN) is one that type K cannot give."""
    return np.asarray((emf_mv < LOWEST_MV) | (emf_mv > HIGHEST_MV))
