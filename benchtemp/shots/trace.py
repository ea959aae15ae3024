"""A trace made fit for reading: spikes, gaps and disorder set aside and counted."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from benchtemp.readings.reading import FloatArray
from benchtemp.shots.likeness import UNALIKE, Likeness, likeness_of
from benchtemp.shots.statistics import median

LOWEST_DEGC = -50.0
HIGHEST_DEGC = 160.0
"""No wire in a basket, a steam jet or a cold room is outside this: such a value is an electrical fault."""
SPIKE_LEAST_K = 0.3
SPIKE_NOISES = 7.0
"""A spike sticks out by more than either: in K, and in units of the noise."""
SPIKE_SURE_K = 8.0
"""Sticking out this far cannot be true, whatever the readings beside it do."""
SPIKE_LONGEST = 3
"""A spike is at most this many readings long (and at most `SPIKE_LONGEST_S`); longer is a real event."""
SPIKE_LONGEST_S = 0.6
_SPIKE_PASSES = 4
"""So often they are looked for at most: a spike beside a spike shows only once the first is gone."""
FLATTEST_SHARE = 0.6
"""The noise is taken from so many of all places: at one reading a second a rise and a dip fill the rest."""
FLAT_LEAST = 8
"""Fewer flat places say too little: then all are taken."""
_TRIMMED = 0.85
"""Of the differences there, the larger rest is left out: spikes and kinks."""
_TRIMMED_RMS = 0.7215
"""Root mean square of the smaller 85 % of a standard normal sample's absolute values."""


@dataclass(frozen=True, slots=True, eq=False)
class Trace:
    """Cleaned readings of one probe.

    Attributes:
        t_s: Strictly increasing times, shape (n,).
        temp_degc: Temperatures, all finite, shape (n,).
        noise_k: Standard deviation of one reading about the true probe temperature, its quantisation
            included.
        quantum_k: Step between the values the interface can give, 0 where none is seen.
        period_s: Usual time between readings.
        spikes_s, missing_s: Times of readings that were excluded as spikes, and of those without a value.
        out_of_order: Readings left out because their time did not move forward.
        likeness: How alike the noise of neighbours is; where that is evident, `noise_k` includes what
            neighbours share.
    """

    t_s: FloatArray
    temp_degc: FloatArray
    noise_k: float
    quantum_k: float
    period_s: float
    spikes_s: FloatArray
    missing_s: FloatArray
    out_of_order: int
    likeness: Likeness = UNALIKE

    def __len__(self) -> int:
        return len(self.t_s)

    def rows(self, low: int, high: int) -> Trace:
        """Return the readings from one to before another, with everything else as it is."""
        return replace(self, t_s=self.t_s[low:high], temp_degc=self.temp_degc[low:high])

    def cut(self, start_s: float, end_s: float) -> Trace:
        """Return the part within [start_s, end_s].

        Its noise is its own or the whole trace's, whichever is smaller: what makes a part look noisier than
        the trace is movement, and what makes the trace look noisier than a part happened elsewhere.
        """
        low, high = self.t_s.searchsorted((start_s, end_s + 1e-9))
        t_s, temp_degc = self.t_s[low:high], self.temp_degc[low:high]
        return Trace(
            t_s,
            temp_degc,
            min(noise_level(temp_degc, self.quantum_k) * self.likeness.surely_hidden, self.noise_k),
            self.quantum_k,
            self.period_s,
            self.spikes_s[(self.spikes_s >= start_s) & (self.spikes_s <= end_s)],
            self.missing_s[(self.missing_s >= start_s) & (self.missing_s <= end_s)],
            self.out_of_order,
            self.likeness,
        )


def clean(t_s: FloatArray, temp_degc: FloatArray) -> Trace:
    """Set aside what is no reading of the probe.

    Args:
        t_s: Times as they came, shape (n,); not finite, repeated and backward ones are left out and counted.
        temp_degc: Temperatures, shape (n,), NaN = none; values no probe can have count as spikes.

    Returns: a trace; empty where nothing is left.
    """
    timed = np.isfinite(t_s)
    forward = timed.copy()
    if len(t_s) > 1:
        highest = np.maximum.accumulate(np.where(timed, t_s, -np.inf))
        forward[1:] &= t_s[1:] > highest[:-1]
    out_of_order = int(len(t_s) - np.count_nonzero(forward))
    if out_of_order:
        t_s, temp_degc = t_s[forward], temp_degc[forward]
    given = np.isfinite(temp_degc)
    missing_s = t_s[~given]
    possible = given & (temp_degc > LOWEST_DEGC) & (temp_degc < HIGHEST_DEGC)
    period_s = usual_period(t_s, 1.0)
    kept_t_s, kept_degc = t_s[possible], temp_degc[possible]
    quantum_k = step_size(kept_degc)
    noise_k = noise_level(kept_degc, quantum_k)
    spikes = [t_s[given & ~possible]]
    # A spike beside a spike shows only once the first is gone.
    for _ in range(_SPIKE_PASSES):
        spiky = _spikes(kept_degc, noise_k, period_s)
        if not spiky.any():
            break
        spikes.append(kept_t_s[spiky])
        kept_t_s, kept_degc = kept_t_s[~spiky], kept_degc[~spiky]
    spikes_s = np.sort(np.concatenate(spikes))
    if len(spikes_s):
        noise_k = noise_level(kept_degc, quantum_k)
    likeness = likeness_of(kept_degc, noise_k, quantum_k)
    return Trace(
        kept_t_s,
        kept_degc,
        noise_k * likeness.surely_hidden,
        quantum_k,
        period_s,
        spikes_s,
        missing_s,
        out_of_order,
        likeness,
    )


def usual_period(t_s: FloatArray, otherwise_s: float) -> float:
    """Return the median time between readings."""
    return median(t_s[1:] - t_s[:-1]) if len(t_s) > 1 else otherwise_s


def step_size(temp_degc: FloatArray) -> float:
    """Return the step between the values an interface gives in K, 0 where it is too fine to matter."""
    if len(temp_degc) < 4:
        return 0.0
    ordered = np.sort(temp_degc)
    steps = ordered[1:] - ordered[:-1]
    steps = steps[steps > 1e-4]
    if len(steps) < 2:
        return 0.0
    # Values that are not on a grid lie as close as chance has it: their closest pairs are far below the rest.
    smallest = float(np.partition(steps, len(steps) // 10)[len(steps) // 10])
    return smallest if smallest > 0.004 else 0.0


def noise_level(temp_degc: FloatArray, quantum_k: float, flattest_share: float = FLATTEST_SHARE) -> float:
    """Return the standard deviation of one reading in K.

    It comes from how readings differ from the middle between their neighbours, where the trace hardly moves:
    at the flattest places by the neighbours' neighbours, in which the noise of those differences has no part.
    The larger 15 % of what is left are left out, too: spikes and kinks.

    Args:
        temp_degc: Readings in order of time.
        quantum_k: The step between the values they can have.
        flattest_share: Of all places, so many are looked at; with 1 also what moves counts.
    """
    least_k = max(quantum_k / np.sqrt(12.0), 1e-3)
    if len(temp_degc) < 5:
        return float(least_k)
    off = np.abs(temp_degc[2:-2] - 0.5 * (temp_degc[1:-3] + temp_degc[3:-1]))
    flattest = int(np.ceil(flattest_share * len(off)))
    if FLAT_LEAST <= flattest < len(off):
        off = off[np.argpartition(np.abs(temp_degc[4:] - temp_degc[:-4]), flattest - 1)[:flattest]]
    kept = int(np.ceil(_TRIMMED * len(off)))
    off = np.partition(off, kept - 1)[:kept]
    noise_k = np.sqrt(float(off @ off) / kept) / (_TRIMMED_RMS * np.sqrt(1.5))
    return float(max(noise_k, least_k))


def _spikes(
    temp_degc: FloatArray, noise_k: float, period_s: float
) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Find readings that stick out from both sides, one to three in a row."""
    count = len(temp_degc)
    spiky = np.zeros(count, dtype=np.bool_)
    if count < 5:
        return spiky
    steps = np.abs(temp_degc[1:] - temp_degc[:-1])
    least_k = max(SPIKE_NOISES * noise_k, SPIKE_LEAST_K)
    if not np.any(steps > least_k):
        return spiky
    longest = max(1, min(SPIKE_LONGEST, int(SPIKE_LONGEST_S / period_s)))
    for length in range(1, longest + 1):
        before, after = temp_degc[: -length - 1], temp_degc[length + 1 :]
        lowest = highest = temp_degc[1 : count - length]
        for further in range(1, length):
            lowest = np.minimum(lowest, temp_degc[1 + further : count - length + further])
            highest = np.maximum(highest, temp_degc[1 + further : count - length + further])
        out_k = np.maximum(lowest - np.maximum(before, after), np.minimum(before, after) - highest)
        for start in np.flatnonzero(out_k > least_k):
            # Where the readings beside it move as well (a rise, a sharp dip) it may stick out and be true.
            beside = max(
                float(steps[start - 1]) if start else 0.0,
                float(steps[start + length + 1]) if start + length + 1 < len(steps) else 0.0,
            )
            lively_k = min(3.0 * beside, SPIKE_SURE_K)
            across_k = min(1.5 * abs(float(after[start] - before[start])), SPIKE_SURE_K)
            if out_k[start] > max(lively_k, across_k) and not spiky[start : start + length + 2].any():
                spiky[start + 1 : start + 1 + length] = True
    return spiky
