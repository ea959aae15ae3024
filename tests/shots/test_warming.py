"""Traces that climb onto something like a plateau and were no pull: what warms on, and a hand on the wire."""

import numpy as np
import pytest

from benchtemp.shots.plateau import find_pulls
from benchtemp.shots.result import PullKind

ON_S = 10.0


def warming(climb_s, drift_k_per_s):
    """A straight climb of 50 K, 20 s that go on more slowly, and a clear fall."""
    t_s = np.arange(0.0, ON_S + climb_s + 45.0, 0.5)
    u = t_s - ON_S
    temp = 40.0 + 50.0 * np.clip(u / climb_s, 0.0, 1.0)
    temp += drift_k_per_s * np.clip(u - climb_s, 0.0, 20.0) - 1.0 * np.maximum(u - climb_s - 20.0, 0.0)
    return t_s, temp + 0.02 * np.random.default_rng(0).standard_normal(len(t_s))


@pytest.mark.parametrize(("climb_s", "drift_k_per_s"), [(20.0, 0.22), (32.0, 0.15), (20.0, 0.0)])
def test_a_quick_climb_or_a_plateau_that_settles_is_a_pull(climb_s, drift_k_per_s):
    assert len(find_pulls(*warming(climb_s, drift_k_per_s)).pulls) == 1


def test_what_warms_slowly_and_then_goes_on_warming_is_no_pull():
    found = find_pulls(*warming(32.0, 0.22))
    assert not found.pulls
    assert found.reasons == ("the climb at 10 s is slow and hardly ever settles: a warm-up, no pull",)


@pytest.mark.parametrize("seed", range(4))
def test_ten_readings_that_scatter_widely_tell_a_hand_on_the_wire(seed):
    t_s = np.arange(0.0, 60.0, 1.0)
    rng = np.random.default_rng(seed)
    calm = np.where(t_s < ON_S, 60.0, 92.0) - 1.5 * np.clip(t_s - 22.0, 0.0, 20.0)
    calm += 0.05 * rng.standard_normal(len(t_s))
    hot = (t_s >= ON_S) & (t_s < 22.0)
    touched = calm + np.where(hot, 1.5 * rng.standard_normal(len(t_s)), 0.0)
    assert [pull.kind for pull in find_pulls(t_s, calm).pulls] == [PullKind.SHOT]
    assert PullKind.SHOT not in [pull.kind for pull in find_pulls(t_s, touched).pulls]
