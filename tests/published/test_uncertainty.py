"""JCGM 100:2008 (the GUM): its worked examples, to the digits it prints."""

from math import inf, sqrt

import numpy as np
import pytest
from scipy import stats

from benchtemp.probes.calibration import CheckPoint, correction_from
from benchtemp.probes.line_fit import fit_line
from benchtemp.probes.noise import mean_of
from benchtemp.probes.uncertainty import (
    Distribution,
    bounded,
    combined_uncertainty,
    coverage_factor,
    effective_dof,
    estimate_dof,
    resolution,
    rounded_uncertainty,
    with_uncertainty_text,
)


@pytest.fixture(scope="module")
def gum(published):
    return published("gum_h3.json")


def test_calibration_of_a_thermometer(gum):
    """Annex H.3, Table H.6: every printed digit, and 13 digits of our own exact arithmetic."""
    case = gum["h3"]
    fit = fit_line(np.array(case["t_k"]), np.array(case["b_k"]), case["t0"])
    printed = case["published"]
    assert round(fit.offset, 4) == printed["y1"]
    assert round(fit.offset_uncertainty, 4) == printed["u_y1"]
    assert round(fit.slope, 5) == printed["y2"]
    assert round(fit.slope_uncertainty, 5) == printed["u_y2"]
    assert round(fit.correlation, 2) == printed["r_y1_y2"]
    assert round(fit.scatter, 4) == printed["s"]
    assert fit.dof == printed["degrees_of_freedom"]
    value, u = fit.at(printed["t_predict"])
    assert round(value, 4) == printed["b_30"]
    assert round(u, 4) == printed["u_c_b_30"]
    exact = case["computed"]
    assert fit.offset == pytest.approx(exact["y1"], rel=1e-12)
    assert fit.slope == pytest.approx(exact["y2"], rel=1e-11)
    assert fit.correlation == pytest.approx(exact["r_y1_y2"], rel=1e-12)
    assert (value, u) == pytest.approx((exact["b_30"], exact["u_c_b_30"]), rel=1e-12)


def test_calibration_of_a_probe_is_the_same_calibration(gum):
    """The same data taken as points of a check: the correction and its uncertainty at 30 °C."""
    case = gum["h3"]
    points = [
        CheckPoint(reported_degc=t, reference_degc=t + b)
        for t, b in zip(case["t_k"], case["b_k"], strict=True)
    ]
    correction = correction_from(points, centre_degc=case["t0"])
    printed = case["published"]
    assert round(correction.apply(30.0) - 30.0, 4) == printed["b_30"]
    assert round(correction.uncertainty_at(30.0), 4) == printed["u_c_b_30"]
    assert correction.dof == printed["degrees_of_freedom"]
    # Written about another temperature it is the same line with the same uncertainty.
    elsewhere = correction_from(points, centre_degc=25.0)
    assert elsewhere.apply(30.0) == pytest.approx(correction.apply(30.0), abs=1e-12)
    assert elsewhere.uncertainty_at(30.0) == pytest.approx(correction.uncertainty_at(30.0), rel=1e-9)


def test_repeated_readings(gum):
    """Clause 4.4.3 and Table 1; independent readings, so the autocorrelation must not blow the result up."""
    case = gum["type_a_4_4_3"]
    rng = np.random.default_rng(4)
    # The table lists them in order of size, which is not the order they came in.
    shuffled = rng.permutation(np.array(case["observations"]))
    found = mean_of(shuffled, step=0.0)
    printed = case["published"]
    assert round(found.value, 3) == printed["mean"]
    assert round(found.sd, 3) == printed["s"]
    assert found.readings == printed["n"]
    assert found.sd / sqrt(found.readings) == pytest.approx(printed["s_of_mean"], abs=5e-4)
    assert found.uncertainty >= found.sd / sqrt(found.readings)


def test_coverage_factors(gum):
    """Table G.2; its one odd entry (35 degrees, 90 %, printed 1.70) is met as the exact 1.6896."""
    levels = {
        "t68.27": 0.6826894921370859,
        "t90": 0.90,
        "t95": 0.95,
        "t95.45": 0.9544997361036416,
        "t99": 0.99,
        "t99.73": 0.9973002039367398,
    }
    for row in gum["coverage_factors_G2"]["rows"]:
        dof = inf if row["nu"] is None else row["nu"]
        for name, level in levels.items():
            printed = row[name]
            if (row["nu"], name) == (35, "t90"):
                assert coverage_factor(dof, level) == pytest.approx(1.6896, abs=5e-5)
                continue
            decimals = len(str(printed).partition(".")[2])
            assert coverage_factor(dof, level) == pytest.approx(
                printed, abs=0.5001 * 10.0 ** -max(decimals, 1)
            )


@pytest.mark.parametrize("dof", [1, 2, 5, 9, 34, 200])
def test_second_opinion_on_coverage_factors(dof):
    assert coverage_factor(dof, 0.95) == pytest.approx(stats.t.ppf(0.975, dof), rel=1e-9)
    assert coverage_factor(dof + 0.9, 0.95) == coverage_factor(dof, 0.95)


def test_effective_degrees_of_freedom(gum):
    """G.4.1 and H.1, with the tolerances their own rounding asks for."""
    case = gum["effective_dof"]["example_G_4_1"]
    combined = combined_uncertainty(case["u_percent"])
    assert combined == pytest.approx(case["published"]["uc_percent"], abs=0.005)
    dof = effective_dof(combined, case["u_percent"], case["nu"])
    assert dof == pytest.approx(case["published"]["nu_eff"], abs=0.1)
    assert dof == pytest.approx(case["computed"]["nu_eff_unrounded_uc"], rel=1e-12)
    assert round(coverage_factor(dof, 0.95) * combined, 1) == case["published"]["U95_percent"]
    gauge = gum["effective_dof"]["example_H_1"]
    combined = combined_uncertainty(gauge["u_i"])
    assert combined == pytest.approx(gauge["computed"]["uc"], rel=1e-12)
    assert round(combined**2) == pytest.approx(gauge["published"]["uc_squared"], abs=2)
    dof = effective_dof(combined, gauge["u_i"], gauge["nu_i"])
    assert dof == pytest.approx(gauge["published"]["nu_eff"], abs=0.1)
    assert coverage_factor(dof, 0.99) == pytest.approx(gauge["published"]["t99"], abs=0.005)
    assert coverage_factor(dof, 0.99) * combined == pytest.approx(gauge["published"]["U99"], abs=1.0)
    part = gauge["sub_example_d"]
    combined = combined_uncertainty(part["u_i"])
    assert round(combined, 1) == part["published"]["u"]
    # The printed 25.6 comes from the printed, rounded 9.7; unrounded it is 25.4.
    assert effective_dof(9.7, part["u_i"], part["nu_i"]) == pytest.approx(
        part["published"]["nu_eff"], abs=0.05
    )


def test_degrees_of_freedom_of_an_estimate(gum):
    """Eq. (G.3)."""
    for case in gum["effective_dof"]["type_b_reliability"]["values"]:
        assert estimate_dof(case["relative_uncertainty"]) == pytest.approx(case["nu"], rel=1e-12)


def test_rounding(gum):
    """Clause 7.2.6."""
    first, second, third = gum["rounding_7_2_6"]["cases"]
    assert rounded_uncertainty(first["u"])[0] == first["reported"]
    assert rounded_uncertainty(second["u"])[0] == second["reported"]
    assert with_uncertainty_text(third["y"], third["u_c"], "Ω") == f"{third['reported_y']} ± {third['u_c']} Ω"


def test_divisors(published_rows):
    facts = {row["name"]: float(row["value"]) for row in published_rows("other_facts.csv")}
    assert 1.0 / bounded("a", 1.0).uncertainty == pytest.approx(
        facts["divisor_rectangular_half_width"], abs=1e-9
    )
    for kind in (Distribution.TRIANGULAR, Distribution.ARCSINE):
        expected = facts[f"divisor_{kind}_half_width"]
        assert 1.0 / bounded("a", 1.0, distribution=kind).uncertainty == pytest.approx(expected, abs=1e-9)
    assert 1.0 / resolution("a", 1.0).uncertainty == pytest.approx(
        facts["divisor_resolution_full_width"], abs=1e-9
    )
    assert coverage_factor(inf, 0.95) == pytest.approx(facts["divisor_normal_95"], abs=1e-9)
    assert coverage_factor(inf, 0.99) == pytest.approx(facts["divisor_normal_99"], abs=1e-9)
