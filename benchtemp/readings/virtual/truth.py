"""What a virtual shot was in truth: the definitions applied to the trace without noise or steps."""

from __future__ import annotations

from collections.abc import Sequence
from math import isfinite

import msgspec
import numpy as np

from benchtemp.readings.virtual.machine import TracePoint

CLIMB_K_PER_S = 0.25
"""A probe that climbs faster than this is not on its plateau yet."""

_PLATEAU_MIN_S = 1.0
_FIGURES = (
    "plateau_start_s",
    "plateau_end_s",
    "brew_temp_degc",
    "water_degc",
    "arriving_degc",
    "highest_degc",
    "lowest_degc",
)


class ShotTruth(msgspec.Struct, frozen=True, kw_only=True):
    """One shot without noise, quantisation, offset or missing readings; times on the recording's clock.

    Attributes:
        number: From 1.
        pump_on_s, pump_off_s: When the pump ran.
        plateau_start_s: Last moment before pump off at which the junction climbed faster than 0.25 °C/s;
            None where it still did at pump off.
        plateau_end_s: Pump off.
        brew_temp_degc: Time-weighted mean of the junction over the plateau.
        water_degc: The same of what surrounds the junction, without its lag.
        arriving_degc: The same of the water leaving the group's screen.
        highest_degc, lowest_degc: Of the junction over the plateau.
        dose_g, yield_g: Dry coffee, and what was in the cup 7 s after pump off.
    """

    number: int
    pump_on_s: float
    pump_off_s: float
    plateau_start_s: float | None
    plateau_end_s: float | None
    brew_temp_degc: float | None
    water_degc: float | None
    arriving_degc: float | None
    highest_degc: float | None
    lowest_degc: float | None
    dose_g: float
    yield_g: float


def _mean_over(t_s: np.ndarray, values: np.ndarray, start_s: float) -> float:
    """Return the time-weighted mean from `start_s` to the last time, values in between on straight lines."""
    inside = t_s > start_s
    times = np.concatenate(([start_s], t_s[inside]))
    heights = np.concatenate(([np.interp(start_s, t_s, values)], values[inside]))
    return float(np.trapezoid(heights, times) / (times[-1] - times[0]))


def plateau_start_s(t_s: np.ndarray, probe_degc: np.ndarray) -> float:
    """Return the last moment at which a trace climbs faster than 0.25 °C/s, its first time if it never does.

    Args:
        t_s: Strictly increasing times up to the plateau's end, s; at least 3.
        probe_degc: The junction's temperature, noise-free.

    Slopes are taken between neighbours, stand for the middle between them, and change in straight lines.
    """
    slopes = np.diff(probe_degc) / np.diff(t_s)
    middles = (t_s[1:] + t_s[:-1]) / 2.0
    steep = np.flatnonzero(slopes > CLIMB_K_PER_S)
    if not len(steep):
        return float(t_s[0])
    last = int(steep[-1])
    if last == len(slopes) - 1:
        return float(t_s[-1])
    share = (slopes[last] - CLIMB_K_PER_S) / (slopes[last] - slopes[last + 1])
    return float(middles[last] + share * (middles[last + 1] - middles[last]))


def shot_truth(
    trace: Sequence[TracePoint],
    *,
    number: int,
    pump_on_s: float,
    pump_off_s: float,
    dose_g: float,
    yield_g: float,
) -> ShotTruth:
    """Apply the definitions to one shot's noise-free trace."""
    t_s = np.array([point.t_s for point in trace])
    probe = np.array([point.probe_degc for point in trace])
    start_s = plateau_start_s(t_s, probe) if len(t_s) > 2 else pump_off_s
    figures: dict[str, float | None] = dict.fromkeys(_FIGURES)
    if pump_off_s - start_s >= _PLATEAU_MIN_S:
        water = np.array([point.water_degc for point in trace])
        on = t_s >= start_s
        arriving = [p.arriving_degc for p in trace if p.t_s >= start_s and isfinite(p.arriving_degc)]
        figures |= {
            "plateau_start_s": round(start_s, 3),
            "plateau_end_s": round(pump_off_s, 3),
            "brew_temp_degc": round(_mean_over(t_s, probe, start_s), 4),
            "water_degc": round(_mean_over(t_s, water, start_s), 4),
            "arriving_degc": round(float(np.mean(arriving)), 4) if arriving else None,
            "highest_degc": round(float(probe[on].max()), 4),
            "lowest_degc": round(float(probe[on].min()), 4),
        }
    return ShotTruth(
        number=number,
        pump_on_s=round(pump_on_s, 3),
        pump_off_s=round(pump_off_s, 3),
        dose_g=dose_g,
        yield_g=round(yield_g, 2),
        **figures,
    )
