import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_equal

from benchtemp.errors import BadInput
from benchtemp.probes import type_k

temps = st.floats(type_k.LOWEST_DEGC, type_k.HIGHEST_DEGC)
emfs = st.floats(type_k.LOWEST_MV, type_k.HIGHEST_MV)


@given(temps)
def test_there_and_back_within_a_microkelvin(temp_degc):
    assert type_k.temp_degc(type_k.emf_mv(temp_degc)) == pytest.approx(temp_degc, abs=1e-6)


@given(emfs)
def test_back_and_there_within_a_picovolt(emf_mv):
    # The two halves of the published function miss each other by 2e-9 mV at 0 °C (0.05 µK).
    assert type_k.emf_mv(type_k.temp_degc(emf_mv)) == pytest.approx(emf_mv, abs=3e-9)


@given(emfs)
def test_array_and_number_say_the_same(emf_mv):
    one = type_k.temp_degc(np.array([emf_mv]))
    assert one.shape == (1,)
    assert one[0] == pytest.approx(type_k.temp_degc(emf_mv), abs=1e-7)


@given(temps, st.floats(1e-3, 100.0))
def test_warmer_gives_more(temp_degc, more_k):
    warmer = min(temp_degc + more_k, type_k.HIGHEST_DEGC)
    if warmer > temp_degc + 1e-6:
        assert type_k.emf_mv(warmer) > type_k.emf_mv(temp_degc)


def test_dense_round_trip_over_the_whole_range():
    grid = np.linspace(type_k.LOWEST_DEGC, type_k.HIGHEST_DEGC, 100_003)
    assert_allclose(type_k.temp_degc(type_k.emf_mv(grid)), grid, rtol=0, atol=1e-6)


def test_zero_is_zero():
    assert type_k.emf_mv(0.0) == 0.0
    assert type_k.temp_degc(0.0) == 0.0
    assert_array_equal(type_k.temp_degc(np.zeros(3)), np.zeros(3))


def test_out_of_range_is_nan_and_flagged_in_arrays():
    emf = np.array([-7.0, 0.0, np.nan, 54.0, 60.0, np.inf])
    found = type_k.temp_degc(emf)
    assert_array_equal(np.isnan(found), [True, False, True, False, True, True])
    assert_array_equal(type_k.emf_outside(emf), [True, False, False, False, True, True])
    temp = np.array([-300.0, 20.0, np.nan, 1400.0])
    assert_array_equal(np.isnan(type_k.emf_mv(temp)), [True, False, True, True])
    assert_array_equal(type_k.temp_outside(temp), [True, False, False, True])


@pytest.mark.parametrize("emf_mv", [-6.459, 54.9, float("nan"), float("inf")])
def test_out_of_range_is_one_sentence_for_a_number(emf_mv):
    with pytest.raises(BadInput, match=r"outside what type K can give.*probe open"):
        type_k.temp_degc(emf_mv)


@pytest.mark.parametrize("temp_degc", [-270.1, 1372.1, float("nan")])
def test_a_temperature_out_of_range_is_refused(temp_degc):
    with pytest.raises(type_k.OutOfRange, match="check unit and value"):
        type_k.emf_mv(temp_degc)
    with pytest.raises(type_k.OutOfRange):
        type_k.seebeck_mv_per_k(temp_degc)


def test_ends_of_the_range_are_inside():
    for emf_mv, temp_degc in ((type_k.LOWEST_MV, -270.0), (type_k.HIGHEST_MV, 1372.0)):
        assert type_k.temp_degc(emf_mv) == pytest.approx(temp_degc, abs=1e-6)
        assert type_k.temp_degc(np.array([emf_mv]))[0] == pytest.approx(temp_degc, abs=1e-6)


@pytest.mark.parametrize("shape", [(0,), (2, 0), (), (3, 5), (type_k._CHUNK + 1,)])
def test_any_shape_is_kept(shape):
    given_emf = np.full(shape, 3.8063)
    found = type_k.temp_degc(given_emf)
    assert found.shape == shape
    assert_allclose(found, np.full(shape, type_k.temp_degc(3.8063)), rtol=0, atol=1e-9)
    assert_array_equal(given_emf, np.full(shape, 3.8063))


def test_slices_and_whole_numbers_are_taken():
    wide = np.arange(20.0)[::2]
    assert_allclose(type_k.emf_mv(wide), [type_k.emf_mv(float(t)) for t in wide], rtol=0, atol=1e-12)
    assert_allclose(type_k.emf_mv(np.array([100, 20])), [4.096230219, 0.798119699], rtol=0, atol=1e-9)


@given(st.floats(-20.0, 60.0), st.floats(-50.0, 200.0))
def test_reference_junction_is_compensated_in_emf(junction_degc, hot_degc):
    measured = type_k.emf_mv(hot_degc) - type_k.emf_mv(junction_degc)
    assert type_k.measured_degc(measured, junction_degc) == pytest.approx(hot_degc, abs=1e-6)


def test_adding_temperatures_would_be_wrong_at_brewing_temperature():
    measured = type_k.emf_mv(93.0) - type_k.emf_mv(25.0)
    assert type_k.temp_degc(measured) + 25.0 - 93.0 == pytest.approx(0.912, abs=0.001)


@given(st.floats(-269.0, 1371.0).filter(lambda t: abs(t) > 0.1))
def test_seebeck_is_the_slope(temp_degc):
    step = 1e-3
    rise = type_k.emf_mv(temp_degc + step) - type_k.emf_mv(temp_degc - step)
    assert type_k.seebeck_mv_per_k(temp_degc) == pytest.approx(rise / (2.0 * step), abs=2e-7)
