"""A display's steps: which setpoints it offers, and whether the machine obeys coarser ones."""

from __future__ import annotations

from math import isfinite

import msgspec
import numpy as np

from benchtemp.readings.reading import FloatArray
from benchtemp.studies.statistics.curve import corrected_criterion
from benchtemp.studies.statistics.line import Line, fit_line

ROUNDED_TO_K = (0.5, 1.0, 5.0 / 9.0, 2.0)
"""Steps a display may hide: half and whole degrees, one °F, two degrees."""
MARKED_BETTER = 10.0
"""A staircase must fit better by so much of the criterion; chance hardly ever does."""


class Staircase(msgspec.Struct, frozen=True, kw_only=True):
    """A display that shows finer steps than the machine obeys.

    Attributes:
        step_k: The steps it seems to obey.
        shift_k: Where a step begins, from 0 °C.
        better_by: How much lower the criterion is than the line's.
    """

    step_k: float
    shift_k: float
    better_by: float


def display_step(x: FloatArray) -> float | None:
    """Return the step of which all setpoints are multiples, None where there is no such step."""
    for step in (5.0, 2.0, 1.0, 0.5, 0.25, 0.2, 0.1):
        steps = (x - x.min()) / step
        if np.abs(steps - np.round(steps)).max() < 1e-6:
            return step
    return None


def find_staircase(x: FloatArray, y: FloatArray, line: Line) -> Staircase | None:
    """Return steps coarser than those displayed if the shots follow them far better than the line."""
    count = len(x)
    places = np.unique(x)
    if count < 8 or len(places) < 4:
        return None
    finest = float(np.diff(places).min())
    straight = line.residual_sd**2 * line.dof
    straight_criterion = corrected_criterion(straight, count, 2)
    best: Staircase | None = None
    for step in ROUNDED_TO_K:
        if step <= finest * 1.001 or step > np.ptp(x) / 2.0:
            continue
        for shift in np.arange(0.0, step, min(step / 8.0, finest / 2.0)).tolist():
            obeyed = np.floor((x - shift) / step + 1e-9) * step
            if len(np.unique(obeyed)) < 2:
                continue
            fitted = fit_line(obeyed, y)
            squares = fitted.residual_sd**2 * fitted.dof
            better = straight_criterion - corrected_criterion(squares, count, 4)
            if isfinite(better) and better > MARKED_BETTER and (best is None or better > best.better_by):
                best = Staircase(step_k=step, shift_k=shift, better_by=better)
    return best
