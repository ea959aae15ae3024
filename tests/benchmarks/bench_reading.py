"""How right and how fast shots are read: one table, from traces whose truth is known.

    python tests/benchmarks/bench_reading.py                 2,048 shots, 200 h of idle traces; some minutes
    python tests/benchmarks/bench_reading.py --quick         256 shots, 8 h
    python tests/benchmarks/bench_reading.py --seed 7        other traces of the same kinds

Beside the reading stand an oracle that knows the true boundaries and takes the plain mean of the readings
between them (the floor for a plain mean), the Cramér-Rao floor for the end of a plateau, and ruptures, the
general-purpose change-point library, with the cost and penalty that did best here of those tried (piecewise
linear regression, exact search, 3 sigma^2 ln n) and a reading of its segments made as kind to it as could be.
"""

from __future__ import annotations

import argparse
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))

from idle import idle_hour
from traces import FINE_HZ, NOISES_K, QUANTA_K, RATES_HZ, SHAPES, TraceCase, shot_case

from benchtemp.readings.reading import Mark, MarkKind, Reading
from benchtemp.shots.plateau import find_pulls
from benchtemp.shots.result import PullKind, Result
from benchtemp.shots.stages import Stage, initial_state, step
from benchtemp.shots.trace import clean

IDLE_LEAD_S = 15.0


@dataclass
class Shot:
    """One case's errors; NaN where there is none."""

    shape: str
    rate_hz: float
    noise_k: float
    decay_k_per_s: float
    found: bool = False
    mean_k: float = np.nan
    uncertainty_k: float = np.nan
    start_s: float = np.nan
    end_s: float = np.nan
    oracle_k: float = np.nan
    end_floor_s: float = np.nan
    marked_mean_k: float = np.nan
    marked_uncertainty_k: float = np.nan
    marked_start_s: float = np.nan
    live_delay_s: float = np.nan
    live_early: bool = False
    live_resumed: bool = False
    ruptures_mean_k: float = np.nan
    ruptures_start_s: float = np.nan
    ruptures_end_s: float = np.nan
    own_time_s: float = np.nan
    ruptures_time_s: float = np.nan


def _shots(pulls: tuple[Result, ...]) -> list[Result]:
    return [pull for pull in pulls if pull.kind is PullKind.SHOT and pull.brew_temp_degc is not None]


def _end_floor(case: TraceCase) -> float:
    """The smallest standard deviation an unbiased end can have: a bend between two lines, white noise
    (Cramér-Rao)."""
    pull = case.pulls[0]
    end = int(pull.pump_off_s * FINE_HZ)
    after = case.fine_degc[min(end + int(2 * FINE_HZ), len(case.fine_degc) - 1)]
    before = case.fine_degc[end - int(2 * FINE_HZ)]
    bend = (case.fine_degc[end] - before) / 2.0 - (after - case.fine_degc[end]) / 2.0
    left = min(pull.pump_off_s - pull.start_s, 12.0)
    right = min(float(case.t_s[-1]) - pull.pump_off_s, 12.0)
    u = np.arange(-left, right, 1.0 / case.rate_hz)
    if len(u) < 6 or bend <= 0.0:
        return float("nan")
    nuisance = np.column_stack((np.ones(len(u)), u, np.maximum(u, 0.0)))
    moved = bend * (u > 0.0)
    kept = moved - nuisance @ np.linalg.lstsq(nuisance, moved, rcond=None)[0]
    noise = np.hypot(case.noise_k, case.quantum_k / np.sqrt(12.0))
    return float(noise / np.sqrt(max(kept @ kept, 1e-12)))


def _oracle(case: TraceCase) -> float:
    pull = case.pulls[0]
    trace = clean(case.t_s, case.temp_degc)
    inside = (trace.t_s >= pull.start_s) & (trace.t_s <= pull.pump_off_s)
    return float(trace.temp_degc[inside].mean()) - pull.mean_degc if inside.any() else float("nan")


def _live(case: TraceCase, shot: Shot) -> None:
    """Feed a case to the stages, reading by reading, with nobody pressing anything."""
    pull = case.pulls[0]
    state = initial_state()
    for t_s, temp in zip(case.t_s.tolist(), case.temp_degc.tolist(), strict=True):
        state, changes = step(state, Reading(t_s, (temp,)))
        for change in changes:
            if change.resumed:
                shot.live_resumed = True
                return
            if change.stage is Stage.ENDED and not np.isfinite(shot.live_delay_s):
                shot.live_early = change.t_s < pull.pump_off_s
                shot.live_delay_s = change.t_s - pull.pump_off_s


def _ruptures(case: TraceCase, shot: Shot) -> None:
    import ruptures  # noqa: PLC0415  (heavy, and needed for this column alone)

    pull = case.pulls[0]
    trace = clean(case.t_s, case.temp_degc)
    t_s, y = trace.t_s, trace.temp_degc
    began = time.perf_counter()
    signal = np.column_stack((y, t_s - t_s[0], np.ones(len(t_s))))
    search = ruptures.Pelt(model="linear", min_size=3, jump=max(1, len(y) // 150)).fit(signal)
    breaks = search.predict(pen=3.0 * trace.noise_k**2 * np.log(len(y)))
    shot.ruptures_time_s = time.perf_counter() - began
    edges = [0, *(b for b in breaks if b < len(y)), len(y)]
    lines = [
        (i, j, float(np.polyfit(t_s[i:j] - t_s[i], y[i:j], 1)[0])) for i, j in pairwise(edges) if j - i >= 2
    ]
    climbs = [number for number, (_, _, slope) in enumerate(lines) if slope > 0.25]
    if not climbs or climbs[-1] + 1 >= len(lines):
        return
    first = climbs[-1] + 1
    last = len(lines)
    while last > first + 1 and lines[last - 1][2] < -0.04:
        last -= 1
    begin, end = lines[first][0], lines[last - 1][1]
    shot.ruptures_mean_k = float(y[begin:end].mean()) - pull.mean_degc
    shot.ruptures_start_s = float(t_s[begin]) - pull.start_s
    shot.ruptures_end_s = float(t_s[end - 1]) - pull.pump_off_s


def measure(task: tuple[int, bool]) -> Shot:
    """Draw the shot of a seed and read it in every way."""
    seed, with_ruptures = task
    case = shot_case(seed)
    pull = case.pulls[0]
    end = int(pull.pump_off_s * FINE_HZ)
    after = case.fine_degc[min(end + int(3 * FINE_HZ), len(case.fine_degc) - 1)]
    shot = Shot(case.shape, case.rate_hz, case.noise_k, (case.fine_degc[end] - after) / 3.0)
    began = time.perf_counter()
    found = _shots(find_pulls(case.t_s, case.temp_degc).pulls)
    shot.own_time_s = time.perf_counter() - began
    if len(found) == 1:
        shot.found = True
        shot.mean_k = found[0].brew_temp_degc - pull.mean_degc
        shot.uncertainty_k = found[0].brew_temp_uncertainty_k
        shot.start_s = found[0].plateau_start_s - pull.start_s
        shot.end_s = found[0].plateau_end_s - pull.pump_off_s
    marks = (Mark(pull.pump_on_s, MarkKind.PUMP_ON), Mark(pull.pump_off_s, MarkKind.PUMP_OFF))
    marked = _shots(find_pulls(case.t_s, case.temp_degc, marks).pulls)
    if len(marked) == 1:
        shot.marked_mean_k = marked[0].brew_temp_degc - pull.mean_degc
        shot.marked_uncertainty_k = marked[0].brew_temp_uncertainty_k
        shot.marked_start_s = marked[0].plateau_start_s - pull.start_s
    shot.oracle_k = _oracle(case)
    shot.end_floor_s = _end_floor(case)
    _live(case, shot)
    if with_ruptures:
        _ruptures(case, shot)
    return shot


def measure_flush(seed: int) -> bool:
    """Tell whether a flush was taken for a shot."""
    case = shot_case(seed, flush=True)
    return bool(_shots(find_pulls(case.t_s, case.temp_degc).pulls))


def measure_idle(seed: int) -> tuple[int, int, int]:
    """Return shots found in an hour of idling afterwards; live ends, and how many of those would be saved."""
    rate_hz, noise_k = RATES_HZ[seed % 4], NOISES_K[seed // 4 % 4]
    t_s, temp, _ = idle_hour(seed, rate_hz, noise_k, QUANTA_K[seed // 16 % 4])
    after = len(_shots(find_pulls(t_s, temp).pulls))
    state = initial_state()
    ended = saved = 0
    for time_s, value in zip(t_s.tolist(), temp.tolist(), strict=True):
        state, changes = step(state, Reading(time_s, (value,)))
        for change in changes:
            if change.stage is Stage.ENDED and change.kind is not None:
                ended += 1
                low, high = np.searchsorted(t_s, (state.began_s - IDLE_LEAD_S, change.t_s + 1e-6))
                saved += bool(_shots(find_pulls(t_s[low:high], temp[low:high]).pulls))
    return after, ended, saved


def steady_trace(rate_hz: float = 10.0, length_s: float = 60.0) -> tuple[np.ndarray, np.ndarray]:
    """Draw the trace all times are taken with: 60 s at 10 Hz, one shot in it."""
    rng = np.random.default_rng(1)
    t_s = np.arange(0.0, length_s, 1.0 / rate_hz)
    u = np.maximum(t_s - 10.0, 0.0)
    temp = 40.0 + 53.0 * (1.0 - np.exp(-u / 2.0)) - 0.8 * np.maximum(t_s - 40.0, 0.0)
    return t_s, np.round(temp + 0.1 * rng.standard_normal(len(t_s)), 2)


def best_time(call: object, repeats: int, rounds: int = 60) -> float:
    """Return the shortest mean time of one call over several rounds: what the machine can do undisturbed."""
    best = float("inf")
    for _ in range(rounds):
        began = time.perf_counter()
        for _ in range(repeats):
            call()  # type: ignore[operator]
        best = min(best, (time.perf_counter() - began) / repeats)
    return best


def timings() -> tuple[float, float]:
    """Return the time of one shot's analysis and of one live step, in s."""
    t_s, temp = steady_trace()
    analysis_s = best_time(lambda: find_pulls(t_s, temp), 5)
    readings = [Reading(a, (b,)) for a, b in zip(t_s.tolist(), temp.tolist(), strict=True)]

    def pull() -> None:
        state = initial_state()
        for reading in readings:
            state, _ = step(state, reading)

    return analysis_s, best_time(pull, 1) / len(readings)


def _quantiles(errors: np.ndarray) -> str:
    errors = np.abs(errors[np.isfinite(errors)])
    if not len(errors):
        return "no case"
    return f"{np.quantile(errors, 0.5):.4f} / {np.quantile(errors, 0.95):.3f} / {errors.max():.2f}"


def _share(inside: np.ndarray) -> str:
    return f"{100.0 * inside.mean():.1f} %" if len(inside) else "no case"


def _column(shots: list[Shot], name: str) -> np.ndarray:
    return np.array([getattr(shot, name) for shot in shots], dtype=float)


def _beyond(shots: list[Shot], name: str) -> np.ndarray:
    """Return errors of the end beyond half a sampling period."""
    return np.maximum(np.abs(_column(shots, name)) - 0.5 / _column(shots, "rate_hz"), 0.0)


def _q95(values: np.ndarray) -> float:
    values = np.abs(values[np.isfinite(values)])
    return float(np.quantile(values, 0.95)) if len(values) else float("nan")


def _covered(shots: list[Shot], error: str, uncertainty: str) -> str:
    errors, widths = _column(shots, error), _column(shots, uncertainty)
    known = np.isfinite(errors) & np.isfinite(widths)
    return _share(np.abs(errors[known]) <= 2.0 * widths[known])


def report(shots: list[Shot], flushes: list[bool], idle: list[tuple[int, int, int]]) -> None:
    """Print the table."""
    rows: list[tuple[str, str, str]] = []
    clear = [shot for shot in shots if shot.decay_k_per_s >= 0.3]
    rng = np.random.default_rng(0)
    floor = np.abs(_column(shots, "end_floor_s") * rng.standard_normal(len(shots)))
    floor = np.maximum(floor - 0.5 / _column(shots, "rate_hz"), 0.0)
    delays = _column(clear, "live_delay_s")
    early = np.array([shot.live_early for shot in shots])
    dips = np.array([shot.shape == "dip" for shot in shots])
    resumed = np.array([shot.live_resumed for shot in shots])
    fair = np.isfinite(delays) & ~np.array([shot.live_early for shot in clear])
    rows += [
        (
            "brew temperature error, K: median / 95 % / worst",
            _quantiles(_column(shots, "mean_k")),
            "0.015 / 0.06 / 0.25",
        ),
        ("  marked", _quantiles(_column(shots, "marked_mean_k")), ""),
        ("  falls of 0.3 K/s and more after the pump", _quantiles(_column(clear, "mean_k")), ""),
        ("  oracle with the true boundaries", _quantiles(_column(shots, "oracle_k")), "floor"),
        ("  ruptures", _quantiles(_column(shots, "ruptures_mean_k")), ""),
        ("plateau start error, s, 95 %", f"{_q95(_column(shots, 'start_s')):.2f}", "1.0"),
        ("  marked", f"{_q95(_column(shots, 'marked_start_s')):.2f}", ""),
        ("  ruptures", f"{_q95(_column(shots, 'ruptures_start_s')):.2f}", ""),
        ("plateau end error beyond half a period, s, 95 %", f"{_q95(_beyond(shots, 'end_s')):.2f}", "1.0"),
        ("  falls of 0.3 K/s and more after the pump", f"{_q95(_beyond(clear, 'end_s')):.2f}", ""),
        ("  Cramér-Rao floor, all", f"{_q95(floor):.2f}", "floor"),
        ("  ruptures", f"{_q95(_beyond(shots, 'ruptures_end_s')):.2f}", ""),
        ("shots missed, per 1,000", f"{1000.0 * np.mean([not shot.found for shot in shots]):.1f}", "0"),
        ("  falls of 0.3 K/s and more", f"{1000.0 * np.mean([not shot.found for shot in clear]):.1f}", ""),
        ("flushes taken for shots, per 1,000", f"{1000.0 * np.mean(flushes):.1f}", "0"),
        (
            f"shots in {len(idle)} h of idling: afterwards, live",
            f"{sum(i[0] for i in idle)}, {sum(i[2] for i in idle)}",
            "0",
        ),
        (
            "stated uncertainty (k = 2) covers the truth",
            _covered(shots, "mean_k", "uncertainty_k"),
            "93–97 %",
        ),
        ("  marked", _covered(shots, "marked_mean_k", "marked_uncertainty_k"), ""),
        ("live end delay, s, 95 % (falls of 0.3 K/s and more)", f"{_q95(delays[fair]):.2f}", "3"),
        ("  share within 3 s", _share(delays[fair] <= 3.0), "95 %"),
        (
            "  ended before the true end: dips, all others",
            f"{_share(early[dips])}, {_share(early[~dips])}",
            "0",
        ),
        ("  of those, gone on with by itself", _share(resumed[early]), ""),
    ]
    analysis_s, step_s = timings()
    rows += [
        ("analysis of 60 s at 10 Hz, ms", f"{1e3 * analysis_s:.2f}", "2"),
        ("one live step, µs", f"{1e6 * step_s:.1f}", "20"),
    ]
    known = np.isfinite(_column(shots, "ruptures_time_s"))
    if known.any():
        ratio = _column(shots, "ruptures_time_s")[known].sum() / _column(shots, "own_time_s")[known].sum()
        error = _q95(_column(shots, "ruptures_mean_k")) / _q95(_column(shots, "mean_k"))
        rows += [("ruptures: time / error (95 %), as a multiple", f"{ratio:.0f} / {error:.0f}", "")]
    width = max(len(row[0]) for row in rows)
    print(f"{'figure':{width}}  {'measured':>24}  goal")
    for name, value, goal in rows:
        print(f"{name:{width}}  {value:>24}  {goal}")
    print()
    print(
        f"{'by':12} {'n':>5} {'mean error, K: median / 95 % / worst':>38} "
        f"{'start 95 %':>11} {'end 95 %':>9} {'covered':>8}"
    )
    for name, values in (("shape", SHAPES), ("rate_hz", RATES_HZ), ("noise_k", NOISES_K)):
        for value in values:
            part = [shot for shot in shots if getattr(shot, name) == value]
            if part:
                print(
                    f"{value!s:12} {len(part):5d} {_quantiles(_column(part, 'mean_k')):>38} "
                    f"{_q95(_column(part, 'start_s')):11.2f} {_q95(_beyond(part, 'end_s')):9.2f} "
                    f"{_covered(part, 'mean_k', 'uncertainty_k'):>8}"
                )


def main() -> None:
    """Run what the options ask for."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--shots", type=int, default=2048, help="how many shots, and half as many flushes")
    parser.add_argument("--idle-hours", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1, help="which traces")
    parser.add_argument("--processes", type=int, default=1)
    parser.add_argument("--no-ruptures", action="store_true")
    parser.add_argument("--quick", action="store_true", help="256 shots, 8 h of idling")
    options = parser.parse_args()
    if options.quick:
        options.shots, options.idle_hours = 256, 8
    base = options.seed * 1_000_000
    tasks = [(base + number, not options.no_ruptures) for number in range(options.shots)]
    flush_seeds = [base + number for number in range(options.shots // 2)]
    idle_seeds = [base + number for number in range(options.idle_hours)]
    if options.processes > 1:
        with ProcessPoolExecutor(options.processes) as pool:
            shots = list(pool.map(measure, tasks, chunksize=16))
            flushes = list(pool.map(measure_flush, flush_seeds, chunksize=16))
            idle = list(pool.map(measure_idle, idle_seeds, chunksize=2))
    else:
        shots = [measure(task) for task in tasks]
        flushes = [measure_flush(seed) for seed in flush_seeds]
        idle = [measure_idle(seed) for seed in idle_seeds]
    report(shots, flushes, idle)


if __name__ == "__main__":
    main()
