import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtemp.errors import BadInput
from benchtemp.probes import atmosphere, boiling
from benchtemp.probes.boiling import boiling_reference


@given(st.floats(-400.0, 5000.0), st.floats(1.0, 100.0))
def test_higher_boils_cooler(altitude_m, more_m):
    low = boiling_reference(altitude_m=altitude_m)
    high = boiling_reference(altitude_m=altitude_m + more_m)
    assert high.temp_degc < low.temp_degc


@given(st.floats(-400.0, 5000.0))
def test_standard_barometer_is_the_standard_atmosphere(altitude_m):
    reduced = boiling_reference(sea_level_hpa=atmosphere.P0_HPA, altitude_m=altitude_m)
    alone = boiling_reference(altitude_m=altitude_m)
    assert reduced.temp_degc == pytest.approx(alone.temp_degc, abs=1e-9)
    assert reduced.uncertainty_k < alone.uncertainty_k


def test_weather_alone_moves_the_boiling_point_as_told():
    """Common experience puts it at about ±0.3 to ±0.5 °C when only the altitude is known."""
    for altitude_m in (0.0, 500.0, 1600.0):
        reference = boiling_reference(altitude_m=altitude_m)
        assert 0.3 <= reference.expanded_k() <= 0.6
        assert reference.budget.ranked()[0][0].name == "weather"
        assert boiling.ASK_FOR_PRESSURE in reference.notes
    assert boiling_reference(pressure_hpa=835.0).expanded_k() < 0.15
    assert boiling.ASK_FOR_PRESSURE not in boiling_reference(pressure_hpa=835.0).notes


@pytest.mark.parametrize(
    ("name", "options", "more"),
    [
        ("pressure reading", {"pressure_hpa": 835.0}, {"pressure_hpa": 836.0}),
        ("depth", {"pressure_hpa": 835.0, "depth_cm": 6.0}, {"pressure_hpa": 835.0, "depth_cm": 7.0}),
        ("altitude", {"altitude_m": 1600.0}, {"altitude_m": 1601.0}),
        (
            "pressure reading",
            {"sea_level_hpa": 1013.0, "altitude_m": 1600.0},
            {"sea_level_hpa": 1014.0, "altitude_m": 1600.0},
        ),
        (
            "altitude",
            {"sea_level_hpa": 990.0, "altitude_m": 1600.0},
            {"sea_level_hpa": 990.0, "altitude_m": 1601.0},
        ),
    ],
)
def test_sensitivities_are_what_a_step_of_one_does(name, options, more):
    reference = boiling_reference(**options)
    line = next(line for line in reference.contributions if line.name == name)
    rise = boiling_reference(**more).temp_degc - reference.temp_degc
    assert line.sensitivity == pytest.approx(rise, rel=0.01)


def test_working_can_be_followed_by_hand():
    reference = boiling_reference(altitude_m=1600.0, depth_cm=6.0, dissolved_g_per_l=0.3)
    text = "\n".join(reference.working)
    for part in ("1599.6 m geopotential", "835.28 hPa", "5.66 hPa", "840.9", "IAPWS-IF97", "+0.0053 K"):
        assert part in text
    assert f"{reference.temp_degc:.3f} °C" in reference.working[-1]
    geopotential = boiling_reference(altitude_m=1600.0, geopotential=True)
    assert "1600.0 m (5249 ft) geopotential" in geopotential.working[0]


def test_shop_rule_is_marked_as_common_practice():
    reference = boiling_reference(pressure_hpa=1013.25)
    assert reference.temp_degc == pytest.approx(99.974, abs=5e-4)
    assert any("99.974" in note and "common practice" in note for note in reference.notes)


def test_deeper_is_hotter_but_less_sure():
    shallow = boiling_reference(pressure_hpa=1013.25, depth_cm=2.0)
    deep = boiling_reference(pressure_hpa=1013.25, depth_cm=10.0)
    assert deep.temp_degc > shallow.temp_degc
    assert deep.uncertainty_k > shallow.uncertainty_k


@pytest.mark.parametrize(
    ("options", "sentence"),
    [
        ({}, "Neither pressure nor altitude"),
        ({"sea_level_hpa": 1013.0}, "needs the altitude too"),
        ({"sea_level_hpa": 1013.0, "pressure_hpa": 835.0}, "give only one of them"),
        (
            {"pressure_hpa": 1013.0, "altitude_m": 1600.0},
            "does not go with 1600 m, where it is about 835 hPa",
        ),
        ({"pressure_hpa": 835.0, "depth_cm": -1.0}, "depth of -1 cannot be"),
        ({"pressure_hpa": 835.0, "dissolved_g_per_l": float("nan")}, "dissolved solids of nan cannot be"),
        ({"pressure_hpa": 1e9}, "no boiling point"),
        ({"altitude_m": 20000.0}, "check the unit"),
        ({"pressure_hpa": 835.0, "pressure_half_width_hpa": -1.0}, "give a number of 0 or more"),
    ],
)
def test_what_cannot_be_is_told(options, sentence):
    with pytest.raises(BadInput) as caught:
        boiling_reference(**options)
    assert sentence in str(caught.value)


def test_pressure_that_goes_with_the_altitude_is_taken():
    assert boiling_reference(pressure_hpa=840.0, altitude_m=1600.0).temp_degc == pytest.approx(
        boiling_reference(pressure_hpa=840.0).temp_degc
    )


def test_cautions_are_there_for_hot_water():
    text = " ".join(boiling.CAUTIONS).casefold()
    for word in ("scald", "steam", "hot metal", "mains"):
        assert word in text
