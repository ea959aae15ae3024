"""The figures of a plateau whose ends are known, and how far the mean can be trusted."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import exp, hypot, isfinite, pi, sqrt

import numpy as np

from benchtemp.readings.reading import FloatArray
from benchtemp.shots import statistics
from benchtemp.shots.approach import Boundary
from benchtemp.shots.trace import Trace, noise_level

_NOISE_READINGS = 8
"""With fewer readings on the plateau the noise of the whole pull is taken."""


@dataclass(frozen=True, slots=True)
class Figures:
    """What a plateau says; attributes as in `Result`."""

    brew_temp_degc: float
    brew_temp_uncertainty_k: float
    sd_k: float | None
    highest_degc: float
    lowest_degc: float
    drift_k_per_s: float | None
    in_band_share: float
    readings: int
    independent_readings: float
    spikes_excluded: int
    readings_missing: int
    longest_gap_s: float


def read_figures(
    part: Trace, start: Boundary, end: Boundary, band_degc: tuple[float, float]
) -> Figures | None:
    """Return the figures of a plateau, None where no reading lies on it.

    Args:
        part: The trace about the pull.
        start: Where the plateau begins, with its uncertainty.
        end: Where it ends; its temperature may be NaN where the end was marked.
        band_degc: The target band.
    """
    first, stop = np.searchsorted(part.t_s, (start.t_s, end.t_s + 1e-9))
    t_s, temp_degc = part.t_s[first:stop], part.temp_degc[first:stop]
    if not len(t_s) or end.t_s <= start.t_s:
        return None
    start, end = _widened(start, part), _widened(end, part)
    weights = statistics.time_weights(t_s, start.t_s, end.t_s)
    offset = float(temp_degc[0])
    brew_degc = offset + float(weights @ (temp_degc - offset))
    inside = (temp_degc >= band_degc[0]) & (temp_degc <= band_degc[1])
    return Figures(
        brew_temp_degc=brew_degc,
        brew_temp_uncertainty_k=hypot(
            _mean_scatter(part, temp_degc, weights), _ends_share(start, end, brew_degc, temp_degc)
        ),
        sd_k=statistics.standard_deviation(temp_degc) if len(t_s) > 1 else None,
        highest_degc=float(temp_degc.max()),
        lowest_degc=float(temp_degc.min()),
        drift_k_per_s=statistics.straight_line(t_s, temp_degc).slope if len(t_s) > 1 else None,
        in_band_share=min(1.0, float(weights[inside].sum())),
        readings=len(t_s),
        independent_readings=max(1.0, len(t_s) / part.likeness.readings_for_one),
        spikes_excluded=_within(part.spikes_s, start.t_s, end.t_s),
        readings_missing=_within(part.missing_s, start.t_s, end.t_s),
        longest_gap_s=float(np.diff(np.concatenate(([start.t_s], t_s, [end.t_s]))).max()),
    )


def _widened(end: Boundary, part: Trace) -> Boundary:
    """Return an end whose uncertainty allows for noise that neighbours share."""
    return replace(end, uncertainty_s=end.uncertainty_s * sqrt(part.likeness.readings_for_one))


def _ends_share(start: Boundary, end: Boundary, brew_degc: float, temp_degc: FloatArray) -> float:
    """Return how far the mean could move with its ends, in K: dmean/dstart = (mean - T(start)) / length."""
    length_s = end.t_s - start.t_s
    end_degc = end.temp_degc if isfinite(end.temp_degc) else float(temp_degc[-3:].mean())
    by_start = (brew_degc - start.temp_degc) / length_s * start.uncertainty_s
    by_end = (end_degc - brew_degc) / length_s * end.uncertainty_s
    return hypot(by_start, by_end)


def _mean_scatter(part: Trace, temp_degc: FloatArray, weights: FloatArray) -> float:
    """Return the standard uncertainty of the mean from noise and rounding, its ends taken as known."""
    quantum_k, likeness = part.quantum_k, part.likeness
    noise_k = part.noise_k / likeness.surely_hidden
    if len(temp_degc) >= _NOISE_READINGS:
        noise_k = noise_level(temp_degc, quantum_k)
    noise_k *= likeness.hidden
    random_k = noise_k * sqrt(float(weights @ weights) * likeness.readings_for_one)
    if not quantum_k:
        return random_k
    # Rounding that noise does not blur shifts the mean (the first harmonic of the rounding error, damped by
    # the noise); the more steps the plateau sweeps, the more of it averages out.
    blur = max(noise_k**2 - quantum_k**2 / 12.0, 0.0) / quantum_k**2
    swept = sqrt(12.0 * max(float(temp_degc.var()) - noise_k**2, 0.0)) / quantum_k
    return hypot(random_k, quantum_k / sqrt(12.0) * exp(-2.0 * pi**2 * blur) / (1.0 + swept))


def _within(times_s: FloatArray, start_s: float, end_s: float) -> int:
    return int(np.count_nonzero((times_s >= start_s) & (times_s <= end_s)))
