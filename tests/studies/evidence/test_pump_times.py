import pytest

from benchtemp.readings.reading import Mark, MarkKind
from benchtemp.studies.evidence.pump_times import preparation, water_uses

ON, OFF, NOTE, UNDO = MarkKind.PUMP_ON, MarkKind.PUMP_OFF, MarkKind.NOTE, MarkKind.UNDO


def marks(*timed):
    return [Mark(float(t_s), kind, *text) for t_s, kind, *text in timed]


def test_interval_and_idle_time_are_measured():
    found = preparation(marks((10, ON), (35, OFF), (635, ON), (660, OFF)), 635.0)
    assert found.interval_s == 625.0
    assert found.idle_s == 600.0
    assert (found.flush_s, found.flush_g) == (0.0, 0.0)


def test_a_flush_shortly_before_belongs_to_the_shot():
    found = preparation(marks((10, ON), (35, OFF), (600, ON), (604, OFF), (640, ON), (665, OFF)), 640.0)
    assert found.flush_s == pytest.approx(4.0)
    assert found.idle_s == pytest.approx(565.0)
    assert found.interval_s == pytest.approx(630.0)


def test_two_short_flushes_add_up():
    found = preparation(
        marks((10, ON), (35, OFF), (600, ON), (603, OFF), (610, ON), (612, OFF), (640, ON)), 640.0
    )
    assert found.flush_s == pytest.approx(5.0)


def test_an_early_flush_ends_the_idle_time_but_is_not_the_shots():
    found = preparation(marks((10, ON), (35, OFF), (100, ON), (104, OFF), (640, ON)), 640.0)
    assert found.flush_s == 0.0
    assert found.idle_s == pytest.approx(536.0)


def test_a_flush_told_in_a_note_counts():
    found = preparation(
        marks((10, ON), (35, OFF), (600, NOTE, "flush 6 s, portafilter out"), (640, ON)), 640.0
    )
    assert found.flush_s == pytest.approx(6.0)
    by_weight = preparation(marks((10, ON), (35, OFF), (600, NOTE, "flush 60 g"), (640, ON)), 640.0)
    assert (by_weight.flush_s, by_weight.flush_g) == (None, 60.0)


def test_marks_taken_back_are_no_water():
    found = preparation(marks((10, ON), (35, OFF), (300, ON), (301, UNDO), (640, ON)), 640.0)
    assert found.idle_s == pytest.approx(605.0)


def test_switching_on_starts_the_clock():
    found = preparation(marks((5, NOTE, "switched on"), (305, ON), (330, OFF)), 305.0)
    assert found.since_on_s == pytest.approx(300.0)
    assert found.idle_s == pytest.approx(300.0)


def test_the_first_shot_of_a_recording_knows_nothing():
    found = preparation(marks((40, ON), (65, OFF)), 40.0)
    assert (found.interval_s, found.idle_s, found.flush_s, found.since_on_s) == (None, None, None, None)


def test_other_notes_are_no_water():
    assert water_uses(marks((3, NOTE, "flushed with pride"), (5, NOTE, "cup changed"))) == ()
