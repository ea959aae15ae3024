"""The list of plans, one plan, and a new one."""

from __future__ import annotations

import numpy as np
import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication

from benchtemp.logbook.folder import Logbook
from benchtemp.readings.reading import Stream
from benchtemp.studies.plans import kinds
from benchtemp.studies.plans.order import Order
from benchtemp.studies.plans.plan import PlanKind
from benchtemp.studies.plans.plan_file import load_plan, plan_path, save_plan
from benchtemp.units import TempUnit
from benchtemp.window.plan_page.page import PlanPage
from benchtemp.window.theme import LIGHT

RESULT = {
    "kind": "shot",
    "rise_s": 11.0,
    "pump_on_s": 10.0,
    "pump_on_source": "marked",
    "pump_off_s": 35.0,
    "pump_off_source": "marked",
    "plateau_start_s": 15.0,
    "plateau_end_s": 35.0,
    "brew_temp_degc": 93.0,
}


@pytest.fixture
def logbook(tmp_path):
    return Logbook(tmp_path / "book")


@pytest.fixture
def page(qtbot, logbook):
    made = PlanPage(logbook)
    qtbot.addWidget(made)
    made.set_theme(LIGHT)
    made.resize(920, 660)
    made.show()
    yield made
    made.close_down()


@pytest.fixture
def read(qtbot, page):
    def run():
        page.read()
        qtbot.waitUntil(lambda: not page.shelf.busy, timeout=10_000)

    return run


def test_without_plans_the_page_says_what_they_are_for(page, read):
    read()
    assert page.nothing.isVisible()
    assert "which shots to pull" in page.nothing.text()


def test_without_plans_the_focus_waits_on_the_way_to_the_first(qtbot, page, read):
    page.take_focus()
    assert page.list.hasFocus()  # nobody knows yet whether there are any
    read()
    assert page.first_button.hasFocus()
    assert not page.list.isVisible()
    page.first_button.click()
    assert page.views.currentWidget() is page.form
    qtbot.keyClick(page.form, Qt.Key.Key_Escape)
    assert page.first_button.hasFocus()


def test_plans_are_listed_with_where_they_stand(page, read, logbook):
    for machine in ("A", "B"):
        plan = kinds.setpoint_series(machine)
        save_plan(plan_path(logbook, plan), plan)
    (logbook.plans_dir / "broken.toml").write_text("name = 3\n")
    read()
    assert page.list.count() == 2
    assert "0 of 12" in page.list.item(0).text()
    assert "broken.toml" in page.said.text()
    details = page.details
    assert details.name.text() == "setpoint series A"
    assert details.run_button.text() == "Start on the Bench"
    assert details.finding_button.isHidden()
    assert "Every other repeat runs backwards" in details.order.text()
    assert len(details.table.rows) == 12
    assert details.table.rows[0][5] == "→ next"
    page.list.setCurrentRow(1)
    assert details.name.text() == "setpoint series B"
    page.set_unit(TempUnit.DEGF)
    assert "°F" in details.table.rows[0][2]
    assert "°C" not in details.stands.text()


def test_enter_in_the_list_asks_to_run_the_plan(qtbot, page, read, logbook):
    plan = kinds.steady_series("A", shots=3)
    save_plan(plan_path(logbook, plan), plan)
    read()
    with qtbot.waitSignal(page.run_asked) as asked:
        qtbot.keyClick(page.list, Qt.Key.Key_Return)
    assert asked.args == [plan]


def test_tab_leads_from_the_list_through_the_plan(qtbot, page, read, logbook):
    plan = kinds.steady_series("A", shots=3)
    save_plan(plan_path(logbook, plan), plan)
    read()
    page.list.setFocus()
    order = []
    for _ in range(5):
        qtbot.keyClick(QApplication.focusWidget(), Qt.Key.Key_Tab)
        order.append(QApplication.focusWidget())
    details = page.details
    buttons = [details.run_button, details.edit_button, details.bin_button]
    assert order == [page.new_button, *buttons, details.table]


def test_a_new_plan_is_previewed_in_order_and_saved(qtbot, page, read, logbook):
    read()
    page.new_button.click()
    form = page.form
    assert "Name the machine" in form.complaint.text()
    assert not form.save_button.isEnabled()
    form.kind.select(PlanKind.FLUSH)
    form.machine.setText("Ostrel Long Arm")
    form.levels.setText("0, 5")
    assert form.plan.count == 6
    assert [row[2] for row in form.table.rows] == [step.shot.said() for step in form.plan.sequence()]
    assert "cannot pass for an effect" in form.order_says.text()
    form.order.select(Order.AS_WRITTEN)
    assert "would look like an effect" in form.order_says.text()
    form.save_button.click()
    qtbot.waitUntil(lambda: page.list.count() == 1 and not page.shelf.busy, timeout=10_000)
    (path,) = logbook.plans_dir.glob("*.toml")
    assert load_plan(path) == form.plan
    assert page.details.isVisible()
    assert page.details.entry.plan == form.plan


def test_a_name_taken_already_is_not_written_over(qtbot, page, read, logbook):
    plan = kinds.steady_series("A", shots=3)
    save_plan(plan_path(logbook, plan), plan)
    read()
    page.begin_new()
    page.form.machine.setText("A")
    page.form.save()
    qtbot.waitUntil(lambda: "already" in page.said.text(), timeout=5000)
    assert page.form.isVisible(), "what was typed stays"
    assert load_plan(plan_path(logbook, plan)) == plan


def test_setpoints_typed_follow_the_unit(page, read):
    read()
    page.begin_new()
    page.form.kind.select(PlanKind.SETPOINT)
    page.form.machine.setText("A")
    before = page.form.plan
    page.set_unit(TempUnit.DEGF)
    assert page.form.levels.text().startswith("194, 197.6")
    assert page.form.plan == before


@pytest.fixture
def begun(logbook):
    """Return a plan of which one shot was pulled."""
    plan = kinds.steady_series("A", shots=3)
    save_plan(plan_path(logbook, plan), plan)
    meta = {
        "kind": "shot",
        "started": "2031-03-03T09:00:00+00:00",
        "machine": "A",
        "tags": {"plan": plan.name, "plan shot": "1"},
        "channels": [{"name": "T1"}],
        "shot": {"number": 1, "pulled": "2031-03-03T09:00:10+00:00", "result": RESULT},
    }
    t_s = np.arange(0.0, 30.0)
    logbook.save_shot(Stream(channels=("T1",), t_s=t_s, temps_degc=np.full((30, 1), 93.0), meta=meta))
    return plan


def test_a_plan_is_edited_in_its_own_file(qtbot, page, read, logbook):
    plan = kinds.idle_series("A")
    save_plan(plan_path(logbook, plan), plan)
    read()
    page.details.edit_button.click()
    form = page.form
    assert form.title.text() == "Edit idle series A"
    assert form.plan == plan
    form.levels.setText("3, 6")
    form.rest.show_value(5.0)
    form.rest.taken.emit(5.0)
    form.name.setText("idling")
    form.holds.setCurrentIndex(1)
    form.recipe.entered.emit("recipe.time_high_s=40")
    with qtbot.waitSignal(page.replaced) as replaced:
        form.save_button.click()
    qtbot.waitUntil(lambda: page.details.entry.plan.name == "idling", timeout=10_000)
    (path,) = logbook.plans_dir.glob("*.toml")
    kept = load_plan(path)
    assert path.stem == "idling"
    assert replaced.args == [kept, plan.name]
    assert [shot.idle_min for shot in kept.shots] == [3.0, 6.0]
    assert kept.rest_min == 5.0
    assert kept.recipe.time_high_s == 40.0
    assert "is saved" in page.said.text()


def test_what_shots_rest_on_stays_once_they_were_pulled(qtbot, page, read, begun, logbook):
    read()
    assert page.details.entry.status.done
    page.details.edit_button.click()
    form = page.form
    assert form.begun.isVisible()
    for field in (form.kind, form.machine, form.name, form.order):
        assert not field.isEnabled()
    assert form.count.hasFocus()
    form.count.show_value(5.0)
    form.count.taken.emit(5.0)
    form.save_button.click()
    qtbot.waitUntil(lambda: page.details.entry.plan.count == 5, timeout=10_000)
    assert load_plan(plan_path(logbook, begun)).repeats == 5
    assert len(page.details.entry.status.done) == 1


def test_a_plan_goes_to_the_bin_with_one_key_and_back_with_another(qtbot, page, read, begun, logbook):
    read()
    path = plan_path(logbook, begun)
    with qtbot.waitSignal(page.removed) as removed:
        qtbot.keyClick(page.list, Qt.Key.Key_Delete)
    assert removed.args == [begun]
    qtbot.waitUntil(lambda: not page.shelf.busy and page.list.count() == 0, timeout=10_000)
    assert not path.exists()
    assert (logbook.bin_dir / "plans" / path.name).exists()
    assert "the shots pulled for it stay" in page.said.text()
    assert list(logbook.shots())
    page.back_button.setFocus()
    qtbot.keyClick(page.back_button, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: not page.shelf.busy and page.list.count() == 1, timeout=10_000)
    assert load_plan(path) == begun
    assert page.back_button.isHidden()
