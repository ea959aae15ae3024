from math import inf, sqrt

import msgspec
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtemp.errors import BadInput
from benchtemp.probes.calibration import (
    CheckPoint,
    correction_from,
    judge,
    same_correction,
)
from benchtemp.probes.correction import UNCORRECTED
from benchtemp.probes.line_fit import fit_line
from benchtemp.probes.reference import ReferenceKind

BOIL = CheckPoint(
    reported_degc=95.2,
    reference_degc=94.6,
    reported_uncertainty_k=0.03,
    reported_dof=40.0,
    reference_uncertainty_k=0.12,
)


ICE = CheckPoint(
    reported_degc=0.3,
    reference_degc=0.0,
    reported_uncertainty_k=0.03,
    reported_dof=60.0,
    reference_uncertainty_k=0.04,
    kind=ReferenceKind.ICE,
)


def test_one_point_is_an_offset():
    correction = correction_from([BOIL])
    assert correction.slope_k_per_k == 0.0
    assert correction.apply(95.2) == pytest.approx(94.6)
    assert correction.apply(93.0) == pytest.approx(92.4)
    assert correction.uncertainty_at(95.2) == pytest.approx(sqrt(0.03**2 + 0.12**2))
    # Further away the unknown slope counts.
    assert correction.uncertainty_at(60.0) == pytest.approx(
        sqrt(0.03**2 + 0.12**2 + (35.2 * 0.0075) ** 2 / 3.0)
    )


def test_one_point_written_about_another_temperature_is_the_same():
    here, there = correction_from([BOIL]), correction_from([BOIL], centre_degc=60.0)
    for temp_degc in (20.0, 60.0, 93.0, 95.2):
        assert there.apply(temp_degc) == pytest.approx(here.apply(temp_degc), abs=1e-12)
        assert there.uncertainty_at(temp_degc) == pytest.approx(here.uncertainty_at(temp_degc), rel=1e-9)


def test_two_points_are_an_offset_and_a_slope():
    correction = correction_from([BOIL, ICE])
    assert correction.apply(95.2) == pytest.approx(94.6)
    assert correction.apply(0.3) == pytest.approx(0.0, abs=1e-12)
    assert correction.slope_k_per_k == pytest.approx(-0.3 / 94.9)
    # At the points the line is as sure as the points are.
    assert correction.uncertainty_at(95.2) == pytest.approx(BOIL.uncertainty_k)
    assert correction.uncertainty_at(0.3) == pytest.approx(ICE.uncertainty_k)


@given(st.floats(-20.0, 150.0), st.floats(-20.0, 150.0))
def test_two_points_against_drawing_lots(centre_degc, at_degc):
    correction = correction_from([BOIL, ICE], centre_degc=centre_degc)
    weight = (at_degc - 0.3) / (95.2 - 0.3)
    by_hand = sqrt((weight * BOIL.uncertainty_k) ** 2 + ((1.0 - weight) * ICE.uncertainty_k) ** 2)
    assert correction.uncertainty_at(at_degc) == pytest.approx(by_hand, rel=1e-6)
    assert correction.apply(at_degc) - at_degc == pytest.approx(
        weight * -0.6 + (1.0 - weight) * -0.3, abs=1e-9
    )


def test_more_points_take_the_references_as_common():
    points = [
        CheckPoint(reported_degc=t, reference_degc=t + 0.1 + 0.002 * t + wiggle, reference_uncertainty_k=0.05)
        for t, wiggle in ((20.0, 0.01), (40.0, -0.01), (60.0, 0.02), (80.0, -0.02), (95.0, 0.0))
    ]
    correction = correction_from(points)
    fit = fit_line(
        np.array([p.reported_degc for p in points]),
        np.array([-p.error_k for p in points]),
        correction.reference_degc,
    )
    for temp_degc in (10.0, 59.0, 93.0):
        value, u = fit.at(temp_degc)
        assert correction.apply(temp_degc) - temp_degc == pytest.approx(value, abs=1e-12)
        assert correction.uncertainty_at(temp_degc) == pytest.approx(sqrt(u**2 + 0.05**2), rel=1e-9)


@given(
    st.lists(st.floats(0.0, 100.0), min_size=3, max_size=12, unique=True).filter(
        lambda x: max(x) - min(x) > 5.0
    ),
    st.floats(-2.0, 2.0),
    st.floats(-0.02, 0.02),
)
def test_points_on_a_line_give_that_line(temps, offset_k, slope):
    points = [CheckPoint(reported_degc=t, reference_degc=t + offset_k + slope * t) for t in temps]
    correction = correction_from(points)
    assert correction.apply(93.0) == pytest.approx(93.0 + offset_k + slope * 93.0, abs=1e-6)
    assert correction.uncertainty_at(50.0) == pytest.approx(0.0, abs=1e-6)


def test_what_gives_no_correction_is_told():
    with pytest.raises(BadInput, match="without a point"):
        correction_from([])
    near = msgspec.structs.replace(BOIL, reported_degc=95.0)
    with pytest.raises(BadInput, match="too close for a slope"):
        correction_from([BOIL, near])
    with pytest.raises(BadInput, match="no temperature"):
        CheckPoint(reported_degc=float("nan"), reference_degc=94.6)
    with pytest.raises(BadInput, match="at least 3 points"):
        fit_line(np.array([1.0, 2.0]), np.array([1.0, 2.0]), 0.0)
    with pytest.raises(BadInput, match="same temperature"):
        fit_line(np.ones(3), np.ones(3), 0.0)


@pytest.mark.parametrize(
    ("limit_k", "passed", "certain"),
    [(1.0, True, True), (0.7, True, False), (0.5, False, False), (0.2, False, True)],
)
def test_verdict(limit_k, passed, certain):
    verdict = judge([ICE, BOIL], limit_k)
    assert (verdict.passed, verdict.certain) == (passed, certain)
    assert verdict.error_k == pytest.approx(0.6)


def test_a_verdict_needs_points_and_a_limit():
    with pytest.raises(BadInput):
        judge([], 0.5)
    for limit_k in (0.0, -1.0, float("nan")):
        with pytest.raises(BadInput, match="how far the probe may be off"):
            judge([BOIL], limit_k)


def test_whether_two_corrections_say_the_same():
    first = correction_from([BOIL])
    near = correction_from([msgspec.structs.replace(BOIL, reported_degc=95.3)])
    far = correction_from([msgspec.structs.replace(BOIL, reported_degc=96.6)])
    assert same_correction(first, near, 93.0)
    assert not same_correction(first, far, 93.0)
    assert not same_correction(first, UNCORRECTED, 93.0)


def test_check_knows_its_degrees_of_freedom():
    quiet = msgspec.structs.replace(BOIL, reported_dof=None)
    assert quiet.dof == inf
    assert quiet.expanded_k == pytest.approx(2.0 * quiet.uncertainty_k)
    few = msgspec.structs.replace(BOIL, reported_dof=2.0, reference_uncertainty_k=0.0)
    assert few.expanded_k == pytest.approx(4.53 * few.uncertainty_k, rel=0.002)
