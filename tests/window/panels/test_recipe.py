from __future__ import annotations

import msgspec
import pytest
from hypothesis import given as generated
from hypothesis import strategies as st
from PySide6.QtCore import Qt

from benchtemp.shots.entries import Entries
from benchtemp.shots.recipe import Recipe
from benchtemp.units import TempUnit
from benchtemp.window.panels.recipe import RecipePanel, changes_to


@pytest.fixture
def panel(show, make_snapshot):
    made = show(RecipePanel())
    made.show_snapshot(make_snapshot())
    return made


@pytest.fixture
def given(panel):
    found = []
    panel.entered.connect(found.append)
    return found


def type_into(qtbot, field, text, key=Qt.Key.Key_Return):
    field.setFocus()
    field.selectAll()
    qtbot.keyClicks(field, text)
    qtbot.keyClick(field, key)


def test_every_field_of_a_recipe_can_be_edited(panel):
    for name in Recipe.__struct_fields__:
        assert panel.field(name).isVisible(), name


@pytest.mark.parametrize(
    ("written", "mark"),
    [
        ("18,5", "recipe.dose_g=18.5"),
        ("2.5", "recipe.brew_ratio=2.5"),
        ("12.5", "recipe.brew_ratio_tolerance=0.125"),
        ("20", "recipe.time_low_s=20"),
        ("32", "recipe.time_high_s=32"),
        ("89.5", "recipe.band_low_degc=89.5"),
        ("95", "recipe.band_high_degc=95"),
        ("10", "recipe.plateau_min_s=10"),
    ],
)
def test_a_value_becomes_a_mark_the_entries_take(qtbot, panel, given, written, mark):
    name = mark.removeprefix("recipe.").partition("=")[0]
    type_into(qtbot, panel.field(name), written)
    assert given == [mark]
    assert getattr(Entries().taking(mark).recipe, name) == float(mark.partition("=")[2])


def test_the_band_is_shown_and_taken_in_fahrenheit(qtbot, panel, given):
    panel.set_unit(TempUnit.DEGF)
    assert panel.field("band_low_degc").text() == "194.9"
    assert panel.field("band_high_degc").text() == "204.8"
    type_into(qtbot, panel.field("band_high_degc"), "205")
    assert given == ["recipe.band_high_degc=96.111"]
    assert "194.9–204.8 °F" in panel.band_note.text()
    panel.set_unit(TempUnit.DEGC)
    assert panel.field("band_low_degc").text() == "90.5"


def test_a_window_that_ends_before_it_begins_is_refused(qtbot, panel, given):
    type_into(qtbot, panel.field("time_low_s"), "28")
    assert given == []
    assert "from 0 to 27.9" in panel.complaint.text()
    assert panel.complaint.isVisible()


def test_an_emptied_field_is_refused_but_not_the_dose(qtbot, panel, given, make_snapshot):
    panel.show_snapshot(make_snapshot(recipe=Recipe(dose_g=18)))
    field = panel.field("plateau_min_s")
    field.setFocus()
    field.selectAll()
    qtbot.keyClick(field, Qt.Key.Key_Delete)
    qtbot.keyClick(field, Qt.Key.Key_Return)
    assert given == []
    assert "cannot be empty" in panel.complaint.text()
    dose = panel.field("dose_g")
    dose.setFocus()
    dose.selectAll()
    qtbot.keyClick(dose, Qt.Key.Key_Delete)
    qtbot.keyClick(dose, Qt.Key.Key_Return)
    assert given == ["recipe.dose_g="]
    assert Entries(recipe=Recipe(dose_g=18)).taking(given[0]).recipe.dose_g is None


def test_back_to_the_usual_values_keeps_the_dose(qtbot, panel, given, make_snapshot):
    odd = Recipe(dose_g=17, time_low_s=40, time_high_s=50, band_low_degc=97, band_high_degc=99, brew_ratio=3)
    panel.show_snapshot(make_snapshot(recipe=odd))
    panel.usual_button.setFocus()
    qtbot.keyClick(panel.usual_button, Qt.Key.Key_Return)
    entries = Entries(recipe=odd)
    for text in given:
        entries = entries.taking(text)
    assert entries.recipe == Recipe(dose_g=17)


ends = st.floats(1, 100).map(lambda value: round(value, 3))


@generated(ends, ends, ends, ends)
def test_every_step_on_the_way_to_another_recipe_is_a_recipe(a, b, c, d):
    if a == b or c == d:
        return
    start = msgspec.structs.replace(Recipe(), time_low_s=min(a, b), time_high_s=max(a, b))
    goal = msgspec.structs.replace(Recipe(), time_low_s=min(c, d), time_high_s=max(c, d))
    entries = Entries(recipe=start)
    for text in changes_to(start, goal):
        entries = entries.taking(text)  # raises where a step on the way makes no sense
    assert entries.recipe == goal


def test_where_the_usual_values_come_from_is_said(panel):
    assert "common practice, no source" in panel.ratio_note.text()
    assert "from memory of trade guidance" in panel.band_note.text()


@pytest.mark.parametrize("unit", [TempUnit.DEGC, TempUnit.DEGF])
def test_no_label_is_cut_in_a_narrow_drawer(qtbot, panel, unit):
    panel.setFixedWidth(240)
    panel.set_unit(unit)
    qtbot.wait(20)
    assert panel.minimumSizeHint().width() <= 240
    for label in panel.findChildren(type(panel.ratio_note)):
        if label.isVisible() and not label.wordWrap():
            assert label.width() >= label.sizeHint().width(), label.text()
    for name in Recipe.__struct_fields__:
        field = panel.field(name)
        room = field.width() - field.fontMetrics().horizontalAdvance("204.8")
        assert room >= 14, name
