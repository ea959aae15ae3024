"""Whatever comes in, nothing raises and nothing is invented."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from benchtemp.readings.reading import Mark, MarkKind
from benchtemp.shots.plateau import find_pulls
from benchtemp.shots.result import Origin

anything = st.floats(allow_nan=True, allow_infinity=True, width=64)
ordinary = st.one_of(st.floats(15.0, 110.0), st.just(float("nan")))
times = st.one_of(anything, st.floats(0.0, 300.0))
marks = st.lists(
    st.builds(
        Mark,
        st.one_of(st.floats(-10.0, 400.0), anything),
        st.sampled_from([MarkKind.PUMP_ON, MarkKind.PUMP_OFF, MarkKind.UNDO, MarkKind.NOTE]),
    ),
    max_size=6,
)


def walk(seed, count, rate_hz, steps):
    """A trace of ramps, holds and falls at random: much that looks a little like a pull."""
    rng = np.random.default_rng(seed)
    t_s = np.cumsum(rng.uniform(0.5, 1.5, count) / rate_hz)
    corners = np.sort(rng.uniform(0.0, t_s[-1], steps))
    levels = rng.choice([25.0, 40.0, 70.0, 85.0, 90.0, 93.0, 95.0, 99.0, 130.0], steps + 2)
    temp = np.interp(t_s, np.concatenate(([0.0], corners, [t_s[-1]])), levels)
    temp += rng.choice([0.0, 0.05, 0.3, 3.0]) * rng.standard_normal(count)
    temp[rng.random(count) < rng.choice([0.0, 0.02, 0.3])] = np.nan
    temp[rng.random(count) < rng.choice([0.0, 0.01])] += 400.0
    return t_s, np.round(temp / 0.0625) * 0.0625


def assert_nothing_is_invented(t_s, temp, given_marks, found):
    readable = np.isfinite(t_s) & np.isfinite(temp)
    marked = [mark.t_s for mark in given_marks]
    for pull in found.pulls:
        if pull.pump_on_source is Origin.MARKED:
            assert pull.pump_on_s in marked
        if pull.pump_off_source is Origin.MARKED and pull.pump_off_s is not None:
            assert pull.pump_off_s in marked
        if pull.brew_temp_degc is None:
            assert pull.readings == 0
            assert pull.reasons
            continue
        inside = readable & (t_s >= pull.plateau_start_s) & (t_s <= pull.plateau_end_s)
        assert 1 <= pull.readings <= inside.sum()
        assert pull.lowest_degc in temp[inside]
        assert pull.highest_degc in temp[inside]
        assert pull.lowest_degc - 1e-9 <= pull.brew_temp_degc <= pull.highest_degc + 1e-9
        assert pull.brew_temp_uncertainty_k > 0.0
        assert 0.0 <= pull.in_band_share <= 1.0 + 1e-9
        assert pull.longest_gap_s <= pull.plateau_s + 1e-9
        assert pull.spikes_excluded + pull.readings_missing + pull.readings <= len(t_s)
    assert found.pulls or found.reasons


@settings(max_examples=300, deadline=None)
@given(
    st.integers(0, 60).flatmap(
        lambda n: st.tuples(
            arrays(float, n, elements=times), arrays(float, n, elements=st.one_of(anything, ordinary))
        )
    ),
    marks,
)
def test_any_numbers_at_all(columns, given_marks):
    t_s, temp = columns
    assert_nothing_is_invented(t_s, temp, given_marks, find_pulls(t_s, temp, given_marks))


@settings(max_examples=250, deadline=None)
@given(
    st.integers(0, 2**32 - 1),
    st.integers(3, 700),
    st.sampled_from([0.5, 1.0, 4.0, 10.0, 20.0]),
    st.integers(0, 12),
    marks,
)
def test_traces_that_look_a_little_like_pulls(seed, count, rate_hz, steps, given_marks):
    t_s, temp = walk(seed, count, rate_hz, steps)
    assert_nothing_is_invented(t_s, temp, given_marks, find_pulls(t_s, temp, given_marks))


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 2**32 - 1), st.floats(-1e5, 1e5))
def test_the_clock_s_zero_does_not_matter(seed, shift_s):
    t_s, temp = walk(seed, 300, 4.0, 6)
    here, there = find_pulls(t_s, temp).pulls, find_pulls(t_s + shift_s, temp).pulls
    assert [pull.kind for pull in here] == [pull.kind for pull in there]
    for one, other in zip(here, there, strict=True):
        if one.brew_temp_degc is not None:
            assert abs(one.brew_temp_degc - other.brew_temp_degc) < 1e-3


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_the_same_trace_is_read_the_same_twice(seed):
    t_s, temp = walk(seed, 300, 4.0, 6)
    assert find_pulls(t_s, temp) == find_pulls(t_s, temp)
