import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtemp.logbook.importing.timeline import timeline
from benchtemp.readings.reading import MarkKind


def stamps(*values):
    return np.array(values, dtype=np.float64)


def test_times_that_run_forward_stay_as_they_are():
    line = timeline(stamps(100.0, 100.25, 101.5, 300.0))
    np.testing.assert_array_equal(line.t_s, [0.0, 0.25, 1.5, 200.0])
    assert line.first_s == 100.0
    assert line.warnings == ()
    assert line.marks == ()


def test_the_files_own_zero_may_stay():
    np.testing.assert_array_equal(timeline(stamps(5.0, 6.0), from_zero=False).t_s, [5.0, 6.0])


def test_newest_first_is_turned_round():
    line = timeline(stamps(13.0, 12.0, 11.0, 10.0))
    np.testing.assert_array_equal(line.t_s, [0, 1, 2, 3])
    np.testing.assert_array_equal(line.kept, [3, 2, 1, 0])
    assert "turned round" in line.warnings[0]


@pytest.mark.parametrize("place", [3, 4])
@pytest.mark.parametrize("stray", [0.5, 99.0])
def test_a_row_out_of_order_is_left_out_and_counted(place, stray):
    times = [float(number) for number in range(8)]
    times[place] = stray
    line = timeline(stamps(*times))
    assert place not in line.kept
    assert len(line.kept) == 7
    assert "1 row whose time is out of order" in line.warnings[0]


def test_a_meter_started_again_goes_on_with_a_mark():
    line = timeline(stamps(*range(20), *range(20)), from_zero=False)
    np.testing.assert_array_equal(line.t_s, np.arange(40))
    (mark,) = line.marks
    assert mark.kind is MarkKind.GAP
    assert mark.t_s == 20.0
    assert line.mark_rows == (20,)
    assert "1 place" in line.warnings[0]


def test_a_clock_set_back_by_an_hour_loses_no_row():
    line = timeline(stamps(*range(7200, 7300), *range(3700, 3800)))
    np.testing.assert_array_equal(line.t_s, np.arange(200))
    assert "goes back by 3599 s" in line.marks[0].text


def test_times_of_the_day_run_through_midnight():
    line = timeline(stamps(86398, 86399, 0, 1, 86399, 0), of_day=True)
    np.testing.assert_array_equal(line.t_s, [0, 1, 2, 3, 86401, 86402])
    assert line.marks == ()


def test_several_rows_a_second_are_spread():
    line = timeline(stamps(*np.repeat(np.arange(10), 4)))
    np.testing.assert_allclose(line.t_s, np.arange(40) * 0.25, atol=1e-9)
    assert "about 4 rows in each" in line.warnings[0]


def test_a_first_second_that_began_late_is_filled_from_its_end():
    line = timeline(stamps(0, 1, 1, 1, 1, 2, 2, 2, 2, 3, 3, 3, 3))
    np.testing.assert_allclose(np.diff(line.t_s), 0.25, atol=1e-9)
    assert line.t_s[0] == pytest.approx(0.75)


def test_minutes_without_seconds_are_spread_too():
    line = timeline(stamps(*np.repeat(np.arange(5) * 60.0, 60)))
    np.testing.assert_allclose(line.t_s, np.arange(300), atol=1e-9)


def test_a_pause_is_kept_when_rows_are_spread():
    line = timeline(stamps(0, 0, 1, 1, 2, 2, 60, 60, 61, 61, 62, 62))
    np.testing.assert_allclose(line.t_s, [0, 0.5, 1, 1.5, 2, 2.5, 60, 60.5, 61, 61.5, 62, 62.5], atol=1e-9)


def test_uneven_rows_are_spread_within_their_second():
    line = timeline(stamps(0, 0, 0, 0, 0, 1, 2, 2, 2, 2, 2, 2, 2, 2, 3, 4, 4, 4))
    assert np.all(np.floor(line.t_s) == [0] * 5 + [1] + [2] * 8 + [3] + [4] * 3)
    assert "within each step" in line.warnings[0]


@given(
    st.lists(st.floats(-1e11, 1e11) | st.integers(0, 50).map(float), min_size=1, max_size=60), st.booleans()
)
def test_time_always_runs_forward(values, of_day):
    line = timeline(stamps(*values), of_day=of_day)
    assert 1 <= len(line.t_s) == len(line.kept) <= len(values)
    assert np.all(np.diff(line.t_s) > 0)
    assert len(set(line.kept.tolist())) == len(line.kept)
    np.testing.assert_array_equal(np.round(line.t_s, 4), line.t_s)
    assert [line.t_s[row] for row in line.mark_rows] == [mark.t_s for mark in line.marks]


@given(st.floats(0.02, 0.6), st.floats(0, 0.999), st.integers(5, 400), st.sampled_from([1.0, 0.1]))
def test_an_even_rhythm_is_found_again(interval_s, begins_s, rows, step_s):
    true_s = begins_s + interval_s * np.arange(rows)
    told_s = np.floor(true_s / step_s + 1e-9) * step_s
    line = timeline(told_s + 1000.0)
    if np.any(np.diff(told_s) == 0) and len(set(told_s)) > 2:
        assert np.max(np.abs(line.t_s + told_s[0] - true_s)) < step_s
