"""The last few seconds of a live trace, kept small: what the live stages look at.

Readings are gathered into cells of 0.4 s (or one reading, where they come more slowly). A cell of four or
more leaves out its lowest and highest. Everything here is immutable and costs a few microseconds per reading.
"""

from __future__ import annotations

from math import isfinite
from typing import NamedTuple

from benchtemp.shots.trace import HIGHEST_DEGC, LOWEST_DEGC

CELL_S = 0.4
KEPT_CELLS = 48
JUMP_K = 2.0
JUMP_K_PER_S = 8.0
JUMP_K_PER_S_FROM_COLD = 30.0
COLD_DEGC = 80.0
"""A reading further from the last one than `JUMP_K + JUMP_K_PER_S * time` must be confirmed by the next; on
the way up from a cold basket a probe is faster."""
_NOISE_START_K = 0.1
_NOISE_SHARE = 0.04


class Trail(NamedTuple):
    """Recent cells, oldest first, and the cell being filled.

    Attributes:
        t_s, temp_degc: Mean times and temperatures of the closed cells.
        noise_k: Running estimate of one closed cell's standard deviation.
        filling: Readings (time, temperature) in the open cell.
        last: Last accepted reading, None before the first.
        suspect: A reading that waits for the next to confirm it.
        doubted: How many readings in a row agreed neither with the last one nor with each other.
    """

    t_s: tuple[float, ...] = ()
    temp_degc: tuple[float, ...] = ()
    noise_k: float = _NOISE_START_K
    filling: tuple[tuple[float, float], ...] = ()
    last: tuple[float, float] | None = None
    suspect: tuple[float, float] | None = None
    doubted: int = 0


EMPTY_TRAIL = Trail()


def follow(trail: Trail, t_s: float, temp_degc: float) -> tuple[Trail, bool]:
    """Take one reading; tell whether a cell was closed by it."""
    if not isfinite(temp_degc) or not LOWEST_DEGC < temp_degc < HIGHEST_DEGC:
        return trail, False
    last = trail.last
    if last is None:
        return trail._replace(last=(t_s, temp_degc)), False
    if t_s <= last[0]:
        return trail, False
    if _near(last, t_s, temp_degc):
        if trail.suspect is not None:
            trail = trail._replace(suspect=None, doubted=0)
        return _fill(trail, t_s, temp_degc)
    suspect = trail.suspect
    if suspect is None:
        return trail._replace(suspect=(t_s, temp_degc), doubted=1), False
    if t_s <= suspect[0]:
        return trail, False
    if _near(suspect, t_s, temp_degc) or trail.doubted >= 4:
        trail, closed = _fill(trail._replace(suspect=None, doubted=0), *suspect)
        trail, closed_too = _fill(trail, t_s, temp_degc)
        return trail, closed or closed_too
    return trail._replace(suspect=(t_s, temp_degc), doubted=trail.doubted + 1), False


def _near(before: tuple[float, float], t_s: float, temp_degc: float) -> bool:
    change_k = temp_degc - before[1]
    fastest = JUMP_K_PER_S_FROM_COLD if change_k > 0.0 and before[1] < COLD_DEGC else JUMP_K_PER_S
    return abs(change_k) <= JUMP_K + fastest * min(t_s - before[0], 3.0)


def _fill(trail: Trail, t_s: float, temp_degc: float) -> tuple[Trail, bool]:
    """Add a reading to the open cell, and close the cell with the reading that fills it."""
    filling = (*trail.filling, (t_s, temp_degc))
    step_s = t_s - trail.last[0] if trail.last is not None else 0.0
    if t_s - filling[0][0] + step_s < CELL_S - 1e-6:
        return trail._replace(filling=filling, last=(t_s, temp_degc)), False
    count = len(filling)
    total_t, total = 0.0, 0.0
    lowest = highest = temp_degc
    for at_s, value in filling:
        total_t += at_s
        total += value
        if value < lowest:
            lowest = value
        elif value > highest:
            highest = value
    mean = (total - lowest - highest) / (count - 2) if count > 3 else total / count
    times, temps = trail.t_s, trail.temp_degc
    noise_k = trail.noise_k
    if len(temps) >= 2:
        off_k = abs(temps[-1] - 0.5 * (temps[-2] + mean))
        # Mean absolute value of a normal sample is 0.798 sd; the middle of three cells adds half their
        # variance.
        noise_k += _NOISE_SHARE * (min(off_k, 3.0 * noise_k) / (0.798 * 1.225) - noise_k)
        noise_k = max(noise_k, 0.005)
    return (
        Trail(
            (*times[-KEPT_CELLS + 1 :], total_t / count),
            (*temps[-KEPT_CELLS + 1 :], mean),
            noise_k,
            (),
            (t_s, temp_degc),
        ),
        True,
    )


class Line(NamedTuple):
    """A straight line through recent cells.

    Attributes:
        middle_s: Mean time of the cells.
        middle_degc: Its temperature there.
        slope: K/s.
        unit_doubt: The slope's standard deviation for a cell noise of 1 K.
    """

    middle_s: float
    middle_degc: float
    slope: float
    unit_doubt: float


def line(trail: Trail, from_s: float, to_s: float) -> Line | None:
    """Fit a straight line to the cells within [from_s, to_s]; None where there are fewer than two."""
    times, temps = trail.t_s, trail.temp_degc
    count = 0
    su = sy = suu = suy = 0.0
    for i in range(len(times) - 1, -1, -1):
        u = times[i] - to_s
        if u > 1e-9:
            continue
        if times[i] < from_s:
            break
        y = temps[i] - 90.0
        count += 1
        su += u
        sy += y
        suu += u * u
        suy += u * y
    if count < 2:
        return None
    spread = suu - su * su / count
    if spread <= 0.0:
        return None
    return Line(su / count + to_s, sy / count + 90.0, (suy - su * sy / count) / spread, spread**-0.5)


class Bend(NamedTuple):
    """Where the recent trace turned downwards.

    Attributes:
        t_s: When.
        slope_before, slope_after: K/s.
        doubt: Standard deviation of the change of slope, K/s.
        drop_k: How far the last cell lies below where the earlier slope would have led.
        drop_before_k: The same for the cell before.
        steadiness: Slope over the later half of the fall divided by that over its earlier half.
    """

    t_s: float
    slope_before: float
    slope_after: float
    doubt: float
    drop_k: float
    drop_before_k: float
    steadiness: float


def bend(trail: Trail, from_s: float, before_s: float, after_s: float) -> Bend | None:
    """Find the moment in the last seconds at which the trace bends, by least squares.

    Args:
        trail: The last seconds.
        from_s: Nothing before it is used.
        before_s: How much before the moment is fitted.
        after_s: The moment lies at most so long ago.
    """
    times, temps = trail.t_s, trail.temp_degc
    count = len(times)
    now_s = times[-1]
    first = count - 1
    oldest_s = max(from_s, now_s - before_s - after_s)
    while first > 0 and times[first - 1] >= oldest_s:
        first -= 1
    n = count - first
    if n < 5:
        return None
    us = [t - now_s for t in times[first:]]
    ys = [y - temps[-1] for y in temps[first:]]
    su = sum(us)
    sy = sum(ys)
    suu = suy = syy = 0.0
    for u, y in zip(us, ys, strict=True):
        suu += u * u
        suy += u * y
        syy += y * y
    spread = suu - su * su / n
    cross = suy - su * sy / n
    # Adding a hinge at each cell in turn to the straight line: what it explains, what it costs.
    best: tuple[float, int, float, float, float, float] | None = None
    sh_sum = sh_u = sh_y = sh_h = 0.0
    # Sums of the hinge max(0, u - at) grow as the hinge moves back in time.
    tail_n, tail_u, tail_y, tail_uu, tail_uy = 0, 0.0, 0.0, 0.0, 0.0
    for k in range(n - 1, 1, -1):
        u, y = us[k], ys[k]
        tail_n += 1
        tail_u += u
        tail_y += y
        tail_uu += u * u
        tail_uy += u * y
        at = us[k - 1]
        if -at > after_s:
            break
        if tail_n < 2:
            continue
        sh_sum = tail_u - at * tail_n
        sh_u = tail_uu - at * tail_u
        sh_y = tail_uy - at * tail_y
        sh_h = tail_uu - 2.0 * at * tail_u + at * at * tail_n
        hu = sh_u - sh_sum * su / n
        hy = sh_y - sh_sum * sy / n
        hh = sh_h - sh_sum * sh_sum / n
        det = spread * hh - hu * hu
        if det <= 1e-9:
            continue
        change = (spread * hy - hu * cross) / det
        gain = change * change * det / spread
        if change < 0.0 and (best is None or gain > best[0]):
            slope = (cross - change * hu) / spread
            best = gain, k - 1, change, slope, (spread / det) ** 0.5, sh_sum
    if best is None:
        return None
    _, k, change, slope, doubt_unit, sh_sum = best
    at = us[k]
    level = (sy - slope * su - change * sh_sum) / n
    return Bend(
        now_s + at,
        slope,
        slope + change,
        doubt_unit * trail.noise_k,
        level + slope * us[-1] - ys[-1],
        level + slope * us[-2] - ys[-2],
        _steadiness(us[k:], ys[k:]),
    )


def _steadiness(us: list[float], ys: list[float]) -> float:
    """Return the slope of the later half over that of the earlier half."""
    n = len(us)
    if n < 3:
        return 1.0
    middle = n // 2
    early = (ys[middle] - ys[0]) / (us[middle] - us[0])
    late = (ys[-1] - ys[middle]) / (us[-1] - us[middle])
    return late / early if early < -1e-6 else (2.0 if late < 0.0 else 0.0)
