"""Traces of one pull from plain formulas, for tests that say in the open what they expect."""

from dataclasses import dataclass

import numpy as np
import pytest

from benchtemp.readings.reading import Mark, MarkKind, Reading


@dataclass
class OnePull:
    """A rise like a first-order lag, a plateau, a fall; the truth beside the readings."""

    t_s: np.ndarray
    temp_degc: np.ndarray
    pump_on_s: float
    pump_off_s: float
    start_s: float
    mean_degc: float

    @property
    def marks(self) -> tuple[Mark, Mark]:
        return Mark(self.pump_on_s, MarkKind.PUMP_ON), Mark(self.pump_off_s, MarkKind.PUMP_OFF)

    @property
    def readings(self) -> list[Reading]:
        return [Reading(t, (y,)) for t, y in zip(self.t_s.tolist(), self.temp_degc.tolist(), strict=True)]


def draw_pull(
    *,
    rate_hz=10.0,
    noise_k=0.05,
    quantum_k=0.01,
    lead_s=10.0,
    pull_s=28.0,
    tail_s=25.0,
    cold_degc=40.0,
    level_degc=93.0,
    tau_s=2.0,
    slope_k_per_s=0.0,
    fall_k_per_s=0.8,
    extra=np.zeros_like,
    seed=0,
):
    """Draw a pull; `extra` adds K to the plateau as a function of the time since pump on."""
    fine_s = np.arange(0.0, lead_s + pull_s + tail_s, 0.002)
    u = fine_s - lead_s
    v = np.maximum(u, 0.0)
    body = level_degc + slope_k_per_s * v + extra(v) - (level_degc - cold_degc) * np.exp(-v / tau_s)
    off = int(np.searchsorted(u, pull_s))
    at_off = body[off]
    after = 55.0 + (at_off - 55.0) * np.exp(-(u - pull_s) * fall_k_per_s / (at_off - 55.0))
    fine = np.where(u <= 0.0, cold_degc, np.where(u < pull_s, body, after))
    slope = np.gradient(fine[:off], 0.002)
    start = int(np.flatnonzero(slope[:-2] > 0.25)[-1]) + 1
    t_s = np.arange(0.0, fine_s[-1], 1.0 / rate_hz)
    rng = np.random.default_rng(seed)
    temp = np.interp(t_s, fine_s, fine) + noise_k * rng.standard_normal(len(t_s))
    return OnePull(
        np.round(t_s, 4),
        np.round(temp / quantum_k) * quantum_k,
        lead_s,
        lead_s + pull_s,
        float(fine_s[start]),
        float(fine[start:off].mean()),
    )


@pytest.fixture
def one_pull():
    return draw_pull


@pytest.fixture
def several_pulls():
    """Give a function that strings traces together, each beginning where the last one ended."""

    def string(*pulls, pause_s=20.0):
        t_s, temp, marks, offset = [], [], [], 0.0
        for pull in pulls:
            t_s.append(pull.t_s + offset)
            temp.append(pull.temp_degc)
            marks += [Mark(mark.t_s + offset, mark.kind) for mark in pull.marks]
            offset = t_s[-1][-1] + pause_s
        return np.concatenate(t_s), np.concatenate(temp), tuple(marks)

    return string
