import pytest

from benchtemp.errors import BadInput
from benchtemp.probes.boiling import boiling_reference
from benchtemp.probes.calibration import (
    CheckPoint,
    point_from,
)
from benchtemp.probes.check import Check, CheckMethod, make_check, when_from
from benchtemp.probes.correction import UNCORRECTED
from benchtemp.probes.ice import ice_reference
from benchtemp.probes.noise import Mean
from benchtemp.probes.reference import ReferenceKind
from benchtemp.probes.settle import Level, settled_level

ICE = CheckPoint(
    reported_degc=0.3,
    reference_degc=0.0,
    reported_uncertainty_k=0.03,
    reported_dof=60.0,
    reference_uncertainty_k=0.04,
    kind=ReferenceKind.ICE,
)


def level_at(temp_degc, *, u=0.02, start_s=0.0, end_s=60.0):
    return Level(start_s, end_s, Mean(temp_degc, 0.1, u, 50.0, 200), temp_degc - 0.3, temp_degc + 0.3, 0.0)


def test_a_check_from_a_pot_of_boiling_water(pot):
    reference = boiling_reference(pressure_hpa=833.8, depth_cm=1.0)
    t, temp = pot(boil_degc=reference.temp_degc + 0.7, seed=11)
    point = point_from(settled_level(t, temp), reference)
    check = make_check(
        [point],
        probe="basket 1",
        checked="2027-03-14T09:30:00+01:00",
        operator="night shift",
        limit_k=1.0,
        references=[reference],
        recording="2027-03-14 check",
    )
    assert check.method is CheckMethod.BOILING
    assert check.passed
    assert point.error_k == pytest.approx(0.7, abs=0.1)
    assert check.correction.apply(point.reported_degc) == pytest.approx(reference.temp_degc)
    assert check.correction.probe == "basket 1"
    assert check.conditions == {"pressure": "833.80 hPa", "depth": "1 cm"}
    assert point.readings > 500
    assert check.verdict.passed is check.passed


@pytest.mark.parametrize(
    ("reference", "reported_degc", "cure"),
    [
        (boiling_reference(pressure_hpa=1013.25), 80.0, "rolling boil"),
        (boiling_reference(pressure_hpa=835.0), 100.0, "check the pressure or altitude"),
        (ice_reference(), 21.0, "crushed ice"),
    ],
)
def test_a_bath_that_is_not_what_it_is_taken_for(reference, reported_degc, cure):
    with pytest.raises(BadInput) as caught:
        point_from(level_at(reported_degc), reference)
    assert f"settled at {reported_degc:.1f} °C" in str(caught.value)
    assert cure in str(caught.value)


def test_check_in_several_baths_tells_conditions_apart():
    boil, cold = boiling_reference(pressure_hpa=835.0), ice_reference(dissolved_g_per_l=0.1)
    points = [point_from(level_at(95.0), boil), point_from(level_at(0.2), cold)]
    check = make_check(points, probe="b", checked="2027-01-01", references=[boil, cold])
    assert check.method is CheckMethod.SEVERAL
    assert check.conditions["boiling water: pressure"] == "835.00 hPa"
    assert check.conditions["ice bath: dissolved solids"] == "0.1 g/L"


def test_a_date_that_is_none_is_told():
    with pytest.raises(BadInput, match="is no date; write it such as"):
        when_from("yesterday")
    assert when_from("2027-03-14T09:30:00+01:00").utcoffset() is not None


def test_a_check_without_points_is_none():
    with pytest.raises(BadInput):
        Check(checked="2027-01-01", method=CheckMethod.ICE, points=(), correction=UNCORRECTED)
    with pytest.raises(BadInput, match="no date"):
        Check(checked="soon", method=CheckMethod.ICE, points=(ICE,), correction=UNCORRECTED)
