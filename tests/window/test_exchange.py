"""The ways from Logbook, Findings and start page to the import, reports, pictures and the clipboard."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from PySide6.QtCore import QItemSelectionModel, Qt
from PySide6.QtGui import QGuiApplication, QKeySequence

from benchtemp.bench.recovery import keep_shots_of
from benchtemp.logbook.ecsv import read_stream
from benchtemp.logbook.folder import Logbook
from benchtemp.places import default_logbook_dir

DEADLINE_MS = 60_000
SELECT_ROW = QItemSelectionModel.SelectionFlag.Select | QItemSelectionModel.SelectionFlag.Rows
STREAMS = Path(__file__).parents[2] / "demo_streams"


@pytest.fixture
def filled():
    """Fill the logbook with six shots before the window is opened."""
    book = Logbook(default_logbook_dir())
    for folder in (book.recordings_dir, book.shots_dir):
        folder.mkdir(parents=True)
    recording = book.recordings_dir / "20310304-150000_series.ecsv"
    shutil.copy(STREAMS / "series_three_minutes.ecsv", recording)
    keep_shots_of(book, recording, is_new=True)
    return book


@pytest.fixture
def full_window(filled, window):
    """Return the window on a logbook with six shots."""
    assert filled.shots()
    return window


@pytest.fixture
def chosen(full_window, qtbot):
    """Return the window with a shot chosen in the logbook."""
    window = full_window
    window.bring("Logbook")
    page = window.logbook
    qtbot.waitUntil(lambda: len(page.shots.places) >= 7, timeout=DEADLINE_MS)
    page.list.selectAll()
    qtbot.waitUntil(lambda: len(page.chosen) == 6, timeout=DEADLINE_MS)
    return window


def hand_over(window, place):
    return next(one for one in window.exchange._handing_over if one.parent() is place)


def test_the_import_is_reached_from_the_logbook_and_left_again(window):
    window.bring("Logbook")
    window.logbook.import_asked.emit()
    exchange = window.exchange
    assert exchange.logbook_place.front is exchange._import
    assert exchange.import_page.isVisible()
    assert exchange.import_page.choose_button.hasFocus()
    exchange.import_page.leave()
    assert window.logbook.isVisible()


def test_what_was_imported_is_chosen_in_the_logbook(window, qtbot, tmp_path):
    window.start.import_button.click()
    page = window.exchange.import_page
    stream = read_stream(STREAMS / "series_three_minutes.ecsv")
    path = tmp_path / "meter.csv"
    rows = zip(stream.t_s.tolist(), stream.temps_degc[:, 0].tolist(), strict=True)
    path.write_text("Time (s),T1 (°C)\n" + "".join(f"{t},{temp}\n" for t, temp in rows), "utf-8")
    page.take_files([path])
    qtbot.waitUntil(lambda: page.preview.ready, timeout=DEADLINE_MS)
    page.begin()
    qtbot.waitUntil(lambda: not page.busy, timeout=DEADLINE_MS)
    page.show_button.click()
    logbook = window.logbook
    assert logbook.isVisible()
    qtbot.waitUntil(lambda: not logbook.busy, timeout=DEADLINE_MS)
    assert len(logbook.chosen) == 6
    assert set(logbook.chosen) == set(page.results.kept)


def test_the_import_is_reached_from_the_start_page(window):
    window.start.import_button.click()
    assert window.exchange.import_page.isVisible()
    window.bring("Bench")
    window.bring("Logbook")
    assert window.exchange.import_page.isVisible()


def test_ctrl_z_on_the_logbook_is_for_files_and_takes_no_pump_mark_back(chosen, qtbot):
    taken_back = []
    ctrl_z = next(one for one in chosen._keys.shortcuts if one.key() == QKeySequence("Ctrl+Z"))
    for signal in (ctrl_z.activated, ctrl_z.activatedAmbiguously):
        signal.connect(lambda: taken_back.append(True))
    page = chosen.logbook
    before = page.chosen
    page.acting.move()
    qtbot.waitUntil(lambda: not page.busy, timeout=DEADLINE_MS)
    assert not before[0].exists()
    for widget in (page.list, page.filters.kind, page.detail.tags.fields.new_name):
        widget.setFocus()
        qtbot.keySequence(widget, QKeySequence("Ctrl+Z"))
        qtbot.waitUntil(lambda: not page.busy, timeout=DEADLINE_MS)
        assert before[0].exists()
        qtbot.keySequence(widget, QKeySequence(QKeySequence.StandardKey.Redo))
        qtbot.waitUntil(lambda: not page.busy, timeout=DEADLINE_MS)
        assert not before[0].exists()
    assert not taken_back
    chosen.bring("Bench")
    qtbot.keySequence(chosen, QKeySequence("Ctrl+Z"))
    assert taken_back


def test_tab_goes_from_the_list_through_tags_and_notes_to_the_buttons(chosen, qtbot):
    page = chosen.logbook
    for lines in ((0,), (1, 2), (0,)):
        page.list.clearSelection()
        for line in lines:
            page.list.selectionModel().select(page.shots.index(line, 0), SELECT_ROW)
        qtbot.waitUntil(lambda: not page.busy, timeout=DEADLINE_MS)
        page.list.setFocus()
        names = []
        while len(names) < 40 and "More that can be done" not in names:
            qtbot.keyClick(QGuiApplication.focusObject(), Qt.Key.Key_Tab)
            focused = QGuiApplication.focusObject()
            names.append(focused.accessibleName() or focused.text())
        fields = page.detail.tags.fields
        rows = [fields.row(name) for name in fields.names()]
        tags = [widget.accessibleName() for row in rows for widget in (row.field, row.remove)]
        new = ["Name of a new tag", "Value of the new tag", "Add tag"]
        assert names[: len(tags) + 3] == [*tags, *new]
        assert names[len(tags) + 3] in {"Notes", "Line to add to all notes"}
        assert names.index("Export…") < names.index("Import…") < names.index("More that can be done")


def test_shots_of_the_logbook_are_copied_in_two_forms(chosen, qtbot):
    actions = hand_over(chosen, chosen.logbook)
    assert all(one.isEnabled() for one in actions.buttons)
    actions.copy_table()
    qtbot.waitUntil(lambda: not actions.busy, timeout=DEADLINE_MS)
    data = QGuiApplication.clipboard().mimeData()
    assert data.text().startswith("no.\t")
    assert len(data.text().splitlines()) == 7
    assert data.html().count("<tr>") == 7
    actions.copy_verdict()
    qtbot.waitUntil(lambda: not actions.busy, timeout=DEADLINE_MS)
    assert "brewed" in QGuiApplication.clipboard().text() or "°C" in QGuiApplication.clipboard().text()


def test_a_report_and_a_picture_of_shots_of_the_logbook(chosen, qtbot):
    actions = hand_over(chosen, chosen.logbook)
    place = chosen.exchange.logbook_place
    actions.ask_report()
    report = chosen.exchange.report_page(place)
    assert report.isVisible()
    qtbot.waitUntil(lambda: report.ready, timeout=DEADLINE_MS)
    assert report.about.text().startswith("6 shots")
    report.leave()
    assert chosen.logbook.isVisible()
    actions.ask_picture()
    picture = chosen.exchange.picture_page(place)
    assert picture.isVisible()
    qtbot.waitUntil(lambda: not picture.view.picture.isNull(), timeout=DEADLINE_MS)


def test_without_shots_nothing_can_be_handed_over(window):
    window.bring("Logbook")
    actions = hand_over(window, window.logbook)
    assert not any(one.isEnabled() for one in actions.buttons)
    actions.ask_report()
    assert window.logbook.isVisible()


def test_findings_are_copied_and_reported(full_window, qtbot):
    window = full_window
    window.bring("Findings")
    page = window.planning.findings
    qtbot.waitUntil(lambda: page.shown() is not None, timeout=DEADLINE_MS)
    actions = hand_over(window, page)
    actions.copy_verdict()
    sentence = page.shown().study.verdict(page.unit).sentence
    data = QGuiApplication.clipboard().mimeData()
    assert sentence in data.text()
    assert "<strong>" in data.html()
    actions.copy_table()
    assert "<table" in QGuiApplication.clipboard().mimeData().html()
    assert "clipboard" in page.said.text()
    actions.ask_report()
    report = window.exchange.report_page(window.exchange.findings_place)
    qtbot.waitUntil(lambda: report.ready, timeout=DEADLINE_MS)
    assert report.studies[page.shown().question.asked].isChecked()
    report.leave()
    assert page.isVisible()


def test_notes_take_every_key_and_the_pump_none(chosen, qtbot):
    hand_over(chosen, chosen.logbook).ask_report()
    report = chosen.exchange.report_page(chosen.exchange.logbook_place)
    qtbot.waitUntil(lambda: report.ready, timeout=DEADLINE_MS)
    report.notes.setFocus()
    qtbot.keyClicks(report.notes, "new gasket, u n t")
    assert report.notes.toPlainText() == "new gasket, u n t"
    report.heading.setFocus()
    qtbot.keyClicks(report.heading, "six shots")
    assert report.heading.text() == "six shots"


def test_the_window_closes_while_something_is_read(chosen):
    actions = hand_over(chosen, chosen.logbook)
    actions.copy_table()
    actions.ask_report()
    actions.ask_picture()
    chosen.exchange.show_import()
    chosen.close()
    assert not actions.busy


def test_pages_laid_over_follow_look_and_unit(chosen, qtbot):
    hand_over(chosen, chosen.logbook).ask_report()
    report = chosen.exchange.report_page(chosen.exchange.logbook_place)
    qtbot.waitUntil(lambda: report.ready and not report.first_words.busy, timeout=DEADLINE_MS)
    chosen.looks.next_unit()
    qtbot.waitUntil(lambda: "°F" in report.first_words.words.text(), timeout=DEADLINE_MS)
    chosen.looks.next_look()
    assert report.theme is chosen._themes.theme
