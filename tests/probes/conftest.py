"""Traces made by formula, so that what must be found in them is known."""

from collections.abc import Callable
from math import exp, sqrt

import numpy as np
import pytest
from scipy import signal


@pytest.fixture(scope="session")
def bubbling() -> Callable[..., np.ndarray]:
    """Give noise whose readings hang together over about `memory_s`, as bubbles make it."""

    def make(n: int, period_s: float, sd_k: float, *, memory_s: float = 1.0, seed: int = 1) -> np.ndarray:
        rng = np.random.default_rng(seed)
        keep = exp(-period_s / memory_s)
        fresh = rng.normal(0.0, sd_k * sqrt(1.0 - keep * keep), n)
        return signal.lfilter([1.0], [1.0, -keep], fresh, zi=[keep * rng.normal(0.0, sd_k)])[0]

    return make


@pytest.fixture(scope="session")
def pot(bubbling: Callable[..., np.ndarray]) -> Callable[..., tuple[np.ndarray, np.ndarray]]:
    """Give times and readings of a pot that heats up and boils at `boil_degc` from some moment on."""

    def make(
        *,
        boil_degc: float = 94.6,
        length_s: float = 420.0,
        period_s: float = 0.25,
        sd_k: float = 0.2,
        step_k: float = 0.1,
        seed: int = 1,
    ) -> tuple[np.ndarray, np.ndarray]:
        t = np.arange(0.0, length_s, period_s)
        water = np.minimum(22.0 + 0.45 * t, boil_degc)
        noise = bubbling(t.size, period_s, sd_k, seed=seed) * np.clip((water - 80.0) / 14.0, 0.05, 1.0)
        return t, np.round((water + noise) / step_k) * step_k

    return make


@pytest.fixture(scope="session")
def lagging() -> Callable[..., np.ndarray]:
    """Give what a first-order probe of time constant `tau_s` makes of a finely sampled water temperature."""

    def make(water_degc: np.ndarray, step_s: float, tau_s: float) -> np.ndarray:
        share = 1.0 - exp(-step_s / tau_s)
        before = [(1.0 - share) * water_degc[0]]
        return signal.lfilter([share], [1.0, share - 1.0], water_degc, zi=before)[0]

    return make
