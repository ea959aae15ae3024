from math import inf, nan, sqrt

import msgspec
import numpy as np
import pytest

from benchtemp.errors import BadInput
from benchtemp.probes.brew_budget import CALIBRATION, DRIFT, JUNCTION, NOISE, POSITION, TOLERANCE
from benchtemp.probes.correction import UNCORRECTED, Correction
from benchtemp.probes.monte_carlo import agreement, monte_carlo
from benchtemp.probes.tolerance import ToleranceClass
from benchtemp.probes.type_k import seebeck_mv_per_k
from benchtemp.readings.reading import Stream
from benchtemp.shots.budget import (
    Estimates,
    Grounds,
    brew_budget,
    budget_of,
    difference_of,
    interface_of,
    standing_expanded_k,
    stored_grounds,
)
from benchtemp.shots.entries import ShotEntries
from benchtemp.shots.recipe import Recipe
from benchtemp.shots.result import Origin, PullKind, Result
from benchtemp.shots.shot import analyse_stream, make_shot, stored_correction

CHECKED = Correction(
    probe="basket 1", checked="2031-03-01T09:00:00+00:00", offset_k=-0.6, reference_degc=100.0,
    uncertainty_k=0.1, slope_uncertainty_k_per_k=0.004, dof=50.0,
)  # fmt: skip


def result(**changes):
    fields = {
        "kind": PullKind.SHOT,
        "rise_s": 22.0,
        "pump_on_s": 20.0,
        "pump_on_source": Origin.MARKED,
        "pump_off_s": 45.0,
        "pump_off_source": Origin.MARKED,
        "plateau_start_s": 28.0,
        "plateau_end_s": 45.0,
        "brew_temp_degc": 93.0,
        "brew_temp_uncertainty_k": 0.02,
        "readings": 170,
    }
    return Result(**{**fields, **changes})


def shot(correction=UNCORRECTED, grounds=None, **changes):
    entries = ShotEntries(recipe=Recipe())
    return make_shot(result(**changes), entries, number=1, correction=correction, grounds=grounds)


def junction_share():
    return seebeck_mv_per_k(25.0) / seebeck_mv_per_k(93.0)


def test_an_unchecked_probe_is_as_uncertain_as_its_class():
    found = shot()
    expected = sqrt((2.5 / sqrt(3)) ** 2 + (junction_share() / sqrt(3)) ** 2 + 0.5**2 / 6 + 0.02**2)
    assert budget_of(found).uncertainty_k == pytest.approx(expected, rel=1e-9)
    assert found.brew_temp_expanded_uncertainty_k == pytest.approx(2.0 * expected, rel=1e-6)
    assert found.coverage_factor == pytest.approx(2.0, abs=1e-6)
    assert {line.name for line in budget_of(found).contributions} == {TOLERANCE, JUNCTION, POSITION, NOISE}


def test_a_checked_probe_is_as_uncertain_as_its_check_drift_and_place():
    grounds = Grounds(drift_half_width_k=0.17)
    found = shot(CHECKED, grounds)
    away_k = 93.6 - 100.0
    expected = sqrt(
        0.1**2
        + (0.004 * away_k) ** 2
        + 0.17**2 / 3
        + (0.2 * junction_share()) ** 2 / 3
        + 0.5**2 / 6
        + 0.02**2
    )
    budget = budget_of(found)
    assert budget.uncertainty_k == pytest.approx(expected, rel=1e-9)
    assert found.coverage_factor > 2.0
    names = {line.name for line in budget.contributions}
    assert {CALIBRATION, DRIFT} <= names
    assert TOLERANCE not in names


def test_drawing_lots_says_the_same():
    for found in (shot(), shot(CHECKED, Grounds(drift_half_width_k=0.17))):
        run = monte_carlo(budget_of(found), trials=200_000, seed=7)
        assert run.uncertainty == pytest.approx(budget_of(found).uncertainty_k, rel=0.01)
        assert run.mean == pytest.approx(93.0, abs=0.01)
    assert agreement(budget_of(found), run, digits=1).agrees


def test_where_one_tolerance_rules_the_interval_is_on_the_safe_side():
    budget = budget_of(shot())
    run = monte_carlo(budget, trials=200_000, seed=7)
    assert budget.value + 0.8 * budget.expanded_k() < run.high < budget.value + budget.expanded_k()


def test_estimates_can_be_edited():
    surer = Estimates(position_half_width_k=0.0, junction_half_width_k=0.0)
    found = shot(grounds=Grounds(estimates=surer, tolerance_class=ToleranceClass.ASTM_SPECIAL))
    assert budget_of(found).uncertainty_k == pytest.approx(sqrt(1.1**2 / 3 + 0.02**2), rel=1e-9)


@pytest.mark.parametrize(
    "wrong",
    [{"position_half_width_k": -1}, {"junction_half_width_k": 21}, {"room_degc": 300}, {"room_degc": nan}],
)
def test_estimates_that_cannot_be_are_refused(wrong):
    with pytest.raises(BadInput):
        Estimates(**wrong)


def test_nothing_is_said_where_nothing_can_be():
    assert shot(brew_temp_degc=None).brew_temp_expanded_uncertainty_k is None
    grounds = Grounds(tolerance_class=ToleranceClass.IEC_3)
    assert shot(grounds=grounds).brew_temp_expanded_uncertainty_k is None
    assert brew_budget(result(brew_temp_degc=None), UNCORRECTED) is None


def test_the_standing_uncertainty_is_that_without_the_shots_own_readings():
    found = shot(CHECKED)
    whole = budget_of(found)
    assert standing_expanded_k(93.0, CHECKED) == pytest.approx(whole.without(NOISE).expanded_k(), rel=1e-9)


def test_what_two_shots_share_cancels_in_their_difference():
    first = shot(CHECKED, Grounds(drift_half_width_k=0.17, interface="a"))
    second = shot(CHECKED, Grounds(drift_half_width_k=0.17, interface="a"), brew_temp_degc=93.4)
    difference = difference_of(first, second)
    assert difference.cancelled.value == pytest.approx(0.4)
    assert difference.cancelled.uncertainty_k == pytest.approx(0.02 * sqrt(2), rel=0.01)
    assert difference.independent.uncertainty_k == pytest.approx(
        sqrt(2) * budget_of(first).uncertainty_k, rel=0.01
    )
    assert difference_of(first, shot(brew_temp_degc=None)) is None


def test_unnamed_probes_on_two_interfaces_share_nothing():
    first, second = shot(grounds=Grounds(interface="a")), shot(grounds=Grounds(interface="b"))
    difference = difference_of(first, second)
    assert difference.cancelled.uncertainty_k == pytest.approx(difference.independent.uncertainty_k)
    same = difference_of(first, shot(grounds=Grounds(interface="a")))
    assert same.cancelled.uncertainty_k < 0.05


@pytest.mark.parametrize(
    ("details", "told"),
    [
        ({"adapter_identity": "0403:6001:A1B2@1-2", "port": "COM3"}, "0403:6001:A1B2"),
        ({"adapter_identity": "0403:6001:@1-2", "port": "COM3"}, "0403:6001:@1-2"),
        ({"port": "COM3"}, "COM3"),
        ({"kind": "virtual machine", "name": "Ferrowick Two"}, "virtual machine Ferrowick Two"),
        ({}, ""),
    ],
)
def test_an_interface_is_known_by_what_stays_the_same(details, told):
    assert interface_of(details) == told


def test_grounds_are_read_from_the_header_as_they_were_written():
    channel = {"name": "T2", "tolerance_class": "IEC class 1", "drift_half_width_k": 0.3}
    meta = {
        "channels": [{"name": "T1"}, channel],
        "uncertainty": {"position_half_width_k": 0.2, "position_fixed": False, "room_degc": 30},
        "source": {"port": "COM3"},
    }
    found = stored_grounds(meta, "T2")
    assert found == Grounds(
        estimates=Estimates(position_half_width_k=0.2, position_fixed=False, room_degc=30.0),
        tolerance_class=ToleranceClass.IEC_1,
        drift_half_width_k=0.3,
        interface="COM3",
    )
    assert stored_grounds(meta, "T1").tolerance_class is ToleranceClass.IEC_2


@pytest.mark.parametrize(
    "meta",
    [
        {},
        {"channels": "T1", "uncertainty": "much", "source": 3},
        {"channels": [{"name": "T1", "tolerance_class": 7, "drift_half_width_k": -1}], "uncertainty": [1]},
        {"channels": [{"name": "T1", "drift_half_width_k": inf}], "uncertainty": {"room_degc": 999}},
        {
            "channels": [{"name": "T1", "drift_half_width_k": True}],
            "uncertainty": {"position_fixed": "perhaps"},
        },
    ],
)
def test_a_header_that_cannot_be_meant_costs_nothing_else(meta):
    assert stored_grounds(meta, "T1") == Grounds()


@pytest.mark.parametrize(
    "written",
    [
        {"offset_k": inf},
        {"offset_k": nan},
        {"slope_k_per_k": -1.0},
        {"offset_k": "x"},
        "x",
        None,
        {"dof": nan},
    ],
)
def test_a_correction_that_cannot_be_meant_is_not_applied(written):
    meta = {"channels": [{"name": "T1", "probe": "basket 1", "correction": written}]}
    assert stored_correction(meta, "T1") == Correction(probe="basket 1")


def stream(**meta):
    t_s = np.round(np.arange(0.0, 80.0, 0.1), 4)
    temp = np.full(len(t_s), 62.0)
    brewing = (t_s > 22) & (t_s < 46)
    temp[brewing] = 93.6 - 31.0 * np.exp(-(t_s[brewing] - 22) / 1.5)
    temp[t_s >= 46] = 62.0 + 31.0 * np.exp(-(t_s[t_s >= 46] - 46) / 50.0)
    return Stream(channels=("T1",), t_s=t_s, temps_degc=temp.reshape(-1, 1), meta=meta)


def test_a_shot_tells_which_correction_it_carries():
    channel = {"name": "T1", "probe": "basket 1", "correction": msgspec.to_builtins(CHECKED)}
    (found,) = analyse_stream(stream(channels=[channel])).shots
    told = found.as_json()
    assert told["brew_temp_degc"] == pytest.approx(93.0, abs=0.1)
    assert told["correction"]["probe"] == "basket 1"
    assert told["correction"]["checked"] == CHECKED.checked
    assert told["correction"]["at_brew_temp_k"] == pytest.approx(-0.6, abs=1e-9)
    assert told["brew_temp_expanded_uncertainty_k"] == pytest.approx(budget_of(found).expanded_k())
    assert told["coverage_factor"] == budget_of(found).coverage_factor()
    (plain,) = analyse_stream(stream()).shots
    assert plain.as_json()["correction"] == {
        "probe": "", "checked": None, "offset_k": 0.0, "slope_k_per_k": 0.0, "reference_degc": 93.0,
        "uncertainty_k": None, "at_brew_temp_k": 0.0,
    }  # fmt: skip


def test_a_correction_with_a_slope_is_undone_exactly():
    sloped = Correction(offset_k=-0.5, slope_k_per_k=-0.004, reference_degc=50.0)
    assert sloped.reported(sloped.apply(93.21)) == pytest.approx(93.21, abs=1e-12)


def test_readings_that_share_noise_give_fewer_degrees_of_freedom():
    def own(**more):
        result = msgspec.structs.replace(shot(CHECKED).result, readings=41, **more)
        budget = brew_budget(result, CHECKED)
        return next(line for line in budget.contributions if line.name == NOISE)

    assert own(independent_readings=10.0).dof == 9.0
    assert "worth 10 independent ones" in own(independent_readings=10.0).note
    assert own(independent_readings=1.2).dof == 1.0
    # A file from before they were told.
    assert own(independent_readings=None).dof == 40.0
