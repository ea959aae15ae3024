from __future__ import annotations

import numpy as np
import pytest
from PySide6.QtCore import QMimeData, QPointF, Qt, QUrl
from PySide6.QtGui import QDropEvent
from PySide6.QtWidgets import QApplication

from benchtemp.logbook.ecsv import read_meta, read_stream
from benchtemp.logbook.importing import table_layouts
from benchtemp.units import TempUnit

DEADLINE_MS = 30_000


def import_all(qtbot, page):
    page.begin()
    qtbot.waitUntil(lambda: not page.busy, timeout=DEADLINE_MS)


def cells(page, column):
    table = page.results.table
    return [table.item(row, column).text() for row in range(table.rowCount())]


def test_files_are_looked_at_asked_about_and_taken_in(page, take, choose, card, qtbot):
    files = [card("LOG001.TXT"), card("LOG002.TXT", "dual_boiler_steady", day=4)]
    take(*files)
    preview = page.preview
    assert "cannot be known" in preview.complaint.text()
    assert "Dates have" in preview.complaint.text()
    assert not page.import_button.isEnabled()
    assert [role.currentText() for role in preview.table.roles] == ["date", "time", "T1", "not read"]
    choose(preview.form.order, "dmy")
    assert preview.complaint.text() == ""
    assert "3 April 2026" in preview.outcome.text()
    assert "2 shots found" in preview.outcome.text()
    preview.form.machine.setText("Ferrowick Two")
    made = []
    page.imported.connect(made.append)
    import_all(qtbot, page)
    assert cells(page, 1) == ["✓ imported", "✓ imported"]
    assert cells(page, 4) == ["2", "1"]
    assert page.status.text() == "2 recordings made, 3 shots found in them."
    (recordings,) = made
    assert len(read_stream(recordings[0]).t_s) > 100
    meta = read_meta(recordings[0])
    assert (meta["machine"], meta["tags"]) == ("Ferrowick Two", {"machine": "Ferrowick Two"})
    assert len(list(page._logbook.shots())) == 3
    # The very same content is not taken twice, and that is told.
    page._back_to_files()
    import_all(qtbot, page)
    assert all(text.startswith("• imported before") for text in cells(page, 1))
    assert len(list(page._logbook.recordings())) == 2


def test_what_was_imported_is_asked_to_be_shown(page, qtbot, take, card, tmp_path):
    letter = tmp_path / "letter.txt"
    letter.write_text("Dear Ilva,\nall is well.\n", encoding="utf-8")
    take(card("LOG013.TXT", day=13), card("LOG014.TXT", day=14, rows=40), letter)
    import_all(qtbot, page)
    asked = []
    page.logbook_asked.connect(asked.append)
    page.show_button.click()
    (paths,) = asked
    # The shots of the first, and the second's recording: there is no shot in it.
    assert [path.parent.parent.name for path in paths] == ["shots", "shots", "logbook"]
    assert all(path.is_file() for path in paths)


def test_nothing_imported_is_nothing_to_show(page, qtbot, take, card, tmp_path):
    letter = tmp_path / "letter.txt"
    letter.write_text("Dear Ilva,\nall is well.\n", encoding="utf-8")
    take(card("LOG013.TXT", day=13, rows=60))
    page.preview.files = (letter,)
    import_all(qtbot, page)
    assert page.show_button.isHidden()
    assert page.more_button.hasFocus()


def test_a_file_that_cannot_be_imported_leaves_the_focus_on_choosing(page, take, card, tmp_path):
    letter = tmp_path / "letter.txt"
    letter.write_text("Dear Ilva,\nall is well.\n", encoding="utf-8")
    page.take_focus()
    take(card("LOG013.TXT", day=13, rows=40))
    assert page.import_button.hasFocus()
    take(letter)
    assert page.choose_button.hasFocus()


def test_another_file_tells_the_order_of_dates(page, take, card):
    take(card("LOG001.TXT", rows=40), card("LOG020.TXT", day=20, rows=40))
    assert page.preview.complaint.text() == ""
    assert page.preview.layout_now.time.order == "dmy"
    assert page.import_button.isEnabled()


def test_each_point_is_read_anew_at_once(page, take, choose, card):
    take(card("LOG013.TXT", day=13, rows=60))
    preview = page.preview
    celsius = preview.trial.stream.temps_degc[0, 0]
    choose(preview.table.units[2], "degF")
    assert preview.trial.stream.temps_degc[0, 0] == pytest.approx((celsius - 32) / 1.8, abs=1e-3)
    choose(preview.table.roles[0], "")
    assert preview.layout_now.time.date_column is None
    assert "does not say on which day" in preview.remarks.text()
    choose(preview.table.roles[1], "")
    assert "holds times" in preview.complaint.text()
    assert not preview.form.interval.isHidden()


def test_an_interval_answers_for_times_that_are_not_there(page, qtbot, take, tmp_path):
    path = tmp_path / "bare.csv"
    path.write_text("T1 (°C);T2 (°C)\n" + "93.1;20.2\n" * 30, encoding="utf-8")
    take(path)
    field = page.preview.form.interval
    assert "A row every" in page.preview.complaint.text()
    qtbot.keyClicks(field, "0.5")
    qtbot.keyClick(field, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: page.preview.ready, timeout=10_000)
    assert page.preview.trial.stream.t_s[-1] == pytest.approx(14.5)


def test_another_delimiter_is_guessed_anew(page, take, choose, tmp_path):
    path = tmp_path / "both.csv"
    path.write_text("Time (s);T1 (°C),x\n" + "".join(f"{n};{93 + n / 10},5\n" for n in range(30)), "utf-8")
    take(path)
    before = page.preview.layout_now
    choose(page.preview.form.delimiter, ",")
    assert page.preview.layout_now != before
    assert page.preview.form.given.delimiter == ","


def test_no_temperature_left_is_a_sentence(page, take, choose, card):
    take(card("LOG013.TXT", day=13, rows=40))
    choose(page.preview.table.roles[2], "")
    assert "No column is taken as a temperature" in page.preview.complaint.text()
    assert page.preview.table.roles[2].currentData() == "T1"


def test_a_layout_is_remembered_and_used_again(page, take, choose, card):
    take(card("LOG001.TXT", rows=60))
    preview = page.preview
    choose(preview.form.order, "dmy")
    preview.form.name.setText("bench meter")
    preview.keep_layout()
    assert "Remembered" in preview.form.said.text()
    assert preview.form.kept.currentData() == "bench meter"
    take(card("LOG002.TXT", day=5, rows=60))
    assert page.import_button.isEnabled()
    assert "5 April 2026" in preview.outcome.text()
    choose(preview.form.kept, "")
    assert "cannot be known" in preview.complaint.text()


def test_a_layout_is_forgotten(page, take, card):
    take(card("LOG013.TXT", day=13, rows=60))
    form = page.preview.form
    assert form.forget_button.isHidden()
    form.name.setText("bench meter")
    page.preview.keep_layout()
    assert not form.forget_button.isHidden()
    form.forget_button.click()
    assert [form.kept.itemData(index) for index in range(form.kept.count())] == [""]
    assert "no more" in form.said.text()
    assert table_layouts() == ((), "")
    assert page.preview.ready


def test_a_layout_needs_a_name(page, take, card):
    take(card("LOG013.TXT", day=13, rows=40))
    page.preview.keep_layout()
    assert "needs a name" in page.preview.form.said.text()


def test_what_is_no_table_is_shown_with_its_sentence(page, take, tmp_path):
    letter, picture = tmp_path / "letter.txt", tmp_path / "picture.txt"
    letter.write_text("Dear Ilva,\nall is well.\n", encoding="utf-8")
    picture.write_bytes(b"\x89PNG" + bytes(100))
    take(letter)
    assert "No table of numbers" in page.preview.complaint.text()
    assert page.preview.table.item(1, 0).text() == "Dear Ilva,"
    assert not page.import_button.isEnabled()
    take(picture)
    assert "a picture" in page.preview.complaint.text()
    assert page.preview.trial is None


def test_refused_files_are_listed_with_their_reasons(page, qtbot, take, card, tmp_path):
    letter = tmp_path / "letter.txt"
    letter.write_text("Dear Ilva,\nall is well.\n", encoding="utf-8")
    take(card("LOG013.TXT", day=13, rows=60), letter)
    import_all(qtbot, page)
    assert cells(page, 1)[1].startswith("✕ refused: No row of letter.txt")
    assert page.status.text().endswith("1 file refused.")
    page.results.table.selectRow(1)
    assert "letter.txt" in page.results.remarks.text()


def test_an_import_is_stopped_after_the_file_under_way(page, qtbot, take, card):
    take(*[card(f"LOG{day:03d}.TXT", day=day, rows=50) for day in range(13, 23)])
    page.begin()
    page.cancel()
    qtbot.waitUntil(lambda: not page.busy, timeout=DEADLINE_MS)
    done = len(page.results.done)
    assert done < 10
    assert page.status.text().startswith("Stopped after")
    assert len(list(page._logbook.recordings())) == done


def test_files_are_dropped(page, qtbot, card):
    files = [card("LOG013.TXT", day=13, rows=40), card("LOG014.TXT", day=14, rows=40)]
    data = QMimeData()
    data.setUrls([QUrl.fromLocalFile(str(file)) for file in files])
    event = QDropEvent(
        QPointF(20, 20),
        Qt.DropAction.CopyAction,
        data,
        Qt.MouseButton.LeftButton,
        Qt.KeyboardModifier.NoModifier,
    )
    page.dropEvent(event)
    assert page.files == tuple(files)
    qtbot.waitUntil(lambda: page.preview.ready, timeout=10_000)
    assert page.shown_choice.isVisible()
    page.shown_choice.setCurrentIndex(1)
    page.shown_choice.activated.emit(1)
    qtbot.waitUntil(lambda: page.preview.ready, timeout=10_000)
    assert "14 April 2026" in page.preview.outcome.text()


def test_temperatures_follow_the_unit_of_the_window(page, take, card):
    take(card("LOG013.TXT", day=13, rows=40))
    page.set_unit(TempUnit.DEGF)
    assert "°F" in page.preview.outcome.text()
    assert page.preview.table.item(3, 2).toolTip().endswith("°F")


def test_every_control_has_a_name(page, take, card):
    take(card("LOG013.TXT", day=13, rows=40))
    table = page.preview.table
    names = [choice.accessibleName() for choice in (*table.roles, *table.units)]
    assert all(names)
    assert names[2] == "What it is: Fühler 1 (°C)"
    assert len(set(names)) == len(names)


def test_esc_leaves(page, qtbot):
    with qtbot.waitSignal(page.left):
        qtbot.keyClick(page, Qt.Key.Key_Escape)


def test_choosing_files_leads_on_to_importing_them(page, qtbot, take, card):
    page.take_focus()
    assert page.choose_button.hasFocus()
    take(card("LOG013.TXT", day=13, rows=40))
    assert page.import_button.hasFocus()
    qtbot.keyClick(page.import_button, Qt.Key.Key_Return)
    page.begin()
    qtbot.waitUntil(lambda: not page.busy, timeout=DEADLINE_MS)
    assert page.more_button.isVisible()


def test_tab_goes_through_the_columns_and_ends_at_the_import(page, qtbot, take, card):
    take(card("LOG013.TXT", day=13, rows=40))
    page.choose_button.setFocus()
    seen = []
    for _ in range(40):
        qtbot.keyClick(QApplication.focusWidget(), Qt.Key.Key_Tab)
        focused = QApplication.focusWidget()
        seen.append(focused.accessibleName() or getattr(focused, "text", str)())
        if focused is page.import_button:
            break
    assert seen.index("What it is: Datum") < seen.index("Unit: Zeit") < seen.index("Layout")
    assert seen[-2:] == ["Remember this layout", "Import this file"]
    assert not page.preview.looking


def test_words_for_no_reading_are_taken_when_they_were_changed(page, qtbot, take, tmp_path):
    path = tmp_path / "open.csv"
    rows = "".join(f"{n};{93 + n / 10};{-200 if n < 5 else 20}\n" for n in range(30))
    path.write_text("Time (s);T1 (°C);T2 (°C)\n" + rows, "utf-8")
    take(path)
    assert np.isfinite(page.preview.trial.stream.temps_degc).all()
    field = page.preview.form.none_words
    qtbot.keyClicks(field, "-200; OPN")
    qtbot.keyClick(field, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: not page.preview.looking, timeout=10_000)
    assert page.preview.layout_now.none_words == ("-200", "OPN")
    assert np.isnan(page.preview.trial.stream.temps_degc[:5, 1]).all()


def test_voltages_ask_for_their_junction(page, qtbot, take, choose, tmp_path):
    path = tmp_path / "volts.csv"
    rows = "".join(f"{n},{2.8 + n / 100:.2f},24.5,{n}\n" for n in range(30))
    path.write_text("Time (s),TC1 [mV],inside,Scale [g]\n" + rows, "utf-8")
    take(path)
    preview = page.preview
    roles = preview.table.roles
    choose(roles[2], "")
    assert "how warm the terminals were" in preview.complaint.text()
    assert not preview.form.junction.isHidden()
    qtbot.keyClicks(preview.form.junction, "24.5")
    qtbot.keyClick(preview.form.junction, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: preview.ready, timeout=10_000)
    fixed = preview.trial.stream.temps_degc[:, 0]
    choose(roles[2], "junction")
    np.testing.assert_array_equal(preview.trial.stream.temps_degc[:, 0], fixed)
    assert preview.trial.stream.weight_g[-1] == 29


def test_a_very_wide_table_shows_what_it_can(page, take, tmp_path):
    path = tmp_path / "wide.csv"
    names = ",".join(f"Ch{n} (°C)" for n in range(1, 60))
    rows = "".join(f"{n}," + ",".join(f"{20 + m / 10:.1f}" for m in range(1, 60)) + "\n" for n in range(12))
    path.write_text(f"Time (s),{names}\n{rows}", "utf-8")
    take(path)
    assert page.preview.ready
    assert len(page.preview.table.roles) == 48
    assert "12 further columns" in page.preview.open_points.text()
