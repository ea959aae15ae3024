"""The swing of the brew temperature over a heating cycle, and the best moment in it to start."""

from __future__ import annotations

from math import nan, pi, sqrt

import msgspec
import numpy as np

from benchtemp.readings.reading import FloatArray
from benchtemp.studies.outcome import About, Concern
from benchtemp.studies.statistics.intervals import LEVEL, Interval, t_factor
from benchtemp.studies.wording import number

MOMENTS = 240


class Swing(msgspec.Struct, frozen=True, kw_only=True):
    """How the brew temperature follows the moment of the start: `mean + a·cos + b·sin` over a period.

    Attributes:
        since_off_s: Moment of each shot's pump start, counted from when the heater was last noted to go off,
            or from the channel's last peak, s.
        brew_degc: Of each shot.
        mean_degc: Over a whole cycle.
        half_swing_k: Half the difference between the hottest and the coldest moment.
        hottest_s, coldest_s: Those moments.
        residual_sd_k: Scatter about the swing.
        p: How likely so large a swing is by chance.
        curve_s, curve_degc: The swing.
        low, high: Where one shot started then will lie.
        start_s: When to start for the target: the moment that comes closest to it; of two, the one better
            known.
        start_interval: Moments that may be meant.
        start_degc: What a shot started then brews at.
        shot_interval: Where it will lie.
        unplanned_interval: Where a shot started at any moment will lie.
    """

    since_off_s: tuple[float, ...]
    brew_degc: tuple[float, ...]
    mean_degc: float
    half_swing_k: float
    hottest_s: float
    coldest_s: float
    residual_sd_k: float
    p: float
    curve_s: tuple[float, ...]
    curve_degc: tuple[float, ...]
    low: tuple[float, ...]
    high: tuple[float, ...]
    start_s: float
    start_interval: Interval
    start_degc: float
    shot_interval: Interval
    unplanned_interval: Interval


def fit_swing(
    since: FloatArray, brew: FloatArray, period_s: float, target_degc: float, level: float = LEVEL
) -> Swing:
    """Fit a swing to shots.

    Args:
        since: Moment of each shot's pump start in the cycle, s; at least five.
        brew: Their brew temperatures, °C.
        period_s: Of the cycle.
        target_degc: The brew temperature wanted.
        level: Level of confidence.
    """
    from scipy.special import fdtrc  # noqa: PLC0415  (start-up time)

    def columns(at_s: FloatArray) -> FloatArray:
        angle = 2.0 * pi * at_s / period_s
        return np.stack((np.ones_like(angle), np.cos(angle), np.sin(angle)), axis=-1)

    design = columns(since)
    inverse = np.linalg.pinv(design.T @ design)
    parameters = inverse @ design.T @ brew
    rest = brew - design @ parameters
    dof = len(brew) - 3
    scatter = float(rest @ rest) / dof if dof > 0 else nan
    about_mean = brew - brew.mean()
    explained = float(about_mean @ about_mean) - float(rest @ rest)
    p = float(fdtrc(2, dof, explained / 2.0 / scatter)) if scatter > 0 else nan
    at_s = np.linspace(0.0, period_s, MOMENTS + 1)
    rows = columns(at_s)
    curve = rows @ parameters
    variance = scatter * np.einsum("ij,jk,ik->i", rows, inverse, rows)
    t = t_factor(dof, level)
    half = t * np.sqrt(variance + scatter)
    off = np.abs(curve - target_degc)
    half_swing = float(np.hypot(parameters[1], parameters[2]))
    crossing = np.flatnonzero(np.diff(np.signbit(curve[:-1] - target_degc)))
    best = int(np.argmin(off[:-1]))
    if len(crossing):
        # The target is passed on the way up and on the way down: take the moment that is known better.
        best = int(crossing[np.argmin(variance[crossing])])
    possible = off <= t * np.sqrt(variance)
    low, high = best, best
    while possible[low - 1] and low > 0:
        low -= 1
    while high < MOMENTS and possible[high + 1]:
        high += 1
    anywhere = t * sqrt(scatter + 0.5 * half_swing**2)
    centre = float(parameters[0])
    return Swing(
        since_off_s=tuple(since.tolist()),
        brew_degc=tuple(brew.tolist()),
        mean_degc=centre,
        half_swing_k=half_swing,
        hottest_s=float(at_s[int(np.argmax(curve[:-1]))]),
        coldest_s=float(at_s[int(np.argmin(curve[:-1]))]),
        residual_sd_k=sqrt(scatter) if scatter > 0 else nan,
        p=p,
        curve_s=tuple(at_s.tolist()),
        curve_degc=tuple(curve.tolist()),
        low=tuple((curve - half).tolist()),
        high=tuple((curve + half).tolist()),
        start_s=float(at_s[best]),
        start_interval=Interval(low=float(at_s[low]), high=float(at_s[high]), level=level),
        start_degc=float(curve[best]),
        shot_interval=Interval(
            low=float(curve[best] - half[best]), high=float(curve[best] + half[best]), level=level
        ),
        unplanned_interval=Interval(low=centre - anywhere, high=centre + anywhere, level=level),
    )


def crowding(since: FloatArray, period_s: float) -> tuple[Concern, ...]:
    """Return a concern where a third of the cycle or more was never tried."""
    phases = np.sort(np.mod(since, period_s)) / period_s
    gaps = np.diff(np.append(phases, phases[0] + 1.0))
    widest = float(gaps.max())
    if widest < 1.0 / 3.0:
        return ()
    at = int(gaps.argmax())
    begins, ends = phases[at] * period_s, (phases[at] + widest) % 1.0 * period_s
    text = (
        f"No shot was started between {number(float(begins), 0)} and {number(float(ends), 0)} s of the "
        "cycle: what the swing says of those moments is guesswork."
    )
    return (Concern(about=About.OUT_OF_RANGE, text=text),)


def unreached(swing: Swing, target_degc: float) -> tuple[Concern, ...]:
    """Return a concern where no moment of the cycle gives the target."""
    if not swing.p < 0.05 or abs(swing.start_degc - target_degc) < 0.1 + 0.05 * swing.half_swing_k:
        return ()
    return (
        Concern(
            about=About.OUT_OF_RANGE,
            text="No moment of the cycle gives {t0}; the closest is named.",
            temps_degc=(target_degc,),
            decimals=1,
        ),
    )
