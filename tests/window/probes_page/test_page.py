"""The list, a probe's details and its history, and what of it reaches the disk."""

from __future__ import annotations

import numpy as np
import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication

from benchtemp.logbook.probe_file import find_probe, load_probe
from benchtemp.probes.tolerance import ToleranceClass
from benchtemp.units import TempUnit
from benchtemp.window.panel import SourceChoice
from benchtemp.window.probes_page.check_view import Method
from benchtemp.window.theme import DARK


@pytest.fixture
def three(keep, make_probe, tau, read):
    keep(make_probe("basket 1", time_constant=tau, serial="K-03"))
    keep(make_probe("basket 2", ((220, 0.1), (140, 0.62))))
    keep(make_probe("spare", ()))
    read()


def rows(page):
    return [page.list.list.item(row) for row in range(page.list.list.count())]


def texts(page):
    return [str(item.data(Qt.ItemDataRole.AccessibleTextRole)) for item in rows(page)]


@pytest.mark.usefixtures("three")
def test_each_probe_stands_with_its_last_check_correction_and_uncertainty(page):
    good, old, never = texts(page)
    assert good == "basket 1, ✓ 12 days ago: −0.36 ± 0.14 °C"
    assert old.startswith("basket 2, ! 140 days, old: −0.62 ±")
    assert never == "spare, ! never checked, IEC class 2"


@pytest.mark.usefixtures("three")
def test_the_days_after_which_a_check_is_old_are_the_users(page, choices):
    page.list.days_field.setFocus()
    page.list.days_field.setText("10")
    page.list.days_field.setModified(True)
    page.list.days_field.editingFinished.emit()
    assert choices.now.check_days == 10
    assert "12 days, old" in texts(page)[0]
    assert "12 days ago (limit 10)" in page.details.standing.text()


@pytest.mark.usefixtures("three")
def test_details_show_figures_class_and_time_constant(page):
    details = page.details
    assert details.title.text() == "basket 1"
    assert details.standing.text().startswith("✓ checked 12 days ago")
    assert details.correction.text() == "−0.36 ± 0.14 °C"
    assert details.lag.text() == "1.21 ± 0.04 s"
    assert details.serial_field.text() == "K-03"
    assert details.checks.count() == 4
    page.set_unit(TempUnit.DEGF)
    assert details.correction.text() == "−0.65 ± 0.25 °F"
    assert details.correction_caption.text() == "Added at 199 °F"


@pytest.mark.usefixtures("three")
def test_the_history_shows_errors_with_bars_limits_and_drift(page):
    chart = page.details.chart
    times, errors = chart.passed.getData()
    np.testing.assert_allclose(errors, [0.20, 0.24, 0.31, 0.36], atol=0.01)
    assert (np.diff(times) > 80 * 86400).all()
    assert (chart.bars.opts["height"] > 0.2).all()  # two sided, k = 2
    assert chart.limits[0].value() == 0.5
    slope = np.polyfit(*chart.trend.getData(), 1)[0] * 86400 * 30
    assert slope == pytest.approx(0.0167, abs=0.003)
    assert "4 checks" in chart.accessibleDescription()
    page.list.choose("basket 2")
    assert len(chart.failed.getData()[0]) == 1
    page.list.choose("spare")
    assert not len(chart.passed.getData()[0])
    assert not chart.isVisible()  # an empty plot says nothing
    assert "will stand here" in page.details.drift.text()


@pytest.mark.usefixtures("three")
def test_the_chart_follows_theme_and_unit(page):
    page.set_theme(DARK)
    assert page.details.chart.backgroundBrush().color().name() == DARK.surface
    page.set_unit(TempUnit.DEGF)
    assert "°F" in page.details.chart.getPlotItem().getAxis("left").labelText
    np.testing.assert_allclose(page.details.chart.passed.getData()[1][-1], 0.36 * 1.8, atol=0.02)


@pytest.mark.usefixtures("three")
def test_class_mark_and_notes_are_kept_as_they_are_entered(qtbot, page, logbook):
    details = page.details
    details.class_choice.select(ToleranceClass.IEC_1)
    details.class_choice.activated.emit(details.class_choice.currentIndex())
    details.notes_field.setFocus()
    qtbot.keyClicks(details.notes_field, "left hole of the basket")
    qtbot.keyClick(details.notes_field, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: load_probe(logbook, "basket 1").notes != "", timeout=5000)
    probe = load_probe(logbook, "basket 1")
    assert probe.notes == "left hole of the basket"
    assert probe.tolerance_class is ToleranceClass.IEC_1
    assert len(probe.checks) == 4


@pytest.mark.usefixtures("three")
def test_a_check_is_taken_out_only_after_a_second_yes(qtbot, page, logbook):
    details = page.details
    details.checks.setCurrentRow(1)
    details.remove_button.click()
    assert details.no_button.hasFocus()
    details.no_button.click()
    page.shelf.close_down()
    assert len(load_probe(logbook, "basket 1").checks) == 4
    details.remove_button.click()
    details.yes_button.click()
    qtbot.waitUntil(lambda: len(load_probe(logbook, "basket 1").checks) == 3, timeout=5000)
    left = [round(check.points[0].error_k, 2) for check in load_probe(logbook, "basket 1").checks]
    assert left == [0.20, 0.24, 0.36]


def test_an_empty_page_leads_to_the_first_probe(qtbot, page, read, logbook):
    read()
    assert page.nothing.isVisible()
    page.take_focus()
    assert page.list.name_field.hasFocus()
    page.list.add_button.click()
    assert "needs a name" in page.list.complaint.text()
    qtbot.keyClicks(page.list.name_field, "basket 1")
    qtbot.keyClick(page.list.name_field, Qt.Key.Key_Return)
    qtbot.waitUntil(page.details.isVisible, timeout=5000)
    assert page.details.title.text() == "basket 1"
    assert find_probe(logbook, "Basket 1") is not None


@pytest.mark.usefixtures("three")
def test_a_name_that_is_taken_is_refused(qtbot, page):
    qtbot.keyClicks(page.list.name_field, "Basket 1")
    qtbot.keyClick(page.list.name_field, Qt.Key.Key_Return)
    assert "already" in page.list.complaint.text()


def test_a_damaged_file_is_told_and_costs_only_itself(page, keep, make_probe, read):
    path = keep(make_probe("basket 1"))
    keep(make_probe("basket 2"))
    path.write_text("name = ", encoding="utf-8")
    read()
    assert "damaged" in page.list.complaint.text()
    assert len(rows(page)) == 1


@pytest.mark.usefixtures("three")
def test_a_probe_is_plugged_into_a_channel_of_the_open_source(page, choices, make_snapshot, make_trace):
    class Source:
        name = "Bench interface"
        details = {"adapter_identity": "1a86:7523:X1@1-2"}  # noqa: RUF012 - a stand-in
        channels = ("T1", "T2")

    choice = SourceChoice(Source())
    assert not page.details.channel_choice.isEnabled()
    page.show_sitting(make_snapshot(trace=make_trace(channels=2)), choice)
    box = page.details.channel_choice
    assert [box.itemText(row) for row in range(box.count())] == ["no channel", "T1", "T2"]
    for channel in ("T1", "T2"):
        box.select(channel)
        box.activated.emit(box.currentIndex())
    (plugged,) = choices.now.probes.values()
    assert plugged == {"T2": "basket 1"}  # a probe is in one place at a time
    assert "next sitting" in page.details.channel_note.text()
    page.list.choose("basket 2")
    assert box.currentData() == ""
    page.list.choose("basket 1")
    assert box.currentData() == "T2"


@pytest.mark.usefixtures("three")
def test_choosing_another_probe_leaves_what_would_not_be_missed(page):
    page.begin_check("basket 1")
    page.check.caution.go_on_button.click()
    page.list.choose("basket 2")
    assert page.details.isVisible()
    page.begin_check("basket 2")
    assert page.check.caution.isVisible()
    assert "basket 2" in page.check.title.text()


@pytest.mark.usefixtures("three")
def test_every_view_fits_the_least_window(page):
    page.begin_check("basket 1")
    for method in (Method.BOIL, Method.ICE, Method.THERMOMETER, Method.TOGETHER):
        page.check.conditions.begin(method, values={}, operator="", limit_k=0.5)
    page.begin_plunge("basket 1")
    page.show_budget_of("basket 1")
    QApplication.processEvents()
    least = page.minimumSizeHint()
    assert least.width() <= 920
    assert least.height() <= 640


def test_the_list_takes_the_keyboard_and_enter_leads_to_the_check(qtbot, page, keep, make_probe, read):
    keep(make_probe("basket 1"))
    read()
    page.activateWindow()
    page.take_focus()
    assert page.list.list.hasFocus()
    qtbot.keyClick(page.list.list, Qt.Key.Key_Return)
    assert page.details.check_button.hasFocus()


def test_an_empty_list_keeps_together_at_the_top(page, read):
    read()
    QApplication.processEvents()
    panel = page.list
    assert panel.name_field.hasFocus() or not page.isActiveWindow()
    assert panel.empty.isVisible()
    assert panel.days_field.geometry().bottom() < panel.height() // 2
    assert panel.name_field.y() - panel.empty.geometry().bottom() < 30


@pytest.mark.usefixtures("three")
def test_a_list_with_probes_fills_the_panel(page):
    QApplication.processEvents()
    assert page.list.days_field.geometry().bottom() > page.list.height() - 40
    assert not page.list.ahead.isVisible()


def test_probes_found_while_the_page_is_open_take_the_focus_but_not_from_somebody_typing(
    page, keep, make_probe, read
):
    page.activateWindow()
    page.list.name_field.setFocus()
    read()
    page.list.name_field.setText("bas")
    keep(make_probe("one"))
    read()
    assert page.list.focusWidget() is page.list.name_field
    page.list.name_field.clear()
    page.list.show_probes(())
    page.list.name_field.setFocus()
    page.list.show_probes(page.shelf.probes)
    assert page.list.focusWidget() is page.list.list


def test_a_logbook_ahead_of_this_computers_clock_is_judged_by_its_own_newest_check(
    page, keep, make_probe, read
):
    keep(make_probe("ahead", ((-400, 0.2),)))
    keep(make_probe("behind", ((-200, 0.2),)))
    keep(make_probe("unchecked", ()))
    read()
    ahead, behind, unchecked = texts(page)
    assert "✓ today" in ahead
    assert "200 days, old" in behind
    assert "never checked" in unchecked
    assert "ahead of this computer's clock" in page.list.ahead.text()
    assert page.list.ahead.isVisible()
    page.list.choose("behind")
    assert "200 days ago" in page.details.standing.text()


@pytest.mark.parametrize("in_use", [True, False])
@pytest.mark.usefixtures("three")
def test_news_of_one_probe_do_not_stand_above_the_check_of_another(page, in_use):
    page.said.tell_kept("basket 1", in_use=in_use)
    page.begin_check("basket 2")
    assert bool(page.said.text()) == in_use  # what the sitting goes without holds there too
    page.check.leave()


@pytest.mark.parametrize("in_use", [True, False])
@pytest.mark.usefixtures("three")
def test_what_is_saved_for_a_probe_in_use_says_that_the_open_sitting_goes_on_without_it(
    qtbot, page, tau, make_snapshot, in_use
):
    class Source:
        name = "Bench interface"
        details = {"adapter_identity": "1a86:7523:X1@1-2"}  # noqa: RUF012 - a stand-in
        channels = ("T1",)

    choice = SourceChoice(Source())
    used = "basket 1" if in_use else "basket 2"
    page.show_sitting(make_snapshot(probes=(used,)), choice)
    page.begin_plunge("basket 1")
    page.plunge.agreed.emit("basket 1", tau)
    qtbot.waitUntil(lambda: "Saved" in page.said.text(), timeout=5000)
    assert ("goes on as it began" in page.said.text()) == in_use
    assert ("Ctrl+O" in page.said.text()) == in_use
    if not in_use:
        page.said._hush.timeout.emit()
    page.show_sitting(make_snapshot(probes=(used,)), choice)
    assert bool(page.said.text()) == in_use  # it stays for as long as it is true
    page.show_sitting(None, None)
    assert not page.said.text()
