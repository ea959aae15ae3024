"""What part of the trace is in view while it is followed. Pure; ranges move in steps so that axes rest."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, floor
from typing import TYPE_CHECKING

import numpy as np

from benchtemp.shots.result import Origin
from benchtemp.shots.stages import Stage

if TYPE_CHECKING:
    from benchtemp.bench.snapshot import Snapshot
    from benchtemp.readings.reading import FloatArray
    from benchtemp.shots.shot import Shot

LEAD_S = 5.0
"""Shown before pump on."""
STANDBY_S = 75.0
STANDBY_STEP_S = 15.0
AFTER_SHOT_S = 60.0
"""How long after its end a shot stays in view before the running trace takes its place."""
PLAUSIBLE_DEGC = (-30.0, 160.0)
"""Values outside do not move the temperature axis: a loose wire may send anything."""


@dataclass(frozen=True, slots=True)
class TimeSpan:
    """A stretch of time.

    Attributes:
        origin_s: Where the axis has its 0, in recording time.
        start_s, end_s: Edges, counted from the origin.
        since_pump: Whether the origin is a pump on; else the axis shows the recording's running time.
        estimated: Whether nobody marked that pump on, so that the rise stands in for it.
    """

    origin_s: float
    start_s: float
    end_s: float
    since_pump: bool
    estimated: bool = False


def live_span(snapshot: Snapshot) -> TimeSpan:
    """Return what to show while following: the pull under way or just ended, else the running minute."""
    origin_s, estimated = _pull_origin(snapshot)
    if origin_s is None:
        end_s = max(STANDBY_S, ceil((snapshot.now_s + 2.0) / STANDBY_STEP_S) * STANDBY_STEP_S)
        return TimeSpan(0.0, end_s - STANDBY_S, end_s, since_pump=False)
    lead_s = LEAD_S
    if snapshot.rise_s is not None and snapshot.rise_s < origin_s:
        lead_s = 2 * LEAD_S
    least_s = 5.0 * ceil((snapshot.recipe.time_high_s + 6.0) / 5.0)
    elapsed_s = snapshot.now_s - origin_s
    end_s = max(least_s, 10.0 * ceil((elapsed_s + 1.0) / 10.0))
    return TimeSpan(origin_s, -lead_s, end_s, since_pump=True, estimated=estimated)


def _pull_origin(snapshot: Snapshot) -> tuple[float | None, bool]:
    if snapshot.stage in {Stage.RISING, Stage.PLATEAU}:
        origin_s = snapshot.pump_on_s if snapshot.pump_on_s is not None else snapshot.rise_s
        return origin_s, not snapshot.pump_marked
    if not snapshot.shots:
        return None, False
    result = snapshot.shots[-1].result
    ended_s = result.pump_off_s if result.pump_off_s is not None else result.plateau_end_s
    if ended_s is None or not 0 <= snapshot.now_s - ended_s <= AFTER_SHOT_S:
        return None, False
    return result.pump_on_s, result.pump_on_source is Origin.ESTIMATED


def shot_span(shot: Shot) -> TimeSpan:
    """Return the stretch that shows one whole shot."""
    result = shot.result
    ends_s = [end_s for end_s in (result.pump_off_s, result.plateau_end_s) if end_s is not None]
    length_s = max(ends_s, default=result.pump_on_s + 30.0) - result.pump_on_s
    lead_s = max(LEAD_S, 5.0 * ceil((result.pump_on_s - result.rise_s) / 5.0))
    return TimeSpan(
        result.pump_on_s,
        -min(lead_s, 2 * LEAD_S),
        5.0 * ceil((length_s + 6.0) / 5.0),
        since_pump=True,
        estimated=result.pump_on_source is Origin.ESTIMATED,
    )


def temp_span(
    temps: FloatArray, band: tuple[float, float], now: tuple[float, float] | None, step: float
) -> tuple[float, float]:
    """Return lowest and highest temperature to show, in whole steps; all values in the unit shown.

    Args:
        temps: What is in view, any shape; NaN and implausible values must be taken out before.
        band: The target band, always in view.
        now: The range in force; kept as long as everything fits and it is not far too wide.
        step: Width of a step.
    """
    low, high = band
    if temps.size:
        low, high = min(low, float(temps.min())), max(high, float(temps.max()))
    wanted = (step * floor((low - step * 0.1) / step), step * ceil((high + step * 0.1) / step))
    if now is None:
        return wanted
    fits = now[0] <= low and high <= now[1]
    width, wanted_width = now[1] - now[0], wanted[1] - wanted[0]
    return now if fits and width <= wanted_width + 2 * step else wanted


def plausible(temps_degc: FloatArray) -> FloatArray:
    """Return the values that may move the temperature axis, shape (values,)."""
    low, high = PLAUSIBLE_DEGC
    with np.errstate(invalid="ignore"):
        return temps_degc[(temps_degc > low) & (temps_degc < high)]
