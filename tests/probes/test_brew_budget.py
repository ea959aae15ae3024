from math import sqrt

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtemp.errors import BadInput
from benchtemp.probes import brew_budget
from benchtemp.probes.brew_budget import brew_temp_budget, difference_budget
from benchtemp.probes.correction import Correction
from benchtemp.probes.monte_carlo import agreement, monte_carlo
from benchtemp.probes.tolerance import ToleranceClass

CHECKED = Correction(
    probe="basket 1",
    checked="2027-01-01",
    offset_k=-0.3,
    reference_degc=95.2,
    uncertainty_k=0.13,
    slope_uncertainty_k_per_k=0.0043,
    dof=400.0,
)


def names(budget):
    return {line.name for line in budget.contributions}


def test_unchecked_probe_counts_with_its_whole_tolerance():
    budget = brew_temp_budget(93.0, shot_uncertainty_k=0.05)
    assert brew_budget.TOLERANCE in names(budget)
    assert brew_budget.CALIBRATION not in names(budget)
    assert budget.ranked()[0][0].name == brew_budget.TOLERANCE
    by_hand = sqrt(0.05**2 + 2.5**2 / 3.0 + (40.5177 / 41.4611) ** 2 / 3.0 + 0.5**2 / 6.0)
    assert budget.uncertainty_k == pytest.approx(by_hand, rel=1e-5)
    better = brew_temp_budget(93.0, shot_uncertainty_k=0.05, tolerance_class=ToleranceClass.IEC_1)
    assert better.uncertainty_k < budget.uncertainty_k
    # A correction whose uncertainty nobody knows is as good as none.
    assert names(
        brew_temp_budget(93.0, shot_uncertainty_k=0.05, correction=Correction(offset_k=0.2))
    ) == names(budget)


def test_checked_probe():
    budget = brew_temp_budget(
        93.0,
        shot_uncertainty_k=0.05,
        shot_dof=40.0,
        correction=CHECKED,
        drift_half_width_k=0.17,
        resolution_k=0.1,
    )
    slope = 0.0043 * (93.3 - 95.2)
    by_hand = sqrt(
        0.05**2
        + 0.1**2 / 12.0
        + 0.13**2
        + slope**2
        + 0.17**2 / 3.0
        + (0.2 * 40.5177 / 41.4611) ** 2 / 3.0
        + 0.5**2 / 6.0
    )
    assert budget.uncertainty_k == pytest.approx(by_hand, rel=1e-5)
    assert 2.0 <= budget.coverage_factor() < 2.01
    assert brew_budget.TOLERANCE not in names(budget)
    assert {brew_budget.RESOLUTION, brew_budget.DRIFT, brew_budget.SLOPE} <= names(budget)
    assert budget.value == 93.0


def test_few_readings_raise_the_coverage_factor():
    budget = brew_temp_budget(
        93.0,
        shot_uncertainty_k=0.5,
        shot_dof=4.0,
        correction=CHECKED,
        junction_half_width_k=0.0,
        position_half_width_k=0.0,
    )
    assert 4.0 < budget.dof < 5.0
    assert budget.coverage_factor() == pytest.approx(2.87, abs=0.005)


@pytest.mark.parametrize("correction", [None, CHECKED])
def test_drawing_lots_agrees(correction):
    budget = brew_temp_budget(
        93.0, shot_uncertainty_k=0.05, shot_dof=60.0, correction=correction, drift_half_width_k=0.1
    )
    run = monte_carlo(budget, trials=200_000)
    assert run.uncertainty == pytest.approx(budget.uncertainty_k, rel=0.01)
    assert agreement(budget, run, digits=1).agrees
    # Bounds have no tails: what is told is never less than what is drawn.
    assert budget.expanded_k() >= 0.98 * (run.high - run.low) / 2.0


def test_correlated_offset_and_slope_are_kept():
    fitted = Correction(
        offset_k=-0.17,
        slope_k_per_k=0.002,
        reference_degc=20.0,
        uncertainty_k=0.0029,
        slope_uncertainty_k_per_k=0.00067,
        offset_slope_correlation=-0.93,
        dof=9.0,
    )
    budget = brew_temp_budget(
        30.0,
        shot_uncertainty_k=0.0,
        correction=fitted,
        junction_half_width_k=0.0,
        position_half_width_k=0.0,
    )
    assert budget.uncertainty_k == pytest.approx(fitted.uncertainty_at(30.15), rel=1e-3)
    assert monte_carlo(budget).uncertainty == pytest.approx(budget.uncertainty_k, rel=0.02)


def test_difference_of_two_shots_with_the_same_probe():
    first = brew_temp_budget(91.0, shot_uncertainty_k=0.05, correction=CHECKED, drift_half_width_k=0.17)
    second = brew_temp_budget(93.0, shot_uncertainty_k=0.06, correction=CHECKED, drift_half_width_k=0.17)
    found = difference_budget(first, second)
    assert found.cancelled.value == found.independent.value == pytest.approx(2.0)
    # What remains: the shots' own noise, and the slope over the 2 K between them.
    assert found.cancelled.uncertainty_k == pytest.approx(
        sqrt(0.05**2 + 0.06**2 + (0.0043 * 2.0) ** 2), rel=1e-3
    )
    together = sqrt(first.uncertainty_k**2 + second.uncertainty_k**2)
    assert found.independent.uncertainty_k == pytest.approx(together, rel=1e-9)
    assert found.cancelled.unit == "K"


def test_difference_of_correlated_corrections_against_drawing_lots():
    """Offset and slope drawn together, the same error in both shots: only the slope may remain."""
    fitted = Correction(
        offset_k=-0.2,
        slope_k_per_k=0.001,
        reference_degc=60.0,
        uncertainty_k=0.1,
        slope_uncertainty_k_per_k=0.004,
        offset_slope_correlation=-0.8,
    )
    bare = {
        "shot_uncertainty_k": 0.0,
        "junction_half_width_k": 0.0,
        "position_half_width_k": 0.0,
        "correction": fitted,
    }
    found = difference_budget(brew_temp_budget(90.0, **bare), brew_temp_budget(95.0, **bare))
    assert found.cancelled.uncertainty_k == pytest.approx(0.004 * 5.0, rel=2e-3)
    assert monte_carlo(found.cancelled).uncertainty == pytest.approx(found.cancelled.uncertainty_k, rel=0.02)


def test_position_counts_in_differences_where_the_probe_is_moved():
    fixed = brew_temp_budget(93.0, shot_uncertainty_k=0.05, correction=CHECKED)
    moved = brew_temp_budget(93.0, shot_uncertainty_k=0.05, correction=CHECKED, position_fixed=False)
    assert moved.uncertainty_k == pytest.approx(fixed.uncertainty_k)
    still = difference_budget(fixed, fixed).cancelled.uncertainty_k
    assert difference_budget(moved, moved).cancelled.uncertainty_k == pytest.approx(
        sqrt(still**2 + 2.0 * 0.25 / 6.0)
    )


def test_only_what_is_shared_cancels():
    one = brew_temp_budget(93.0, shot_uncertainty_k=0.05, correction=CHECKED, interface="7")
    newer = msgspec.structs.replace(CHECKED, checked="2027-06-01")
    later = brew_temp_budget(93.0, shot_uncertainty_k=0.05, correction=newer, interface="7")
    # Another check of the same probe: its place and the interface cancel, the calibration does not.
    found = difference_budget(one, later).cancelled
    calibration = 0.13**2 + (0.0043 * (93.3 - 95.2)) ** 2
    assert found.uncertainty_k == pytest.approx(sqrt(2.0 * 0.05**2 + 2.0 * calibration), rel=1e-6)
    # Another probe on the same interface.
    other = brew_temp_budget(
        93.0, shot_uncertainty_k=0.05, correction=CHECKED, probe="basket 2", interface="7"
    )
    found = difference_budget(one, other).cancelled
    assert found.uncertainty_k == pytest.approx(sqrt(2.0 * (0.05**2 + calibration + 0.25 / 6.0)), rel=1e-6)
    # Two unchecked probes keep their tolerances.
    bare = [brew_temp_budget(93.0, shot_uncertainty_k=0.05, probe=name) for name in ("a", "b")]
    assert difference_budget(*bare).cancelled.uncertainty_k > sqrt(2.0) * 2.5 / sqrt(3.0)
    assert difference_budget(bare[0], bare[0]).cancelled.uncertainty_k == pytest.approx(sqrt(2.0) * 0.05)
    # Nothing in common.
    elsewhere = brew_temp_budget(93.0, shot_uncertainty_k=0.05, probe="b", interface="8")
    apart = difference_budget(one, elsewhere)
    assert apart.cancelled.uncertainty_k == pytest.approx(apart.independent.uncertainty_k)


@given(st.floats(85.0, 97.0), st.floats(85.0, 97.0), st.floats(0.0, 0.5), st.floats(0.0, 0.5))
def test_cancelling_never_makes_it_worse(first_degc, second_degc, first_u, second_u):
    first = brew_temp_budget(
        first_degc, shot_uncertainty_k=first_u, correction=CHECKED, drift_half_width_k=0.1
    )
    second = brew_temp_budget(
        second_degc, shot_uncertainty_k=second_u, correction=CHECKED, drift_half_width_k=0.2
    )
    found = difference_budget(first, second)
    assert found.cancelled.uncertainty_k <= found.independent.uncertainty_k
    own = sqrt(first_u**2 + second_u**2)
    assert found.cancelled.uncertainty_k >= own - 1e-12


def test_what_cannot_be_is_told():
    with pytest.raises(BadInput):
        brew_temp_budget(93.0, shot_uncertainty_k=-0.1)
    with pytest.raises(BadInput, match="says nothing about"):
        brew_temp_budget(93.0, shot_uncertainty_k=0.1, tolerance_class=ToleranceClass.IEC_3)


def test_what_two_checks_differ_by_takes_the_place_of_a_smaller_allowance():
    correction = Correction(probe="a", checked="2031-01-01T12:00:00+00:00", uncertainty_k=0.1)

    def drift(**known):
        budget = brew_temp_budget(93.0, shot_uncertainty_k=0.02, correction=correction, **known)
        return next(line for line in budget.contributions if line.name == brew_budget.DRIFT)

    seen = drift(drift_half_width_k=0.17, drift_seen_k=0.3)
    assert seen.share_k == pytest.approx(0.3 / 3.0**0.5)
    assert not seen.estimate
    allowed = drift(drift_half_width_k=0.17, drift_seen_k=0.1)
    assert allowed.share_k == pytest.approx(0.17 / 3.0**0.5)
    assert allowed.estimate
