"""Uncertainty as a table and bars, for shots and probes, and the estimates it rests on."""

from __future__ import annotations

import msgspec
import pytest
from PySide6.QtCore import Qt

from benchtemp.probes.brew_budget import JUNCTION, POSITION, TOLERANCE
from benchtemp.probes.correction import Correction
from benchtemp.shots.budget import Estimates, Grounds, budget_of, difference_of
from benchtemp.units import TempUnit

CHECKED = Correction(
    probe="basket 1",
    checked="2026-11-02T09:30:00+01:00",
    offset_k=-0.36,
    uncertainty_k=0.063,
    reference_degc=100.3,
    slope_uncertainty_k_per_k=0.00433,
)


@pytest.fixture
def shots(make_shot):
    grounds = Grounds(drift_half_width_k=0.1, interface="virtual")
    return tuple(
        make_shot(
            number,
            pump_on_s=60.0 * number,
            brew_temp_degc=brew_degc,
            brew_temp_uncertainty_k=0.02,
            readings=120,
            correction=CHECKED,
            grounds=grounds,
        )
        for number, brew_degc in ((1, 93.1), (2, 93.6))
    )


@pytest.fixture
def two_probes(keep, make_probe, read):
    keep(make_probe("basket 1"))
    keep(make_probe("spare", ()))
    read()


@pytest.fixture
def view(page, shots, make_snapshot, two_probes):  # noqa: ARG001 - they must be there
    page.show_sitting(make_snapshot(shots=shots), None)
    page.show_budget_of_shot(1)
    return page.budget


def cells(view, row):
    return [view.table.item(row, column).text() for column in range(view.table.columnCount())]


def test_the_table_holds_every_contribution_largest_first(view, shots):
    budget = budget_of(shots[0])
    assert view.budget == budget
    names = [cells(view, row)[0] for row in range(view.table.rowCount())]
    assert names == [*(line.name for line, _ in budget.ranked()), "together"]
    first = cells(view, 0)
    assert first[0] == POSITION
    assert first[2] == "0.204 °C"
    assert "estimate" in first[4]
    total = sum(float(cells(view, row)[3].rstrip("%")) for row in range(view.table.rowCount() - 1))
    assert total == pytest.approx(100, abs=2)
    assert cells(view, len(names) - 1)[2] == f"{budget.uncertainty_k:.3f} °C"


def test_the_bars_say_the_same_as_the_table(view, shots):
    lines = view.chart.lines()
    assert len(lines) == len(budget_of(shots[0]).contributions)
    assert lines[0].startswith(f"{POSITION} 0.204 °C")
    assert lines[0].endswith("estimate")
    assert view.chart.grab().toImage().pixelColor(view.chart.width() // 3, 8).isValid()


def test_the_result_carries_its_factor_and_what_would_help(view, shots):
    budget = budget_of(shots[0])
    assert view.result.text() == f"93.10 ± {budget.expanded_k():.2f} °C"
    assert f"k = {budget.coverage_factor():.2f}" in view.how.text()
    without = budget.without(POSITION).expanded_k()
    assert f"at best ± {without:.2f} °C ({POSITION})" in view.better.text()


def test_a_difference_is_told_both_ways(view, shots):
    view.choose_shot(2)
    view.other.setCurrentIndex(1)
    view.other.activated.emit(1)
    difference = difference_of(shots[0], shots[1])
    told = view.difference.text()
    assert "Shot 2 minus shot 1: +0.50" in told
    assert f"± {difference.cancelled.expanded_k():.2f}" in told
    assert f"± {difference.independent.expanded_k():.2f}" in told
    assert difference.cancelled.expanded_k() < difference.independent.expanded_k() / 3


def test_everything_is_told_in_the_unit_shown(view):
    view.set_unit(TempUnit.DEGF)
    assert view.result.text().startswith("199.58 ±")
    assert cells(view, 0)[2] == "0.367 °F"
    assert view.estimates.position.text() == "0.9"


def test_an_unchecked_probe_rests_on_its_class(page, view):
    page.show_budget_of("spare")
    assert view.temp_field.isVisible()
    assert view.chart.lines()[0].startswith(TOLERANCE)
    assert "check the probe in boiling water" in view.better.text().lower()
    page.show_budget_of("basket 1")
    assert TOLERANCE not in " ".join(view.chart.lines())


def test_the_brew_temperature_of_a_probe_can_be_chosen(page, view):
    page.show_budget_of("spare")
    narrow = view.budget.expanded_k()
    view.temp_field.setText("130")
    view.temp_field.setModified(True)
    view.temp_field.editingFinished.emit()
    assert view.budget.value == 130
    assert view.budget.expanded_k() == pytest.approx(narrow, rel=0.05)
    view.temp_field.setText("500")
    view.temp_field.setModified(True)
    view.temp_field.editingFinished.emit()
    assert "0 to 130" in view.complaint.text()


def test_estimates_hold_at_once_for_a_probe_and_are_remembered(page, view, choices):
    page.show_budget_of("basket 1")
    before = view.budget.expanded_k()
    form = view.estimates
    for field, text in ((form.position, "0.2"), (form.junction, "0.05"), (form.room, "22")):
        field.setText(text)
        field.setModified(True)
        field.editingFinished.emit()
    form.fixed.click()
    assert choices.now.uncertainty == Estimates(
        position_half_width_k=0.2, junction_half_width_k=0.05, room_degc=22.0, position_fixed=False
    )
    assert view.budget.expanded_k() < 0.6 * before
    junction = next(line for line in view.budget.contributions if line.name == JUNCTION)
    assert junction.uncertainty == pytest.approx(0.05 / 3**0.5)
    form.usual_button.click()
    assert choices.now.uncertainty == Estimates()
    assert view.budget.expanded_k() == pytest.approx(before)


def test_a_shot_keeps_the_estimates_it_was_pulled_with(view, shots):
    before = view.budget
    view.estimates.position.setText("3")
    view.estimates.position.setModified(True)
    view.estimates.position.editingFinished.emit()
    assert view.budget == before == budget_of(shots[0])


def test_esc_leads_back_to_where_it_was_asked_for(qtbot, page, view):
    asked = []
    page.bench_asked.connect(lambda: asked.append(True))
    qtbot.keyClick(view, Qt.Key.Key_Escape)
    assert asked == [True]
    assert page.details.isVisible()
    page.show_budget_of("basket 1")
    qtbot.keyClick(view, Qt.Key.Key_Escape)
    assert asked == [True]


def test_shots_that_change_are_shown_as_they_are(page, view, shots, make_snapshot):
    better = msgspec.structs.replace(shots[0], grounds=Grounds())
    page.show_sitting(make_snapshot(shots=(better, shots[1])), None)
    assert view.budget == budget_of(better)
    page.show_sitting(None, None)
    assert view.subject.itemText(0) == "basket 1, at"
