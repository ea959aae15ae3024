"""The page: a verdict without holding up the window, other units, copying, and a logbook without shots."""

from __future__ import annotations

import threading

import pytest
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QApplication

from benchtemp.logbook.folder import Logbook
from benchtemp.reports.answering import Asked
from benchtemp.studies.outcome import Study
from benchtemp.units import TempUnit
from benchtemp.window.findings_page import demo_week
from benchtemp.window.findings_page import page as page_module
from benchtemp.window.findings_page.page import FindingsPage
from benchtemp.window.panels.choice import Choice
from benchtemp.window.theme import DARK, LIGHT


@pytest.fixture
def make_page(qtbot):
    made = []

    def make(folder):
        page = FindingsPage(Logbook(folder))
        qtbot.addWidget(page)
        page.set_theme(LIGHT)
        page.resize(900, 650)
        page.show()
        page.read()
        made.append(page)
        qtbot.waitUntil(lambda: not page.busy, timeout=20_000)
        return page

    yield make
    for page in made:
        page.close_down()


def test_the_first_opening_shows_the_verdict_of_the_latest_plan(make_page, series_dir):
    page = make_page(series_dir)
    assert page.view.isVisible()
    assert page.form.kind.currentData() == Asked.STEADINESS
    assert page.form.plan.currentData() == "steady series Ferrowick Two"
    assert "Ferrowick Two brews at" in page.view.verdict.text()
    assert page.view.charts[0].chart.title == "Shot by shot"
    assert "4 shots used" in page.view.limits.text()
    shown = page.shown()
    assert shown.study is page.view.study
    assert len(shown.shots.used) == 4


def test_another_unit_changes_every_figure_and_back(make_page, series_dir):
    page = make_page(series_dir)
    before = page.view.verdict.text()
    page.set_unit(TempUnit.DEGF)
    assert "°F" in page.view.verdict.text()
    assert "°C" not in page.view.verdict.text()
    assert all("°C" not in chart.y_title.text() for chart in page.view.charts)
    low, _ = page.view.charts[0].plot.getPlotItem().viewRange()[1]
    assert low > 150
    assert page.form.target.value == pytest.approx(199.4)
    page.set_theme(DARK)
    page.set_unit(TempUnit.DEGC)
    assert page.view.verdict.text() == before


def test_all_of_it_is_copied_as_text(make_page, series_dir):
    page = make_page(series_dir)
    page.view.copy_button.click()
    text = QGuiApplication.clipboard().text()
    assert page.view.verdict.text() in text
    for table in page.view.study.tables():
        assert table.title in text
        assert table.rows[0][0] in text


def test_a_question_the_shots_cannot_answer_says_why(qtbot, make_page, series_dir):
    page = make_page(series_dir)
    page.form.kind.select(Asked.CYCLE)
    qtbot.waitUntil(lambda: not page.busy, timeout=20_000)
    assert page.trouble.isVisible()
    assert "put a probe at the boiler" in page.trouble.text()
    assert page.shown() is None
    page.form.kind.select(Asked.STEADINESS)
    qtbot.waitUntil(lambda: not page.busy, timeout=20_000)
    assert page.view.isVisible()


def test_days_the_wrong_way_round_are_not_asked_about(qtbot, make_page, series_dir):
    page = make_page(series_dir)
    page.form.since.select("2031-03-09")
    qtbot.waitUntil(lambda: not page.busy, timeout=20_000)
    page.form.until.select("2031-03-03")
    assert "other way round" in page.form.complaint.text()
    assert not page.busy


def test_the_window_goes_on_while_a_study_is_worked_out(qtbot, make_page, series_dir, monkeypatch):
    page = make_page(series_dir)
    go_on, where = threading.Event(), []

    def slow(*_args):
        where.append(threading.current_thread())
        go_on.wait(10.0)
        return page.shown()

    monkeypatch.setattr(page_module, "answered", slow)
    page.form.machine.select("Ferrowick Two")
    qtbot.waitUntil(lambda: bool(where), timeout=5000)
    assert where[0] is not threading.main_thread()
    assert page.busy
    assert page.said.text() == "Working it out."
    go_on.set()
    qtbot.waitUntil(lambda: not page.busy, timeout=5000)
    assert isinstance(page.view.study, Study)
    assert page.said.isHidden()


def test_an_empty_logbook_leads_to_the_demo_week_and_back(
    qtbot, make_page, tmp_path, series_dir, monkeypatch
):
    def small(logbook, *, tell):
        tell("2031-03-03 09:00  steady series")
        for path in sorted(series_dir.rglob("*")):
            if path.is_file():
                target = logbook.root / path.relative_to(series_dir)
                target.parent.mkdir(parents=True, exist_ok=True)
                target.write_bytes(path.read_bytes())

    monkeypatch.setattr("benchtemp.studies.workshop.week.build_week", small)
    page = make_page(tmp_path / "logbook")
    assert page.nothing.isVisible()
    assert not page.form.isEnabled()
    page.demo_button.click()
    assert "minute" in page.demo_says.text()
    qtbot.waitUntil(lambda: page.view.isVisible() and not page.busy, timeout=20_000)
    assert "Ferrowick Two brews at" in page.view.verdict.text()
    assert page.logbook.root == demo_week.demo_dir()
    assert not (tmp_path / "logbook").exists(), "the user's own logbook is not touched"
    page.own_button.click()
    qtbot.waitUntil(lambda: not page.busy and page.nothing.isVisible(), timeout=5000)


def test_a_demo_week_stopped_half_way_leaves_nothing(tmp_path, monkeypatch):
    stop = threading.Event()

    def endless(logbook, *, tell):
        (logbook.root / "half").write_text("made")
        stop.set()
        tell("more")
        raise AssertionError("it was not stopped")

    monkeypatch.setattr("benchtemp.studies.workshop.week.build_week", endless)
    with pytest.raises(demo_week._StoppedError):
        demo_week.build(tmp_path / "week", [], stop)
    assert list(tmp_path.iterdir()) == []


def test_several_tags_narrow_the_shots_down(qtbot, make_page, series_dir):
    page = make_page(series_dir)
    page.form.tags.rows[0].tag.select("coffee")
    qtbot.waitUntil(lambda: not page.busy, timeout=20_000)
    assert page.shown().question.selection.tags == {"coffee": "guest"}
    assert len(page.shown().shots.used) == 2


def test_the_warm_up_of_a_channel_is_asked_for_by_its_name(qtbot, make_page, series_dir):
    page = make_page(series_dir)
    assert page.form.settling.isHidden()
    page.form.kind.select(Asked.WARM_UP)
    assert page.form.settling.isVisible()
    page.form.settling.select("T2")
    qtbot.waitUntil(lambda: not page.busy, timeout=20_000)
    assert "has a channel T2" in page.trouble.text()


@pytest.mark.parametrize("asked", list(Asked))
def test_nothing_of_the_form_is_cut_off_in_a_small_window(make_page, series_dir, asked):
    page = make_page(series_dir)
    page.resize(930, 680)
    page.form.kind.select(asked)
    QApplication.processEvents()
    room = page.form.parentWidget().width()
    assert page.form.width() <= room
    for field in page.form.findChildren(Choice):
        if field.isVisible():
            assert field.mapTo(page.form, field.rect().topRight()).x() < room
