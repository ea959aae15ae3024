"""A guided check, fed by virtual baths without a clock."""

from math import nan

import msgspec
import pytest

from benchtemp.errors import BadInput
from benchtemp.probes import ice
from benchtemp.probes.boiling import boiling_reference
from benchtemp.probes.check import CheckMethod
from benchtemp.probes.checking import CheckRule, ProbeCheck
from benchtemp.probes.guide import guide
from benchtemp.probes.reference import ReferenceKind, thermometer_reference
from benchtemp.probes.settle import BathState, NotSettled
from benchtemp.probes.tolerance import ToleranceClass
from benchtemp.readings.virtual.pot import (
    POT_BOILS_DEGC,
    POT_DEPTH_CM,
    POT_PRESSURE_HPA,
    PROBES,
    Bath,
    BathProbe,
    VirtualPot,
    Water,
)

WHEN = "2031-03-04T10:00:00+01:00"


def boil():
    return boiling_reference(pressure_hpa=POT_PRESSURE_HPA, depth_cm=POT_DEPTH_CM)


def bathe(check, pot, longest_s=900.0):
    """Feed a bath until the check is ready or lost; return the last progress."""
    while True:
        reading = pot.next_reading()
        check.step(reading.t_s, reading.temps_degc)
        if reading.t_s % 1.0 == 0.0:
            progress = check.progress()
            if progress.ready or progress.lost or reading.t_s > longest_s:
                return progress


@pytest.mark.parametrize("seed", range(4))
def test_it_finds_by_itself_when_the_boil_has_settled_and_how_far_the_probe_is_off(seed):
    check = ProbeCheck({0: "basket 1"})
    check.begin_bath(boil())
    progress = bathe(check, VirtualPot(Bath.POT, seed=seed))
    assert progress.ready
    assert progress.elapsed_s < 240.0
    check.finish_bath()
    found = check.checks(checked=WHEN, operator="M. Tarn", recording="r.ecsv", note="new pot")["basket 1"]
    true_error_k = 0.25 + 0.004 * POT_BOILS_DEGC
    assert found.verdict.error_k == pytest.approx(true_error_k, abs=0.12)
    assert abs(found.verdict.error_k - true_error_k) < found.verdict.expanded_k
    assert found.method is CheckMethod.BOILING
    assert (found.operator, found.recording, found.note) == ("M. Tarn", "r.ecsv", "new pot")
    assert found.conditions["pressure"] == "1006.00 hPa"
    assert found.points[0].readings > 150
    assert found.passed


def test_a_second_bath_gives_a_slope():
    check = ProbeCheck({0: "basket 1"})
    for reference, bath in ((boil(), Bath.POT), (ice.ice_reference(), Bath.ICE)):
        check.begin_bath(reference)
        assert bathe(check, VirtualPot(bath, seed=2)).ready
        check.finish_bath()
    found = check.checks(checked=WHEN)["basket 1"]
    assert found.method is CheckMethod.SEVERAL
    assert found.correction.slope_k_per_k == pytest.approx(-0.004, abs=0.0012)
    assert found.correction.apply(93.622) == pytest.approx(93.0, abs=0.12)
    assert found.conditions["boiling water: depth"] == "5 cm"


def test_an_earlier_bath_of_the_day_counts_together_with_this_one():
    first = ProbeCheck({0: "p"})
    first.begin_bath(boil())
    bathe(first, VirtualPot(Bath.POT))
    first.finish_bath()
    earlier = first.checks(checked="2031-03-04T09:00:00+01:00")["p"]
    second = ProbeCheck({0: "p"})
    second.join("p", earlier)
    second.begin_bath(ice.ice_reference(dissolved_g_per_l=0.1))
    bathe(second, VirtualPot(Bath.ICE))
    second.finish_bath()
    found = second.checks(checked=WHEN)["p"]
    assert [point.kind for point in found.points] == [ReferenceKind.BOILING, ReferenceKind.ICE]
    assert found.conditions["boiling water: pressure"] == "1006.00 hPa"
    assert found.conditions["boiling water: checked"] == earlier.checked
    assert found.conditions["ice bath: dissolved solids"] == "0.1 g/L"


def test_two_baths_too_close_together_are_refused():
    check = ProbeCheck({0: "p"})
    for _ in range(2):
        check.begin_bath(boil())
        bathe(check, VirtualPot(Bath.POT))
        check.finish_bath()
    with pytest.raises(BadInput, match="too close"):
        check.checks(checked=WHEN)


def test_several_probes_in_one_bath_are_held_against_each_other_and_the_reference():
    check = ProbeCheck({0: "a", 2: "c"})
    check.begin_bath(boil())
    assert bathe(check, VirtualPot(Bath.POT, PROBES[:3])).ready
    check.finish_bath()
    (comparison,) = check.comparisons
    apart_k = (0.25 + 0.004 * POT_BOILS_DEGC) - (0.05 - 0.002 * POT_BOILS_DEGC)
    assert comparison.spread_k == pytest.approx(apart_k, abs=0.15)
    assert [probe.name for probe in comparison.probes] == ["a", "c"]
    assert set(check.checks(checked=WHEN)) == {"a", "c"}


def test_without_a_reference_probes_are_only_compared():
    check = ProbeCheck({0: "a", 1: "b"})
    check.begin_bath(None)
    assert bathe(check, VirtualPot(Bath.POT, PROBES[:2])).ready
    check.finish_bath()
    assert check.comparisons[0].reference_degc is None
    assert check.points("a") == ()
    with pytest.raises(BadInput, match="without a point"):
        check.checks(checked=WHEN)


def test_a_reference_thermometer_counts_where_the_bath_came_to_rest_last():
    stirred = Water(name="stirred", start_degc=60.0, end_degc=93.0, rate_k_per_min=20.0, wander_k=0.05)
    check = ProbeCheck({0: "p"})
    check.begin_bath(thermometer_reference(93.0, 0.1))
    assert bathe(check, VirtualPot(stirred)).ready
    check.finish_bath()
    found = check.checks(checked=WHEN)["p"]
    assert found.method is CheckMethod.THERMOMETER
    assert found.verdict.error_k == pytest.approx(0.25 + 0.004 * 93.0, abs=0.08)


def test_a_boil_check_at_80_degrees_is_one_sentence_and_no_point():
    check = ProbeCheck({0: "p"})
    check.begin_bath(boil())
    progress = bathe(check, VirtualPot(Bath.SIMMER))
    assert progress.lost
    assert not progress.ready
    assert "80.5 °C" in progress.trouble
    assert "rolling boil" in progress.trouble
    with pytest.raises(BadInput, match="rolling boil"):
        check.finish_bath()
    assert check.points("p") == ()


def test_turning_up_the_heat_puts_it_right():
    check = ProbeCheck({0: "p"})
    check.begin_bath(boil())
    assert bathe(check, VirtualPot(Bath.SIMMER)).lost
    pot, later_s = VirtualPot(Bath.POT, seed=1), 70.0
    while True:
        reading = pot.next_reading()
        check.step(later_s + reading.t_s, reading.temps_degc)
        if reading.t_s == 30.0:
            climbing = check.progress()
            assert climbing.trouble == ""
            assert not climbing.ready
        if reading.t_s % 1.0 == 0.0 and check.progress().ready:
            break
    check.finish_bath()
    assert check.points("p")[0].reported_degc == pytest.approx(100.55, abs=0.12)


@pytest.mark.parametrize(
    ("bath", "words"), [(Bath.RESTLESS, "jump about"), (Bath.COLD, "still climbing by 1.5")]
)
def test_a_bath_that_never_settles_is_given_up_with_the_reason(bath, words):
    check = ProbeCheck({0: "p"}, rule=CheckRule(longest_s=200.0))
    check.begin_bath(boil())
    progress = bathe(check, VirtualPot(bath))
    assert progress.lost
    assert words in progress.trouble
    with pytest.raises(NotSettled, match=words):
        check.finish_bath()


def test_an_open_probe_is_told_within_seconds():
    check = ProbeCheck({0: "good", 1: "broken"})
    check.begin_bath(boil())
    pot = VirtualPot(Bath.POT, (PROBES[0], BathProbe(is_open=True)))
    progress = bathe(check, pot)
    assert progress.elapsed_s < 20.0
    assert progress.trouble == "broken gives no temperature: the probe is open; check its plug and its wires."
    assert progress.probes[1].status.state is BathState.OPEN
    with pytest.raises(NotSettled, match="open"):
        check.finish_bath()


def test_a_channel_that_is_not_there_counts_as_open():
    check = ProbeCheck({3: "p"})
    check.begin_bath(boil())
    assert "open" in bathe(check, VirtualPot(Bath.POT)).trouble


def test_a_probe_plugged_in_again_goes_on():
    check = ProbeCheck({0: "p"})
    check.begin_bath(boil())
    for step in range(48):
        check.step(0.25 * step, (nan,))
    assert check.progress().trouble
    pot = VirtualPot(Bath.POT)
    for _ in range(40):
        reading = pot.next_reading()
        check.step(12.0 + reading.t_s, reading.temps_degc)
    assert check.progress().trouble == ""


def test_an_altitude_in_feet_taken_for_metres_is_asked_about():
    # A pot in 1600 ft, 488 m: it boils at 98.4 °C, and someone typed 1600 m, where it would be 94.7 °C.
    water = Water(name="up there", start_degc=90.0, end_degc=98.37)
    exact = BathProbe(offset_k=0.1, slope_k_per_k=0.0)
    check = ProbeCheck({0: "p"})
    check.begin_bath(boiling_reference(altitude_m=1600.0), altitude_m=1600.0)
    assert bathe(check, VirtualPot(water, (exact,))).ready
    check.finish_bath()
    remarks = check.remarks("p")
    assert any("feet" in remark and "1600 ft" in remark for remark in remarks)
    assert any("class" in remark for remark in remarks)
    higher = ProbeCheck({0: "p"})
    higher.begin_bath(boiling_reference(altitude_m=5000.0), altitude_m=5000.0)
    at_5000_ft = Water(name="higher", start_degc=90.0, end_degc=94.9)
    assert "Was the altitude meant in feet?" in bathe(higher, VirtualPot(at_5000_ft, (exact,))).trouble


def test_a_good_check_needs_no_remark():
    check = ProbeCheck({0: "p"})
    check.begin_bath(boiling_reference(altitude_m=50.0), altitude_m=50.0)
    bathe(check, VirtualPot(Bath.POT))
    check.finish_bath()
    assert check.remarks("p") == ()
    wrong = msgspec.structs.replace(check.points("p")[0], reported_degc=102.0)
    check.join("p", msgspec.structs.replace(check.checks(checked=WHEN)["p"], points=(wrong,)))
    assert "± 1.5 °C" in check.remarks("p", ToleranceClass.IEC_1)[0]


def test_nothing_settles_before_it_has_been_still_for_long_enough():
    check = ProbeCheck({0: "p"}, rule=CheckRule(hold_s=120.0))
    check.begin_bath(ice.ice_reference())
    assert bathe(check, VirtualPot(Bath.ICE)).elapsed_s > 120.0
    usual = ProbeCheck({0: "p"})
    usual.begin_bath(ice.ice_reference())
    assert 45.0 < bathe(usual, VirtualPot(Bath.ICE)).elapsed_s < 90.0


@pytest.mark.parametrize("kind", [*ReferenceKind, None])
def test_cautions_come_with_every_bath(kind):
    told = guide(kind)
    assert any("Mains" in line or "mains" in line for line in told.cautions)
    assert told.steps
    if kind is ReferenceKind.BOILING:
        assert any("scald" in line for line in told.cautions)


def test_what_cannot_be_is_refused():
    for probes in ({}, {0: "a", 1: "A"}):
        with pytest.raises(BadInput):
            ProbeCheck(probes)
    for limit_k in (0.0, -1.0, nan):
        with pytest.raises(BadInput):
            ProbeCheck({0: "a"}, limit_k=limit_k)
    check = ProbeCheck({0: "a"})
    with pytest.raises(BadInput, match="no bath"):
        check.progress()
    with pytest.raises(BadInput, match="no bath"):
        check.finish_bath()
