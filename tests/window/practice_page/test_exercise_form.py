"""Making an exercise and opening it again, from a replay and from shots of the logbook."""

import pytest
from PySide6.QtCore import Qt

from benchtemp.bench.recovery import keep_shots_of
from benchtemp.logbook.ecsv import write_stream
from benchtemp.logbook.folder import Logbook
from benchtemp.readings.reading import Mark, MarkKind
from benchtemp.readings.replay import ReplaySource
from benchtemp.readings.virtual import simulate, virtual_machines
from benchtemp.readings.virtual.script import KnockOut, LockIn, Shot, Wait
from benchtemp.shots.shot import analyse_stream
from benchtemp.teaching.exercise_file import SUFFIX, read_exercise
from benchtemp.window.app import choice_of

ENTER = Qt.Key.Key_Return
PULL = (LockIn(dose_g=18.0), Wait(seconds=20.0), Shot(seconds=26.0), Wait(seconds=15.0), KnockOut())


@pytest.fixture(scope="session")
def recording():
    """Return a recording of two shots."""
    return simulate(virtual_machines()["dual-boiler"], [*PULL, Wait(seconds=40.0), *PULL], seed=5)


@pytest.fixture
def save_in(tmp_path, trainee):
    """Let the form save into the test's folder, under whatever name it offers."""
    offered = []

    def ask(name):
        offered.append(name)
        return tmp_path / name

    trainee.page.exercising.view.ask_path = ask
    return lambda: tmp_path / offered[-1]


def wait_for_form(qtbot, trainee):
    qtbot.waitUntil(trainee.page.exercising.view.isVisible, timeout=10_000)


def wait_for_word(qtbot, trainee):
    said = trainee.page.exercising.view.said
    qtbot.waitUntil(lambda: said.text().startswith("✓") or said.property("look") == "bad", timeout=10_000)
    return said.text()


def make_of_replay(qtbot, window, trainee, recording, notes=()):
    window.session.begin(choice_of(ReplaySource(recording, "lecture.ecsv", paused=True)))
    for note in notes:
        window.bench.teaching.lesson.add(note.t_s, note.text)
    window.bench.contents.exercise_asked.emit()
    wait_for_form(qtbot, trainee)


def test_an_exercise_of_a_replay_holds_its_shots_and_the_teacher_s_notes(
    qtbot, window, trainee, recording, save_in
):
    on_s = [mark.t_s for mark in recording.marks if mark.kind is MarkKind.PUMP_ON]
    notes = (Mark(on_s[1] + 6.0, MarkKind.NOTE, "What now?"), Mark(on_s[0] - 500.0, MarkKind.NOTE, "far off"))
    make_of_replay(qtbot, window, trainee, recording, notes)
    form = trainee.page.exercising.view
    assert [candidate.title for candidate in form.chosen] == ["Shot 1", "Shot 2"]
    form.title.setFocus()
    trainee.type("Two plateaus")
    form.list.setFocus()
    form.list.setCurrentRow(0)
    trainee.key(ENTER)  # the first one is not to go in
    form.save_button.setFocus()
    trainee.key(ENTER)
    assert wait_for_word(qtbot, trainee).startswith("✓ Two-plateaus")
    exercise = read_exercise(save_in())
    assert exercise.title == "Two plateaus"
    (item,) = exercise.items
    shot = analyse_stream(recording).shots[1]
    assert item.reference.brew_temp_degc == pytest.approx(shot.result.brew_temp_degc, abs=0.05)
    (note,) = item.notes
    assert note.text == "What now?"
    assert note.t_s - item.reference.pump_on_s == pytest.approx(6.0, abs=0.11)
    assert not [mark for mark in item.stream.marks if mark.kind is not MarkKind.GAP]


def test_it_opens_on_the_practice_page(qtbot, window, trainee, recording, save_in):
    make_of_replay(qtbot, window, trainee, recording)
    form = trainee.page.exercising.view
    form.title.setText("Two plateaus")
    form.words.setPlainText("Mind the climb.")
    form.save_button.click()
    wait_for_word(qtbot, trainee)
    window.bring("Practice")
    trainee.page.begin_file(save_in())
    qtbot.waitUntil(lambda: trainee.page.takes_space, timeout=10_000)
    assert trainee.panel.head.place.text() == "Shot 1 of 2"
    assert trainee.panel.words.text() == "Mind the climb."
    assert save_in().name.endswith(SUFFIX)


def test_leaving_the_form_leads_back_to_the_replay(qtbot, window, trainee, recording):
    make_of_replay(qtbot, window, trainee, recording)
    trainee.key(Qt.Key.Key_Escape)
    assert window.page == 0
    assert window.session.running


def test_an_exercise_without_title_or_shots_is_not_made(qtbot, window, trainee, recording, save_in):
    make_of_replay(qtbot, window, trainee, recording)
    form = trainee.page.exercising.view
    form.save_button.click()
    assert "needs a title" in form.said.text()
    form.title.setText("Nothing")
    for row in range(2):
        form.list.setCurrentRow(row)
        qtbot.keyClick(form.list, ENTER)
    form.save_button.click()
    assert "No shot is ticked" in form.said.text()
    with pytest.raises(IndexError):
        save_in()


def test_shots_of_the_logbook_are_practised_or_handed_over(qtbot, window, trainee, recording, save_in):
    book = Logbook(window._book.root)
    path = book.recordings_dir / "lecture.ecsv"
    path.parent.mkdir(parents=True)
    write_stream(path, recording)
    keep_shots_of(book, path)
    trainee.page.read()
    listed = trainee.page.choosing.list
    qtbot.waitUntil(lambda: listed.count() == 2, timeout=5000)
    assert "°C" not in listed.item(0).text(), "the list tells no result"
    listed.setFocus()
    trainee.key(ENTER)
    listed.setCurrentRow(1)
    trainee.key(ENTER)
    trainee.page.choosing.make_button.setFocus()
    trainee.key(ENTER)
    wait_for_form(qtbot, trainee)
    trainee.type("From the book")
    trainee.page.exercising.view.save_button.click()
    wait_for_word(qtbot, trainee)
    assert len(read_exercise(save_in()).items) == 2
    trainee.key(Qt.Key.Key_Escape)
    assert len(trainee.page.choosing.chosen) == 2
    trainee.page.choosing.practise_button.setFocus()
    trainee.key(ENTER)
    qtbot.waitUntil(lambda: trainee.page.takes_space, timeout=10_000)
    assert trainee.panel.head.place.text() == "Shot 1 of 2"


def test_shots_selected_in_the_logbook_are_handed_over(qtbot, window, trainee, recording):
    book = Logbook(window._book.root)
    path = book.recordings_dir / "lecture.ecsv"
    path.parent.mkdir(parents=True)
    write_stream(path, recording)
    keep_shots_of(book, path)
    window.bring("Logbook")
    logbook = window.logbook
    qtbot.waitUntil(lambda: len(logbook.shots.places) == 3, timeout=10_000)
    logbook.list.selectAll()
    menu = logbook.acting.more_button
    menu.setFocus()
    trainee.key(ENTER)
    offer = menu.entries.actions()[-1]
    assert offer.text() == "Make an exercise of the shots…"
    assert offer.isEnabled()
    menu.entries.close()
    offer.trigger()
    wait_for_form(qtbot, trainee)
    assert len(trainee.page.exercising.view.chosen) == 2, "the recording itself is no shot"
    trainee.key(Qt.Key.Key_Escape)
    assert trainee.page.choosing.isVisible()


def test_a_file_that_is_no_exercise_is_told(qtbot, tmp_path, trainee):
    path = tmp_path / "letter.exercise.zip"
    path.write_text("Dear all")
    trainee.page.begin_file(path)
    said = trainee.page.choosing.said
    qtbot.waitUntil(lambda: said.property("look") == "bad", timeout=5000)
    assert "letter.exercise.zip" in said.text()
    assert trainee.page.choosing.file_button.isEnabled()


def test_virtual_shots_begin_with_enter(qtbot, trainee):
    choosing = trainee.page.choosing
    choosing.count.setCurrentIndex(0)
    trainee.type("Robin")
    trainee.key(ENTER)
    trainee.key(ENTER)
    qtbot.waitUntil(lambda: trainee.page.takes_space, timeout=20_000)
    assert trainee.panel.head.place.text() == "Shot 1 of 3"
