"""References, and what a teacher corrects in them."""

import numpy as np
import pytest

from benchtemp.errors import BadInput
from benchtemp.teaching.exercise import Basis
from benchtemp.teaching.reference import ESTIMATED_PUMP_ON_S, corrected, reference_of


def test_a_marked_shot_rests_on_its_marks(steady):
    reference = reference_of(steady)
    assert reference == steady.reference
    assert reference.basis is Basis.MARKED
    assert reference.pump_on_s == steady.pump_marks[0].t_s
    assert reference.pump_on_uncertainty_s == 0.0
    assert reference.plateau_end_s == steady.pump_marks[1].t_s
    assert reference.counts
    assert reference.reasons == ()


def test_a_shot_nobody_marked_says_so_and_is_less_certain(unmarked):
    assert unmarked.reference.basis is Basis.ESTIMATED
    assert unmarked.reference.pump_on_uncertainty_s == ESTIMATED_PUMP_ON_S


def test_a_flush_has_no_plateau_to_name(flush):
    assert flush.reference.plateau_start_s is None
    assert flush.reference.brew_temp_degc is None
    assert not flush.reference.counts
    assert flush.reference.reasons


def test_the_brew_temperature_follows_a_corrected_plateau(steady):
    start_s = steady.reference.plateau_start_s - 3.0
    item = corrected(steady, plateau_start_s=start_s)
    t_s, temp_degc = item.trace
    inside = (t_s >= start_s) & (t_s <= item.reference.plateau_end_s)
    assert item.reference.basis is Basis.TEACHER
    assert item.reference.brew_temp_degc == pytest.approx(np.mean(temp_degc[inside]), abs=0.01)
    assert item.reference.brew_temp_degc < steady.reference.brew_temp_degc
    assert item.reference.plateau_start_uncertainty_s == 0.0
    assert item.reference.pump_on_s == steady.reference.pump_on_s
    assert item.reference.counts
    assert item.stream is steady.stream


def test_whether_it_counts_follows_or_is_said(steady):
    late_s = steady.reference.plateau_end_s - 5.0
    short = corrected(steady, plateau_start_s=late_s)
    assert not short.reference.counts
    assert any("8 s" in reason for reason in short.reference.reasons)
    said = corrected(steady, counts=False, reason="channelled")
    assert not said.reference.counts
    assert said.reference.reasons == ("channelled",)
    assert corrected(said, counts=True).reference.reasons == ()


def test_a_plateau_can_be_given_to_a_shot_that_had_none(flush):
    with pytest.raises(BadInput, match="both its start and its end"):
        corrected(flush, plateau_start_s=15.0)
    item = corrected(flush, plateau_start_s=15.2, plateau_end_s=16.2)
    assert item.reference.brew_temp_degc is not None
    assert not item.reference.counts


@pytest.mark.parametrize(
    "wrong",
    [
        {"pump_on_s": -1.0},
        {"pump_on_s": 1e6},
        {"pump_on_s": float("nan")},
        {"plateau_start_s": 1.0},
        {"plateau_end_s": 14.0},
        {"pump_on_s": 30.0},
    ],
)
def test_times_that_do_not_follow_one_another_are_refused(steady, wrong):
    with pytest.raises(BadInput):
        corrected(steady, **wrong)
