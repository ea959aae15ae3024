"""The scale: full within, smoothly falling, never more for being further off."""

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtemp.errors import BadInput
from benchtemp.teaching.exercise import Tolerance
from benchtemp.teaching.marking import FALL, POINTS, Answer, Part, mark_answer, share_of


def perfect(item):
    reference = item.reference
    return Answer(
        pump_on_s=reference.pump_on_s,
        plateau_start_s=reference.plateau_start_s,
        brew_temp_degc=reference.brew_temp_degc,
        counts=reference.counts,
    )


def test_the_parts_make_a_hundred():
    assert sum(POINTS.values()) == 100.0
    assert set(FALL) == set(Part) - {Part.COUNTS}


def test_the_reference_itself_earns_all(steady, unmarked, flush):
    for item in (steady, unmarked, flush):
        marking = mark_answer(item, perfect(item))
        assert marking.points == 100.0
        assert all(part.sentence for part in marking.parts)


def test_an_empty_answer_and_a_skipped_one_earn_nothing(steady, flush):
    for item in (steady, flush):
        assert mark_answer(item, Answer()).points == 0.0
        skipped = mark_answer(item, perfect(item), skipped=True)
        assert skipped.points == 0.0
        assert skipped.skipped
        assert skipped.answer == Answer()


def test_naming_a_plateau_where_there_is_none_earns_nothing_for_it(flush):
    answer = Answer(
        pump_on_s=flush.reference.pump_on_s, plateau_start_s=15.0, brew_temp_degc=93.0, counts=False
    )
    marking = mark_answer(flush, answer)
    assert marking.part(Part.PLATEAU_START).points == 0.0
    assert marking.part(Part.BREW_TEMP).points == 0.0
    assert marking.points == POINTS[Part.PUMP_ON] + POINTS[Part.COUNTS]


@given(
    near=st.floats(-30.0, 30.0),
    further=st.floats(0.0, 30.0),
    within=st.floats(0.01, 5.0),
    fall=st.floats(0.1, 10.0),
)
def test_further_off_never_earns_more(near, further, within, fall):
    nearer = share_of(near, within, fall)
    assert 0.0 <= nearer <= 1.0
    assert share_of(near + math.copysign(further, near), within, fall) <= nearer + 1e-12
    assert share_of(-near, within, fall) == nearer
    assert (nearer == 1.0) == (abs(near) <= within) or abs(abs(near) - within) < 1e-3 * fall


@given(off=st.floats(-30.0, 30.0), step=st.floats(0.0, 1e-3))
def test_there_is_no_jump(off, step):
    assert abs(share_of(off + step, 0.5, 3.0) - share_of(off, 0.5, 3.0)) <= 1e-3 * math.pi / 6.0 + 1e-9


@given(
    pump_on_s=st.none() | st.floats(0.0, 80.0),
    plateau_start_s=st.none() | st.floats(0.0, 80.0),
    brew_temp_degc=st.none() | st.floats(1.0, 199.0),
    counts=st.sampled_from([None, True, False]),
)
def test_any_answer_is_marked(steady, unmarked, flush, *, pump_on_s, plateau_start_s, brew_temp_degc, counts):
    answer = Answer(
        pump_on_s=pump_on_s, plateau_start_s=plateau_start_s, brew_temp_degc=brew_temp_degc, counts=counts
    )
    for item in (steady, unmarked, flush):
        marking = mark_answer(item, answer)
        assert 0.0 <= marking.points <= 100.0
        for part in marking.parts:
            assert 0.0 <= part.points <= part.points_max == POINTS[part.part]
            assert part.sentence.endswith(".")
            assert "nan" not in part.sentence
            assert "inf" not in part.sentence


def test_the_wider_of_tolerance_and_uncertainty_is_full(unmarked):
    part = mark_answer(unmarked, Answer()).part(Part.PUMP_ON)
    assert part.full_within == 2.0 * unmarked.reference.pump_on_uncertainty_s > unmarked.tolerance.pump_on_s
    off_s = unmarked.reference.pump_on_s + 0.99 * part.full_within
    assert mark_answer(unmarked, Answer(pump_on_s=off_s)).part(Part.PUMP_ON).points == POINTS[Part.PUMP_ON]


def test_a_stricter_exercise_gives_less(steady):
    strict = replace(steady, tolerance=Tolerance(pump_on_s=0.1))
    answer = Answer(pump_on_s=steady.reference.pump_on_s + 0.5)
    assert (
        mark_answer(strict, answer).part(Part.PUMP_ON).points
        < mark_answer(steady, answer).part(Part.PUMP_ON).points
    )


@pytest.mark.parametrize(
    "wrong",
    [
        {"pump_on_s": -1.0},
        {"plateau_start_s": float("nan")},
        {"brew_temp_degc": -5.0},
        {"brew_temp_degc": float("inf")},
    ],
)
def test_an_answer_that_cannot_be_meant_is_refused(wrong):
    with pytest.raises(BadInput):
        Answer(**wrong)
