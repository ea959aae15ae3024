import msgspec
import pytest

from benchtemp.probes.boiling import boiling_reference
from benchtemp.probes.brew_budget import DRIFT
from benchtemp.probes.calibration import CheckPoint
from benchtemp.probes.check import make_check
from benchtemp.probes.probe import Probe
from benchtemp.probes.uncertainty import Distribution
from benchtemp.shots.budget import Grounds, budget_of
from benchtemp.shots.recipe import Recipe
from benchtemp.shots.shot import Shot
from benchtemp.studies.evidence.proof import NOT_PROVEN, enclosed, proof_of
from benchtemp.studies.evidence.shot_record import record_of

BEFORE, PULLED, AFTER = "2031-02-27T16:40:00+00:00", "2031-03-03T16:40:00+00:00", "2031-03-08T16:40:00+00:00"


def boiled(checked, error_k, limit_k=1.0):
    reference = boiling_reference(pressure_hpa=1013.25, depth_cm=2.0)
    point = CheckPoint(
        reported_degc=reference.temp_degc + error_k,
        reference_degc=reference.temp_degc,
        reported_uncertainty_k=0.02,
        reference_uncertainty_k=0.05,
    )
    return make_check([point], probe="basket", checked=checked, limit_k=limit_k)


def probe(*checks):
    return Probe(name="basket", checks=checks)


@pytest.fixture
def pulled_with(brewed):
    def make(correction, drift_half_width_k=0.05):
        shot = Shot(
            number=1,
            result=brewed,
            recipe=Recipe(),
            correction=correction,
            grounds=Grounds(drift_half_width_k=drift_half_width_k),
            started=PULLED,
        )
        return msgspec.structs.replace(shot, brew_temp_expanded_uncertainty_k=budget_of(shot).expanded_k())

    return make


def drift_line(shot):
    return next(line for line in budget_of(shot).contributions if line.name == DRIFT)


def test_a_check_is_as_old_as_it_was_when_the_shot_was_pulled(pulled_with):
    first = boiled(BEFORE, 0.4)
    found = proof_of(pulled_with(first.correction), probe(first))
    assert found.age_days == pytest.approx(4.0)
    assert found.method == "boiling water"
    assert found.before == BEFORE
    assert (found.after, found.moved_k, found.failed_limit_k) == ("", None, None)


def test_the_age_is_known_without_the_probes_file(pulled_with):
    found = proof_of(pulled_with(boiled(BEFORE, 0.4).correction), None)
    assert found.age_days == pytest.approx(4.0)
    assert found.method == ""


def test_checks_before_and_after_tell_how_far_it_moved(pulled_with):
    first, second = boiled(BEFORE, 0.4), boiled(AFTER, 0.9)
    found = proof_of(pulled_with(first.correction), probe(first, second))
    assert found.moved_k == pytest.approx(-0.5)
    # Two boils of 0.05 and 0.02 °C each; that one bath says nothing of the slope is alike in both.
    assert found.moved_uncertainty_k == pytest.approx(2.0**0.5 * (0.05**2 + 0.02**2) ** 0.5)
    assert found.days_after == pytest.approx(5.0)


def test_another_probe_of_the_same_name_is_not_believed(pulled_with):
    first = boiled(BEFORE, 0.4)
    namesake = probe(boiled("2031-01-01T12:00:00+00:00", 0.1), boiled(AFTER, 2.0))
    assert proof_of(pulled_with(first.correction), namesake).moved_k is None


def test_a_limit_not_kept_to_is_told(pulled_with):
    first = boiled(BEFORE, 0.7, limit_k=0.5)
    assert proof_of(pulled_with(first.correction), probe(first)).failed_limit_k == 0.5


def test_a_probe_checked_only_afterwards_tells_what_it_read_wrong(pulled_with):
    later = boiled(AFTER, 0.64)
    unproven = pulled_with(Probe(name="basket").correction())
    found = proof_of(unproven, probe(later))
    assert found.age_days is None
    assert found.found_k == pytest.approx(-0.64)
    assert enclosed(unproven, found) == unproven


def test_what_the_checks_differ_by_is_in_the_uncertainty_as_a_rectangle(pulled_with):
    first, second = boiled(BEFORE, 0.4), boiled(AFTER, 0.9)
    shot = pulled_with(first.correction)
    wider = enclosed(shot, proof_of(shot, probe(first, second)))
    line = drift_line(wider)
    # JCGM 100:2008, 4.3.7: a half width over the square root of three.
    assert line.share_k == pytest.approx(0.5 / 3.0**0.5)
    assert line.distribution is Distribution.RECTANGULAR
    assert "0.50 °C between the checks" in line.note
    assert drift_line(shot).share_k == pytest.approx(0.05 / 3.0**0.5)
    squares = (
        (wider.brew_temp_expanded_uncertainty_k / 2.0) ** 2,
        (shot.brew_temp_expanded_uncertainty_k / 2.0) ** 2,
    )
    assert squares[0] - squares[1] == pytest.approx((0.5**2 - 0.05**2) / 3.0, rel=0.02)


def test_checks_that_agree_take_nothing_off_what_was_allowed_for(pulled_with):
    first, second = boiled(BEFORE, 0.4), boiled(AFTER, 0.42)
    shot = pulled_with(first.correction, drift_half_width_k=0.17)
    assert enclosed(shot, proof_of(shot, probe(first, second))) == shot


def test_a_shot_of_no_known_moment_is_not_proven(pulled_with):
    first = boiled(BEFORE, 0.4)
    shot = msgspec.structs.replace(pulled_with(first.correction), started="")
    assert proof_of(shot, probe(first)) == msgspec.structs.replace(NOT_PROVEN, drift_half_width_k=0.05)


def test_studies_see_the_wider_uncertainty(pulled_with):
    first, second = boiled(BEFORE, 0.4), boiled(AFTER, 0.9)
    shot = pulled_with(first.correction)
    seen = record_of(shot, probe=probe(first, second))
    (share_k,) = [k for name, k in seen.shared_k.items() if name.startswith("check of basket")]
    assert share_k**2 == pytest.approx(0.5**2 / 3.0 + at_the_check_k(shot) ** 2, rel=1e-6)
    assert seen.expanded_uncertainty_k > record_of(shot).expanded_uncertainty_k


def at_the_check_k(shot):
    correction = shot.correction
    return correction.uncertainty_at(correction.reported(shot.result.brew_temp_degc))
