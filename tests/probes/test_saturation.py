import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtemp.probes.saturation import saturation_pressure_kpa, saturation_temp_degc


@given(st.floats(0.7, 22000.0))
def test_boiling_line_there_and_back(kpa):
    assert saturation_pressure_kpa(saturation_temp_degc(kpa)) == pytest.approx(kpa, rel=1e-7)


@given(st.floats(50.0, 110.0), st.floats(0.01, 10.0))
def test_more_pressure_boils_hotter(kpa, more_kpa):
    assert saturation_temp_degc(kpa + more_kpa) > saturation_temp_degc(kpa)
