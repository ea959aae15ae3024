import numpy as np
from numpy.testing import assert_array_equal

from benchtemp.bench.trace import TraceBuffer


def filled(rows, rows_max=100_000):
    buffer = TraceBuffer(2, rows_max=rows_max)
    for row in range(rows):
        buffer.append(float(row), (row + 0.25, np.nan), (row + 0.5, np.nan), np.nan)
    return buffer


def test_views_stay_true_while_rows_are_added():
    buffer = filled(1000)
    early = buffer.view()
    copies = early.t_s.copy(), early.temps_degc.copy()
    for row in range(1000, 5000):
        buffer.append(float(row), (0.0, 0.0), (0.0, 0.0), 0.0)
    assert_array_equal(early.t_s, copies[0])
    assert_array_equal(early.temps_degc, copies[1])
    assert len(buffer.view().t_s) == 5000


def test_memory_is_bounded_and_rows_keep_their_numbers():
    buffer = filled(5000, rows_max=1024)
    view = buffer.view()
    assert len(view.t_s) <= 1024
    assert view.first_row + len(view.t_s) == 5000
    assert_array_equal(view.t_s, np.arange(view.first_row, 5000))
    assert buffer.row_at(4990.5) == 4991
    t_s, reported, corrected, _ = buffer.cut(4990)
    assert_array_equal(t_s, np.arange(4990.0, 5000.0))
    assert_array_equal(reported[:, 0], t_s + 0.25)
    assert_array_equal(corrected[:, 0], t_s + 0.5)


def test_an_instant_of_the_scale_alone_has_no_temperature():
    buffer = TraceBuffer(2)
    buffer.append(0.0, (), (), 12.5)
    view = buffer.view()
    assert np.isnan(view.temps_degc).all()
    assert view.weight_g[0] == 12.5
