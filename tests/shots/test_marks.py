from benchtemp.readings.reading import Mark, MarkKind
from benchtemp.shots.marks import resolve_pump_marks, standing_pump_marks

ON, OFF, UNDO, NOTE = MarkKind.PUMP_ON, MarkKind.PUMP_OFF, MarkKind.UNDO, MarkKind.NOTE


def marks(*pairs):
    return [Mark(t_s, kind) for t_s, kind in pairs]


def test_on_and_off_pair_up():
    found = resolve_pump_marks(marks((10.0, ON), (35.0, OFF), (90.0, ON), (117.0, OFF)))
    assert found == ((10.0, 35.0), (90.0, 117.0))


def test_other_marks_do_not_matter():
    assert resolve_pump_marks(marks((1.0, NOTE), (10.0, ON), (12.0, NOTE), (35.0, OFF))) == ((10.0, 35.0),)


def test_undo_takes_back_the_last_mark_that_stands():
    taken_back = marks((10.0, ON), (20.0, OFF), (21.0, UNDO), (35.0, OFF))
    assert resolve_pump_marks(taken_back) == ((10.0, 35.0),)
    twice = marks((10.0, ON), (20.0, OFF), (21.0, UNDO), (22.0, UNDO), (30.0, ON), (55.0, OFF))
    assert resolve_pump_marks(twice) == ((30.0, 55.0),)


def test_undo_of_nothing_is_nothing():
    assert resolve_pump_marks(marks((1.0, UNDO), (10.0, ON), (35.0, OFF))) == ((10.0, 35.0),)


def test_missing_marks_stay_missing():
    assert resolve_pump_marks(marks((10.0, ON))) == ((10.0, None),)
    assert resolve_pump_marks(marks((35.0, OFF))) == ((None, 35.0),)
    assert resolve_pump_marks(marks((10.0, ON), (90.0, ON), (117.0, OFF))) == ((10.0, None), (90.0, 117.0))


def test_a_mark_without_a_time_cannot_stand():
    assert standing_pump_marks(marks((float("nan"), ON), (35.0, OFF))) == (Mark(35.0, OFF),)
