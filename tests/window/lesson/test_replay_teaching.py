"""Teaching with a replay, by keyboard: notes as they come, results behind one key, notes of one's own."""

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication

from benchtemp.errors import StorageError
from benchtemp.logbook.folder import Logbook
from benchtemp.readings.reading import MarkKind
from benchtemp.shots.shot import analyse_stream
from benchtemp.units import temp_text
from benchtemp.window.lesson.contents import NOT_YET
from benchtemp.window.lesson.hidden import HIDDEN_SENTENCE
from benchtemp.window.theme import DARK

CTRL_SHIFT = Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.ShiftModifier


def press(qtbot, window, key, modifier=Qt.KeyboardModifier.NoModifier):
    qtbot.keyClick(QApplication.focusWidget() or window, key, modifier)


def write_note(qtbot, window, text):
    press(qtbot, window, Qt.Key.Key_N)
    qtbot.keyClicks(QApplication.focusWidget(), text)
    press(qtbot, window, Qt.Key.Key_Return)


def listed(bench):
    contents = bench.contents.list
    return [contents.item(row).text() for row in range(contents.count())]


def mark_s(stream, kind):
    return next(mark.t_s for mark in stream.marks if mark.kind is kind)


@pytest.fixture
def pump_on_s(recorded):
    return mark_s(recorded, MarkKind.PUMP_ON)


def test_a_recorded_note_comes_when_the_replay_reaches_it(lecture, recorded):
    bench, note_s = lecture.bench, mark_s(recorded, MarkKind.NOTE)
    lecture.to(note_s - 0.5)
    assert bench.note_board.isVisible(), "its room is kept, so that the trace does not jump"
    assert bench.note_board.text.text() == ""
    lecture.to(note_s + 0.2)
    assert bench.note_board.text.text() == "cup changed"
    assert "cup changed" in [text for _, text in bench.plot.mark_lines.shown]
    lecture.to(note_s - 0.5)
    assert bench.note_board.text.text() == ""


def test_a_note_can_be_read_across_a_room(lecture, recorded):
    lecture.to(mark_s(recorded, MarkKind.NOTE) + 1.0)
    label = lecture.bench.note_board.text
    assert label.font().pointSizeF() >= 1.9 * QApplication.font().pointSizeF()


def test_without_any_note_the_trace_has_all_the_room(make_lecture, recorded):
    bare = type(recorded)(recorded.channels, recorded.t_s, recorded.temps_degc)
    lecture = make_lecture(bare)
    lecture.to(5.0)
    assert lecture.bench.note_board.isHidden()


def test_a_note_of_the_teacher_s_own_is_drawn_kept_and_not_in_the_recording(
    qtbot, window, recorded, pump_on_s, make_lecture
):
    lecture = make_lecture(recorded)
    lecture.to(pump_on_s + 6.0)
    marks = window.session.snapshot.marks
    write_note(qtbot, window, "why does it climb?")
    lecture.settle()
    bench = lecture.bench
    assert bench.note_board.text.text() == "why does it climb?"
    assert ("why does it climb?") in [text for _, text in bench.plot.mark_lines.shown]
    assert window.session.snapshot.marks == marks, "nothing was marked in the recording"
    lecture.to(pump_on_s + 5.0)
    assert bench.note_board.text.text() == "cup changed"
    assert "why does it climb?" not in [text for _, text in bench.plot.mark_lines.shown]
    window.session.end()
    again = make_lecture(recorded, "renamed.ecsv")
    again.to(pump_on_s + 7.0)
    assert again.bench.note_board.text.text() == "why does it climb?"


def test_a_note_stands_at_the_moment_its_key_was_pressed(qtbot, window, lecture, pump_on_s):
    lecture.to(pump_on_s + 6.0)
    press(qtbot, window, Qt.Key.Key_N)
    lecture.source.seek(pump_on_s + 9.0)
    qtbot.keyClicks(QApplication.focusWidget(), "here")
    press(qtbot, window, Qt.Key.Key_Return)
    assert [note.t_s for note in lecture.bench.teaching.lesson.notes] == [pytest.approx(pump_on_s + 6.0)]


def test_the_keys_jump_to_marks_and_to_notes_of_one_s_own(qtbot, window, lecture, recorded, pump_on_s):
    lecture.to(pump_on_s + 6.0)
    write_note(qtbot, window, "here")
    lecture.to(0.0)
    places = []
    for _ in range(4):
        press(qtbot, window, Qt.Key.Key_Right, CTRL_SHIFT)
        lecture.settle()
        places.append(lecture.source.now_s())
    wanted = [
        mark_s(recorded, MarkKind.NOTE),
        pump_on_s,
        pump_on_s + 6.0,
        mark_s(recorded, MarkKind.PUMP_OFF),
    ]
    assert places == pytest.approx(wanted)
    press(qtbot, window, Qt.Key.Key_Left, CTRL_SHIFT)
    assert lecture.source.now_s() == pytest.approx(pump_on_s + 6.0)


def test_the_list_jumps_with_enter(qtbot, window, lecture, pump_on_s):
    lecture.to(pump_on_s + 30.0)
    contents = lecture.bench.contents
    assert [text.split("\n")[0] for text in listed(lecture.bench)] == ["cup changed", "Pump on", "Pump off"]
    contents.list.setFocus()
    contents.list.setCurrentRow(1)
    press(qtbot, window, Qt.Key.Key_Return)
    assert lecture.source.now_s() == pytest.approx(pump_on_s)


def test_own_notes_are_edited_and_deleted_and_put_back_by_keyboard(qtbot, window, lecture, pump_on_s):
    lecture.to(pump_on_s + 6.0)
    write_note(qtbot, window, "whi?")
    contents, lesson = lecture.bench.contents, lecture.bench.teaching
    contents.list.setFocus()
    contents.list.setCurrentRow(2)
    press(qtbot, window, Qt.Key.Key_F2)
    field = QApplication.focusWidget()
    assert field.text() == "whi?"
    qtbot.keyClicks(field, "why?")  # the old words are selected
    press(qtbot, window, Qt.Key.Key_Return)
    assert [(note.t_s, note.text) for note in lesson.lesson.notes] == [
        (pytest.approx(pump_on_s + 6.0), "why?")
    ]
    contents.list.setFocus()
    contents.list.setCurrentRow(2)
    press(qtbot, window, Qt.Key.Key_Delete)
    assert lesson.lesson.notes == ()
    assert contents.back_button.isVisible()
    contents.back_button.setFocus()
    press(qtbot, window, Qt.Key.Key_Return)
    assert [note.text for note in lesson.lesson.notes] == ["why?"]


def test_what_the_recording_holds_cannot_be_deleted(qtbot, window, lecture, pump_on_s):
    lecture.to(pump_on_s + 6.0)
    contents = lecture.bench.contents
    contents.list.setFocus()
    for row in range(2):
        contents.list.setCurrentRow(row)
        assert not contents.delete_button.isEnabled()
        press(qtbot, window, Qt.Key.Key_Delete)
    assert len(listed(lecture.bench)) == 3


def test_a_note_that_cannot_be_kept_is_said_so_and_stays(qtbot, window, lecture, monkeypatch):
    def refuse(*_, **_how):
        raise StorageError("The disk is full; free some space.")

    monkeypatch.setattr("benchtemp.teaching.replay_notes.write_whole", refuse)
    lecture.to(5.0)
    write_note(qtbot, window, "look")
    assert "The disk is full" in lecture.bench.contents.said.text()
    assert [note.text for note in lecture.bench.teaching.lesson.notes] == ["look"]


# -- hiding ------------------------------------------------------------------------------------------------


def telling(recorded):
    """Return texts that would give a result away."""
    shot = analyse_stream(recorded).shots[0]
    result = shot.result
    temps = (result.brew_temp_degc, result.highest_degc, result.lowest_degc)
    return {temp_text(temp).split()[0] for temp in temps} | {"counts", "plateau", "Plateau", "mean", "sd "}


@pytest.mark.parametrize("into_s", [12.0, 24.0, 40.0], ids=["on the plateau", "late", "after the shot"])
def test_nothing_of_the_results_is_to_be_read_while_they_are_hidden(
    qtbot, lecture, recorded, all_texts, into_s
):
    window, bench = lecture.window, lecture.bench
    lecture.to(mark_s(recorded, MarkKind.PUMP_ON) + into_s)
    shown = all_texts(bench)
    assert any("Plateau" in text or "counts" in text for text in shown), "they are there to be hidden"
    press(qtbot, window, Qt.Key.Key_H)
    lecture.settle()
    questions = bench.hidden_card.words.text()
    texts = [text for text in all_texts(bench) if text != questions]
    for text in texts:
        for word in telling(recorded):
            assert word not in text, text
    assert not bench.plot.shading.plateau.isVisible()
    assert bench.headline.brew.figure.text().startswith("—")
    assert bench.headline.stage.figure.text() == "—"
    assert not bench.cards.cards
    assert bench.scale.isHidden()
    assert "H shows them" in bench.cards._empty.text()


def test_the_same_key_shows_them_again(qtbot, window, lecture, pump_on_s):
    bench = lecture.bench
    lecture.to(pump_on_s + 40.0)
    press(qtbot, window, Qt.Key.Key_H)
    press(qtbot, window, Qt.Key.Key_H)
    lecture.settle()
    assert len(bench.cards.cards) == 1
    assert bench.scale.isVisible()
    assert bench.headline.brew.figure.text() != "— °C"
    assert bench.plot.shading.plateau.isVisible()


def test_jumping_and_another_look_do_not_bring_them_back(qtbot, window, lecture, pump_on_s):
    bench = lecture.bench
    press(qtbot, window, Qt.Key.Key_H)
    for to_s in (pump_on_s + 40.0, 3.0, pump_on_s + 41.0):
        lecture.to(to_s)
        assert not bench.cards.cards
    bench.set_theme(DARK)
    window.looks.next_unit()
    lecture.settle()
    assert not bench.cards.cards
    assert bench.headline.brew.figure.text() == "— °F"


def test_notes_to_come_are_covered_while_results_are_hidden(qtbot, window, lecture, recorded):
    lecture.to(1.0)
    assert listed(lecture.bench)[0] == "cup changed"
    press(qtbot, window, Qt.Key.Key_H)
    assert listed(lecture.bench)[0] == NOT_YET
    lecture.to(mark_s(recorded, MarkKind.NOTE) + 1.0)
    assert listed(lecture.bench)[0] == "cup changed"


def test_the_uncertainty_is_not_told_while_results_are_hidden(qtbot, window, lecture, pump_on_s):
    lecture.to(pump_on_s + 40.0)
    press(qtbot, window, Qt.Key.Key_H)
    press(qtbot, window, Qt.Key.Key_E)
    assert window.page == 0
    assert window.board.text_of("refused") == HIDDEN_SENTENCE


def test_the_large_view_hides_them_too_and_shows_notes_and_obeys_the_replay_s_keys(
    qtbot, lecture, recorded, pump_on_s, all_texts
):
    window = lecture.window
    press(qtbot, window, Qt.Key.Key_H)
    press(qtbot, window, Qt.Key.Key_F11)
    large = window.large.page
    qtbot.waitExposed(large)
    lecture.to(pump_on_s + 24.0)
    texts = all_texts(large)
    assert not [text for text in texts for word in telling(recorded) if word in text]
    assert HIDDEN_SENTENCE in texts
    assert large.note_board.text.text() == "cup changed"
    qtbot.keyClick(large, Qt.Key.Key_Left, CTRL_SHIFT)
    assert lecture.source.now_s() == pytest.approx(pump_on_s)
    qtbot.keyClick(large, Qt.Key.Key_H)
    lecture.to(pump_on_s + 40.0)
    assert any("counts" in text for text in all_texts(large))
    qtbot.keyClick(large, Qt.Key.Key_Escape)


@pytest.mark.usefixtures("stand")
def test_a_live_sitting_hides_nothing(qtbot, window):
    press(qtbot, window, Qt.Key.Key_H)
    assert window.bench.scale.isVisible()
    assert window.bench.drawer_buttons[2].isHidden()


def test_after_the_replay_the_bench_is_as_ever(qtbot, window, lecture, stand_after):
    press(qtbot, window, Qt.Key.Key_H)
    stand_after.start()
    bench = window.bench
    assert bench.scale.isVisible()
    assert bench.note_board.isHidden()
    press(qtbot, window, Qt.Key.Key_N)
    qtbot.keyClicks(QApplication.focusWidget(), "live note")
    press(qtbot, window, Qt.Key.Key_Return)
    stand_after.wait(lambda: any(mark.text == "live note" for mark in stand_after.snapshot.marks))
    assert Logbook(stand_after.window._book.root).root  # the recording is the place of a live note
    del lecture


@pytest.fixture
def stand_after(make_stand):
    return make_stand()
