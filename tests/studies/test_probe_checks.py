import msgspec
import pytest

from benchtemp.studies.evidence.proof import Proof
from benchtemp.studies.outcome import About
from benchtemp.studies.probe_checks import check_phrases, probe_checks
from benchtemp.studies.probe_concerns import probe_concerns, proof_concerns
from benchtemp.studies.steadiness import steadiness
from benchtemp.units import TempUnit

TEMPS = [93.1, 93.0, 92.9, 93.2, 93.0, 92.8]
BEFORE, AFTER = "2031-02-27T16:40:00+00:00", "2031-03-08T11:10:00+00:00"


def proof(**known):
    return Proof(**{"age_days": 3.7, "method": "boiling water", "drift_half_width_k": 0.17, **known})


@pytest.fixture
def proven(shot_set):
    def make(**known):
        return shot_set(TEMPS, proof=proof(**known), checked=BEFORE)

    return make


def phrase(shots, unit=TempUnit.DEGC):
    (text,) = check_phrases(probe_checks(shots), unit)
    return text


def test_a_verdict_says_when_each_probe_was_last_proven(proven):
    shots = proven()
    assert phrase(shots) == "K-07 checked 2031-02-27 in boiling water, 4 days before these shots"
    assert steadiness(shots).verdict().limits[-1] == phrase(shots)
    assert proof_concerns(shots) == ()


def test_ages_differ_in_a_long_series(shot_set):
    proofs = [proof(age_days=4.0 + day) for day in range(6)]
    assert phrase(shot_set(TEMPS, proof=proofs, checked=BEFORE)).endswith("4 to 9 days before these shots")


@pytest.mark.parametrize(
    ("age_days", "said"),
    [(0.2, "less than a day before"), (1.1, "1 day before"), (-2.0, "2 days after")],
)
def test_ages_are_said_as_people_say_them(proven, age_days, said):
    assert phrase(proven(age_days=age_days)).endswith(f"{said} these shots")


def test_a_check_after_the_shots_closes_them_in(proven):
    shots = proven(before=BEFORE, after=AFTER, days_after=5.0, moved_k=-0.03, moved_uncertainty_k=0.07)
    assert phrase(shots).endswith(
        "4 days before these shots, and 5 days after them (moved by −0.03 °C, ± 0.14 °C)"
    )
    assert "moved by −0.05 °F, ± 0.25 °F" in phrase(shots, TempUnit.DEGF)
    assert proof_concerns(shots) == ()


def test_checks_that_disagree_are_a_concern_and_say_what_follows(proven):
    shots = proven(before=BEFORE, after=AFTER, days_after=5.0, moved_k=-0.4, moved_uncertainty_k=0.07)
    (concern,) = proof_concerns(shots)
    assert concern.about is About.PROBE_MOVED
    said = concern.said()
    assert "on 2031-02-27 and 2031-03-08, differ by −0.40 °C" in said
    assert "(± 0.14 °C)" in said
    assert "all of that is in the uncertainty" in said


def test_an_old_check_is_one_beyond_the_limit_the_user_sets(proven):
    shots = proven(age_days=60.0, drift_half_width_k=0.21)
    assert proof_concerns(shots) == ()
    (concern,) = proof_concerns(msgspec.structs.replace(shots, check_days=30.0))
    assert concern.about is About.OLD_CHECK
    assert "60 days old (more than 30 counts as old): ± 0.21 °C for its drift" in concern.said()
    assert "± 0.38 °F" in concern.said(TempUnit.DEGF)


def test_a_failed_check_is_told_with_its_limit(proven):
    (concern,) = proof_concerns(proven(failed_limit_k=0.5))
    assert concern.about is About.FAILED_CHECK
    assert "limit of 0.5 °C" in concern.said()


def test_a_probe_never_checked_may_have_been_checked_afterwards(shot_set):
    never = shot_set(TEMPS, checked="", proof=Proof())
    assert phrase(never) == "K-07 never checked before these shots"
    (concern,) = proof_concerns(never)
    assert "never checked: one of IEC class 2 may be off by 2.5 °C" in concern.said()
    later = shot_set(TEMPS, checked="", proof=Proof(after=AFTER, days_after=5.0, found_k=-0.64))
    assert phrase(later) == "K-07 never checked before these shots, first on 2031-03-08"
    (concern,) = proof_concerns(later)
    assert concern.about is About.UNCHECKED_PROBE
    assert "on 2031-03-08 K-07 read 0.64 °C too high" in concern.said()
    assert "not corrected" in concern.said()


def test_a_check_without_a_date_is_told_as_one(shot_set):
    undated = shot_set(TEMPS, checked="yes", proof=Proof())
    assert phrase(undated) == "K-07 corrected by a check of unknown date"


def test_each_of_several_probes_is_told_and_of_many_the_first(shot_set):
    names = ["a", "b", "c", "d", "e", "e"]
    shots = shot_set(TEMPS, probe=names, checked=BEFORE, proof=proof())
    told = check_phrases(probe_checks(shots), TempUnit.DEGC)
    assert [text.split()[0] for text in told] == ["a", "b", "c", "and"]
    assert told[-1] == "and 2 more probes"
    assert [check.count for check in probe_checks(shots)] == [1, 1, 1, 1, 2]
    (mixed,) = probe_concerns(shots)
    assert mixed.about is About.MIXED_PROBES


def test_a_check_in_between_is_told_with_both_days(shot_set):
    checked = [BEFORE] * 3 + ["2031-03-05T10:00:00+00:00"] * 3
    shots = shot_set(TEMPS, checked=checked, proof=proof())
    assert "K-07 checked 2031-02-27 and 2031-03-05 in boiling water" in phrase(shots)
    (concern,) = probe_concerns(shots)
    assert "in between" in concern.said()
