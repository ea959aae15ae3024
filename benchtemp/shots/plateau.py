"""A whole trace read after the fact: which pulls it holds, where their plateaus lie, what they say."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, pi, sqrt

import numpy as np

from benchtemp.readings.reading import FloatArray, Mark
from benchtemp.shots import statistics
from benchtemp.shots.approach import Boundary, Climb, find_start, last_climb
from benchtemp.shots.departure import find_departure
from benchtemp.shots.marks import resolve_pump_marks
from benchtemp.shots.result import Origin, PullKind, Result
from benchtemp.shots.segments import Rise, find_rises
from benchtemp.shots.trace import Trace, clean, noise_level

COLDEST_SHOT_DEGC = 85.0
HOTTEST_SHOT_DEGC = 98.5
"""Without a mark, a plateau outside this is a portafilter warming up, steam, or a check in boiling water."""
LONGEST_PULL_S = 120.0
LONGEST_UNMARKED_S = 75.0
"""A climb nobody marked that is followed by no end within this warmed something up."""
NOISIEST_K = 0.6
"""Readings that scatter more than this while the basket is hot come from a bad contact."""
TAKEN_OUT_K_PER_S = 5.0
TAKEN_OUT_S = 2.0
"""No basket cools this much this fast: the probe was drawn out of boiling water, or out of the basket."""
FALLEN_K = 10.0
"""So far below its highest a pull is over: no hump, sag or dip goes so deep."""
FLUSH_LONGEST_S = 12.0
"""A marked pull without a plateau is a flush up to here, and a shot that never settled beyond."""
LEAD_S = 10.0
NOISE_READINGS = 8
LIKENESS_READINGS = 60
LIKENESS_WINDOW = 21


@dataclass(frozen=True, slots=True)
class Findings:
    """What a trace holds.

    Attributes:
        pulls: Shots and flushes in order of time.
        reasons: Sentences on why there is nothing, or less than was there; empty when all is well.
    """

    pulls: tuple[Result, ...]
    reasons: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class _Span:
    """Where one pull is looked for: pump times are the operator's, None where not marked."""

    from_s: float
    to_s: float
    rise: Rise | None
    pump_on_s: float | None = None
    pump_off_s: float | None = None


def find_pulls(
    t_s: FloatArray,
    temp_degc: FloatArray,
    marks: Sequence[Mark] = (),
    *,
    band_degc: tuple[float, float] = (90.5, 96.0),
    plateau_min_s: float = 8.0,
) -> Findings:
    """Find every pull in a trace and read its figures.

    Args:
        t_s: Times in s, shape (n,).
        temp_degc: Corrected temperatures of the basket probe in °C, shape (n,), NaN = none.
        marks: The operator's; pump on, pump off and undo are used. A marked pull is always reported.
        band_degc: The target band.
        plateau_min_s: The shortest plateau of a shot.

    Returns: pulls and reasons. Nothing raises: a trace without a reading is an answer too.
    """
    t_s = np.asarray(t_s, dtype=np.float64).ravel()
    temp_degc = np.asarray(temp_degc, dtype=np.float64).ravel()
    reasons: list[str] = []
    if len(t_s) != len(temp_degc):
        shorter = min(len(t_s), len(temp_degc))
        reasons.append(f"there are {len(t_s)} times for {len(temp_degc)} temperatures; the rest is left out")
        t_s, temp_degc = t_s[:shorter], temp_degc[:shorter]
    trace = clean(t_s, temp_degc)
    if trace.out_of_order:
        reasons.append(f"{trace.out_of_order} readings whose time does not move forward are left out")
    if not len(trace):
        return Findings((), (*reasons, "the trace holds no reading"))
    pulls: list[Result] = []
    passed_over: list[str] = []
    for span in _spans(trace, resolve_pump_marks(marks)):
        found = _read(trace, span, band_degc, plateau_min_s)
        if isinstance(found, Result):
            pulls.append(found)
        else:
            passed_over.append(found)
    if not pulls:
        reasons += passed_over
    if not pulls and not reasons:
        reasons.append("no stretch of this trace looks like a pull")
    return Findings(tuple(pulls), tuple(reasons))


def _spans(trace: Trace, pairs: tuple[tuple[float | None, float | None], ...]) -> list[_Span]:
    rises = find_rises(trace)
    ends_s = float(trace.t_s[-1])
    spans: list[_Span] = []
    taken = [False] * len(rises)
    for number, (on_s, off_s) in enumerate(pairs):
        bounds = [s for pair in pairs[number + 1 :] for s in pair if s is not None]
        next_mark_s = min(bounds) if bounds else ends_s
        if on_s is None:
            assert off_s is not None
            fitting = [
                i for i, r in enumerate(rises) if not taken[i] and off_s - LONGEST_PULL_S < r.start_s < off_s
            ]
            chosen = fitting[-1] if fitting else None
            from_s = rises[chosen].start_s - LEAD_S if chosen is not None else off_s - 60.0
        else:
            until_s = off_s if off_s is not None else min(next_mark_s, on_s + LONGEST_PULL_S)
            fitting = [i for i, r in enumerate(rises) if not taken[i] and on_s - 3.0 < r.start_s < until_s]
            chosen = fitting[0] if fitting else None
            from_s = on_s - LEAD_S
            for i in fitting:
                taken[i] = True
        if chosen is not None:
            taken[chosen] = True
        to_s = next_mark_s
        later = [
            r.start_s
            for i, r in enumerate(rises)
            if not taken[i] and r.start_s > (off_s if off_s is not None else on_s or 0.0)
        ]
        if later:
            to_s = min(to_s, min(later))
        spans.append(
            _Span(
                from_s, max(to_s, off_s or to_s), rises[chosen] if chosen is not None else None, on_s, off_s
            )
        )
    marked = [(s.pump_on_s or s.from_s, s.pump_off_s or s.to_s) for s in spans]
    free = [r for i, r in enumerate(rises) if not taken[i]]
    for rise in free:
        if any(on_s - 3.0 <= rise.start_s <= off_s for on_s, off_s in marked):
            continue
        following = [r.start_s for r in free if r.start_s > rise.start_s]
        following += [on_s for on_s, _ in marked if on_s > rise.start_s]
        to_s = min(following, default=ends_s)
        spans.append(_Span(rise.start_s - LEAD_S, to_s, rise))
    return sorted(spans, key=lambda span: span.from_s)


def _read(trace: Trace, span: _Span, band_degc: tuple[float, float], plateau_min_s: float) -> Result | str:
    """Read one pull; a sentence instead where there is none."""
    marked = span.pump_on_s is not None or span.pump_off_s is not None
    rise_s = (
        span.rise.start_s if span.rise else (span.pump_on_s if span.pump_on_s is not None else span.from_s)
    )
    # A pull that runs past the length limit has no end worth finding; a minute more shows the fall.
    to_s = min(span.to_s, rise_s + LONGEST_PULL_S + 60.0)
    begin_s = rise_s if span.pump_on_s is None else min(rise_s, span.pump_on_s)
    part = trace.cut(begin_s - 1.0, to_s)
    if span.pump_off_s is None:
        part = part.first(_fallen(part))
    reasons: list[str] = []
    off_s = span.pump_off_s
    end: Boundary | None = None
    if off_s is None:
        end, climb = _estimated_end(part, rise_s)
        off_s = end.t_s if end else None
    stop_s = off_s if off_s is not None else float(part.t_s[-1]) if len(part) else to_s
    margin_s = min(1.0, end.uncertainty_s) if end else 0.0
    keep = int(np.searchsorted(part.t_s, stop_s - margin_s + 1e-9))
    if end is None or (climb is not None and climb.index >= keep - 1):
        climb = last_climb(part.t_s[:keep], part.temp_degc[:keep], part.noise_k, part.quantum_k)
    start = find_start(part.t_s[:keep], part.temp_degc[:keep], part.noise_k, climb) if climb else None
    pump_on_s = span.pump_on_s if span.pump_on_s is not None else rise_s
    result = Result(
        kind=PullKind.SHOT,
        rise_s=rise_s,
        pump_on_s=pump_on_s,
        pump_on_source=Origin.MARKED if span.pump_on_s is not None else Origin.ESTIMATED,
        pump_off_s=off_s,
        pump_off_source=Origin.MARKED if span.pump_off_s is not None else Origin.ESTIMATED,
    )
    if off_s is None:
        reasons.append("the recording ends before the pull does")
    settled = None
    if start is not None and stop_s - start.t_s > 0:
        settled = _figures(part, start, end or Boundary(stop_s, 0.0, float("nan")), band_degc)
    plateau_s = stop_s - start.t_s if start is not None else 0.0
    mean_degc = float(str(settled["brew_temp_degc"])) if settled else None
    if settled is None or plateau_s < plateau_min_s:
        reasons.append(
            f"the plateau lasts {plateau_s:.1f} s, at least {plateau_min_s:g} s are needed"
            if settled
            else "the trace never settles on a plateau"
        )
    values: dict[str, object] = dict(settled or {})
    if start is not None and settled is not None:
        values["time_to_plateau_s"] = start.t_s - pump_on_s
    short = settled is None or plateau_s < plateau_min_s
    if not marked:
        if stop_s - rise_s > LONGEST_UNMARKED_S:
            return f"the climb at {rise_s:.0f} s is followed by no end within {LONGEST_UNMARKED_S:g} s: no pull"
        top = float(part.temp_degc[:keep].max(initial=-99.0)) if short or mean_degc is None else mean_degc
        if top < COLDEST_SHOT_DEGC:
            return f"the climb at {rise_s:.0f} s only reaches {top:.1f} °C: a warm-up, no pull"
        if top > HOTTEST_SHOT_DEGC:
            return f"the climb at {rise_s:.0f} s reaches {top:.1f} °C: steam or boiling water, no pull"
        if trace.cut(start.t_s if start is not None else rise_s, stop_s).noise_k > NOISIEST_K:
            return f"the trace about {rise_s:.0f} s is too unsteady for a pull: a hand on the wire, a loose contact"
        if off_s is not None and _taken_out(trace, off_s):
            return f"the fall at {off_s:.0f} s is a probe taken out, not a pump going off: no pull"
    if short and (not marked or (off_s is not None and off_s - pump_on_s < FLUSH_LONGEST_S)):
        values["kind"] = PullKind.FLUSH
    return _with(result, values, reasons)


def _with(result: Result, values: dict[str, object], reasons: list[str]) -> Result:
    import msgspec  # noqa: PLC0415  (kept beside its one use)

    return msgspec.structs.replace(result, **values, reasons=tuple(reasons))


def _taken_out(trace: Trace, end_s: float) -> bool:
    """Tell whether a trace falls faster at a moment than any basket cools."""
    low, high = np.searchsorted(trace.t_s, (end_s - 1.5, end_s + 4.0))
    t_s, temp_degc = trace.t_s[low:high], trace.temp_degc[low:high]
    later = np.minimum(np.searchsorted(t_s, t_s + TAKEN_OUT_S), max(len(t_s) - 1, 0))
    taken_s = t_s[later] - t_s
    return bool(np.any((temp_degc - temp_degc[later] > TAKEN_OUT_K_PER_S * taken_s) & (taken_s > 0.8)))


def _fallen(part: Trace) -> int:
    """Return how many readings come before the trace is so far below its highest that the pull must be over."""
    if not len(part):
        return 0
    highest = np.maximum.accumulate(part.temp_degc)
    # One reading alone proves nothing.
    low = part.temp_degc < highest - FALLEN_K - 5.0 * part.noise_k
    over = np.flatnonzero(low[:-1] & low[1:])
    return int(over[0]) + 1 if len(over) else len(part)


def _estimated_end(part: Trace, rise_s: float) -> tuple[Boundary | None, Climb | None]:
    climb = last_climb(part.t_s, part.temp_degc, part.noise_k, part.quantum_k)
    climbed_s = climb.middle_s if climb else rise_s
    found = find_departure(part.t_s, part.temp_degc, part.noise_k, climbed_s=climbed_s, rise_s=rise_s)
    return found.end, climb


def _figures(
    part: Trace, start: Boundary, end: Boundary, band_degc: tuple[float, float]
) -> dict[str, object] | None:
    """Return the figures of a plateau, None where no reading lies on it."""
    first, stop = np.searchsorted(part.t_s, (start.t_s, end.t_s + 1e-9))
    t_s, temp_degc = part.t_s[first:stop], part.temp_degc[first:stop]
    if not len(t_s):
        return None
    weights = statistics.time_weights(t_s, start.t_s, end.t_s)
    offset = float(temp_degc[0])
    brew_degc = offset + float(weights @ (temp_degc - offset))
    length_s = end.t_s - start.t_s
    end_degc = end.temp_degc if np.isfinite(end.temp_degc) else float(temp_degc[-3:].mean())
    pull_start = (brew_degc - start.temp_degc) / length_s * start.uncertainty_s
    pull_end = (end_degc - brew_degc) / length_s * end.uncertainty_s
    scatter_k = _mean_scatter(part, temp_degc, weights)
    drift = statistics.straight_line(t_s, temp_degc).slope if len(t_s) > 1 else None
    around = np.concatenate(([start.t_s], t_s, [end.t_s]))
    return {
        "plateau_start_s": start.t_s,
        "plateau_end_s": end.t_s,
        "plateau_start_uncertainty_s": start.uncertainty_s,
        "plateau_end_uncertainty_s": end.uncertainty_s,
        "brew_temp_degc": brew_degc,
        "brew_temp_uncertainty_k": sqrt(scatter_k**2 + pull_start**2 + pull_end**2),
        "sd_k": statistics.standard_deviation(temp_degc) if len(t_s) > 1 else None,
        "highest_degc": float(temp_degc.max()),
        "lowest_degc": float(temp_degc.min()),
        "drift_k_per_s": drift,
        "in_band_share": float(weights[(temp_degc >= band_degc[0]) & (temp_degc <= band_degc[1])].sum()),
        "readings": len(t_s),
        "spikes_excluded": _within(part.spikes_s, start.t_s, end.t_s),
        "readings_missing": _within(part.missing_s, start.t_s, end.t_s),
        "longest_gap_s": float(np.diff(around).max()),
    }


def _mean_scatter(part: Trace, temp_degc: FloatArray, weights: FloatArray) -> float:
    """Return the standard uncertainty of a plateau's mean from noise and quantisation, its ends taken as known."""
    noise_k = noise_level(temp_degc, part.quantum_k) if len(temp_degc) >= NOISE_READINGS else part.noise_k
    alike = _likeness(temp_degc)
    # Second differences miss the part of the noise that neighbours share.
    noise_k /= sqrt(1.0 - (4.0 * alike - alike**2) / 3.0)
    random_k = noise_k * sqrt(float(weights @ weights) * (1.0 + alike) / (1.0 - alike))
    if not part.quantum_k:
        return random_k
    # Rounding that noise does not blur shifts the mean; the more steps the plateau sweeps, the more it averages out.
    blur = max(noise_k**2 - part.quantum_k**2 / 12.0, 0.0) / part.quantum_k**2
    spread = max(float(temp_degc.var()) - noise_k**2, 0.0)
    swept = sqrt(12.0 * spread) / part.quantum_k
    rounding_k = part.quantum_k / sqrt(12.0) * exp(-2.0 * pi**2 * blur) / (1.0 + swept)
    return sqrt(random_k**2 + rounding_k**2)


def _likeness(temp_degc: FloatArray) -> float:
    """Return how much neighbouring readings' noise is alike (autocorrelation of lag 1), 0 where chance explains it."""
    count = len(temp_degc)
    if count < LIKENESS_READINGS:
        return 0.0
    width = LIKENESS_WINDOW
    sums = np.cumsum(np.concatenate(([0.0], temp_degc - temp_degc[0])))
    middle = (sums[width:] - sums[:-width]) / width
    rest = temp_degc[width // 2 : count - width // 2] - temp_degc[0] - middle
    # A moving mean takes some of each reading with it, which makes neighbours look less alike.
    alike = statistics.lag1_autocorrelation(rest) + 1.0 / width
    return min(alike, 0.9) if alike > 2.5 / sqrt(len(rest)) else 0.0


def _within(times_s: FloatArray, start_s: float, end_s: float) -> int:
    return int(np.count_nonzero((times_s >= start_s) & (times_s <= end_s)))
