import numpy as np
import pytest

from benchtemp.shots.trail import CELL_S, EMPTY_TRAIL, KEPT_CELLS, follow, line


def fed(t_s, temp_degc):
    trail = EMPTY_TRAIL
    for t, y in zip(t_s, temp_degc, strict=True):
        trail, _ = follow(trail, float(t), float(y))
    return trail


@pytest.mark.parametrize("rate_hz", [1.0, 2.0, 4.0, 10.0, 20.0])
def test_cells_are_closed_by_the_reading_that_fills_them(rate_hz):
    trail = EMPTY_TRAIL
    closed_at = []
    for i in range(40):
        trail, closed = follow(trail, i / rate_hz, 93.0)
        if closed:
            closed_at.append(i / rate_hz)
    apart = np.diff(closed_at)
    assert apart.max() == pytest.approx(max(CELL_S, 1.0 / rate_hz), abs=0.101)


def test_a_cell_leaves_out_its_lowest_and_highest():
    trail = fed([0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6], [93.0, 93.0, 93.0, 94.5, 92.0, 93.0, 93.0])
    assert trail.temp_degc[-1] == pytest.approx(93.0)


def test_what_is_kept_is_bounded():
    t_s = np.arange(0.0, 600.0, 0.5)
    assert len(fed(t_s, np.full(len(t_s), 93.0)).t_s) == KEPT_CELLS


def test_a_jump_waits_for_the_next_reading():
    before = fed(np.arange(0.0, 5.0, 0.1), np.full(50, 93.0))
    after, closed = follow(before, 5.0, 300.0)
    assert after.t_s == before.t_s
    assert not closed
    suspicious, _ = follow(before, 5.0, 60.0)
    assert suspicious.suspect == (5.0, 60.0)
    calm, _ = follow(suspicious, 5.1, 93.0)
    assert calm.suspect is None
    assert calm.last == (5.1, 93.0)


def test_a_jump_the_next_reading_confirms_is_taken():
    trail = fed([*np.arange(0.0, 5.0, 0.1), 5.0, 5.1, 5.2], [*np.full(50, 93.0), 60.0, 59.5, 59.0])
    assert trail.last == (5.2, 59.0)


def test_time_that_does_not_move_forward_is_ignored():
    trail = fed([0.0, 1.0, 2.0], [93.0, 93.0, 93.0])
    assert follow(trail, 2.0, 93.5) == (trail, False)
    assert follow(trail, 1.5, 93.5) == (trail, False)


def test_a_line_through_cells():
    t_s = np.arange(0.0, 12.0, 0.5)
    fitted = line(fed(t_s, 90.0 + 0.2 * t_s), 5.0, 11.0)
    assert fitted.slope == pytest.approx(0.2)
    assert fitted.middle_degc == pytest.approx(90.0 + 0.2 * fitted.middle_s)
    assert line(EMPTY_TRAIL, 0.0, 1.0) is None
