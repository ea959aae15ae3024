import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtemp.probes import atmosphere


@given(st.floats(-1999.0, 10999.0), st.booleans())
def test_altitude_there_and_back(altitude_m, geopotential):
    hpa = atmosphere.standard_pressure_hpa(altitude_m, geopotential=geopotential)
    assert atmosphere.standard_altitude_m(hpa, geopotential=geopotential) == pytest.approx(
        altitude_m, abs=1e-5
    )


def test_at_sea_level_a_reduced_pressure_is_the_pressure():
    assert atmosphere.station_pressure_hpa(1030.0, 0.0) == pytest.approx(1030.0, abs=1e-9)
    # A high of 1030 hPa at 1600 m lies between the standard pressure and that plus the full difference.
    assert 835.28 < atmosphere.station_pressure_hpa(1030.0, 1600.0) < 835.28 + 16.75
