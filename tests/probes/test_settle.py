import time
from math import nan

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchtemp.errors import BadInput
from benchtemp.probes.settle import (
    DEFAULT_RULE,
    BathState,
    NotSettled,
    Pick,
    SettleRule,
    SettleWatch,
    settled_level,
)


@pytest.mark.parametrize("period_s", [0.1, 0.25, 1.0])
@pytest.mark.parametrize("sd_k", [0.0, 0.1, 0.3, 0.5])
def test_boiling_level_is_found_in_bubbling_noise(pot, period_s, sd_k):
    t, temp = pot(boil_degc=94.65, period_s=period_s, sd_k=sd_k, seed=7)
    level = settled_level(t, temp)
    assert level.mean.value == pytest.approx(94.65, abs=3.5 * level.mean.uncertainty + 0.02)
    assert level.mean.uncertainty < 0.08
    # It boils from 161.4 s on.
    assert 155.0 < level.start_s < 240.0
    assert level.end_s > 350.0
    assert level.lowest_degc - 1e-9 <= level.mean.value <= level.highest_degc + 1e-9


def test_stated_uncertainty_is_the_scatter_of_many_baths(pot):
    """Two dozen pots of the same water: standardised errors must scatter as a normal distribution does."""
    errors = []
    for seed in range(24):
        t, temp = pot(boil_degc=94.65, length_s=330.0, period_s=0.5, sd_k=0.3, seed=seed)
        level = settled_level(t, temp)
        errors.append((level.mean.value - 94.65) / level.mean.uncertainty)
    assert 0.7 < np.std(errors) < 1.4
    assert abs(np.mean(errors)) < 0.6


def test_a_pause_on_the_way_is_not_the_boil(bubbling):
    t = np.arange(0.0, 500.0, 0.25)
    water = np.interp(t, [0, 120, 220, 280, 500], [30, 80, 80, 94.6, 94.6])
    temp = np.round(water + bubbling(t.size, 0.25, 0.1), 1)
    assert settled_level(t, temp).mean.value == pytest.approx(94.6, abs=0.1)
    assert settled_level(t, temp, pick=Pick.LOWEST).mean.value == pytest.approx(80.0, abs=0.15)


def test_ice_takes_the_lowest_level(bubbling):
    t = np.arange(0.0, 400.0, 0.5)
    water = np.interp(t, [0, 30, 150, 180, 400], [22, 4, 4, 0, 0])
    temp = np.round(water + bubbling(t.size, 0.5, 0.05), 1)
    assert settled_level(t, temp, pick=Pick.LOWEST).mean.value == pytest.approx(0.0, abs=0.1)
    assert settled_level(t, temp, pick=Pick.LAST).mean.value == pytest.approx(0.0, abs=0.1)


def test_a_pot_that_has_gone_off_the_boil_keeps_its_highest_level(bubbling):
    t = np.arange(0.0, 500.0, 0.25)
    water = np.interp(t, [0, 100, 250, 500], [60, 94.6, 94.6, 85])
    level = settled_level(t, np.round(water + bubbling(t.size, 0.25, 0.1), 1))
    assert level.mean.value == pytest.approx(94.6, abs=0.1)
    assert level.end_s < 275.0


@pytest.mark.parametrize("rate_k_per_min", [1.0, 3.0, 12.0])
@pytest.mark.parametrize("sd_k", [0.05, 0.3, 0.5])
def test_a_bath_that_never_settles_is_told(bubbling, rate_k_per_min, sd_k):
    t = np.arange(0.0, 300.0, 0.25)
    for seed in range(3):
        temp = np.round(40.0 + rate_k_per_min * t / 60.0 + bubbling(t.size, 0.25, sd_k, seed=seed), 1)
        with pytest.raises(
            NotSettled, match=r"never settled: the reading was still climbing by .* wait until"
        ):
            settled_level(t, temp)


def test_a_bath_that_cools_is_told(bubbling):
    t = np.arange(0.0, 200.0, 0.25)
    temp = np.round(90.0 - 3.0 * t / 60.0 + bubbling(t.size, 0.25, 0.1), 1)
    with pytest.raises(NotSettled, match="still falling by 3"):
        settled_level(t, temp)


def test_a_bath_that_jumps_about_is_told():
    t = np.arange(0.0, 200.0, 0.25)
    temp = 80.0 + np.random.default_rng(1).normal(0.0, 6.0, t.size)
    with pytest.raises(NotSettled, match="jump about too much"):
        settled_level(t, temp)


@pytest.mark.parametrize("value", [nan, 1372.0, 9999.0, -270.0])
def test_an_open_probe_is_told(value):
    t = np.arange(0.0, 120.0, 0.25)
    with pytest.raises(NotSettled, match=r"it is open; check its plug and its wires"):
        settled_level(t, np.full(t.size, value))


@pytest.mark.parametrize("seconds", [0.0, 5.0, 20.0])
def test_too_short_a_trace_is_told(seconds):
    t = np.arange(0.0, seconds, 0.25)
    with pytest.raises(NotSettled, match=r"too short|is open"):
        settled_level(t, np.full(t.size, 94.0))


def test_a_loose_plug_breaks_the_window(bubbling):
    t = np.arange(0.0, 200.0, 0.25)
    temp = 94.0 + bubbling(t.size, 0.25, 0.1)
    temp[(t % 40.0) > 30.0] = nan
    with pytest.raises(NotSettled, match="too full of gaps"):
        settled_level(t, temp)


def test_single_missing_readings_do_no_harm(pot):
    t, temp = pot(boil_degc=94.65, seed=3)
    temp[::7] = nan
    assert settled_level(t, temp).mean.value == pytest.approx(94.65, abs=0.1)


def test_live_and_afterwards_say_the_same_and_the_future_changes_nothing(pot):
    t, temp = pot(seed=5)
    watch = SettleWatch()
    states = [watch.step(*reading) for reading in zip(t.tolist(), temp.tolist(), strict=True)]
    assert watch.level() == settled_level(t, temp)
    half = t.size // 2
    early = SettleWatch()
    disturbed = np.where(np.arange(t.size) < half, temp, 20.0)
    for reading, expected in zip(
        zip(t[:half].tolist(), disturbed[:half].tolist(), strict=True), states, strict=False
    ):
        assert early.step(*reading) is expected


@pytest.mark.parametrize("burst", [1, 2, 8])
def test_every_reading_between_a_levels_edges_counts_once(pot, burst):
    t, temp = pot(boil_degc=94.65, length_s=330.0, period_s=0.25, sd_k=0.3, seed=3)
    # Readings that come in bursts are given the moment of the last, a tenth of a millisecond apart.
    rows = np.arange(t.size)
    t = t[np.minimum(rows // burst * burst + burst - 1, t.size - 1)] + rows % burst * 1e-4
    level = settled_level(t, temp)
    assert int(((t >= level.start_s) & (t <= level.end_s)).sum()) == level.mean.readings


def test_what_comes_about_an_interruption_lies_between_the_edges_and_does_not_count(pot):
    t, temp = pot(boil_degc=94.65, length_s=400.0, period_s=0.25, sd_k=0.1, seed=3)
    there = (t < 270.0) | (t > 290.0)
    t, temp = t[there], temp[there]
    level = settled_level(t, temp)
    assert level.start_s < 270.0
    assert level.end_s > 290.0
    inside = int(((t >= level.start_s) & (t <= level.end_s)).sum())
    # The last sixth of the window before it and the first of the one after it.
    assert inside - level.mean.readings == pytest.approx(2 * 45.0 / 6 / 0.25, abs=6)


def test_states_on_the_way(pot):
    t, temp = pot(seed=2)
    watch = SettleWatch()
    seen = []
    for reading in zip(t.tolist(), temp.tolist(), strict=True):
        state = watch.step(*reading)
        if not seen or seen[-1] is not state:
            seen.append(state)
    assert seen[0] is BathState.FILLING
    assert seen[1] is BathState.CLIMBING
    assert BathState.SETTLED in seen
    assert seen.index(BathState.CLIMBING) < seen.index(BathState.SETTLED)
    status = watch.status()
    assert status.state is BathState.SETTLED
    assert status.level is not None
    for _ in range(24):
        watch.step(t[-1] + 10.0, nan)
    assert watch.state is BathState.OPEN


def test_any_start_of_the_clock_gives_the_same_level(pot):
    t, temp = pot(seed=9)
    first, moved = settled_level(t, temp), settled_level(t + 86400.0, temp)
    assert moved.mean.value == pytest.approx(first.mean.value, abs=1e-9)
    assert moved.start_s == pytest.approx(first.start_s + 86400.0, abs=0.6)


def test_a_rule_that_cannot_be_is_refused():
    for options in ({"window_s": 0.0}, {"rate_k_per_min": -1.0}, {"readings_min": 3}):
        with pytest.raises(BadInput):
            SettleRule(**options)
    assert DEFAULT_RULE.window_s > 0.0


@settings(max_examples=30)
@given(st.lists(st.tuples(st.floats(0.0, 3.0), st.floats(-300.0, 1500.0) | st.just(nan)), max_size=80))
def test_any_readings_give_a_level_or_one_sentence(steps):
    t = np.cumsum([step for step, _ in steps]) if steps else np.zeros(0)
    temp = np.array([value for _, value in steps], dtype=np.float64)
    try:
        level = settled_level(t, temp)
    except NotSettled as error:
        assert "\n" not in str(error)  # noqa: PT017  either outcome is right, nothing else is
    else:
        assert level.lowest_degc - 1e-9 <= level.mean.value <= level.highest_degc + 1e-9


def test_an_hour_is_taken_in_quickly(pot):
    t, temp = pot(length_s=600.0, period_s=0.1, seed=4)
    began = time.process_time()
    settled_level(t, temp)
    assert time.process_time() - began < 5.0
