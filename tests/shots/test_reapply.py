import pytest

from benchtemp.errors import BadInput
from benchtemp.probes.calibration import CheckPoint
from benchtemp.probes.check import make_check
from benchtemp.probes.probe import Probe
from benchtemp.probes.tolerance import ToleranceClass
from benchtemp.shots.reapply import chosen_check, reapplied


def check(error_k, day):
    point = CheckPoint(reported_degc=100.0 + error_k, reference_degc=100.0, reference_uncertainty_k=0.1)
    return make_check([point], probe="p", checked=f"{day}T10:00:00+00:00")


@pytest.fixture
def probe():
    found = Probe(name="p", tolerance_class=ToleranceClass.IEC_1)
    for error_k, day in ((0.5, "2031-01-10"), (0.7, "2031-04-10")):
        found = found.with_check(check(error_k, day))
    return found


def test_the_newest_check_an_older_one_or_none(probe):
    assert chosen_check(probe).checked.startswith("2031-04-10")
    assert chosen_check(probe, as_of="2031-04-09").checked.startswith("2031-01-10")
    assert chosen_check(probe, as_of="2031-01-10").checked.startswith("2031-01-10")
    assert chosen_check(probe, never=True) is None
    with pytest.raises(BadInput, match="2031-01-09"):
        chosen_check(probe, as_of="2031-01-09")
    with pytest.raises(BadInput, match="never checked"):
        chosen_check(Probe(name="new"), as_of="2031-01-09")
    with pytest.raises(BadInput, match="no date"):
        chosen_check(probe, as_of="yesterday")


def test_drift_counts_from_the_check_to_the_shot_whichever_was_first(probe):
    newest = chosen_check(probe)
    near = reapplied({"started": "2031-04-11T10:00:00+00:00"}, "T1", probe, newest)
    later = reapplied({"started": "2033-04-10T10:00:00+00:00"}, "T1", probe, newest)
    earlier = reapplied({"started": "2029-04-10T10:00:00+00:00"}, "T1", probe, newest)
    assert near.correction.offset_k == pytest.approx(-0.7)
    assert near.grounds.drift_half_width_k == pytest.approx(0.3 / 1.8)
    assert later.grounds.drift_half_width_k == pytest.approx(earlier.grounds.drift_half_width_k, rel=0.01)
    assert later.grounds.drift_half_width_k > 3 * near.grounds.drift_half_width_k
    assert reapplied({}, "T1", probe, newest).grounds.drift_half_width_k == pytest.approx(0.3 / 1.8)


def test_never_checked_means_the_whole_tolerance_and_no_correction(probe):
    applied = reapplied({"uncertainty": {"room_degc": 30}}, "T1", probe, None)
    assert applied.correction.apply(93.0) == 93.0
    assert applied.correction.probe == "p"
    assert applied.grounds.tolerance_class is ToleranceClass.IEC_1
    assert applied.grounds.drift_half_width_k == 0.0
    assert applied.grounds.estimates.room_degc == 30.0
