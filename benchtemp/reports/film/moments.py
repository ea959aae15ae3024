"""What the bench showed at every picture of a film: the recording is fed through it again, in time."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from math import ceil, isfinite, nan

import numpy as np

from benchtemp.bench.replaying import bench_for_replay
from benchtemp.bench.snapshot import Snapshot
from benchtemp.readings.reading import FloatArray, Mark, MarkKind, Stream
from benchtemp.shots.shot import Shot
from benchtemp.shots.stages import Stage

NOTE_STAYS_S = 4.0


@dataclass(frozen=True, slots=True, eq=False)
class Moment:
    """One picture's content; times count from the shot's pump on.

    Attributes:
        t_s: Of the picture.
        trace_s, trace_degc: Corrected readings so far, shape (n,).
        temp_degc: The last one, NaN before the first.
        pump_s: How long the pump has run, or ran; None before it was started.
        plateau_s: Where the plateau began, None before it was seen.
        plateau_end_s: Where it ended, None while it lasts.
        brew_degc, expanded_k: Running brew temperature, or the shot's once it is read; None before.
        is_final: Whether that is the shot's own figure.
        note: The operator's, for a few seconds after it was made.
    """

    t_s: float
    trace_s: FloatArray
    trace_degc: FloatArray
    temp_degc: float = nan
    pump_s: float | None = None
    plateau_s: float | None = None
    plateau_end_s: float | None = None
    brew_degc: float | None = None
    expanded_k: float | None = None
    is_final: bool = False
    note: str = ""


def picture_count(from_s: float, until_s: float, rate: Fraction) -> int:
    """Return how many pictures show a stretch of time, its first and last moment among them."""
    return max(1, ceil((until_s - from_s) * rate - 1e-9) + 1)


def moments(
    stream: Stream, *, pump_on_s: float, from_s: float, until_s: float, rate: Fraction
) -> Iterator[Moment]:
    """Give one moment for each picture, `1 / rate` apart in the time of the recording.

    Args:
        stream: A recording or a shot file.
        pump_on_s: Of the shot, on the recording's clock.
        from_s: Where the film begins, on the same clock.
        until_s: Where it ends.
        rate: Pictures a second.
    """
    bench = bench_for_replay(stream)
    waiting = iter(stream.items())
    item = next(waiting, None)
    note, noted_s = "", -NOTE_STAYS_S
    for number in range(picture_count(from_s, until_s, rate)):
        now_s = from_s + float(number / rate)
        # A mark may stand behind a reading of a slightly later time: the file's order is kept.
        while item is not None and item.t_s <= now_s:
            bench.take(item)
            if isinstance(item, Mark) and item.kind is MarkKind.NOTE:
                note, noted_s = item.text, item.t_s
            item = next(waiting, None)
        shown = note if now_s - noted_s < NOTE_STAYS_S else ""
        yield _moment(bench.snapshot(now_s), now_s, pump_on_s, from_s, shown)


def _moment(snapshot: Snapshot, now_s: float, pump_on_s: float, from_s: float, note: str) -> Moment:
    trace = snapshot.trace
    first = int(np.searchsorted(trace.t_s, from_s))
    t_s, degc = trace.t_s[first:], trace.temps_degc[first:, snapshot.basket]
    known = np.isfinite(degc)
    t_s, degc = t_s[known], degc[known]
    ended = _shot_at(snapshot, pump_on_s)
    started_s = snapshot.pump_on_s
    running = started_s is not None and abs(started_s - pump_on_s) < 3.0
    pump_s = plateau_s = plateau_end_s = None
    if ended is not None:
        result = ended.result
        pump_s = result.shot_time_s if result.shot_time_s is not None else now_s - pump_on_s
        if result.plateau_start_s is not None and result.plateau_end_s is not None:
            plateau_s, plateau_end_s = result.plateau_start_s - pump_on_s, result.plateau_end_s - pump_on_s
    elif running and started_s is not None:
        off_s = snapshot.pump_off_s
        pump_s = (now_s if off_s is None else off_s) - started_s
        if snapshot.stage is Stage.PLATEAU and snapshot.plateau_start_s is not None:
            plateau_s = snapshot.plateau_start_s - pump_on_s
    brew_degc = ended.result.brew_temp_degc if ended else snapshot.running_brew_degc if running else None
    expanded_k = ended.brew_temp_expanded_uncertainty_k if ended else snapshot.running_expanded_k
    last = float(degc[-1]) if len(degc) else nan
    return Moment(
        t_s=now_s - pump_on_s,
        trace_s=t_s - pump_on_s,
        trace_degc=degc,
        temp_degc=last if isfinite(last) else nan,
        pump_s=pump_s,
        plateau_s=plateau_s,
        plateau_end_s=plateau_end_s,
        brew_degc=brew_degc,
        expanded_k=expanded_k if brew_degc is not None else None,
        is_final=ended is not None,
        note=note,
    )


def _shot_at(snapshot: Snapshot, pump_on_s: float) -> Shot | None:
    return next((shot for shot in snapshot.shots if abs(shot.result.pump_on_s - pump_on_s) < 3.0), None)
