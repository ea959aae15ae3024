import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import constants

from benchtemp.errors import BadInput
from benchtemp.probes import quantity


@pytest.mark.parametrize(
    ("written", "hpa"),
    [
        ("835hPa", 835.0),
        (" 835 hPa ", 835.0),
        ("835HPA", 835.0),
        ("835mbar", 835.0),
        ("101.325kPa", 1013.25),
        ("101325Pa", 1013.25),
        ("29.92inHg", 1013.21),
        ("760mmHg", 1013.25),
        ("760torr", 1013.25),
        ("1atm", 1013.25),
        ("1.01325bar", 1013.25),
        ("14.696psi", 1013.25),
        ("8.35e2hPa", 835.0),
    ],
)
def test_pressures(written, hpa):
    assert quantity.pressure_hpa(written) == pytest.approx(hpa, abs=0.01)


@pytest.mark.parametrize(
    ("written", "metres"),
    [
        ("1600m", 1600.0),
        ("1.6km", 1600.0),
        ("5250ft", 1600.2),
        ("5250 FT", 1600.2),
        ("-20m", -20.0),
        ("−20 m", -20.0),
    ],
)
def test_altitudes(written, metres):
    assert quantity.altitude_m(written) == pytest.approx(metres, abs=1e-9)


@pytest.mark.parametrize(
    ("written", "cm"), [("6cm", 6.0), ("60mm", 6.0), ("0.06m", 6.0), ('2.5"', 6.35), ("2.5in", 6.35)]
)
def test_depths(written, cm):
    assert quantity.depth_cm(written) == pytest.approx(cm, abs=1e-9)


@pytest.mark.parametrize(("written", "g_per_l"), [("0.3g/L", 0.3), ("300ppm", 0.3), ("300 mg/l", 0.3)])
def test_dissolved_solids(written, g_per_l):
    assert quantity.dissolved_g_per_l(written) == pytest.approx(g_per_l, abs=1e-12)


@pytest.mark.parametrize(
    ("read", "written", "cure"),
    [
        (quantity.pressure_hpa, "1013", "has no unit; add one, such as 835hPa"),
        (quantity.pressure_hpa, "1013kPa", "did you mean 1013hPa?"),
        (quantity.pressure_hpa, "29.92hPa", "did you mean 29.92inHg?"),
        (quantity.pressure_hpa, "101.3hPa", "did you mean 101.3kPa?"),
        (quantity.pressure_hpa, "760hPam", "not one for it"),
        (quantity.pressure_hpa, "835m", "has the unit 'm', which is not one for it"),
        (quantity.pressure_hpa, "835MPa", "has the unit 'MPa'"),
        (quantity.pressure_hpa, "5hPa", "write it such as 835hPa"),
        (quantity.sea_level_hpa, "835hPa", "outside 870 to 1090 hPa; write it such as 1013hPa"),
        (quantity.sea_level_hpa, "1013kPa", "did you mean 1013hPa?"),
        (quantity.altitude_m, "5250", "has no unit"),
        (quantity.altitude_m, "5250m", "did you mean 5250ft, which is 1600 m?"),
        (quantity.altitude_m, "99999m", "write it such as 1600m or 5250ft"),
        (quantity.altitude_m, "1,600m", "holds a comma"),
        (quantity.altitude_m, "m", "is not a number with a unit"),
        (quantity.altitude_m, "", "is not a number with a unit"),
        (quantity.altitude_m, "nan m", "is not a number with a unit"),
        (quantity.altitude_m, "1e999m", "too large"),
        (quantity.depth_cm, "6", "has no unit"),
        (quantity.depth_cm, "2m", "not one in a pot"),
        (quantity.depth_cm, "-1cm", "not one in a pot"),
        (quantity.dissolved_g_per_l, "35g/L", "not those of drinking water"),
        (quantity.pressure_difference_hpa, "0hPa", "cannot be"),
    ],
)
def test_slips_are_told_in_one_sentence(read, written, cure):
    with pytest.raises(BadInput) as caught:
        read(written)
    sentence = str(caught.value)
    assert cure in sentence
    assert "\n" not in sentence


_LIBRARY_PA = {
    "pa": 1.0,
    "hpa": constants.hecto,
    "mbar": constants.milli * constants.bar,
    "mb": constants.milli * constants.bar,
    "kpa": constants.kilo,
    "bar": constants.bar,
    "atm": constants.atm,
    "mmhg": constants.mmHg,
    "torr": constants.torr,
    "inhg": constants.inch / constants.milli * constants.mmHg,
    "psi": constants.psi,
}


@pytest.mark.parametrize("unit", sorted(quantity._PRESSURE_HPA))
def test_pressure_factors_against_a_library(unit):
    # mmHg has two definitions, 0.14 parts per million apart.
    assert 100.0 * quantity._PRESSURE_HPA[unit] == pytest.approx(_LIBRARY_PA[unit], rel=5e-7)


@given(st.text(max_size=12))
def test_anything_typed_gives_a_number_or_one_sentence(written):
    for read in (quantity.pressure_hpa, quantity.altitude_m, quantity.depth_cm, quantity.dissolved_g_per_l):
        try:
            assert isinstance(read(written), float)
        except BadInput as error:
            assert str(error)  # noqa: PT017  either outcome is right, nothing else is


@given(st.floats(500.1, 1099.9))
def test_what_is_written_is_read(hpa):
    assert quantity.pressure_hpa(f"{hpa}hPa") == pytest.approx(hpa, rel=1e-12)
    assert quantity.pressure_hpa(f"{hpa / 10.0} kPa") == pytest.approx(hpa, rel=1e-12)
