import numpy as np
import pytest

from benchtemp.readings.reading import Mark, MarkKind, Reading


def basket_trace(
    rate_hz=10.0, *, starts_s=(20.0,), runs_s=26.0, brew_degc=93.0, tail_s=25.0, noise_k=0.03, seed=5
):
    """A basket probe through one or more shots: rest, approach within seconds, plateau, slow fall."""
    rng = np.random.default_rng(seed)
    end_s = starts_s[-1] + runs_s + tail_s
    t_s = np.arange(0.0, end_s, 1.0 / rate_hz)
    temp_degc = np.empty_like(t_s)
    now_degc = 70.0
    wet_s = [start + 2.0 for start in starts_s]
    for row, time_s in enumerate(t_s):
        target, tau_s = 62.0, 90.0
        for start_s, begins_s in zip(starts_s, wet_s, strict=True):
            if begins_s <= time_s < start_s + runs_s:
                target, tau_s = brew_degc, 1.5
        now_degc += (target - now_degc) * (1 - np.exp(-1.0 / rate_hz / tau_s))
        temp_degc[row] = now_degc
    temp_degc += rng.normal(0.0, noise_k, len(t_s))
    return t_s, np.round(temp_degc, 2)


def readings(t_s, temp_degc):
    return [Reading(float(time_s), (float(temp),)) for time_s, temp in zip(t_s, temp_degc, strict=True)]


def with_marks(items, marks):
    """Put marks where they would arrive: after the last reading not later than they are."""
    merged = list(items)
    for mark in marks:
        place = next((i for i, item in enumerate(merged) if item.t_s > mark.t_s), len(merged))
        merged.insert(place, mark)
    return merged


@pytest.fixture
def marked_shot():
    t_s, temp_degc = basket_trace()
    return with_marks(readings(t_s, temp_degc), [Mark(20.0, MarkKind.PUMP_ON), Mark(46.0, MarkKind.PUMP_OFF)])


@pytest.fixture
def unmarked_shot():
    return readings(*basket_trace())


@pytest.fixture
def three_shots():
    return readings(*basket_trace(starts_s=(20.0, 110.0, 200.0), tail_s=40.0))
