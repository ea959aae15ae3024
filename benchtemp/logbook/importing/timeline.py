"""From the times in a file's rows to a time that runs forward: coarse stamps spread, clocks set back mended.

Nothing is filled in, and whatever is changed is told.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from benchtemp.logbook.importing.moments import DAY_S
from benchtemp.readings.reading import FloatArray, Mark, MarkKind

if TYPE_CHECKING:
    from collections.abc import Iterable

DECIMALS = 4
"""Times are kept to 0.1 ms, as in every recording."""

_MOST_STRAY = 3
_BACKWARD_SHARE = 0.9
_GAP_PERIODS = 5.0
_STEPS_OF_A_SEARCH = 60
_RESOLUTIONS_S = (60.0, 1.0, 0.1, 0.01, 0.001)


@dataclass(frozen=True, slots=True, eq=False)
class Timeline:
    """Times that run forward.

    Attributes:
        t_s: Strictly increasing, rounded to 0.1 ms, shape (rows kept,).
        kept: Which of the rows they belong to, in the order in which they follow, shape (rows kept,).
        first_s: What the file says of the first row kept, on its own clock.
        marks: Where the file's clock began anew.
        mark_rows: How many rows stand before each mark.
        warnings: A sentence for all that was done.
    """

    t_s: FloatArray
    kept: npt.NDArray[np.intp]
    first_s: float
    marks: tuple[Mark, ...] = ()
    mark_rows: tuple[int, ...] = ()
    warnings: tuple[str, ...] = ()


def timeline(stamps_s: FloatArray, *, of_day: bool = False, from_zero: bool = True) -> Timeline:
    """Return the times of rows.

    Args:
        stamps_s: What stands in the rows, all finite, shape (rows,), at least one.
        of_day: They are times of the day without a date and begin anew at midnight.
        from_zero: Time 0 is the first row; else it is the file's own 0.
    """
    warnings: list[str] = []
    stamps_s = stamps_s.astype(np.float64)
    order = np.arange(len(stamps_s))
    if of_day:
        midnights = np.cumsum(np.diff(stamps_s) < -DAY_S / 2).astype(np.float64)
        stamps_s = stamps_s + DAY_S * np.concatenate([np.zeros(1), midnights])
    steps_s = np.diff(stamps_s)
    if np.count_nonzero(steps_s < 0) > _BACKWARD_SHARE * max(1, int(np.count_nonzero(steps_s))):
        stamps_s, order = stamps_s[::-1], order[::-1]
        warnings.append("The newest row stands first; the rows were turned round.")
    good = _without_strays(stamps_s)
    strays = int(len(good) - np.count_nonzero(good))
    if strays:
        rows = "1 row whose time is" if strays == 1 else f"{strays} rows whose times are"
        warnings.append(f"{rows} out of order compared with the rows around were left out.")
    stamps_s, order = stamps_s[good], order[good]
    restarts = np.flatnonzero(np.diff(stamps_s) < 0) + 1
    first_s = float(stamps_s[0])
    running_s, marks = _joined(stamps_s, restarts)
    if len(restarts):
        places = "1 place" if len(restarts) == 1 else f"{len(restarts)} places"
        warnings.append(
            f"Time goes back in {places} (the meter was started again, or its clock set); the rows follow on "
            f"from there, a mark stands at each such place, and how long the pause was is not known."
        )
    spread_s, told = _spread(running_s, restarts, _resolution(stamps_s))
    warnings += told
    t_s = _increasing(spread_s - (running_s[0] if from_zero else 0.0))
    return Timeline(
        t_s=t_s,
        kept=order,
        first_s=first_s,
        marks=tuple(Mark(float(t_s[row]), MarkKind.GAP, text) for row, text in marks),
        mark_rows=tuple(row for row, _ in marks),
        warnings=tuple(warnings),
    )


def _without_strays(stamps_s: FloatArray) -> npt.NDArray[np.bool_]:
    """Return which rows to keep: up to three in a row that alone make time run backwards go."""
    good = np.ones(len(stamps_s), dtype=np.bool_)
    for back in np.flatnonzero(np.diff(stamps_s) < 0).tolist():
        if not good[back] or not good[back + 1]:
            continue
        for count in range(1, _MOST_STRAY + 1):
            after, before = back + 1 + count, back - count
            if (
                after < len(stamps_s)
                and stamps_s[after] >= stamps_s[back]
                and _rising(stamps_s, back + 1, after)
            ):
                good[back + 1 : after] = False
                break
            if (
                before >= 0
                and stamps_s[before] <= stamps_s[back + 1]
                and _rising(stamps_s, before + 1, back + 1)
            ):
                good[before + 1 : back + 1] = False
                break
    return good


def _rising(stamps_s: FloatArray, start: int, stop: int) -> bool:
    return bool(np.all(np.diff(stamps_s[start:stop]) >= 0))


def _usual_step(stamps_s: FloatArray) -> float:
    steps_s = np.diff(stamps_s)
    forward = steps_s[steps_s > 0]
    return float(np.median(forward)) if len(forward) else 1.0


def _joined(stamps_s: FloatArray, restarts: npt.NDArray[np.intp]) -> tuple[FloatArray, list[tuple[int, str]]]:
    """Let the clock run on where it began anew, a usual step after the row before."""
    if not len(restarts):
        return stamps_s, []
    running_s = stamps_s.copy()
    step_s = _usual_step(stamps_s)
    marks = []
    for row in restarts.tolist():
        back_s = float(stamps_s[row - 1] - stamps_s[row])
        running_s[row:] += running_s[row - 1] + step_s - running_s[row]
        marks.append((row, f"the meter's time goes back by {back_s:.6g} s here; the true pause is not known"))
    return running_s, marks


def _spread(
    stamps_s: FloatArray, restarts: Iterable[int], resolution_s: float
) -> tuple[FloatArray, list[str]]:
    """Give rows that share a stamp times of their own."""
    steps_s = np.diff(stamps_s)
    repeated = int(np.count_nonzero(steps_s == 0))
    if not repeated:
        return stamps_s, []
    usual_s = max(_usual_step(stamps_s), resolution_s)
    breaks = set(np.flatnonzero(steps_s > _GAP_PERIODS * usual_s) + 1) | set(restarts)
    edges = [0, *sorted(int(row) for row in breaks), len(stamps_s)]
    spread_s = stamps_s.copy()
    evenly = []
    for start, stop in pairwise(edges):
        part = stamps_s[start:stop]
        if not np.any(np.diff(part) == 0):
            continue
        even = _even_times(part, resolution_s)
        evenly.append(even is not None)
        spread_s[start:stop] = _by_groups(part, resolution_s) if even is None else even
    per_stamp = len(stamps_s) / max(1, len(stamps_s) - repeated)
    how = "evenly, which fits every time in the file" if all(evenly) else "evenly within each step"
    told = (
        f"Times are given in steps of {resolution_s:g} s with about {per_stamp:.3g} rows in each; the rows "
        f"were spread {how}, so a single time is uncertain within such a step."
    )
    return spread_s, [told]


def _resolution(stamps_s: FloatArray) -> float:
    """Return the step in which stamps are written, s."""
    from_first = stamps_s - stamps_s[0]
    for step_s in _RESOLUTIONS_S:
        ticks = from_first / step_s
        if np.all(np.abs(ticks - np.round(ticks)) < 1e-3):
            return step_s
    return min(_RESOLUTIONS_S)


def _even_times(stamps_s: FloatArray, resolution_s: float) -> FloatArray | None:
    """Return times at one even interval that fit every stamp, None where there is no such interval.

    A stamp T stands for any time from T up to T + resolution. Where first row and interval may vary within
    that, the roundest interval is taken.
    """
    count = len(stamps_s)
    span_s = float(stamps_s[-1] - stamps_s[0])
    if count < 3 or span_s <= 0:
        return None
    row = np.arange(count, dtype=np.float64)
    from_first = stamps_s - stamps_s[0]

    def misfit(interval_s: float) -> tuple[float, float]:
        """Return by how much no first time fits (negative: one does), and the earliest that does."""
        off = from_first - interval_s * row
        return float(off.max() - off.min() - resolution_s), float(off.max())

    low_s = max(span_s - resolution_s, 0.0) / (count - 1)
    high_s = (span_s + resolution_s) / (count - 1)
    for _ in range(_STEPS_OF_A_SEARCH):
        third_s = (high_s - low_s) / 3
        if misfit(low_s + third_s)[0] <= misfit(high_s - third_s)[0]:
            high_s -= third_s
        else:
            low_s += third_s
    best_s = (low_s + high_s) / 2
    tolerance_s = 1e-6 * resolution_s
    if misfit(best_s)[0] > -tolerance_s:
        return None
    interval_s = next(
        (round_s for round_s in _round_near(best_s) if misfit(round_s)[0] < -tolerance_s), best_s
    )
    return np.asarray(stamps_s[0] + misfit(interval_s)[1] + interval_s * row, dtype=np.float64)


def _round_near(interval_s: float) -> list[float]:
    """Return round intervals and those of round rates near an interval, roundest first."""
    found = []
    for digits in range(1, 6):
        found.append(float(f"{interval_s:.{digits - 1}e}"))
        found.append(1.0 / float(f"{1.0 / interval_s:.{digits - 1}e}"))
    return found


def _by_groups(stamps_s: FloatArray, resolution_s: float) -> FloatArray:
    """Spread the rows of each stamp evenly over its step; the first may begin late, the last end early."""
    starts = np.concatenate([[0], np.flatnonzero(np.diff(stamps_s) > 0) + 1])
    counts = np.diff(np.concatenate([starts, [len(stamps_s)]]))
    usual = float(np.median(counts[1:-1])) if len(counts) > 2 else float(counts.max())
    place = np.arange(len(stamps_s)) - np.repeat(starts, counts)
    share = np.repeat(1.0 / counts, counts)
    first, last = int(counts[0]), int(counts[-1])
    if first < usual:
        share[:first] = 1.0 / usual
        place[:first] += round(usual) - first
    if last < usual and len(counts) > 1:
        share[-last:] = 1.0 / usual
    return np.asarray(stamps_s + np.minimum(place * share, 1.0) * resolution_s, dtype=np.float64)


def _increasing(times_s: FloatArray) -> FloatArray:
    """Return times rounded to 0.1 ms, each at least that much after the one before."""
    ticks = np.round(times_s * 10**DECIMALS)
    steps = np.arange(len(ticks))
    ticks = np.maximum.accumulate(ticks - steps) + steps
    return np.asarray(ticks / 10**DECIMALS, dtype=np.float64)
