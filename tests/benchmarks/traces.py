"""Traces with a known truth, drawn from formulas (no thermal model): the yardstick for reading shots.

Every trace begins as a noise-free curve on a fine time grid. Its plateau start (last moment before the pump
goes off with a slope above 0.25 °C/s), its plateau end and its mean come from that curve alone. Only then it
is sampled, given noise, rounded, and hurt by spikes, gaps and an unsteady clock.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np

FINE_HZ = 200.0
CLIMB_K_PER_S = 0.25
RATES_HZ = (1.0, 2.0, 4.0, 10.0)
NOISES_K = (0.02, 0.05, 0.1, 0.2)
QUANTA_K = (0.01, 0.0625, 0.1, 0.25)
SHAPES = ("flat", "climb", "hump", "sag", "pause", "dip", "creep", "wave")
RISES = ("lag", "two lags", "logistic", "error function", "ramp", "slowing lag")


@dataclass
class Pull:
    """The truth about one pull; times in s, temperatures in °C."""

    kind: str
    pump_on_s: float
    pump_off_s: float
    start_s: float
    mean_degc: float
    end_degc: float


@dataclass
class TraceCase:
    """A sampled trace and its truth."""

    t_s: np.ndarray
    temp_degc: np.ndarray
    pulls: list[Pull]
    rate_hz: float
    noise_k: float
    quantum_k: float
    shape: str
    rise: str = ""
    spikes: int = 0
    missing: int = 0
    notes: dict[str, float] = field(default_factory=dict)
    fine_t_s: np.ndarray = field(default_factory=lambda: np.empty(0))
    fine_degc: np.ndarray = field(default_factory=lambda: np.empty(0))


def _climb(rng: np.random.Generator, kind: str, u: np.ndarray, tau_s: float) -> np.ndarray:
    """A rise from 0 to 1 that begins at u = 0."""
    v = np.maximum(u, 0.0)
    if kind == "lag":
        return 1.0 - np.exp(-v / tau_s)
    if kind == "two lags":
        first = tau_s * 0.8
        second = first * rng.uniform(0.15, 0.7)
        return 1.0 - (first * np.exp(-v / first) - second * np.exp(-v / second)) / (first - second)
    if kind == "logistic":
        width = tau_s * 0.8
        middle = width * 4.0
        low = 1.0 / (1.0 + math.exp(middle / width))
        return np.where(u > 0, (1.0 / (1.0 + np.exp(-(v - middle) / width)) - low) / (1.0 - low), 0.0)
    if kind == "error function":
        width = tau_s * 1.2
        middle = 2.2 * width
        values = np.array([math.erf((x - middle) / width) for x in v[::10]])
        smooth = np.interp(v, v[::10], values)
        low = math.erf(-middle / width)
        return np.where(u > 0, (smooth - low) / (1.0 - low), 0.0)
    if kind == "ramp":
        ramp_s = tau_s * rng.uniform(0.8, 2.5)
        lag_s = tau_s * rng.uniform(0.3, 0.8)
        # Response of a lag to a ramp that is held at its end.
        rising = (v - lag_s * (1.0 - np.exp(-v / lag_s))) / ramp_s
        held = np.maximum(v - ramp_s, 0.0)
        return rising - (held - lag_s * (1.0 - np.exp(-held / lag_s))) / ramp_s
    if kind == "slowing lag":
        growth = rng.uniform(0.05, 0.25)
        return 1.0 - (1.0 + growth * v / tau_s) ** (-1.0 / growth) if growth > 0 else 1.0 - np.exp(-v / tau_s)
    raise ValueError(kind)


def _body(rng: np.random.Generator, shape: str, u: np.ndarray, length_s: float, tau_s: float) -> np.ndarray:
    """What the plateau does beside its level, in K; u runs from pump on."""
    v = np.maximum(u, 0.0)
    settled = 1.0 - np.exp(-v / tau_s)
    if shape == "flat":
        return rng.uniform(-0.005, 0.005) * v
    if shape == "climb":
        return rng.uniform(0.02, 0.1) * v * settled
    if shape == "creep":
        return rng.uniform(0.5, 3.0) * (1.0 - np.exp(-v / rng.uniform(8.0, 25.0)))
    if shape == "sag":
        kind = rng.integers(3)
        delay = rng.uniform(0.2, 0.6) * length_s
        if kind == 0:
            return -rng.uniform(0.02, 0.1) * v
        if kind == 1:
            return -rng.uniform(0.02, 0.1) * np.maximum(v - delay, 0.0)
        return -rng.uniform(1.0, 3.0) * (v / length_s) ** 2
    if shape == "hump":
        height = rng.uniform(0.8, 5.0)
        if rng.random() < 0.5:
            middle = rng.uniform(3.0, 9.0) + tau_s
            width = rng.uniform(2.0, 6.0)
            return height * (np.exp(-(((v - middle) / width) ** 2)) - math.exp(-((middle / width) ** 2)))
        fall_s = rng.uniform(3.0, 9.0)
        return height * (1.0 - np.exp(-v / (0.5 * tau_s))) * np.exp(-v / fall_s)
    if shape == "dip":
        depth = rng.uniform(0.4, 2.5)
        width = rng.uniform(0.8, 2.5)
        middle = rng.uniform(0.35, 0.7) * length_s
        if rng.random() < 0.5:
            return -depth * np.exp(-(((v - middle) / width) ** 2)) + rng.uniform(-0.03, 0.03) * v
        fallen = np.clip((v - middle + width) / width, 0.0, 1.0)
        back = np.where(v > middle, np.exp(-(v - middle) / width), 1.0)
        return -depth * fallen * back
    if shape == "wave":
        period = rng.uniform(8.0, 25.0)
        size = min(rng.uniform(0.02, 0.12), 0.08 * period / (2 * math.pi))
        return size * np.sin(2 * math.pi * v / period + rng.uniform(0, 6.28)) * settled
    if shape == "pause":
        return rng.uniform(-0.05, 0.05) * v * settled
    raise ValueError(shape)


def _decay(rng: np.random.Generator, u: np.ndarray, at_degc: float, rate: float) -> np.ndarray:
    """What happens after the pump goes off, as a fall in K from the level at that moment."""
    v = np.maximum(u, 0.0)
    most = at_degc - rng.uniform(30.0, 75.0)
    tau_s = max(most / rate, 6.0)
    fall = rate * tau_s * (1.0 - np.exp(-v / tau_s))
    if rng.random() < 0.4:
        lag_s = rng.uniform(0.1, 0.8)
        # The probe's own lag rounds the corner.
        fall = np.interp(v, v, fall) - rate * lag_s * (1.0 - np.exp(-v / lag_s))
        fall = np.maximum(fall, 0.0)
    return fall


def pull_curve(
    rng: np.random.Generator,
    shape: str,
    rise: str,
    *,
    flush: bool = False,
    lead_s: float | None = None,
    tail_s: float | None = None,
    decay: tuple[float, float] = (0.05, 3.0),
    plateau_s: tuple[float, float] = (10.0, 40.0),
) -> tuple[np.ndarray, np.ndarray, Pull] | None:
    """Draw one pull's noise-free curve; None where chance gave one outside the kind asked for."""
    lead_s = rng.uniform(4.0, 30.0) if lead_s is None else lead_s
    tail_s = rng.uniform(8.0, 50.0) if tail_s is None else tail_s
    from_degc = rng.uniform(25.0, 80.0)
    tau_s = math.exp(rng.uniform(math.log(0.8), math.log(8.0 if rise == "lag" else 5.0)))
    level = rng.uniform(88.0, 97.0)
    if level - from_degc < 6.0:
        return None
    if shape == "hump":
        level = rng.uniform(88.0, 94.0)
    run_s = rng.uniform(2.0, 7.0) if flush else rng.uniform(14.0, 50.0)
    total_s = lead_s + run_s + tail_s
    t_s = np.arange(0.0, total_s, 1.0 / FINE_HZ)
    u = t_s - lead_s
    rest = from_degc + rng.uniform(-0.05, 0.05) * np.minimum(u, 0.0)
    height = level - from_degc
    if shape == "pause":
        share = rng.uniform(0.4, 0.95)
        pause_s = rng.uniform(3.0, 9.0)
        curve = height * (
            share * _climb(rng, rise, u, min(tau_s, 3.0))
            + (1.0 - share) * _climb(rng, rise, u - pause_s, min(tau_s, 3.0))
        )
        tau_s = min(tau_s, 3.0) + pause_s
    else:
        curve = height * _climb(rng, rise, u, tau_s)
    pumping = rest + curve + np.where(u > 0, _body(rng, shape, u, run_s, tau_s), 0.0)
    off = int(np.searchsorted(u, run_s))
    if flush:
        # A fall slower than this would make the trace a sagging plateau, by definition.
        decay = (0.3, decay[1])
    rate = math.exp(rng.uniform(math.log(decay[0]), math.log(decay[1])))
    held = pumping.copy()
    slope_off = (pumping[off] - pumping[off - 4]) * FINE_HZ / 4.0
    held[off:] = pumping[off]
    after = _decay(rng, u - run_s, float(pumping[off]), rate + max(0.0, -slope_off))
    temp = held - np.where(u > run_s, after, 0.0)
    slope = np.gradient(temp[: off + 1], 1.0 / FINE_HZ)
    climbing = np.flatnonzero(slope[:-3] > CLIMB_K_PER_S)
    start = int(climbing[-1]) + 1 if len(climbing) else 0
    length_s = (off - start) / FINE_HZ
    mean = float(temp[start : off + 1].mean()) if off > start else float("nan")
    if flush:
        if length_s > 6.0:
            return None
    else:
        if not plateau_s[0] <= length_s <= plateau_s[1] or not 86.0 < mean < 97.8:
            return None
        if temp[start : off + 1].max() > 99.5 or slope_off < -0.15:
            return None
    pull = Pull(
        "flush" if flush else "shot",
        lead_s,
        float(t_s[off]),
        float(t_s[start]),
        mean,
        float(temp[off]),
    )
    return t_s, temp, pull


def sample(
    rng: np.random.Generator,
    fine_t_s: np.ndarray,
    fine_degc: np.ndarray,
    *,
    rate_hz: float,
    noise_k: float,
    quantum_k: float,
    hurt: bool = True,
) -> tuple[np.ndarray, np.ndarray, int, int]:
    """Sample a curve as an interface would: times, temperatures, number of spikes, number of missing
    readings."""
    period = 1.0 / rate_hz
    t_s = np.arange(rng.uniform(0, period), fine_t_s[-1], period)
    if hurt and rng.random() < 0.5:
        t_s = t_s + rng.uniform(-0.15, 0.15, len(t_s)) * period
        t_s = np.maximum(t_s, 0.0)
    temp = np.interp(t_s, fine_t_s, fine_degc) + noise_k * rng.standard_normal(len(t_s))
    temp = np.round(temp / quantum_k) * quantum_k
    spikes = missing = 0
    if hurt and rng.random() < 0.3:
        for _ in range(int(rng.integers(1, 4))):
            temp[int(rng.integers(2, len(temp) - 2))] += rng.choice([-1, 1]) * rng.uniform(10.0, 600.0)
            spikes += 1
    if hurt and rng.random() < 0.2:
        at = int(rng.integers(2, len(temp) - 2))
        long = max(1, int(rng.uniform(0.2, 2.0) * rate_hz))
        temp[at : at + long] = np.nan
        missing += len(temp[at : at + long])
    return np.round(t_s, 4), temp, spikes, missing


def shot_case(seed: int, *, flush: bool = False, hurt: bool = True, **options: object) -> TraceCase:
    """Draw the shot (or flush) of a seed; the 8 shapes, 4 rates, 4 noises and 4 steps take turns."""
    rng = np.random.default_rng([seed, 7 if flush else 3])
    combo = seed % (len(SHAPES) * 64)
    shape = SHAPES[combo % len(SHAPES)]
    combo //= len(SHAPES)
    rate_hz = RATES_HZ[combo % 4]
    noise_k = NOISES_K[combo // 4 % 4]
    quantum_k = QUANTA_K[combo // 16 % 4]
    while True:
        rise = RISES[int(rng.integers(len(RISES)))]
        drawn = pull_curve(rng, shape, rise, flush=flush, **options)  # type: ignore[arg-type]
        if drawn is not None:
            break
    fine_t_s, fine_degc, pull = drawn
    t_s, temp, spikes, missing = sample(
        rng, fine_t_s, fine_degc, rate_hz=rate_hz, noise_k=noise_k, quantum_k=quantum_k, hurt=hurt
    )
    return TraceCase(
        t_s,
        temp,
        [pull],
        rate_hz,
        noise_k,
        quantum_k,
        shape,
        rise,
        spikes,
        missing,
        fine_t_s=fine_t_s,
        fine_degc=fine_degc,
    )
