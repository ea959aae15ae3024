"""What an exercise may hold."""

import pytest

from benchtemp.errors import BadInput
from benchtemp.teaching.exercise import NOTES_LIMIT, Basis, Exercise, Reference, TeacherNote, Tolerance


def test_notes_come_in_order_and_as_the_replay_reaches_them(exercise):
    item = exercise.item(1)
    assert [note.t_s for note in item.notes] == [5.0, 20.0]
    assert item.notes_until(4.9) == ()
    assert [note.text for note in item.notes_until(5.0)] == ["Nothing moves yet."]
    assert len(item.notes_until(1e9)) == 2
    assert [note.t_s for note in item.without_note(1).notes] == [20.0]


@pytest.mark.parametrize("number", [0, 3])
def test_a_note_that_is_not_there_cannot_be_taken_out(exercise, number):
    with pytest.raises(BadInput, match="There is no note"):
        exercise.item(1).without_note(number)


def test_notes_stay_within_the_shot_and_within_bounds(steady):
    with pytest.raises(BadInput, match="before its end"):
        steady.with_note(TeacherNote(t_s=steady.length_s + 1.0, text="late"))
    full = steady
    for _ in range(NOTES_LIMIT):
        full = full.with_note(TeacherNote(t_s=1.0, text="x"))
    with pytest.raises(BadInput, match="at most"):
        full.with_note(TeacherNote(t_s=1.0, text="x"))


@pytest.mark.parametrize(
    ("t_s", "text"),
    [(-1.0, "x"), (float("nan"), "x"), (float("inf"), "x"), (1.0, " "), (1.0, "x" * 301), (1.0, "a\x1bb")],
)
def test_a_note_that_cannot_be_shown_is_refused(t_s, text):
    with pytest.raises(BadInput):
        TeacherNote(t_s=t_s, text=text)


@pytest.mark.parametrize("value", [0.0, -1.0, float("nan"), 1000.0])
def test_a_tolerance_that_cannot_be_meant_is_refused(value):
    with pytest.raises(BadInput, match="tolerance"):
        Tolerance(pump_on_s=value)


@pytest.mark.parametrize(
    "wrong",
    [
        {"pump_on_s": float("nan")},
        {"plateau_start_s": 20.0},
        {"brew_temp_degc": 92.0},
        {"plateau_start_s": 5.0, "plateau_end_s": 30.0, "brew_temp_degc": 92.0},
        {"plateau_start_s": 31.0, "plateau_end_s": 30.0, "brew_temp_degc": 92.0},
    ],
)
def test_a_reference_that_contradicts_itself_is_refused(wrong):
    with pytest.raises(BadInput):
        Reference(**{"basis": Basis.MARKED, "pump_on_s": 10.0, **wrong})


def test_an_exercise_needs_a_title_and_shots(steady):
    with pytest.raises(BadInput, match="title"):
        Exercise(title=" ", teacher="", items=(steady,))
    with pytest.raises(BadInput, match="1 to 60 shots"):
        Exercise(title="x", teacher="", items=())
    with pytest.raises(BadInput, match="1 to 60 shots"):
        Exercise(title="x", teacher="", items=(steady,) * 61)
    with pytest.raises(BadInput, match="no shot 2"):
        Exercise(title="x", teacher="", items=(steady,)).item(2)
