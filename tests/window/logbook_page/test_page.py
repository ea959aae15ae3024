"""The page as it is used: finding, looking, changing, throwing away and taking back, by keyboard too."""

from __future__ import annotations

import csv
import json
from functools import partial

import pytest
from PySide6.QtCore import QItemSelectionModel, Qt
from PySide6.QtGui import QKeySequence
from PySide6.QtWidgets import QAbstractButton, QComboBox, QLabel, QLineEdit, QPlainTextEdit, QTableView

from benchtemp.logbook.ecsv import read_meta
from benchtemp.logbook.folder import Logbook
from benchtemp.logbook.index.editing import edit
from benchtemp.logbook.shot_file import Condition, verify
from benchtemp.readings.replay import ReplaySource
from benchtemp.units import TempUnit
from benchtemp.window.logbook_page import LogbookPage, kept
from benchtemp.window.logbook_page.columns import USUAL
from benchtemp.window.logbook_page.deeds import put_aside
from benchtemp.window.theme import DARK


def cell(page, line, key):
    keys = [column.key for column in page.shots.columns]
    return page.shots.index(line, keys.index(key)).data()


def names(page):
    return [place.rpartition("/")[2] for place in page.shots.places]


def select(page, *lines):
    page.list.clearSelection()
    flags = QItemSelectionModel.SelectionFlag
    for line in lines:
        page.list.selectionModel().setCurrentIndex(page.shots.index(line, 0), flags.Select | flags.Rows)


# -- finding


def test_all_files_are_listed_newest_first(page, shots):
    assert names(page) == [path.name for path in shots]
    assert [cell(page, line, "what") for line in range(3)] == ["Flush", "Shot 4", "Shot 3"]
    assert cell(page, 1, "machine") == "Umber Lever"
    assert cell(page, 2, "brew") == "91.5"
    assert cell(page, 1, "verdict") == "✓ counts"
    assert cell(page, 0, "brew") is None
    assert page.message.counts.text() == "5 files"


def test_words_and_filters_narrow_the_list(page, at_rest):
    page.filters.search.setText("wet PUCK")
    at_rest(page)
    assert [cell(page, 0, "what")] == ["Shot 2"]
    assert len(page.shots.places) == 1
    page.filters.search.setText("nothing of the kind")
    at_rest(page)
    assert not page.shots.places
    assert page.listing.empty.isVisible()
    assert "Nothing is found" in page.listing.empty.text()
    page.filters.clear_button.click()
    at_rest(page)
    assert len(page.shots.places) == 5
    page.filters.machine.setCurrentIndex(page.filters.machine.findData("Umber Lever"))
    page.filters.machine.activated.emit(1)
    at_rest(page)
    assert [cell(page, 0, "what")] == ["Shot 4"]


def test_a_day_is_asked_for_and_one_that_makes_no_sense_is_told(page, at_rest):
    page.filters.since.setText("2025-11-05")
    at_rest(page)
    assert len(page.shots.places) == 2
    page.filters.since.setText("yesterday")
    at_rest(page)
    assert "is no day" in page.filters.complaint.text()
    assert len(page.shots.places) == 2


def test_the_search_is_reached_and_left_by_keyboard(qtbot, page, at_rest):
    page.list.setFocus()
    qtbot.keySequence(page, QKeySequence("Ctrl+F"))
    assert page.filters.search.hasFocus()
    qtbot.keyClicks(page.filters.search, "tide")
    at_rest(page)
    qtbot.keyClick(page.filters.search, Qt.Key.Key_Down)
    assert page.list.hasFocus()
    assert len(page.shots.places) == 1


def test_any_column_sorts_and_the_chosen_file_stays_chosen(page, at_rest, shots):
    select(page, 2)
    page.listing.sort_by("brew temperature", descending=False)
    at_rest(page)
    assert names(page)[0] == shots[2].name
    assert page.list.chosen == (page.shots.places[0],)
    header = page.list.horizontalHeader()
    header.setSortIndicator(
        [column.key for column in page.shots.columns].index("machine"), Qt.SortOrder.DescendingOrder
    )
    at_rest(page)
    assert cell(page, 0, "machine") == "Umber Lever"


def test_columns_are_chosen_and_remembered(page, at_rest, make_page, book):
    page.listing.columns.open()
    entries = {action.text(): action for action in page.listing.columns.entries.actions()}
    entries["Tag: coffee"].trigger()
    entries["Verdict"].trigger()
    page.listing.columns.entries.hide()
    at_rest(page)
    assert cell(page, 1, "tag.coffee") == "low tide"
    assert "verdict" not in [column.key for column in page.shots.columns]
    page.close_down()
    again = make_page(book)
    keys = [column.key for column in again.shots.columns]
    assert keys == [*(key for key in USUAL if key != "verdict"), "tag.coffee"]


def test_the_unit_is_the_one_shown(page):
    page.set_unit(TempUnit.DEGF)
    assert cell(page, 1, "brew") == "199.4"
    assert page.shots.headerData(3, Qt.Orientation.Horizontal, Qt.ItemDataRole.DisplayRole) == "Brew, °F"


def test_an_empty_logbook_says_so(make_page, tmp_path):
    page = make_page(Logbook(tmp_path / "nowhere"))
    assert page.listing.empty.text().startswith("Nothing is kept here yet")
    assert not page.acting.replay_button.isEnabled()
    assert not (tmp_path / "nowhere").exists()


def test_what_others_do_to_the_folder_is_noticed(qtbot, page, at_rest, make_shot, shots):
    select(page, 2)
    kept = page.list.chosen
    make_shot(9)
    shots[4].unlink()
    qtbot.waitUntil(lambda: len(page.shots.places) == 5 and cell(page, 0, "what") == "Shot 9", timeout=5000)
    at_rest(page)
    assert page.list.chosen == kept


def test_widths_and_order_are_remembered_too(page, at_rest, make_page, book):
    page.list.horizontalHeader().resizeSection(2, 231)
    page.listing.sort_by("brew temperature", descending=False)
    at_rest(page)
    page.hide()
    again = make_page(book)
    assert again.list.columnWidth(2) == 231
    assert cell(again, 0, "brew") == "91.5"
    assert again.listing.columns._sort == "brew temperature"
    again.set_theme(DARK)
    assert again.list.columnWidth(2) == 231
    again.listing.columns.usual_asked.emit()
    assert again.list.columnWidth(2) != 231
    again.hide()
    assert make_page(book).list.columnWidth(2) != 231


@pytest.mark.parametrize("written", ["nothing\ndown", "brew temperature", "\n", "7"])
def test_an_order_that_makes_no_sense_is_not_taken(written):
    kept._settings().setValue("logbook/order", written)
    kept._settings().setValue("logbook/widths", "machine=-4\nwhat=9999\n=80\nmoment=x\nsd=64")
    assert kept.kept_order() == ("moment", True)
    assert kept.kept_widths() == {"sd": 64}


def test_certain_files_are_shown_whatever_was_asked_for(page, at_rest, shots):
    page.show_bin(shown=True)
    page.filters.search.setText("nothing of the kind")
    at_rest(page)
    page.show_files([shots[3], shots[2]])
    at_rest(page)
    assert not page.in_bin
    assert not page.filters.narrows
    assert page.chosen == (shots[2], shots[3])
    assert page.list.hasFocus()


def test_files_that_come_late_are_shown_once_they_are_listed(page, at_rest, make_shot):
    late = make_shot(9)
    page.show_files([late])
    at_rest(page)
    assert page.chosen == (late,)
    page.show_files([late.with_name("gone.ecsv")])
    at_rest(page)
    assert page.chosen == (late,)
    select(page, 2)
    page.listing.search()
    at_rest(page)
    assert late not in page.chosen


# -- looking


def test_one_shot_is_shown_with_trace_figures_tags_and_file(page, at_rest):
    select(page, 3)
    at_rest(page)
    detail = page.detail
    assert detail.title.text() == "Shot 2"
    assert detail.brew.text() == "93.0 °C"
    assert detail.notes.toPlainText() == "wet puck"
    assert detail.tags.fields.names() == ("machine", "coffee")
    assert detail.file.text().endswith("_x.ecsv")
    (trace,) = detail.trace.traces
    assert trace.plateau_s == (6.0, 26.0)
    assert trace.t_s[0] == pytest.approx(-2.0)
    detail.grab()


def test_several_are_laid_over_each_other_and_summed_up(page, at_rest):
    select(page, 1, 2, 3)
    at_rest(page)
    detail = page.detail
    assert detail.title.text() == "3 shots"
    assert len(detail.trace.traces) == 3
    assert ("Brew, mean", "92.5 °C") in [(name.text(), value.text()) for name, value in detail._fact_labels]
    assert detail.tags.fields.row("coffee").field.text() == ""
    assert detail.tags.fields.row("coffee").field.placeholderText() == "several values"
    assert detail.more_notes.isVisible()
    assert not detail.notes.isVisible()
    detail.grab()


def test_enter_replays_the_current_file(qtbot, page, at_rest):
    asked = []
    page.replay_asked.connect(asked.append)
    select(page, 1)
    qtbot.keyClick(page.list, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: bool(asked), timeout=5000)
    assert isinstance(asked[0].source, ReplaySource)
    assert not asked[0].keep
    at_rest(page)


def test_the_shots_chosen_are_given_to_other_actions(page, shots):
    page.list.selectAll()
    assert page.chosen == tuple(shots[1:])


# -- changing


def test_a_tag_is_changed_in_place_and_back(qtbot, page, at_rest, shots):
    select(page, 3)
    at_rest(page)
    qtbot.keyClick(page.list, Qt.Key.Key_F2)
    page.detail.tags.fields.row("coffee").field.setFocus()
    page.detail.tags.fields.row("coffee").field.selectAll()
    qtbot.keyClicks(page.detail.tags.fields.row("coffee").field, "grey heron")
    qtbot.keyClick(page.detail.tags.fields.row("coffee").field, Qt.Key.Key_Return)
    at_rest(page)
    assert read_meta(shots[3])["tags"]["coffee"] == "grey heron"
    assert verify(shots[3]).condition is Condition.WHOLE
    assert page.message.said.text() == "1 file was changed."
    assert page.detail.history_button.text() == "Changed once ▾"
    page.message.undo_button.click()
    at_rest(page)
    assert read_meta(shots[3])["tags"]["coffee"] == "house blend"


def give_tag(page, name, value):
    page.detail.tags.given.emit(name, value)


def test_edits_are_undone_one_after_the_other_and_done_again(qtbot, page, at_rest, shots):
    select(page, 3)
    at_rest(page)
    give_tag(page, "coffee", "grey heron")
    at_rest(page)
    page.acting._do("", partial(put_aside, page.index, page.chosen_shots, "channelled"))
    at_rest(page)
    select(page, 1, 2)
    at_rest(page)
    page.list.setFocus()
    qtbot.keyClick(page.list, Qt.Key.Key_Delete)
    at_rest(page)
    undo = page.message.undo_button
    assert undo.accessibleName() == "Undo moving 2 files to the bin"
    assert not shots[1].exists()
    qtbot.keySequence(page.list, QKeySequence("Ctrl+Z"))
    at_rest(page)
    assert shots[1].exists()
    assert page.chosen == (shots[1], shots[2])
    assert undo.accessibleName() == "Undo setting 1 shot aside"
    qtbot.keySequence(page.list, QKeySequence("Ctrl+Z"))
    qtbot.keySequence(page.list, QKeySequence("Ctrl+Z"))
    at_rest(page)
    meta = read_meta(shots[3])
    assert (meta["tags"]["coffee"], meta["shot"]["set_aside"]) == ("house blend", "")
    assert page.chosen == (shots[3],)
    assert undo.isHidden()
    qtbot.keySequence(page.list, QKeySequence("Ctrl+Z"))
    at_rest(page)
    assert page.message.said.text() == "There is nothing to undo."
    for _ in range(3):
        qtbot.keySequence(page.list, QKeySequence(QKeySequence.StandardKey.Redo))
        at_rest(page)
    meta = read_meta(shots[3])
    assert (meta["tags"]["coffee"], meta["shot"]["set_aside"]) == ("grey heron", "channelled")
    assert not shots[1].exists()
    assert undo.accessibleName() == "Undo moving 2 files to the bin"


def test_undoing_writes_over_nothing_that_came_later(page, at_rest, shots):
    select(page, 3)
    at_rest(page)
    give_tag(page, "coffee", "grey heron")
    at_rest(page)
    edit(shots[3], tags={"coffee": "theirs"})
    page.acting.undo()
    at_rest(page)
    assert read_meta(shots[3])["tags"]["coffee"] == "theirs"
    assert "changed elsewhere meanwhile" in page.message.said.text()
    page.message.again_button.click()
    at_rest(page)
    assert read_meta(shots[3])["tags"]["coffee"] == "house blend"


def test_undoing_in_a_field_is_of_what_is_typed_there(qtbot, page, at_rest, shots):
    select(page, 3)
    at_rest(page)
    field = page.detail.tags.fields.row("coffee").field
    field.setFocus()
    field.selectAll()
    qtbot.keyClicks(field, "grey heron")
    qtbot.keyClick(field, Qt.Key.Key_Return)
    at_rest(page)
    qtbot.keyClicks(field, " two")
    qtbot.keySequence(field, QKeySequence("Ctrl+Z"))
    at_rest(page)
    assert field.text() == "grey heron"
    assert read_meta(shots[3])["tags"]["coffee"] == "grey heron"
    qtbot.keySequence(field, QKeySequence("Ctrl+Z"))
    at_rest(page)
    assert read_meta(shots[3])["tags"]["coffee"] == "house blend"
    assert field.text() == "house blend"


def test_esc_brings_a_tag_back_and_then_leaves_the_details(qtbot, page, at_rest, shots):
    select(page, 3)
    at_rest(page)
    page.list.setFocus()
    qtbot.keyClick(page.list, Qt.Key.Key_F2)
    field = page.detail.tags.fields.row("machine").field
    assert field.hasFocus()
    qtbot.keyClicks(field, "an")
    assert field.text() == "an"
    qtbot.keyClick(field, Qt.Key.Key_Escape)
    assert field.text() == "Kestrel Two"
    assert field.hasFocus()
    qtbot.keyClick(field, Qt.Key.Key_Escape)
    assert page.list.hasFocus()
    assert "edits" not in read_meta(shots[3])


def test_the_bin_is_only_looked_at_and_left_with_esc(qtbot, page, at_rest):
    select(page, 2, 3)
    page.acting.move()
    at_rest(page)
    page.show_bin(shown=True)
    at_rest(page)
    acting, fields = page.acting, page.detail.tags.fields
    assert fields.row("coffee").field.isReadOnly()
    assert not fields.new_name.isVisible()
    assert not any(one.isVisible() for one in (acting.edit_button, acting.aside_button, acting.export_button))
    qtbot.keyClick(page.list, Qt.Key.Key_Escape)
    at_rest(page)
    assert not page.in_bin
    assert len(page.shots.places) == 3
    assert fields.new_name.isVisible()


def test_recordings_are_not_set_aside(page, at_rest, shots):
    select(page, 0)
    at_rest(page)
    assert not page.acting.aside_button.isEnabled()
    select(page, 0, 1, 2)
    at_rest(page)
    page.acting.aside()
    assert page.ask.question.text() == "Why are these 2 shots set aside?"
    page.ask.field.setText("trial")
    page.ask.field.returnPressed.emit()
    at_rest(page)
    assert page.message.said.text() == "2 shots were set aside."
    assert "set_aside" not in read_meta(shots[0])["shot"] or not read_meta(shots[0])["shot"]["set_aside"]


def test_many_are_changed_at_once_and_back(page, at_rest, shots):
    select(page, 1, 3)
    at_rest(page)
    page.detail.tags.fields.new_name.setText("basket")
    page.detail.tags.fields.new_value.setText("ridged")
    page.detail.tags.fields.add_button.click()
    at_rest(page)
    page.detail.more_notes.setText("new gasket")
    page.detail.more_notes.returnPressed.emit()
    at_rest(page)
    metas = [read_meta(shots[line]) for line in (1, 3)]
    assert [meta["tags"]["basket"] for meta in metas] == ["ridged", "ridged"]
    assert [meta["notes"] for meta in metas] == ["new gasket", "wet puck\nnew gasket"]
    page.message.undo_button.click()
    at_rest(page)
    assert "notes" not in read_meta(shots[1])
    assert read_meta(shots[3])["notes"] == "wet puck"


def test_notes_are_taken_when_the_field_is_left_and_on_closing(page, at_rest, shots):
    select(page, 4)
    at_rest(page)
    page.detail.notes.setFocus()
    page.detail.notes.setPlainText("slow start")
    select(page, 3)
    at_rest(page)
    assert read_meta(shots[4])["notes"] == "slow start"
    assert page.detail.notes.toPlainText() == "wet puck"
    page.detail.notes.setPlainText("dry puck")
    page.close_down()
    assert read_meta(shots[3])["notes"] == "dry puck"


def test_an_edit_made_elsewhere_is_not_written_over(page, at_rest, shots):
    select(page, 3)
    at_rest(page)
    edit(shots[3], notes="theirs")
    page.detail.notes.setPlainText("mine")
    page.detail.notes.take()
    at_rest(page)
    assert read_meta(shots[3])["notes"] == "theirs"
    assert "changed elsewhere meanwhile" in page.message.said.text()
    assert page.message.again_button.text() == "Write mine all the same"
    assert page.detail.notes.toPlainText() == "theirs"
    page.message.again_button.click()
    at_rest(page)
    meta = read_meta(shots[3])
    assert meta["notes"] == "mine"
    assert [one["changes"] for one in meta["edits"]] == [
        {"notes": ["wet puck", "theirs"]},
        {"notes": ["theirs", "mine"]},
    ]


def test_two_windows_on_one_logbook_lose_no_edit(page, at_rest, make_page, book, shots):
    other = make_page(book)
    for each in (page, other):
        select(each, 3)
        at_rest(each)
    page.detail.tags.given.emit("coffee", "grey heron")
    other.detail.tags.given.emit("basket", "ridged")
    for each in (page, other):
        at_rest(each)
    tags = read_meta(shots[3])["tags"]
    assert (tags["coffee"], tags["basket"]) == ("grey heron", "ridged")
    assert len(read_meta(shots[3])["edits"]) == 2


def test_shots_are_set_aside_for_a_reason_and_taken_back(qtbot, page, at_rest, shots):
    select(page, 3)
    at_rest(page)
    page.acting.aside_button.click()
    assert page.ask.field.hasFocus()
    qtbot.keyClicks(page.ask.field, "channelled")
    qtbot.keyClick(page.ask.field, Qt.Key.Key_Return)
    at_rest(page)
    assert read_meta(shots[3])["shot"]["set_aside"] == "channelled"
    assert cell(page, 3, "verdict") == "○ set aside: channelled"
    assert page.acting.aside_button.text() == "Take back"
    page.acting.aside_button.click()
    at_rest(page)
    assert read_meta(shots[3])["shot"]["counts"] is True
    page.message.undo_button.click()
    at_rest(page)
    assert read_meta(shots[3])["shot"]["set_aside"] == "channelled"


def test_a_question_can_be_left(qtbot, page, at_rest, shots):
    select(page, 3)
    at_rest(page)
    page.acting.aside_button.click()
    qtbot.keyClicks(page.ask.field, "x")
    qtbot.keyClick(page.ask.field, Qt.Key.Key_Escape)
    assert page.ask.isHidden()
    assert page.list.hasFocus()
    assert read_meta(shots[3])["shot"]["set_aside"] == ""


# -- the bin


def test_delete_moves_to_the_bin_and_undo_brings_back(qtbot, page, at_rest, shots):
    select(page, 1, 2)
    at_rest(page)
    qtbot.keyClick(page.list, Qt.Key.Key_Delete)
    at_rest(page)
    assert not shots[1].exists()
    assert not shots[2].exists()
    assert page.message.said.text() == "2 files were moved to the bin."
    assert len(page.shots.places) == 3
    assert len(page.list.chosen) == 1
    page.message.undo_button.click()
    at_rest(page)
    assert shots[1].exists()
    assert shots[2].exists()
    assert len(page.shots.places) == 5


def test_the_bin_is_seen_searched_and_emptied_file_by_file(page, at_rest, shots):
    select(page, 1, 3)
    page.acting.move()
    at_rest(page)
    page.show_bin(shown=True)
    at_rest(page)
    assert page.title.text() == "Bin"
    assert names(page) == [shots[1].name, shots[3].name]
    assert page.chosen == ()
    page.filters.search.setText("wet")
    at_rest(page)
    assert names(page) == [shots[3].name]
    select(page, 0)
    at_rest(page)
    assert page.detail.notes.isReadOnly()
    page.acting.bin_button.click()
    at_rest(page)
    assert shots[3].exists()
    page.show_bin(shown=False)
    at_rest(page)
    assert len(page.shots.places) == 4


# -- texts that are no texts


def test_what_looks_like_html_is_shown_as_it_is_written(make_page, make_shot, book, at_rest):
    evil = '<img src="file:///etc/passwd"><script>alert(1)</script>'
    make_shot(1, machine=evil, notes=evil, tags={"machine": evil, "<b>x</b>": evil})
    page = make_page(book)
    page.list.selectRow(0)
    at_rest(page)
    labels = [label for label in page.findChildren(QLabel) if "<img" in label.text()]
    assert labels
    assert {label.textFormat() for label in labels} == {Qt.TextFormat.PlainText}
    keys = [column.key for column in page.shots.columns]
    cell = page.shots.index(0, keys.index("machine"))
    assert cell.data() == evil
    assert "<img" not in cell.data(Qt.ItemDataRole.ToolTipRole)
    assert "&lt;img" in cell.data(Qt.ItemDataRole.ToolTipRole)
    assert page.detail.notes.toPlainText() == evil


# -- checking and handing on


def test_damage_is_told_and_mended_only_when_asked(page, at_rest, shots):
    content = shots[2].read_bytes()
    at = content.index(b"\nt,")
    damaged = content[:at] + content[at:].replace(b"91.5", b"81.5", 1)
    assert damaged != content
    shots[2].write_bytes(damaged)
    page.acting.check()
    at_rest(page)
    assert page.check.said.text() == "5 files checked: 4 whole, 1 with damaged rows."
    assert page.check.table.rowCount() == 1
    assert shots[2].read_bytes() == damaged
    page.check.mend_button.click()
    at_rest(page)
    assert page.check.table.item(0, 0).text() == "✓ mended"
    assert verify(shots[2]).condition is Condition.WHOLE
    (kept,) = page.index.logbook.bin_dir.rglob("*.ecsv")
    assert kept.read_bytes() == damaged
    page.check.back_button.click()
    assert page.list.isVisible()
    at_rest(page)


@pytest.mark.parametrize(
    ("form", "read"), [("csv", lambda text: list(csv.DictReader(text.splitlines()))), ("json", json.loads)]
)
def test_the_shots_chosen_are_exported(page, at_rest, tmp_path, form, read):
    select(page, 1, 3)
    page.acting.export_button.click()
    page.export.form.setCurrentIndex(page.export.form.findData(form))
    page.export.which.setCurrentIndex(page.export.which.findData("chosen"))
    target = tmp_path / f"shots.{form}"
    page.export.to.setText(str(target))
    page.export.go_button.click()
    at_rest(page)
    assert page.export.said.text().startswith("2 shots in")
    assert [row["machine"] for row in read(target.read_text(encoding="utf-8"))] == [
        "Umber Lever",
        "Kestrel Two",
    ]
    target.write_text("kept", encoding="utf-8")
    page.export.go_button.click()
    at_rest(page)
    assert "already a file" in page.export.said.text()
    assert target.read_text(encoding="utf-8") == "kept"
    page.export.replace_button.click()
    at_rest(page)
    assert len(read(target.read_text(encoding="utf-8"))) == 2


def test_every_control_can_be_named(page: LogbookPage, at_rest):
    select(page, 3)
    at_rest(page)
    page.acting.aside()
    page.acting.ask_export()
    for kind in (QAbstractButton, QComboBox, QLineEdit, QPlainTextEdit, QTableView):
        named = [control for control in page.findChildren(kind) if control.isVisible()]
        assert named
        for control in named:
            if type(control) is not QAbstractButton:  # the empty corner of a table
                text = control.text() if isinstance(control, QAbstractButton) else ""
                assert control.accessibleName() or text, control


def test_the_page_is_gone_through_with_tab(qtbot, page, at_rest):
    select(page, 3)
    at_rest(page)
    page.filters.search.setFocus()
    passed = []
    for _ in range(40):
        qtbot.keyClick(page.window().focusWidget(), Qt.Key.Key_Tab)
        passed.append(page.window().focusWidget())
    order = [page.filters.kind, page.filters.machine, page.filters.since, page.list, page.detail.notes]
    order += [page.acting.replay_button, page.acting.bin_button, page.acting.more_button]
    places = [passed.index(control) for control in order]
    assert places == sorted(places)
