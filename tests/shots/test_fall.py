import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchtemp.shots.fall import weigh_fall
from benchtemp.shots.trail import EMPTY_TRAIL, follow

OFF_S = 15.0
ON_S = OFF_S - 25.0


def trail_of(shape, until_s, *, rate_hz=10.0, noise_k=0.03, seed=3):
    """Follow a plateau of 93 °C less what `shape` takes from it, a function of the time since 15 s."""
    t_s = np.arange(0.0, until_s, 1.0 / rate_hz)
    temp = (
        93.0
        - shape(np.maximum(t_s - OFF_S, 0.0))
        + noise_k * np.random.default_rng(seed).normal(size=len(t_s))
    )
    trail = EMPTY_TRAIL
    for t, y in zip(t_s.tolist(), temp.tolist(), strict=True):
        trail, _ = follow(trail, t, y)
    return trail


@pytest.mark.parametrize("fall_k_per_s", [0.4, 0.8, 2.0])
@pytest.mark.parametrize("rate_hz", [1.0, 2.0, 10.0])
def test_a_straight_fall_is_an_end_since_it_began(rate_hz, fall_k_per_s):
    found = weigh_fall(trail_of(lambda v: fall_k_per_s * v, OFF_S + 3.6, rate_hz=rate_hz), ON_S, 0.0)
    assert found.began_s == pytest.approx(OFF_S, abs=0.5)
    assert found.rate == pytest.approx(fall_k_per_s, rel=0.2)
    assert found.depth_k == pytest.approx(fall_k_per_s * found.age_s, rel=0.3)
    assert found.end_chance > 0.7


def test_a_fall_that_slows_down_is_a_dip():
    def dip(v):
        return 0.75 * (1.0 - np.cos(np.minimum(v / 2.0, 2.0) * np.pi))

    at_first = weigh_fall(trail_of(dip, OFF_S + 1.2), ON_S, 0.0)
    turned = weigh_fall(trail_of(dip, OFF_S + 2.8), ON_S, 0.0)
    assert turned is None or turned.end_chance < 0.05
    assert at_first.end_chance > turned.end_chance


def test_certainty_grows_with_depth():
    chances = [
        weigh_fall(trail_of(lambda v: 1.5 * v, OFF_S + s), ON_S, 0.0).end_chance for s in (1.0, 1.8, 2.6, 3.4)
    ]
    assert chances == sorted(chances)
    assert chances[0] < 0.8
    assert chances[-1] > 0.95


def test_the_longer_a_pull_has_run_the_likelier_a_fall_ends_it():
    trail = trail_of(lambda v: 0.6 * v, OFF_S + 2.2)
    early, usual, late, later, latest = (
        weigh_fall(trail, OFF_S - ran_s, 0.0).end_chance for ran_s in (13.0, 25.0, 36.0, 50.0, 90.0)
    )
    assert early < 0.3 < usual < late < 0.99
    assert later == latest, "beyond any pull, how long it has run says nothing more"


@pytest.mark.parametrize("rate_hz", [1.0, 2.0, 10.0])
def test_the_next_cell_is_too_late_once_the_end_would_be_three_seconds_old(rate_hz):
    cell_s = max(0.4, 1.0 / rate_hz)

    def late_share(after_s):
        found = weigh_fall(trail_of(lambda v: 3.0 * v, OFF_S + after_s, rate_hz=rate_hz), ON_S, 0.0)
        return found.late_chance / found.end_chance

    assert late_share(3.2) > 0.95
    assert late_share(max(2.4 - cell_s, 1.1)) < 0.05


@pytest.mark.parametrize("seed", range(12))
def test_noise_alone_is_no_end(seed):
    found = weigh_fall(trail_of(np.zeros_like, 25.0, noise_k=0.2, seed=seed), ON_S, 0.0)
    assert found is None or found.end_chance < 0.42


def test_the_slope_of_the_plateau_is_no_fall():
    found = weigh_fall(trail_of(lambda v: 0.1 * v, OFF_S + 14.0), ON_S, OFF_S)
    assert found is None or found.end_chance < 0.1


def test_too_little_to_go_by():
    assert weigh_fall(EMPTY_TRAIL, ON_S, 0.0) is None
    assert weigh_fall(trail_of(lambda v: v, 18.0), ON_S, 17.0) is None


@settings(max_examples=60, deadline=None)
@given(st.lists(st.floats(20.0, 110.0), min_size=12, max_size=70), st.sampled_from([0.1, 0.37, 1.0]))
def test_whatever_comes_it_is_a_chance_and_always_the_same(temps_degc, apart_s):
    trail = EMPTY_TRAIL
    for number, y in enumerate(temps_degc):
        trail, _ = follow(trail, number * apart_s, y)
    found = weigh_fall(trail, ON_S, 0.0)
    assert found == weigh_fall(trail, ON_S, 0.0)
    if found is not None:
        assert 0.0 <= found.late_chance <= found.end_chance <= 1.0
        assert found.rate > 0.0
