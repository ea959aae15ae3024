"""A whole trace read after the fact: which pulls it holds, where their plateaus lie, what they say."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import msgspec
import numpy as np

from benchtemp.readings.reading import FloatArray, Mark
from benchtemp.shots.approach import Boundary, find_start
from benchtemp.shots.climbs import Climb, last_climb
from benchtemp.shots.departure import BEYOND_DOUBT, find_departure
from benchtemp.shots.figures import Figures, read_figures
from benchtemp.shots.marks import resolve_pump_marks
from benchtemp.shots.result import Origin, PullKind, Result
from benchtemp.shots.segments import Rise, coarse
from benchtemp.shots.spans import LONGEST_PULL_S, Span, find_spans
from benchtemp.shots.statistics import straight_line
from benchtemp.shots.trace import Trace, clean, noise_level

COLDEST_SHOT_DEGC = 84.0
HOTTEST_SHOT_DEGC = 98.5
"""Without a mark, a plateau outside this is a portafilter warming up, steam, or a check in boiling water."""
LUKEWARM_DEGC = 86.0
LUKEWARM_FAST_K_PER_S = 2.5
"""Below this a plateau counts only after a climb as fast as water makes it: a hot group warms a
portafilter, too."""
LONGEST_UNMARKED_S = 75.0
"""A climb nobody marked that is followed by no end within this warmed something up."""
SLOWEST_CLIMB_S = 45.0
"""Water through the puck brings a probe onto the plateau sooner than this."""
SLOW_CLIMB_S = 25.0
STILL_CLIMBS_K_PER_S = 0.19
"""After a climb this slow a plateau that still climbs so fast goes on warming."""
NOISE_READINGS = 8
NOISIEST_K = 0.6
"""So many readings that scatter more than this while the basket is hot come from a bad contact."""
BOILING_LEAST_DEGC = 95.0
OUT_OF_BOILING_K_PER_S = 6.0
OUT_OF_BASKET_K_PER_S = 12.0
TAKEN_OUT_S = 2.0
"""No basket cools this fast: the probe was drawn out of boiling water (as cold as 95 °C up in the mountains),
or out of the basket."""
FALLEN_K = 10.0
"""So far below its highest a pull is over: no hump, sag or dip goes so deep."""
FLUSH_LONGEST_S = 12.0
"""A marked pull without a plateau is a flush up to here, and a shot that never settled beyond."""
SWING_SHARE = 0.3
"""A climb whose trace goes to and fro by more than this share of its height is no water's."""
SWING_BEFORE_S = 3.0
RESTLESS_BEFORE_S = 10.0
"""From so long before the climb on every fall counts; further back, to here, only up and down together."""
WARMED_S = 5.0
WARMED_HIGHEST_K = 12.5
WARMED_FALL_K_PER_S = 0.04
"""A climb that takes longer than this, goes no higher, and is followed by a slower fall was no water's."""
CLEAR_DRIFT_K_PER_S = 0.15
CLEAR_FALL_K_PER_S = 0.15
PLAIN_EVIDENCE = 30.0
PLAIN_FALL_K_PER_S = 0.1
CLEAR_FALL_S = 5.0
"""A plateau is clearly left if it drifts less than this and the trace falls faster for so long after it; a
slower fall will do where there is so much more evidence of its beginning."""
OPEN_END_S = 2.5
OPEN_END_SPREADS = 1.5
OPEN_END_SHARE = 0.3
"""Before a shot is called a flush, an end less certain than this may lie so many standard deviations later,
by no more than this share of the shortest plateau."""
BEFORE_S = 1.0
"""So much of the trace before a pull is read with it; a pull that ends so close to its end was cut short."""


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
class _Located:
    """Where a pull's plateau lies, as far as its trace tells.

    Attributes:
        part: The trace about the pull.
        kept: How many of its readings come before the plateau's end.
        start: Where the plateau begins, None where the trace shows no climb.
        end: Where it ends; without an end in the trace, its last reading.
        pump_off_s: When the pump went off; None where the trace ends before.
        figures: What the plateau says; None where there is none.
        evidence: Logarithm of how much better the trace fits with an end than without; 0 for a marked end.
    """

    part: Trace
    kept: int
    start: Boundary | None
    end: Boundary
    pump_off_s: float | None
    figures: Figures | None
    evidence: float = 0.0


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
        reasons.append(
            f"there are {len(t_s)} times for {len(temp_degc)} temperatures; what has no partner is left out"
        )
        t_s, temp_degc = t_s[:shorter], temp_degc[:shorter]
    trace = clean(t_s, temp_degc)
    if trace.out_of_order:
        reasons.append(f"{trace.out_of_order} readings whose time does not move forward are left out")
    if not len(trace):
        return Findings((), (*reasons, "the trace holds no reading"))
    pulls: list[Result] = []
    passed_over: list[str] = []
    for span in find_spans(trace, resolve_pump_marks(marks)):
        found = _locate(trace, span, band_degc, plateau_min_s)
        why_not = None if span.marked else _no_pull(trace, span, found, plateau_min_s)
        if why_not is None:
            pulls.append(_result(span, found, plateau_min_s))
        else:
            passed_over.append(why_not)
    if not pulls:
        reasons += passed_over or [_nothing(trace)]
    return Findings(tuple(pulls), tuple(reasons))


def _nothing(trace: Trace) -> str:
    """Say why a trace without a single climb holds no pull."""
    if len(trace) < 4:
        return f"the trace holds {len(trace)} readings, too few to tell anything"
    if trace.temp_degc[0] > COLDEST_SHOT_DEGC:
        return "the trace begins hot and shows no climb: a pull under way when it began cannot be read"
    return "no stretch of this trace looks like a pull"


# -- where the plateau lies
# ------------------------------------------------------------------------------------


def _locate(trace: Trace, span: Span, band_degc: tuple[float, float], plateau_min_s: float) -> _Located:
    # Past the length limit there is no end worth finding; a minute more shows the fall.
    part = trace.cut(span.from_s - BEFORE_S, min(span.to_s, span.from_s + LONGEST_PULL_S + 60.0))
    off_s = span.pump_off_s
    climb: Climb | None = None
    evidence = 0.0
    if off_s is not None:
        end = Boundary(off_s, 0.0, float("nan"))
    else:
        part = part.rows(0, _fallen(part))
        climb = last_climb(part.t_s, part.temp_degc, part.noise_k, part.quantum_k)
        departure = find_departure(
            part.t_s,
            part.temp_degc,
            part.noise_k,
            climbed_s=climb.middle_s if climb else span.rise_s,
            rise_s=span.rise_s,
        )
        evidence = departure.evidence
        if departure.end is None:
            end = Boundary(float(part.t_s[-1]) if len(part) else span.to_s, 0.0, float("nan"))
        else:
            end = departure.end
            off_s = end.t_s
    # Readings that may already lie behind the end say nothing about the start.
    kept = int(part.t_s.searchsorted(end.t_s - min(1.0, end.uncertainty_s) + 1e-9))
    if climb is None or climb.index >= kept - 1:
        climb = last_climb(part.t_s[:kept], part.temp_degc[:kept], part.noise_k, part.quantum_k)
    # A doubtful way out of a dip makes no flush of a shot.
    if climb is not None and climb.sure is not None and end.t_s - climb.middle_s < plateau_min_s:
        climb = climb.sure
    start = find_start(part.t_s[:kept], part.temp_degc[:kept], part.noise_k, climb) if climb else None
    figures = None if start is None else read_figures(part, start, end, band_degc)
    return _Located(part, kept, start, end, off_s, figures, evidence)


def _fallen(part: Trace) -> int:
    """Return how many readings come before the trace lies too far below its highest to be in a pull."""
    if not len(part):
        return 0
    highest = np.maximum.accumulate(part.temp_degc)
    # One reading alone proves nothing.
    low = part.temp_degc < highest - FALLEN_K - 5.0 * part.noise_k
    over = np.flatnonzero(low[:-1] & low[1:])
    return int(over[0]) + 1 if len(over) else len(part)


# -- what it is
# ------------------------------------------------------------------------------------------------


def _no_pull(trace: Trace, span: Span, found: _Located, plateau_min_s: float) -> str | None:
    """Say why an unmarked climb was no pull; None where it was one."""
    rise_s, end_s = span.rise_s, found.end.t_s
    if end_s - rise_s > LONGEST_UNMARKED_S:
        return f"the climb at {rise_s:.0f} s is followed by no end within {LONGEST_UNMARKED_S:g} s: no pull"
    if found.start is not None and found.start.t_s - rise_s > SLOWEST_CLIMB_S:
        return f"the climb at {rise_s:.0f} s takes longer than {SLOWEST_CLIMB_S:g} s: a warm-up, no pull"
    if found.pump_off_s is None and end_s < trace.t_s[-1] - BEFORE_S:
        return f"the climb at {rise_s:.0f} s is followed by the next without an end between them: no pull"
    if _still_warms(rise_s, found):
        return f"the climb at {rise_s:.0f} s is slow and hardly ever settles: a warm-up, no pull"
    settled = found.start is not None and end_s - found.start.t_s >= plateau_min_s
    if found.figures is not None and settled:
        top_degc = found.figures.brew_temp_degc
    else:
        top_degc = float(found.part.temp_degc[: found.kept].max(initial=-999.0))
    if top_degc < COLDEST_SHOT_DEGC:
        return f"the climb at {rise_s:.0f} s only reaches {top_degc:.1f} °C: a warm-up, no pull"
    if span.rise is not None and span.rise.doubtful and not _clearly_left(found):
        return f"the climb at {rise_s:.0f} s is low and slow, and nothing clearly ends it: no pull"
    if _only_warmed(span, found):
        return f"the climb at {rise_s:.0f} s is low and slow, and it hardly falls afterwards: no pull"
    climb_k_per_s = span.rise.fastest_k_per_s if span.rise is not None else 0.0
    if top_degc < LUKEWARM_DEGC and climb_k_per_s < LUKEWARM_FAST_K_PER_S:
        return f"the climb at {rise_s:.0f} s to {top_degc:.1f} °C is too slow for water: a warm-up, no pull"
    if top_degc > HOTTEST_SHOT_DEGC:
        return f"the climb at {rise_s:.0f} s reaches {top_degc:.1f} °C: steam or boiling water, no pull"
    if span.rise is not None and _swings(trace, span.rise, found) > SWING_SHARE * span.rise.height_k:
        return f"the trace swings to and fro about {rise_s:.0f} s: a loose contact, a hand on the wire"
    hot = int(found.part.t_s.searchsorted(found.start.t_s if found.start else rise_s))
    steady_degc = found.part.temp_degc[hot : found.kept]
    if len(steady_degc) >= NOISE_READINGS and noise_level(steady_degc, trace.quantum_k, 1.0) > NOISIEST_K:
        return (
            f"the trace about {rise_s:.0f} s is too unsteady for a pull: a loose contact, a hand on the wire"
        )
    fastest = OUT_OF_BOILING_K_PER_S if top_degc > BOILING_LEAST_DEGC else OUT_OF_BASKET_K_PER_S
    if found.pump_off_s is not None and _falls_faster(trace, found.end, fastest):
        return f"the fall at {found.pump_off_s:.0f} s is a probe taken out, not a pump going off: no pull"
    return None


def _swings(trace: Trace, rise: Rise, found: _Located) -> float:
    """Return how far the trace went to and fro, in K, from before a climb to the plateau's start."""
    until_s = found.start.t_s if found.start is not None else rise.top_s
    low, high = trace.t_s.searchsorted((rise.start_s - RESTLESS_BEFORE_S, until_s))
    t_s, temp_degc = coarse(trace.rows(int(low), int(high)))
    moved_k = temp_degc[1:] - temp_degc[:-1]
    moved_k[np.abs(moved_k) <= 5.0 * found.part.noise_k] = 0.0
    down_k = -moved_k[(moved_k < 0.0) & (t_s[:-1] >= rise.start_s - SWING_BEFORE_S)].sum()
    # Further back a fall alone is a portafilter being emptied; up and down is not.
    before_k = moved_k[t_s[1:] <= rise.start_s]
    return float(max(down_k, min(before_k[before_k > 0.0].sum(), -before_k[before_k < 0.0].sum())))


def _fall_after(found: _Located, length_s: float) -> float | None:
    """Return how fast the trace falls after the end, in K/s; None where too little of it is left."""
    t_s, temp_degc = found.part.t_s, found.part.temp_degc
    low, high = t_s.searchsorted((found.end.t_s, found.end.t_s + length_s))
    return -straight_line(t_s[low:high], temp_degc[low:high]).slope if high - low >= 3 else None


def _only_warmed(span: Span, found: _Located) -> bool:
    """Tell whether a low, slow climb is followed by hardly any fall: heat came and went, not water."""
    if span.rise is None or found.start is None or found.pump_off_s is None:
        return False
    slow = found.start.t_s - span.rise_s > WARMED_S and span.rise.height_k < WARMED_HIGHEST_K
    fall = _fall_after(found, 2.0 * CLEAR_FALL_S) if slow else None
    return fall is not None and fall < WARMED_FALL_K_PER_S


def _still_warms(rise_s: float, found: _Located) -> bool:
    """Tell whether a slow climb merely goes on more slowly on what looks like a plateau."""
    drift = found.figures.drift_k_per_s if found.figures is not None else None
    if found.start is None or drift is None:
        return False
    return found.start.t_s - rise_s > SLOW_CLIMB_S and drift > STILL_CLIMBS_K_PER_S


def _clearly_left(found: _Located) -> bool:
    """Tell whether a steady plateau is left at a moment beyond doubt, as no thermostat's cycle is."""
    drift = found.figures.drift_k_per_s if found.figures is not None else None
    fall = _fall_after(found, CLEAR_FALL_S) if found.pump_off_s is not None else None
    if drift is None or fall is None:
        return False
    plain = found.evidence > PLAIN_EVIDENCE and fall > PLAIN_FALL_K_PER_S
    fast = found.evidence > BEYOND_DOUBT and fall > CLEAR_FALL_K_PER_S
    return abs(drift) < CLEAR_DRIFT_K_PER_S and (fast or plain)


def _falls_faster(trace: Trace, end: Boundary, limit_k_per_s: float) -> bool:
    """Tell whether a trace falls faster than a limit, over a second or two, about an end."""
    low, high = trace.t_s.searchsorted((end.t_s - 1.5, end.t_s + 4.0 + 2.0 * end.uncertainty_s))
    t_s, temp_degc = trace.t_s[low:high], trace.temp_degc[low:high]
    later = np.minimum(t_s.searchsorted(t_s + TAKEN_OUT_S), max(len(t_s) - 1, 0))
    taken_s = t_s[later] - t_s
    return bool(np.any((temp_degc - temp_degc[later] > limit_k_per_s * taken_s) & (taken_s > 0.8)))


# -- what it says
# ----------------------------------------------------------------------------------------------


def _result(span: Span, found: _Located, plateau_min_s: float) -> Result:
    figures = found.figures
    start = found.start if figures is not None else None
    plateau_s = found.end.t_s - start.t_s if start is not None else 0.0
    pump_on_s = span.pump_on_s if span.pump_on_s is not None else span.rise_s
    kind = PullKind.SHOT
    # Where the end is so uncertain that the plateau may well have been long enough, it is no flush.
    open_s = OPEN_END_SPREADS * found.end.uncertainty_s if found.end.uncertainty_s > OPEN_END_S else 0.0
    if plateau_s + min(open_s, OPEN_END_SHARE * plateau_min_s) < plateau_min_s:
        ran_s = found.end.t_s - pump_on_s
        kind = PullKind.FLUSH if not span.marked or ran_s < FLUSH_LONGEST_S else PullKind.SHOT
    result = Result(
        kind=kind,
        rise_s=span.rise_s,
        pump_on_s=pump_on_s,
        pump_on_source=Origin.MARKED if span.pump_on_s is not None else Origin.ESTIMATED,
        pump_off_s=found.pump_off_s,
        pump_off_source=Origin.MARKED if span.pump_off_s is not None else Origin.ESTIMATED,
        reasons=_reasons(span, found, plateau_s, plateau_min_s),
    )
    if figures is None or start is None:
        return result
    return msgspec.structs.replace(
        result,
        plateau_start_s=start.t_s,
        plateau_end_s=found.end.t_s,
        plateau_start_uncertainty_s=start.uncertainty_s,
        plateau_end_uncertainty_s=found.end.uncertainty_s,
        time_to_plateau_s=start.t_s - pump_on_s,
        **{name: getattr(figures, name) for name in Figures.__slots__},
    )


def _reasons(span: Span, found: _Located, plateau_s: float, plateau_min_s: float) -> tuple[str, ...]:
    """Say why a pull is not a whole, settled shot; nothing when it is."""
    reasons = []
    if found.pump_off_s is None:
        reasons.append("the recording ends before the pull does")
    if not found.kept:
        reasons.append("no reading lies within the marked pull")
    elif found.start is None:
        hot = found.part.temp_degc[0] > COLDEST_SHOT_DEGC and span.rise is None
        reasons.append(
            "the recording begins with the pull under way: where its plateau began is not in it"
            if hot
            else "the trace never climbs onto a plateau"
        )
    elif plateau_s <= 0.0:
        reasons.append("the trace still climbed when the pump went off")
    elif plateau_s < plateau_min_s:
        reasons.append(f"the plateau lasts {plateau_s:.1f} s, at least {plateau_min_s:g} s are needed")
    return tuple(reasons)
