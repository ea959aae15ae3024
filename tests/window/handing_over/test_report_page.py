from __future__ import annotations

import pytest
from pypdf import PdfReader
from PySide6.QtCore import Qt

from benchtemp.reports.answering import Asked
from benchtemp.studies.evidence.shot_set import Selection
from benchtemp.units import TempUnit
from benchtemp.window.handing_over import report_page as module
from benchtemp.window.handing_over.matter import Matter
from benchtemp.window.handing_over.report_page import BOTH, HTML, PDF, ReportPage

DEADLINE_MS = 60_000


@pytest.fixture
def page(qtbot, out, monkeypatch):
    made = ReportPage()
    made.opened = []
    monkeypatch.setattr(module, "open_with_system", made.opened.append)
    qtbot.addWidget(made)
    made.place.folder.setText(str(out))
    made.resize(912, 660)
    made.show()
    yield made
    made.close_down()


@pytest.fixture
def take(qtbot, page):
    def do(matter):
        page.take(matter)
        qtbot.waitUntil(lambda: page.ready or page.status.property("look") == "bad", timeout=DEADLINE_MS)

    return do


def make(qtbot, page):
    page.make()
    qtbot.waitUntil(lambda: not page.busy, timeout=DEADLINE_MS)


def choose(choice, value):
    index = choice.findData(value)
    choice.setCurrentIndex(index)
    choice.activated.emit(index)


def test_a_report_in_both_formats(qtbot, page, take, book, out):
    take(Matter((book.root,), book, Selection(), Asked.STEADINESS))
    assert page.about.text().startswith("6 shots on ")
    assert [asked for asked, tick in page.studies.items() if tick.isChecked()] == [Asked.STEADINESS]
    choose(page.format, BOTH)
    page.heading.setText("Six shots")
    page.tester.setText("Ilva")
    page.customer.setText("Quillmarsh <b>")
    page.notes.setPlainText("New gasket.\nSoft water.")
    make(qtbot, page)
    assert [file.suffix for file in page.written] == [".html", ".pdf"]
    assert all(file.parent == out for file in page.written)
    html = page.written[0].read_text(encoding="utf-8")
    for words in ("Six shots", "tested by Ilva", "Quillmarsh &lt;b&gt;", "Soft water.", "Steadiness of"):
        assert words in html
    assert "benchtemp report --study steadiness" in html
    text = " ".join(one.extract_text() for one in PdfReader(page.written[1]).pages)
    assert "Six shots" in text
    assert "New gasket." in text
    assert page.opened == [page.written[1]]
    assert page.open_button.isVisible()


def test_what_was_entered_is_there_the_next_time(qtbot, page, take, book, out):
    take(Matter(tuple(book.shots())[:1], book))
    page.tester.setText("Ilva")
    page.customer.setText("somebody")
    choose(page.format, HTML)
    make(qtbot, page)
    again = ReportPage()
    qtbot.addWidget(again)
    again.take(Matter(tuple(book.shots())[:1], book))
    qtbot.waitUntil(lambda: again.ready, timeout=DEADLINE_MS)
    assert (again.tester.text(), again.customer.text()) == ("Ilva", "")
    assert again.format.currentData() == HTML
    assert again.place.folder.text() == str(out)
    assert again.place.name.text() == page.place.name.text() + "-2"
    again.close_down()


def test_nothing_is_replaced_unasked(qtbot, page, take, book, out):
    take(Matter(tuple(book.shots())[:1], book))
    choose(page.format, HTML)
    page.place.name.setText("mine")
    (out / "mine.html").write_text("mine", encoding="utf-8")
    make(qtbot, page)
    assert "already a mine.html" in page.status.text()
    assert (out / "mine.html").read_text(encoding="utf-8") == "mine"
    page.place.overwrite.setChecked(True)
    make(qtbot, page)
    assert "Written" in page.status.text()
    assert (out / "mine.html").stat().st_size > 10_000


def test_a_folder_that_is_not_there_is_a_sentence(qtbot, page, take, book, out):
    take(Matter(tuple(book.shots())[:1], book))
    choose(page.format, HTML)
    page.place.folder.setText(str(out / "nowhere"))
    make(qtbot, page)
    assert page.status.text().startswith("There is no folder")
    assert page.written == ()


def test_a_study_these_shots_do_not_allow_is_a_sentence(qtbot, page, take, book, out):
    take(Matter((book.root,), book, Selection()))
    page.studies[Asked.WARM_UP].setChecked(True)
    make(qtbot, page)
    assert page.status.property("look") == "bad"
    assert page.status.text().endswith(".")
    assert not list(out.iterdir())


def test_no_shot_is_a_sentence(page, take, book):
    take(Matter((book.root,), book, Selection(machines=("no such",))))
    assert "None of these shots" in page.status.text()
    assert not page.make_button.isEnabled()


def test_a_report_under_way_can_be_stopped(qtbot, page, take, book, out):
    take(Matter((book.root,), book, Selection()))
    choose(page.format, BOTH)
    page.make()
    qtbot.keyClick(page.cancel_button, Qt.Key.Key_Return)
    page.cancel_button.click()
    qtbot.waitUntil(lambda: not page.busy, timeout=DEADLINE_MS)
    assert page.status.text().startswith("Stopped")
    assert not list(out.iterdir())


def test_paper_matters_to_a_pdf_only(page, take, book):
    take(Matter(tuple(book.shots())[:1], book))
    choose(page.format, PDF)
    assert page.paper.isEnabled()
    assert page.place.endings.text() == ".pdf"
    choose(page.format, HTML)
    assert not page.paper.isEnabled()


def test_esc_goes_back(qtbot, page):
    with qtbot.waitSignal(page.left):
        qtbot.keyClick(page, Qt.Key.Key_Escape)


def test_what_it_says_first_is_read_before_it_is_made(qtbot, page, take, book):
    take(Matter((book.root,), book, Selection()))
    words = page.first_words
    qtbot.waitUntil(lambda: not words.busy, timeout=DEADLINE_MS)
    plain = words.words.text()
    assert "brew" in plain
    page.studies[Asked.STEADINESS].setChecked(True)
    qtbot.waitUntil(lambda: "Steadiness of" in words.words.text(), timeout=DEADLINE_MS)
    page.studies[Asked.WARM_UP].setChecked(True)
    qtbot.waitUntil(lambda: not words.refused.isHidden(), timeout=DEADLINE_MS)
    assert words.words.text() == ""
    page.set_unit(TempUnit.DEGF)
    page.studies[Asked.WARM_UP].setChecked(False)
    qtbot.waitUntil(lambda: "°F" in words.words.text(), timeout=DEADLINE_MS)
    assert words.refused.isHidden()
