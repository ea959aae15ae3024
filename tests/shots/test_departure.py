"""What pretends to be a plateau's end, each in one small trace: a portafilter taken out, a hump, a dip."""

import numpy as np
import pytest

from benchtemp.shots.bends import search_bend
from benchtemp.shots.departure import find_departure
from benchtemp.shots.plateau import find_pulls
from benchtemp.shots.result import PullKind

ON_S = 10.0


def trace(
    *, pull_s=30.0, tail_s=25.0, rate_hz=10.0, noise_k=0.05, tau_s=2.0, fall_k_per_s=0.8, extra=None, seed=0
):
    """A pull from 40 to 93 °C, pump on at 10 s; `extra` adds K to it as a function of the time."""
    t_s = np.arange(0.0, ON_S + pull_s + tail_s, 1.0 / rate_hz)
    since_on_s, since_off_s = np.maximum(t_s - ON_S, 0.0), np.maximum(t_s - ON_S - pull_s, 0.0)
    temp = 93.0 - 53.0 * np.exp(-since_on_s / tau_s)
    temp -= fall_k_per_s * 30.0 * (1.0 - np.exp(-since_off_s / 30.0))
    if extra is not None:
        temp += extra(t_s)
    return t_s, temp + noise_k * np.random.default_rng(seed).standard_normal(len(t_s))


def only(t_s, temp):
    found = find_pulls(t_s, temp)
    assert len(found.pulls) == 1, found
    return found.pulls[0]


def find_end(t_s, temp):
    return only(t_s, temp).plateau_end_s


def taken_out(at_s, k_per_s):
    return lambda t_s: -k_per_s * np.clip(t_s - at_s, 0.0, 8.0)


@pytest.mark.parametrize("waited_s", [5.0, 10.0, 15.0])
def test_the_end_lies_before_a_plunge_however_slowly_the_trace_fell_until_then(waited_s):
    # 0.1 K/s might be a sag; the plunge says that the pump was off already.
    result = only(*trace(fall_k_per_s=0.1, extra=taken_out(40.0 + waited_s, 5.0)))
    assert result.plateau_end_s == pytest.approx(40.0, abs=0.6)
    assert result.brew_temp_degc == pytest.approx(92.95, abs=0.03)


@pytest.mark.parametrize("fall_k_per_s", [0.2, 0.3])
def test_the_end_lies_before_a_sharper_bend_once_the_trace_falls_faster_than_a_sag(fall_k_per_s):
    result = only(*trace(fall_k_per_s=fall_k_per_s, extra=taken_out(50.0, 1.5)))
    assert result.plateau_end_s == pytest.approx(40.0, abs=0.6)


def test_a_sag_before_a_sharper_bend_is_no_end():
    result = only(*trace(fall_k_per_s=1.5, extra=lambda t_s: -0.1 * np.clip(t_s - 28.0, 0.0, 12.0)))
    assert result.plateau_end_s == pytest.approx(40.0, abs=0.6)


def dip_that_lasts(t_s):
    """Down by 1.64 K at 25 s, back a few seconds later."""
    back = np.exp(-2.0 * np.maximum(t_s - 27.5, 0.0) / 2.3)
    return -1.64 * np.clip((t_s - 25.1) / 0.5, 0.0, 1.0) * back


@pytest.mark.parametrize("fall_k_per_s", [3.3, 3.6])
def test_a_dip_before_a_plunge_is_no_end(fall_k_per_s):
    result = only(*trace(rate_hz=4.0, fall_k_per_s=fall_k_per_s, extra=dip_that_lasts))
    assert result.plateau_end_s == pytest.approx(40.0, abs=0.5)


@pytest.mark.parametrize("width_s", [1.5, 2.2])
def test_a_doubtful_way_out_of_a_late_dip_makes_no_flush_of_a_shot(width_s):
    def dip(t_s):
        return -1.5 * np.exp(-(((t_s - 32.0) / width_s) ** 2))

    result = only(*trace(rate_hz=1.0, extra=dip))
    assert result.kind is PullKind.SHOT
    assert result.plateau_start_s == pytest.approx(19.3, abs=1.5)


def test_a_trace_is_not_left_where_it_rises_above_again():
    t_s = np.arange(0.0, 30.0, 0.25)
    dip = -1.6 * np.exp(-(((t_s - 20.0) / 2.0) ** 2))
    temp = 93.0 + 0.03 * t_s + dip + 0.05 * np.random.default_rng(0).standard_normal(len(t_s))
    chances = search_bend(t_s, temp, 0.05, -3.0)
    before_the_way_back = (chances.moments_s > 15.0) & (chances.moments_s < 22.0)
    assert chances.chance[before_the_way_back].sum() < 1e-6
    assert find_departure(t_s, temp, 0.05, climbed_s=0.0, rise_s=-3.0).end is None


@pytest.mark.parametrize("fall_k_per_s", [0.5, 0.6, 0.8])
def test_a_trace_that_keeps_falling_from_its_top_is_a_flush(fall_k_per_s):
    # The bend ten seconds later is the portafilter taken out.
    result = only(
        *trace(
            pull_s=3.8,
            tau_s=0.95,
            tail_s=35.0,
            fall_k_per_s=fall_k_per_s,
            extra=lambda t_s: -3.0 * np.maximum(t_s - 23.8, 0.0),
        )
    )
    assert result.kind is PullKind.FLUSH
    assert result.plateau_end_s < 18.0


@pytest.mark.parametrize(("width_s", "middle_s"), [(7.0, 18.0), (8.0, 17.5), (8.0, 18.0)])
def test_a_round_top_that_falls_to_a_clear_end_is_a_hump(width_s, middle_s):
    def hump(t_s):
        # The pump goes off at 29 s, while the hump still falls.
        height_k = 3.0 * np.exp(-(((np.minimum(t_s, 29.0) - middle_s) / width_s) ** 2))
        return np.where(t_s > ON_S, height_k - 2.0, 0.0)

    result = only(*trace(pull_s=19.0, fall_k_per_s=1.2, extra=hump))
    assert result.kind is PullKind.SHOT
    assert result.plateau_end_s == pytest.approx(29.0, abs=0.6)


@pytest.mark.parametrize(("height_k", "rate_hz"), [(3.3, 4.0), (4.5, 2.0), (4.5, 4.0)])
def test_after_a_hump_and_a_long_calm_a_faint_end_will_do(height_k, rate_hz):
    def hump(t_s):
        return np.where(t_s > ON_S, height_k * np.exp(-(((t_s - 15.8) / 3.0) ** 2)) - 2.0, 0.0)

    result = only(*trace(rate_hz=rate_hz, noise_k=0.1, fall_k_per_s=0.06, extra=hump))
    assert result.kind is PullKind.SHOT
    assert result.plateau_end_s == pytest.approx(40.0, abs=3.0)


def sag(from_s, k_per_s, until_s=1e9):
    return lambda t_s: -k_per_s * np.clip(t_s - from_s, 0.0, until_s - from_s)


def test_an_early_end_before_a_slow_fall_is_a_sag_s_onset():
    # Over eight seconds it falls more slowly than what was left; over two that is not sure.
    ends = [
        find_end(
            *trace(
                pull_s=23.1,
                noise_k=0.03,
                tau_s=0.84,
                fall_k_per_s=0.5,
                extra=sag(18.0, 0.132, 28.4),
                seed=seed,
            )
        )
        for seed in range(8)
    ]
    assert ends == pytest.approx([33.1] * 8, abs=0.6)


@pytest.mark.parametrize(("pull_s", "fall_k_per_s"), [(20.0, 0.1), (18.0, 0.12)])
def test_a_slow_fall_that_begins_later_is_an_end(pull_s, fall_k_per_s):
    ends = [
        find_end(*trace(pull_s=pull_s, rate_hz=4.0, tau_s=1.2, fall_k_per_s=fall_k_per_s, seed=seed))
        for seed in range(4)
    ]
    assert ends == pytest.approx([10.0 + pull_s] * 4, abs=1.2)


@pytest.mark.parametrize("rate_hz", [2.0, 10.0])
def test_a_flush_that_falls_three_times_as_fast_as_a_sag_stays_one(rate_hz):
    for seed in range(6):
        result = only(
            *trace(pull_s=6.0, rate_hz=rate_hz, tau_s=1.0, fall_k_per_s=0.3, tail_s=40.0, seed=seed)
        )
        assert result.kind is PullKind.FLUSH


def test_an_early_end_before_a_fast_fall_stays_where_it_is():
    ends = [
        find_end(
            *trace(
                pull_s=8.0, tau_s=0.8, fall_k_per_s=0.3, tail_s=30.0, extra=taken_out(30.0, 3.0), seed=seed
            )
        )
        for seed in range(4)
    ]
    assert ends == pytest.approx([18.0] * 4, abs=1.0)


@pytest.mark.parametrize(
    ("middle_s", "width_s", "height_k", "then_k_per_s", "rate_hz"),
    [(18.6, 3.6, 2.2, 0.095, 1.0), (17.8, 3.7, 2.9, 0.004, 4.0), (17.0, 4.0, 3.0, 0.03, 4.0)],
)
def test_a_hump_s_top_before_a_sharp_end_is_none(middle_s, width_s, height_k, then_k_per_s, rate_hz):
    def hump(t_s):
        top = height_k * (np.exp(-(((t_s - middle_s) / width_s) ** 2)) - 0.5)
        return np.where(t_s > ON_S, top, 0.0) - then_k_per_s * np.maximum(t_s - 20.0, 0.0)

    ends = [
        find_end(*trace(rate_hz=rate_hz, tau_s=1.4, fall_k_per_s=1.0, extra=hump, seed=seed))
        for seed in range(4)
    ]
    assert ends == pytest.approx([40.0] * 4, abs=1.0)


def test_an_end_long_after_a_hump_counts_before_a_sharper_bend():
    def hump(t_s):
        top = 3.2 * (np.exp(-(((t_s - 15.5) / 4.6) ** 2)) - 0.5)
        return np.where(t_s > ON_S, top, 0.0) - 2.5 * np.clip(t_s - 47.0, 0.0, 10.0)

    ends = [
        find_end(*trace(rate_hz=1.0, noise_k=0.03, tau_s=1.0, fall_k_per_s=0.2, extra=hump, seed=seed))
        for seed in range(4)
    ]
    assert ends == pytest.approx([40.0] * 4, abs=1.5)
