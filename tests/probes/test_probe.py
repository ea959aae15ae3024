import json
import tomllib
from datetime import timedelta
from math import sqrt

import msgspec
import pytest
import tomli_w

from benchtemp.errors import BadInput, DamagedFile
from benchtemp.probes.calibration import (
    COMMONLY_AT_WORST_K,
    CheckPoint,
)
from benchtemp.probes.check import make_check, when_from
from benchtemp.probes.correction import Correction
from benchtemp.probes.probe import DAYS_PER_MONTH, Probe
from benchtemp.probes.response import TimeConstant
from benchtemp.probes.tolerance import ToleranceClass

BOIL = CheckPoint(
    reported_degc=95.2,
    reference_degc=94.6,
    reported_uncertainty_k=0.03,
    reported_dof=40.0,
    reference_uncertainty_k=0.12,
)


def probe_with(*checks):
    probe = Probe(name="basket 1")
    for checked, error_k in checks:
        point = msgspec.structs.replace(BOIL, reported_degc=94.6 + error_k)
        probe = probe.with_check(make_check([point], probe=probe.name, checked=checked))
    return probe


def test_history_correction_in_force_and_age():
    probe = probe_with(("2027-03-01T12:00:00+00:00", 0.4), ("2027-01-01T12:00:00+00:00", 0.3))
    assert [check.checked[:7] for check in probe.checks] == ["2027-01", "2027-03"]
    assert probe.correction().offset_k == pytest.approx(-0.4)
    assert probe.correction("2027-02-01T00:00:00+00:00").offset_k == pytest.approx(-0.3)
    assert probe.correction("2026-12-01T00:00:00+00:00") == Correction(probe="basket 1")
    assert probe.days_since_check("2027-03-11T12:00:00+00:00") == pytest.approx(10.0)
    assert [round(point.correction_k, 3) for point in probe.history(94.6)] == [-0.3, -0.4]
    with pytest.raises(BadInput, match="nothing was added"):
        probe.with_check(probe.checks[0])
    assert len(probe.without_check(probe.checks[0].checked).checks) == 1
    with pytest.raises(BadInput, match="see its history"):
        probe.without_check("2001-01-01")


def test_old_missing_and_failed_checks_are_pointed_out():
    fresh = probe_with(("2027-03-01T12:00:00+00:00", 0.4))
    assert fresh.check_warning("2027-03-20T12:00:00+00:00", 30.0) is None
    assert "49 days ago (limit 30)" in fresh.check_warning("2027-04-19T12:00:00+00:00", 30.0)
    assert "never checked" in Probe(name="new").check_warning("2027-03-20")
    failed = probe_with(("2027-03-01T12:00:00+00:00", 3.0))
    assert "failed its last check" in failed.check_warning("2027-03-02T12:00:00+00:00")


def test_drift_over_months():
    start = when_from("2027-01-01T00:00:00+00:00")
    moments = [(start + timedelta(days=DAYS_PER_MONTH * month)).isoformat() for month in range(5)]
    probe = probe_with(*((moment, 0.2 + 0.05 * month) for month, moment in enumerate(moments)))
    drift = probe.drift(94.6)
    assert drift.k_per_month == pytest.approx(-0.05, abs=1e-9)
    # Five checks of 0.124 K each, a month apart: u / sqrt(sum of squared months).
    assert drift.uncertainty_k_per_month == pytest.approx(BOIL.uncertainty_k / sqrt(10.0), rel=0.02)
    assert drift.checks == 5
    assert drift.days == pytest.approx(4 * DAYS_PER_MONTH)
    assert not drift.significant
    later = (start + timedelta(days=DAYS_PER_MONTH * 6)).isoformat()
    expected = (0.05 + 2.0 * drift.uncertainty_k_per_month) * 2.0
    assert probe.drift_half_width_k(later, 94.6) == pytest.approx(expected, rel=1e-6)


def test_drift_without_a_history_is_common_practice():
    probe = probe_with(("2027-01-01T00:00:00+00:00", 0.4))
    assert probe.drift() is None
    assert probe.drift_half_width_k("2027-02-01T00:00:00+00:00") == pytest.approx(COMMONLY_AT_WORST_K)
    assert probe.drift_half_width_k("2028-01-01T00:00:00+00:00") == pytest.approx(
        2.0 * COMMONLY_AT_WORST_K, rel=1e-3
    )
    assert Probe(name="new").drift_half_width_k("2027-02-01") == 0.0
    same_day = probe_with(("2027-01-01T00:00:00+00:00", 0.4), ("2027-01-01T08:00:00+00:00", 0.4))
    assert same_day.drift() is None


def test_probe_there_and_back_through_json_and_toml():
    probe = msgspec.structs.replace(
        probe_with(("2027-01-01T00:00:00+00:00", 0.4), ("2027-02-01T00:00:00+00:00", 0.35)),
        serial="7",
        notes="bought used\nshielded",
        tolerance_class=ToleranceClass.IEC_1,
        time_constant=TimeConstant(
            tau_s=1.2,
            uncertainty_s=0.05,
            crossing_s=1.25,
            plunge_s=5.0,
            start_degc=21.0,
            end_degc=95.0,
            scatter_k=0.1,
        ),
    )
    assert Probe.from_dict(json.loads(json.dumps(probe.to_dict()))) == probe
    assert Probe.from_dict(tomllib.loads(tomli_w.dumps(probe.to_dict()))) == probe
    bare = Probe(name="bare")
    assert Probe.from_dict(bare.to_dict()) == bare


@pytest.mark.parametrize(
    ("plain", "sentence"),
    [
        (None, "not a probe file"),
        ({}, "name"),
        ({"name": ""}, "needs a name"),
        ({"name": "a", "shape": 1}, "shape"),
        ({"name": "a", "checks": [{"checked": "yesterday"}]}, "checks"),
        ({"name": "a", "format": 2}, "update benchtemp"),
        ({"name": "a", "tolerance_class": "gold"}, "tolerance_class"),
    ],
)
def test_damaged_probe_files_are_told(plain, sentence):
    with pytest.raises(DamagedFile) as caught:
        Probe.from_dict(plain)
    assert sentence in str(caught.value)


def test_a_check_after_the_moment_asked_about_is_no_reason_to_call_a_probe_unchecked():
    probe = probe_with(("2027-03-01T09:00:00+00:00", 0.2))
    told = probe.check_warning("2026-11-25T12:00:00+00:00")
    assert "never checked" not in told
    assert "2027-03-01" in told
    assert "clock" in told
