import pytest

from benchtemp.probes.bath import compare_in_bath
from benchtemp.probes.boiling import boiling_reference
from benchtemp.probes.calibration import CheckPoint
from benchtemp.probes.check import make_check
from benchtemp.probes.noise import Mean
from benchtemp.probes.probe import Probe
from benchtemp.probes.reference import ReferenceKind
from benchtemp.probes.response import TimeConstant
from benchtemp.probes.settle import Level
from benchtemp.reports.check import (
    check_json,
    check_lines,
    comparison_lines,
    probe_line,
    time_constant_lines,
    verdict_text,
)
from benchtemp.units import TempUnit

BOIL = CheckPoint(
    reported_degc=100.64, reference_degc=100.0, reported_uncertainty_k=0.03, reference_uncertainty_k=0.1,
    readings=200, sd_k=0.14, start_s=60.0, end_s=110.0,
)  # fmt: skip
ICE = CheckPoint(reported_degc=0.2, reference_degc=0.0, reference_uncertainty_k=0.03, kind=ReferenceKind.ICE)
SINCE = "2031-03-04T10:00:00+00:00"


def check(*points, limit_k=1.0, checked=SINCE):
    return make_check(points or (BOIL,), probe="basket 1", checked=checked, limit_k=limit_k)


def plunge(**changes):
    fields = {
        "tau_s": 1.2, "uncertainty_s": 0.02, "crossing_s": 1.21, "plunge_s": 8.0, "start_degc": 22.0,
        "end_degc": 99.9, "scatter_k": 0.05,
    }  # fmt: skip
    return TimeConstant(**{**fields, **changes})


def test_a_check_is_told_with_error_uncertainty_and_correction():
    text = "\n".join(check_lines("basket 1", check()))
    assert "settled at  100.64 °C (50 s, 200 readings, sd 0.14)" in text
    assert "reference   100.00 ± 0.20 °C" in text
    assert "error       +0.64 ± 0.21 °C" in text
    assert "Correction at 93 °C: −0.64 ± 0.22 °C." in text
    assert "offset" in text


def test_two_baths_tell_a_slope():
    text = "\n".join(check_lines("basket 1", check(BOIL, ICE)))
    assert "offset and slope: −4.38 mK per K" in text
    assert "ice bath:" in text


def test_fahrenheit_has_no_offset_in_differences():
    text = "\n".join(check_lines("basket 1", check(), TempUnit.DEGF))
    assert "settled at  213.15 °F" in text
    assert "error       +1.15 ± 0.38 °F" in text
    assert "Correction at 199 °F" in text


@pytest.mark.parametrize(
    ("limit_k", "words"),
    [(1.0, "Passed: within the limit of 1.00 °C."), (0.3, "Failed: outside the limit of 0.30 °C.")],
)
def test_the_verdict_is_plain_where_it_is_certain(limit_k, words):
    assert verdict_text(check(limit_k=limit_k)) == words


@pytest.mark.parametrize("limit_k", [0.6, 0.7])
def test_the_verdict_says_where_it_could_go_either_way(limit_k):
    assert "the other way round" in verdict_text(check(limit_k=limit_k))


def test_probes_in_one_bath_stand_in_a_table():
    def level(value):
        return Level(60.0, 110.0, Mean(value, 0.14, 0.03, 20.0, 200), value - 0.3, value + 0.3, 0.0)

    levels = {"a": level(100.6), "longer name": level(99.9)}
    lines = comparison_lines(compare_in_bath(levels, boiling_reference(pressure_hpa=1013.25)))
    assert "from reference" in lines[0]
    assert "+0.35" in lines[1]
    assert "+0.63" in lines[1]
    assert lines[2].startswith("longer name")
    assert "Spread 0.70 °C." in lines[-1]
    assert "from reference" not in comparison_lines(compare_in_bath(levels))[0]


def test_a_plunge_recommends_a_time_constant():
    text = "\n".join(time_constant_lines(plunge()))
    assert "63.2 % of the step after  1.21 s" in text
    assert "1.20 ± 0.04 s" in text
    assert "Recommended time constant: 1.20 s (95 % takes 3.6 s)." in text
    assert "rough" not in text
    assert "rough" in "\n".join(time_constant_lines(plunge(first_order=False)))


def test_a_probe_is_told_in_one_line():
    now = "2031-06-10T10:00:00+00:00"
    assert probe_line(Probe(name="new"), now, 90.0) == "new; never checked (IEC class 2)"
    older = Probe(
        name="p", checks=(check(checked="2030-12-04T10:00:00+00:00"), check()), time_constant=plunge()
    )
    line = probe_line(older, now, 90.0)
    assert "checked 2031-03-04, 98 days ago (old)" in line
    assert "−0.64 ± 0.22 °C at 93" in line
    assert "passed" in line
    assert "drift +0.00 ±" in line
    assert "time constant 1.20 s" in line
    assert "(old)" not in probe_line(older, now, 100.0)


def test_plain_values_tell_the_same():
    plain = check_json("basket 1", "T2", check(BOIL, ICE), ("look again",))
    assert (plain["probe"], plain["channel"], plain["passed"]) == ("basket 1", "T2", True)
    assert [point["bath"] for point in plain["points"]] == ["boiling water", "ice bath"]
    assert plain["error_k"] == pytest.approx(0.64)
    assert plain["correction"]["slope_k_per_k"] == pytest.approx(-0.44 / 100.44)
    assert plain["remarks"] == ["look again"]
