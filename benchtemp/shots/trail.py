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
