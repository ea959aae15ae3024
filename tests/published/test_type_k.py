"""Type K against NIST SRD 60 (Monograph 175) and the tolerance classes of IEC 60584-1 and ASTM E230."""

import numpy as np
import pytest
import thermocouple_its90
from numpy.testing import assert_allclose

from benchtemp.probes import type_k
from benchtemp.probes.tolerance import ToleranceClass, class_tolerance_k


def test_table_to_its_last_printed_digit(published_rows):
    rows = published_rows("type_k_table.csv")
    assert len(rows) == 53
    for row in rows:
        assert f"{type_k.emf_mv(float(row['t_degC'])):.3f}".replace("-0.000", "0.000") == row["emf_mV"]


def test_coefficients_are_those_printed(published):
    below, above = published("type_k_coefficients.json")["direct"]["ranges"]
    assert list(type_k._BELOW_0) == below["c"][::-1]
    assert list(type_k._ABOVE_0) == above["c"][::-1]
    assert tuple(above["exponential"].values()) == (type_k._A0, type_k._A1, type_k._A2)
    assert (below["t_min_degC"], above["t_max_degC"]) == (type_k.LOWEST_DEGC, type_k.HIGHEST_DEGC)


def test_direct_function_at_more_digits(published):
    examples = published("type_k_coefficients.json")["computed_examples"]
    for written, emf_mv in examples["emf_mV"].items():
        assert type_k.emf_mv(float(written)) == pytest.approx(emf_mv, abs=6e-10)
    for written, uv_per_k in examples["seebeck_uV_per_degC"].items():
        assert 1000.0 * type_k.seebeck_mv_per_k(float(written)) == pytest.approx(uv_per_k, abs=6e-5)


def test_cold_junction_is_compensated_in_emf(published):
    case = published("type_k_coefficients.json")["computed_examples"]["cold_junction"]
    hot_degc = type_k.measured_degc(case["measured_mV"], case["reference_junction_degC"])
    assert hot_degc == pytest.approx(case["hot_junction_degC"], abs=1e-6)
    added_as_temperatures = type_k.temp_degc(case["measured_mV"]) + case["reference_junction_degC"]
    assert abs(hot_degc - added_as_temperatures) > 0.5


def test_inverse_is_not_the_published_approximation(published):
    """At 100 °C the published inverse polynomial is 0.031 °C low; ours must not be."""
    document = published("type_k_coefficients.json")
    middle = document["inverse"]["ranges"][1]
    emf_mv = type_k.emf_mv(100.0)
    approximate = float(np.polyval(middle["d"][::-1], emf_mv))
    error = document["computed_examples"]["inverse_polynomial_error_at_100degC"]
    assert approximate - 100.0 == pytest.approx(error, abs=2e-6)
    assert type_k.temp_degc(emf_mv) == pytest.approx(100.0, abs=1e-6)
    for part in document["inverse"]["ranges"]:
        emf = np.linspace(part["E_min_mV"], part["E_max_mV"], 500)
        off = np.polyval(part["d"][::-1], emf) - type_k.temp_degc(emf)
        low, high = part["published_error_degC"]
        assert low - 0.005 < off.min()
        assert off.max() < high + 0.005


def test_second_opinion_over_the_whole_range():
    """An independent library with its own transcription of the same database."""
    other = thermocouple_its90.TypeK
    temps = np.linspace(-269.9, 1371.9, 700)
    emf = type_k.emf_mv(temps)
    assert_allclose(emf, [other.emf(t) for t in temps.tolist()], rtol=0, atol=1e-11)
    # Both are held to 1 µK; near -270 °C an emf of 1e-12 mV is 1e-9 K.
    assert_allclose(type_k.temp_degc(emf), [other.temperature(e) for e in emf.tolist()], rtol=0, atol=1e-6)


_CLASSES = {
    ("IEC 60584-1", "1"): ToleranceClass.IEC_1,
    ("IEC 60584-1", "2"): ToleranceClass.IEC_2,
    ("IEC 60584-1", "3"): ToleranceClass.IEC_3,
    ("ASTM E230", "standard"): ToleranceClass.ASTM_STANDARD,
    ("ASTM E230", "special"): ToleranceClass.ASTM_SPECIAL,
}


def test_tolerance_classes(published_rows):
    rows = published_rows("type_k_tolerance.csv")
    assert {(row["standard"], row["class"]) for row in rows} == set(_CLASSES)
    for row in rows:
        kind = _CLASSES[row["standard"], row["class"]]
        example = float(row["example_t_degC"])
        assert class_tolerance_k(example, kind) == pytest.approx(
            float(row["tolerance_at_example_degC"]), abs=1e-9
        )
        for end in (row["t_min_degC"], row["t_max_degC"]):
            fixed = float(row["fixed_degC"] or 0.0)
            relative = float(row["fraction_of_abs_t"] or 0.0) * abs(float(end))
            # The printed break points are rounded: both terms meet there within 0.006 K.
            assert class_tolerance_k(float(end), kind) == pytest.approx(max(fixed, relative), abs=0.006)
