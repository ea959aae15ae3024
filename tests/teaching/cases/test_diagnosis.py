"""Each fault is found by the evidence the marking names, and by nothing less."""

import msgspec
import pytest

from benchtemp.probes.correction import Correction
from benchtemp.readings.virtual import Scale, simulate
from benchtemp.readings.virtual.script import LockIn, Wait
from benchtemp.readings.virtual.script import Shot as Pulled
from benchtemp.shots.shot import analyse_stream
from benchtemp.teaching.cases.case import Case
from benchtemp.teaching.cases.diagnosis import _POINTERS, FAULT_POINTS, SIZE_POINTS, mark_diagnosis
from benchtemp.teaching.cases.evidence import evidence_from
from benchtemp.teaching.cases.fault import SIZED, Diagnosis, Fault
from benchtemp.teaching.cases.sealed import machine_of_build, unsealed
from benchtemp.teaching.cutting import pulls_in
from benchtemp.units import TempUnit


@pytest.mark.parametrize("number", range(2))
def test_six_shots_two_ground_coarser_and_a_boil_leave_one_candidate(codes, fault, shots, check, number):
    code = codes[fault][number]
    found = evidence_from(Case(code).brief, shots(code), [check(code)])
    assert found.candidates == (fault,)
    assert (found.shots, found.checks) == (8, 1)


@pytest.mark.parametrize("fault", [fault for fault in Fault if fault is not Fault.NONE], ids=str)
def test_the_named_evidence_alone_tells_a_fault_from_a_sound_machine(codes, fault, shots, check):
    """What the marking points to differs from a sound machine's figure by far more than its doubt."""
    sound_code, code = codes[Fault.NONE][0], codes[fault][0]
    sound = evidence_from(Case(sound_code).brief, shots(sound_code), [check(sound_code)])
    found = evidence_from(Case(code).brief, shots(code), [check(code)])
    most_telling = _POINTERS[fault][0]
    here, there = found.finding(most_telling), sound.finding(most_telling)
    doubt = (here.uncertainty**2 + there.uncertainty**2) ** 0.5
    assert abs(here.value - there.value) > 2.0 * doubt


@pytest.mark.parametrize("number", range(2))
def test_one_shot_and_no_check_leave_more_than_one_candidate(codes, fault, shots, number):
    code = codes[fault][number]
    found = evidence_from(Case(code).brief, shots(code)[:1]).candidates
    assert fault in found
    assert len(found) > 1


@pytest.mark.parametrize("fault", [Fault.SLOW_FLOW, Fault.GRIND], ids=str)
def test_slow_water_and_a_fine_grind_look_alike_until_the_grind_is_changed(codes, fault, shots, check):
    fine = [code for code in codes[Fault.GRIND] if _resists(code) > 1.0]
    code = fine[0] if fault is Fault.GRIND else codes[fault][0]
    brief = Case(code).brief
    assert evidence_from(brief, shots(code)[:6], [check(code)]).candidates == (Fault.SLOW_FLOW, Fault.GRIND)
    assert evidence_from(brief, shots(code), [check(code)]).candidates == (fault,)
    marking = mark_diagnosis(Case(code), Diagnosis(fault=fault), shots(code)[:6], [check(code)])
    assert "coarser grind" in " ".join(marking.separating)


def test_a_coarse_grind_is_told_at_once_as_no_pump_gives_more(codes, shots, check):
    code = next(code for code in codes[Fault.GRIND] if _resists(code) < 1.0)
    assert evidence_from(Case(code).brief, shots(code)[:3], [check(code)]).candidates == (Fault.GRIND,)


def _resists(code):
    """Return how much a case's beds resist beside right ones."""
    usual = machine_of_build().basket.resistance_pa_s_per_kg
    return unsealed(code).machine.basket.resistance_pa_s_per_kg / usual


def test_the_grind_is_seen_in_the_temperature_too(codes, shots):
    """Why it is a candidate at all: a fine bed brews colder, a coarse one hotter."""
    for code in codes[Fault.GRIND][:3]:
        level = evidence_from(Case(code).brief, shots(code)).finding("level")
        assert abs(level.value) > 0.2
        assert (level.value < 0.0) == (_resists(code) > 1.0)


def test_shots_at_other_settings_say_nothing_of_the_level(codes, shots):
    """A setpoint moved on purpose is no wrong offset."""
    code = codes[Fault.NONE][0]
    case = Case(code)
    moved = analyse_stream(case.pull(3, setpoint_degc=case.brief.display_degc + 3.0, sitting=3)).shots
    assert moved[0].result.brew_temp_degc == pytest.approx(case.brief.display_degc + 3.0, abs=0.5)
    plain = evidence_from(case.brief, shots(code))
    assert evidence_from(case.brief, (*shots(code), *moved)).finding("level") == plain.finding("level")


def test_offset_and_low_probe_look_alike_until_the_probe_is_checked(codes, shots, check):
    low = codes[Fault.PROBE_LOW][0]
    offset = next(code for code in codes[Fault.OFFSET] if -1.0 <= unsealed(code).size_k <= -0.7)
    alike = (Fault.OFFSET, Fault.PROBE_LOW)
    for code in (low, offset):
        brief = Case(code).brief
        assert evidence_from(brief, shots(code)).candidates == alike
        assert len(evidence_from(brief, shots(code), [check(code)]).candidates) == 1
        marking = mark_diagnosis(Case(code), Diagnosis(fault=Fault.OFFSET), shots(code))
        assert any("boiling water or ice" in test for test in marking.separating)


def test_a_correction_applied_to_the_shots_is_taken_back(codes, shots, check):
    code = codes[Fault.PROBE_LOW][0]
    brief = Case(code).brief
    corrected = [
        msgspec.structs.replace(
            shot,
            correction=Correction(probe="case probe", offset_k=0.8),
            result=msgspec.structs.replace(shot.result, brew_temp_degc=shot.result.brew_temp_degc + 0.8),
        )
        for shot in shots(code)
    ]
    plain = evidence_from(brief, shots(code), [check(code)])
    assert evidence_from(brief, corrected, [check(code)]).candidates == plain.candidates
    assert evidence_from(brief, corrected).finding("level").value == pytest.approx(
        evidence_from(brief, shots(code)).finding("level").value
    )


def test_even_intervals_leave_the_thermostat_open(codes):
    code = codes[Fault.OFFSET][0]
    shots = analyse_stream(Case(code).pull(6, irregular=False)).shots
    assert Fault.THERMOSTAT in evidence_from(Case(code).brief, shots).candidates
    marking = mark_diagnosis(Case(code), Diagnosis(fault=Fault.OFFSET), shots)
    assert any("uneven" in test for test in marking.separating)
    assert "partly a guess" in marking.verdict


def test_a_first_shot_that_came_late_leaves_the_cold_group_open(codes, shots):
    code = codes[Fault.NONE][0]
    late = [
        msgspec.structs.replace(
            shot, result=msgspec.structs.replace(shot.result, pump_on_s=shot.result.pump_on_s + 1200.0)
        )
        for shot in shots(code)
    ]
    assert Fault.COLD_GROUP in evidence_from(Case(code).brief, late).candidates
    assert Fault.COLD_GROUP not in evidence_from(Case(code).brief, shots(code)).candidates


def test_a_cold_group_is_seen_in_two_short_sittings_too(codes):
    case = Case(codes[Fault.COLD_GROUP][0])
    shots = [
        msgspec.structs.replace(shot, recording=f"sitting-{sitting}.ecsv")
        for sitting in (1, 2)
        for shot in analyse_stream(case.pull(5, sitting=sitting)).shots
    ]
    assert evidence_from(case.brief, shots, [case.boil()]).candidates == (Fault.COLD_GROUP,)


def test_without_any_test_everything_is_open(codes):
    found = evidence_from(Case(codes[Fault.NONE][0]).brief, ())
    assert found.candidates == tuple(Fault)
    assert all(finding.value is None for finding in found.findings)
    marking = mark_diagnosis(Case(codes[Fault.NONE][0]), Diagnosis(fault=Fault.NONE), ())
    assert marking.right
    assert len(marking.separating) == 3


@pytest.mark.parametrize("seconds", [14.0, 20.0, 30.0])
@pytest.mark.parametrize("fault", [Fault.NONE, Fault.SLOW_FLOW], ids=str)
def test_flow_is_told_at_any_length_of_shot(codes, fault, seconds):
    machine = unsealed(codes[fault][0]).machine
    script = (LockIn(dose_g=18.0), Wait(seconds=15.0), Pulled(seconds=seconds), Wait(seconds=10.0))
    stream = simulate(machine, script, scale=Scale(), before=(Wait(seconds=60.0),))
    pulls = pulls_in(stream)
    share = evidence_from(Case(codes[fault][0]).brief, pulls).finding("flow").value
    if fault is Fault.NONE:
        assert share == pytest.approx(1.0, abs=0.15)
    else:
        # A cup that stays empty is not weighed at all.
        assert share is None or share < 0.6


# Marking


def test_right_with_its_size_earns_all(codes, fault, shots, check):
    code = codes[fault][0]
    size_k = unsealed(code).size_k
    marking = mark_diagnosis(Case(code), Diagnosis(fault=fault, size_k=size_k), shots(code), [check(code)])
    assert marking.right
    assert marking.points == 100.0
    assert marking.fault is fault
    assert marking.size_right is (True if fault in SIZED else None)
    assert marking.separating == ()
    assert marking.verdict.startswith("Right")
    assert "guess" not in marking.verdict
    assert len(marking.pointers) >= 2


def test_a_size_costs_smoothly(codes, shots):
    code = codes[Fault.OFFSET][0]
    true_k = unsealed(code).size_k
    earned = [
        mark_diagnosis(Case(code), Diagnosis(fault=Fault.OFFSET, size_k=true_k + off_k), shots(code)).points
        for off_k in (0.0, 0.29, 0.5, 0.8, 1.1, 5.0)
    ]
    assert earned[:2] == [FAULT_POINTS + SIZE_POINTS] * 2
    assert earned[1:5] == sorted(earned[1:5], reverse=True)
    assert earned[4:] == [FAULT_POINTS] * 2
    none = mark_diagnosis(Case(code), Diagnosis(fault=Fault.OFFSET), shots(code))
    assert none.points == FAULT_POINTS
    assert "no size" in none.verdict


def test_wrong_says_what_it_was_and_how_what_was_named_would_have_looked(codes, fault, shots, check):
    code = codes[fault][0]
    named = Fault.COLD_GROUP if fault is not Fault.COLD_GROUP else Fault.OFFSET
    marking = mark_diagnosis(Case(code), Diagnosis(fault=named), shots(code), [check(code)])
    assert not marking.right
    assert marking.points == 0.0
    assert marking.fault is fault
    assert marking.verdict.startswith("Wrong")
    assert any("spoke against" in pointer for pointer in marking.pointers)


def test_sentences_follow_the_unit(codes, shots, check):
    code = codes[Fault.OFFSET][0]
    marking = mark_diagnosis(
        Case(code), Diagnosis(fault=Fault.OFFSET), shots(code), [check(code)], unit=TempUnit.DEGF
    )
    told = " ".join((marking.verdict, *marking.pointers))
    assert "°F" in told
    assert "°C" not in told
