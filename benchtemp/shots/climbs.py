"""The last climb of a trace: the last stretch over which it is faster than 0.25 °C/s, as far as can be sure.

It says about where a plateau begins, which of several climbs led onto it (a pre-infusion pause and a dip in
the pressure make more than one), and from when on nothing but the plateau and its end is left to look for.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import sqrt

import numpy as np

from benchtemp.readings.reading import FloatArray

CLIMB_K_PER_S = 0.25
"""Above this the probe, or the puck, is still catching up: full brew pressure and flow are not there yet."""
_WIDTHS_S = (1.0, 2.0, 4.0, 8.0)
"""Lengths of the lines held against the limit: short ones see the way out of a dip, long ones see through
noise."""
_DIP_SHARE = 0.35
"""Before the way out of a dip there is a way in: at least this share of the climb."""
_QUICKENS = 4.5
"""Or the trace had slowed down and quickens again, beyond doubt."""
_STAND_OUT = 20.0
"""Sum of the squares of two independent signs, each in units of its doubt; by chance once in some 10^5
places. The shorter the lines, the more places there are, so a little more is asked of them."""
_WAY_IN = 2.0
"""So much more it must be where the steepest way into a dip is taken as a third."""


@dataclass(frozen=True, slots=True)
class Climb:
    """The last stretch over which a trace climbs faster than the limit.

    Attributes:
        index: Of the reading in its middle.
        middle_s: That reading's time.
        since_s: Its beginning: somewhere after it the trace is faster than the limit.
        sure: The last climb that is beyond doubt by its slope alone, where that is another one.
    """

    index: int
    middle_s: float
    since_s: float
    sure: Climb | None = None


@dataclass(frozen=True, slots=True, eq=False)
class _Lines:
    """Straight lines of one width, one through the readings from each on.

    Attributes:
        width_s: How long they are.
        slope: In K/s, shape (n,); minus infinity where too few readings are left.
        doubt: Standard uncertainty of each slope.
        high: The reading before which each ends.
    """

    width_s: float
    slope: FloatArray
    doubt: FloatArray
    high: np.ndarray[tuple[int], np.dtype[np.intp]]


def last_climb(t_s: FloatArray, temp_degc: FloatArray, noise_k: float, quantum_k: float) -> Climb | None:
    """Return the last stretch over which the trace climbs faster than the limit, None if it never does.

    Straight lines over 1 to 8 s are held against the limit. First only climbs beyond doubt count. After the
    last of them, a climb above the limit counts (the way out of a dip, say) if independent signs of it stand
    out together from the plateau's own trend: its slope, the step from just before it to just after it, and
    the fall into the dip.
    """
    count = len(t_s)
    if count < 3:
        return None
    u = t_s - t_s[0]
    sums = running_sums(u, temp_degc - temp_degc[0])
    last: tuple[float, int, int] | None = None
    sure_s: float | None = None
    all_lines = []
    for width_s in _WIDTHS_S:
        lines = _lines(u, sums, width_s, noise_k)
        all_lines.append(lines)
        found = np.flatnonzero(lines.slope - CLIMB_K_PER_S > 4.0 * lines.doubt)
        if len(found):
            last = _later(last, t_s, int(found[-1]), int(lines.high[found[-1]]))
            # A long line may span a dip: the search for ways out of one begins where a short line ends.
            if width_s <= 4.0 or sure_s is None:
                sure_s = last[0]
    if last is None or sure_s is None:
        return None
    surely = last
    sure = int(t_s.searchsorted(sure_s))
    after = int(t_s.searchsorted(sure_s + 1.0))
    if count - after >= 3:
        trend = max(0.0, _slope(sums, u, after, 20.0))
        for lines in all_lines:
            slope, doubt = lines.slope, lines.doubt
            steep = (slope > CLIMB_K_PER_S + 0.5 * doubt) & (slope - trend > 2.5 * doubt)
            for low in np.flatnonzero(steep[after:])[::-1].tolist():
                begin, end = after + low, int(lines.high[after + low])
                if last[0] >= 0.5 * (t_s[begin] + t_s[end - 1]):
                    break
                height_k = slope[begin] * (u[end - 1] - u[begin])
                # One step of the interface's own is no climb.
                if height_k < 1.6 * quantum_k:
                    continue
                fell = _fall_before(u, sums, sure, begin) > _DIP_SHARE * height_k
                if not fell and _quickening(u, sums, begin, end) < _QUICKENS * noise_k:
                    continue
                before = _slope(sums, u, begin, -min(6.0, float(u[begin] - u[after])))
                about = max(trend, 0.5 * (before + _slope(sums, u, end - 1, 6.0)))
                step = _step_up(u, sums, (begin, end), lines.width_s, about) / noise_k
                way_in = _way_in(u, lines, begin, about) if fell else 0.0
                sign = (slope[begin] - about) / doubt[begin]
                if step > 0.0 and _stand_out(lines.width_s, max(sign, 0.0), step, way_in):
                    last = _later(last, t_s, begin, end)
                    break
    surely_climb = _climb(t_s, temp_degc, surely) if surely is not last else None
    return replace(_climb(t_s, temp_degc, last), sure=surely_climb)


def _lines(u: FloatArray, sums: FloatArray, width_s: float, noise_k: float) -> _Lines:
    high = u.searchsorted(u + width_s + 1e-6)
    n, su, sy, suu, suy = sums.take(high, axis=1) - sums[:, : len(u)]
    spread = suu - su * su / n
    usable = (u[high - 1] - u > 0.6 * width_s) & (spread > 0)
    spread = np.where(usable, spread, 1.0)
    slope = np.where(usable, (suy - su * sy / n) / spread, -np.inf)
    return _Lines(width_s, slope, noise_k / np.sqrt(spread), high)


def _way_in(u: FloatArray, lines: _Lines, begin: int, about: float) -> float:
    """Return how far the steepest fall just before a climb stands out from the trend, in its doubt."""
    near = (lines.high[:begin] - 1 <= begin) & (u[:begin] >= u[begin] - 2.0 * lines.width_s - 1e-6)
    falls = np.flatnonzero(near & np.isfinite(lines.slope[:begin]))
    return max(0.0, float(((about - lines.slope[falls]) / lines.doubt[falls]).max(initial=0.0)))


def _stand_out(width_s: float, sign: float, step: float, way_in: float) -> bool:
    """Tell whether independent signs of a climb, each in its doubt, are more than chance together."""
    enough = _STAND_OUT + 4.0 / width_s
    signs = sign * sign + step * step
    return signs > enough or signs + way_in * way_in > enough + _WAY_IN


def _climb(t_s: FloatArray, temp_degc: FloatArray, found: tuple[float, int, int]) -> Climb:
    _, begin, end = found
    # A long line may reach over the top and down the other side.
    middle = min((begin + end) // 2, begin + int(np.argmax(temp_degc[begin:end])))
    return Climb(middle, float(t_s[middle]), float(t_s[begin]))


def running_sums(u: FloatArray, y: FloatArray) -> FloatArray:
    """Return running sums of 1, u, y, u², u y with a leading 0, shape (5, n + 1), for lines at once."""
    sums = np.zeros((5, len(u) + 1))
    sums[0] = np.arange(len(u) + 1.0)
    for row, values in enumerate((u, y, u * u, u * y), start=1):
        np.cumsum(values, out=sums[row, 1:])
    return sums


def _slope(sums: FloatArray, u: FloatArray, index: int, reach_s: float) -> float:
    """Return the slope of the line through the readings up to `reach_s` after (before, if negative) one."""
    other = int(u.searchsorted(u[index] + reach_s))
    low, high = (index, other) if reach_s > 0 else (other, index + 1)
    n, su, sy, suu, suy = (sums[:, high] - sums[:, low]).tolist()
    spread = suu - su * su / n if n > 2 else 0.0
    return (suy - su * sy / n) / spread if spread > 0 else 0.0


def _later(
    last: tuple[float, int, int] | None, t_s: FloatArray, begin: int, end: int
) -> tuple[float, int, int]:
    found = (0.5 * float(t_s[begin] + t_s[end - 1]), begin, end)
    return found if last is None or found[0] > last[0] else last


def _fall_before(u: FloatArray, sums: FloatArray, first: int, begin: int) -> float:
    """Return how far the trace fell before a moment, from the highest level since another, in K."""
    if begin - first < 2:
        return 0.0
    index = np.arange(first, begin + 1)
    low = u.searchsorted(u[index] - 0.5 - 1e-6)
    high = u.searchsorted(u[index] + 0.5 + 1e-6)
    level = (sums[2, high] - sums[2, low]) / (high - low)
    return float(level.max() - level[-1])


def _quickening(u: FloatArray, sums: FloatArray, begin: int, end: int) -> float:
    """Return how much steeper a stretch is than one as long before it, in its doubt for a noise of 1."""
    length_s = float(u[end - 1] - u[begin])
    first = int(u.searchsorted(u[begin] - length_s - 1e-6))
    slopes, variances = [], []
    for low, high in ((first, begin + 1), (begin, end)):
        n, su, sy, suu, suy = (sums[:, high] - sums[:, low]).tolist()
        spread = suu - su * su / n if n > 2 else 0.0
        if spread <= 0.0:
            return 0.0
        slopes.append((suy - su * sy / n) / spread)
        variances.append(1.0 / spread)
    return float(slopes[1] - slopes[0]) / sqrt(variances[0] + variances[1])


def _step_up(
    u: FloatArray, sums: FloatArray, stretch: tuple[int, int], width_s: float, trend: float
) -> float:
    """Return how far readings after a stretch lie above those before it, in its doubt for a noise of 1."""
    begin, end = stretch
    first = int(u.searchsorted(u[begin] - max(0.5 * width_s, 1.0) - 1e-6))
    final = int(u.searchsorted(u[end - 1] + max(2.0 * width_s, 3.0) + 1e-6))
    # At one reading a second there may be a single one on either side.
    first, final = min(first, begin - 1), max(final, end + 1)
    if first < 0 or final > len(u):
        return 0.0
    n_before, n_after = begin - first, final - end
    before = (sums[:, begin] - sums[:, first]) / n_before
    after = (sums[:, final] - sums[:, end]) / n_after
    step = after[2] - before[2] - trend * (after[1] - before[1])
    return float(step) / sqrt(1.0 / n_before + 1.0 / n_after)
