"""Traces in which no shot is pulled: what a bench sees for most of a day.

Thermostat cycling, portafilters locked in and taken out, steam, checks in boiling water, a hand on the wire.
Every event is drawn from formulas; none of it is water through a basket, so nothing may be saved as a shot.
"""

from __future__ import annotations

import math

import numpy as np

IDLE_HZ = 20.0
KINDS = ("rest", "thermostat", "sawtooth", "lock-in", "steam", "splash", "boiling check", "hand on wire")


def _toward(level: float, target: float, t_s: np.ndarray, tau_s: float) -> np.ndarray:
    return target + (level - target) * np.exp(-t_s / tau_s)


def _event(rng: np.random.Generator, kind: str, level: float) -> np.ndarray:
    """One event that begins at a temperature; how it goes on decides where the next one begins."""
    if kind == "rest":
        t_s = np.arange(0.0, rng.uniform(30.0, 240.0), 1.0 / IDLE_HZ)
        return _toward(level, rng.uniform(22.0, 30.0), t_s, rng.uniform(60.0, 400.0))
    if kind == "thermostat":
        t_s = np.arange(0.0, rng.uniform(120.0, 600.0), 1.0 / IDLE_HZ)
        middle, size = rng.uniform(75.0, 94.0), rng.uniform(0.3, 4.0)
        period = rng.uniform(35.0, 240.0)
        wave = middle + size * np.sin(2 * math.pi * t_s / period + rng.uniform(0, 6.28))
        return wave + (level - wave[0]) * np.exp(-t_s / rng.uniform(20.0, 60.0))
    if kind == "sawtooth":
        heat_s, cool_s = rng.uniform(8.0, 30.0), rng.uniform(40.0, 200.0)
        size, low = rng.uniform(0.5, 5.0), rng.uniform(74.0, 90.0)
        t_s = np.arange(0.0, 3 * (heat_s + cool_s), 1.0 / IDLE_HZ)
        phase = t_s % (heat_s + cool_s)
        up = low + size * (1 - np.exp(-2 * phase / heat_s)) / (1 - math.exp(-2.0))
        down = low + size * np.exp(-(phase - heat_s) / (0.6 * cool_s))
        wave = np.where(phase < heat_s, up, down)
        return wave + (level - wave[0]) * np.exp(-t_s / rng.uniform(20.0, 60.0))
    if kind == "lock-in":
        stay_s = rng.uniform(15.0, 300.0)
        t_s = np.arange(0.0, stay_s, 1.0 / IDLE_HZ)
        start, group = rng.uniform(22.0, 55.0), rng.uniform(60.0, 85.0)
        fast = rng.uniform(4.0, 15.0)
        share = rng.uniform(0.3, 0.9)
        within = group - (group - start) * (
            share * np.exp(-t_s / fast) + (1 - share) * np.exp(-t_s / rng.uniform(25.0, 120.0))
        )
        out_s = np.arange(0.0, rng.uniform(10.0, 60.0), 1.0 / IDLE_HZ)
        begin_s = np.arange(0.0, 5.0, 1.0 / IDLE_HZ)
        fall = _toward(level, start, begin_s, 1.0)
        return np.concatenate((fall, within, _toward(float(within[-1]), 27.0, out_s, rng.uniform(4.0, 40.0))))
    if kind == "steam":
        t_s = np.arange(0.0, rng.uniform(60.0, 200.0), 1.0 / IDLE_HZ)
        top = rng.uniform(101.0, 140.0)
        up = _toward(level, top, t_s, rng.uniform(8.0, 50.0)) + 0.8 * np.sin(t_s * rng.uniform(0.2, 1.0))
        down_s = np.arange(0.0, rng.uniform(60.0, 240.0), 1.0 / IDLE_HZ)
        return np.concatenate(
            (up, _toward(float(up[-1]), rng.uniform(70.0, 92.0), down_s, rng.uniform(20.0, 80.0)))
        )
    if kind == "splash":
        jump_s = np.arange(0.0, rng.uniform(2.0, 20.0), 1.0 / IDLE_HZ)
        wet = _toward(level, rng.uniform(98.8, 103.0), jump_s, rng.uniform(0.3, 2.0))
        wet = wet + rng.uniform(0.1, 1.0) * rng.standard_normal(len(wet))
        dry_s = np.arange(0.0, rng.uniform(20.0, 90.0), 1.0 / IDLE_HZ)
        return np.concatenate((wet, _toward(float(wet[-1]), min(level, 70.0), dry_s, rng.uniform(5.0, 40.0))))
    if kind == "boiling check":
        water = rng.uniform(95.5, 100.3)
        in_s = np.arange(0.0, rng.uniform(15.0, 150.0), 1.0 / IDLE_HZ)
        wet = _toward(min(level, 35.0), water, in_s, rng.uniform(0.3, 2.0))
        wet = wet + rng.uniform(0.0, 0.2) * rng.standard_normal(len(wet))
        out_s = np.arange(0.0, rng.uniform(10.0, 60.0), 1.0 / IDLE_HZ)
        return np.concatenate((wet, _toward(float(wet[-1]), 32.0, out_s, rng.uniform(1.5, 7.0))))
    if kind == "hand on wire":
        t_s = np.arange(0.0, rng.uniform(5.0, 40.0), 1.0 / IDLE_HZ)
        touch = np.repeat(rng.standard_normal(len(t_s) // 5 + 1), 5)[: len(t_s)] * rng.uniform(0.5, 6.0)
        return level + touch + rng.uniform(0.0, 3.0) * (1 - np.exp(-t_s / 4.0))
    raise ValueError(kind)


def idle_hour(
    seed: int, rate_hz: float, noise_k: float, quantum_k: float, hours: float = 1.0
) -> tuple[np.ndarray, np.ndarray, list[tuple[float, str]]]:
    """Return times, temperatures and what happened when, for an hour without a shot."""
    rng = np.random.default_rng([seed, 11])
    parts: list[np.ndarray] = []
    told: list[tuple[float, str]] = []
    length, level = 0, 25.0
    while length < hours * 3600.0 * IDLE_HZ:
        kind = KINDS[int(rng.integers(len(KINDS)))]
        told.append((length / IDLE_HZ, kind))
        part = _event(rng, kind, level)
        parts.append(part)
        length += len(part)
        level = float(part[-1])
    fine = np.concatenate(parts)
    fine_s = np.arange(len(fine)) / IDLE_HZ
    t_s = np.arange(0.0, fine_s[-1], 1.0 / rate_hz)
    temp = np.interp(t_s, fine_s, fine) + noise_k * rng.standard_normal(len(t_s))
    return np.round(t_s, 4), np.round(temp / quantum_k) * quantum_k, told
