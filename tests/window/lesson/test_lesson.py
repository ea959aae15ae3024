"""The marks of a recording and a teacher's notes, in order; and what may be seen while results are hidden."""

from dataclasses import replace

from benchtemp.readings.reading import Mark, MarkKind
from benchtemp.shots.stages import Stage
from benchtemp.window.lesson.hidden import without_results
from benchtemp.window.lesson.lesson import NOTE_LENGTH_MAX, Lesson

RECORDED = (
    Mark(20.0, MarkKind.PUMP_ON),
    Mark(21.0, MarkKind.UNDO),
    Mark(22.0, MarkKind.PUMP_ON),
    Mark(30.0, MarkKind.NOTE, "cup changed"),
    Mark(40.0, MarkKind.SET, "dose_g=18"),
    Mark(45.0, MarkKind.PUMP_OFF),
)


def own(t_s, text):
    return Mark(t_s, MarkKind.NOTE, text)


def test_entries_are_what_one_may_want_to_go_to_in_order_of_time():
    lesson = Lesson(RECORDED, (own(25.0, "why so steep?"),))
    assert [(entry.mark.t_s, entry.own) for entry in lesson.entries] == [
        (22.0, False),
        (25.0, True),
        (30.0, False),
        (45.0, False),
    ]


def test_a_note_is_there_from_its_moment_on():
    lesson = Lesson(RECORDED, (own(25.0, "why so steep?"),))
    assert lesson.latest_note(24.99) is None
    assert lesson.latest_note(25.0).text == "why so steep?"
    assert lesson.latest_note(29.9).text == "why so steep?"
    assert lesson.latest_note(30.0).text == "cup changed"
    assert lesson.own_come(24.0) == ()
    assert [note.text for note in lesson.own_come(99.0)] == ["why so steep?"]


def test_notes_are_added_reworded_and_taken_out():
    lesson = Lesson(RECORDED)
    note = lesson.add(33.0, "  look\n here ")
    assert note == own(33.0, "look here")
    assert lesson.add(33.0, "   ") is None
    new = lesson.reword(note, "look there")
    assert lesson.notes == (own(33.0, "look there"),)
    assert lesson.reword(new, "  ") is None
    assert lesson.take_out(new)
    assert lesson.notes == ()


def test_the_recording_s_own_notes_are_not_the_teacher_s_to_change():
    lesson = Lesson(RECORDED)
    recorded = RECORDED[3]
    assert lesson.reword(recorded, "something else") is None
    assert not lesson.take_out(recorded)
    assert [entry.mark for entry in lesson.entries][1] == recorded


def test_long_notes_are_cut():
    assert len(Lesson().add(1.0, "x" * 999).text) == NOTE_LENGTH_MAX


def test_a_snapshot_without_results_holds_nothing_read_out_of_the_trace(make_snapshot, make_shot):
    full = make_snapshot(
        stage=Stage.PLATEAU,
        plateau_start_s=8.0,
        running_brew_degc=93.2,
        running_expanded_k=0.5,
        shots=(make_shot(),),
        pump_on_s=2.0,
        rise_s=3.0,
    )
    bare = without_results(full)
    assert bare.shots == ()
    assert bare.stage is Stage.RISING
    assert bare.plateau_start_s is bare.running_brew_degc is bare.running_expanded_k is None
    assert bare.pump_on_s is bare.rise_s is None, "nobody marked it: it was read out of the trace"
    assert without_results(replace(full, pump_marked=True)).pump_on_s == 2.0
    assert bare.temps_degc == full.temps_degc
    assert bare.marks == full.marks
