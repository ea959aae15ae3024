from __future__ import annotations

import pytest
from PySide6.QtCore import Qt

from benchtemp.shots.entries import Entries
from benchtemp.shots.stages import Stage
from benchtemp.units import TempUnit
from benchtemp.window.panels.tag_row import USUAL_TAGS
from benchtemp.window.panels.tags import TagsPanel

USUAL = tuple(kind.name for kind in USUAL_TAGS)


@pytest.fixture
def panel(show, make_snapshot):
    made = show(TagsPanel())
    made.show_snapshot(make_snapshot(tags={"coffee": "house blend"}))
    return made


@pytest.fixture
def given(panel):
    found = []
    panel.entered.connect(found.append)
    return found


def type_into(qtbot, field, text, key=Qt.Key.Key_Return):
    field.setFocus()
    field.selectAll()
    qtbot.keyClick(field, Qt.Key.Key_Delete)
    qtbot.keyClicks(field, text)
    qtbot.keyClick(field, key)


def test_the_usual_tags_are_there_and_show_what_holds(panel):
    assert panel.fields.names() == USUAL
    assert panel.fields.row("coffee").field.text() == "house blend"
    assert panel.fields.row("machine").field.text() == ""


@pytest.mark.parametrize("key", [Qt.Key.Key_Return, Qt.Key.Key_Tab])
def test_a_tag_is_edited_in_place_and_space_types_a_space(qtbot, panel, given, key):
    type_into(qtbot, panel.fields.row("machine").field, "bar left", key)
    assert given == ["tag.machine=bar left"]
    assert Entries().taking(given[0]).tags == {"machine": "bar left"}


@pytest.mark.parametrize(
    ("written", "kept"),
    [("12,5", "idle_min=12.5"), ("0", "flush_s=0"), ("93.5", "setpoint_degc=93.5")],
)
def test_numbers_are_numbers_and_carry_their_unit_in_the_name(qtbot, panel, given, written, kept):
    type_into(qtbot, panel.fields.row(kept.partition("=")[0]).field, written)
    assert given == [f"tag.{kept}"]


def test_a_number_that_is_none_is_said_to_be_none(qtbot, panel, given):
    type_into(qtbot, panel.fields.row("setpoint_degc").field, "12.")
    assert given == ["tag.setpoint_degc=12"]
    type_into(qtbot, panel.fields.row("setpoint_degc").field, "1e9")
    assert len(given) == 1
    assert "no setpoint" in panel.fields.complaint.text()
    assert panel.fields.complaint.isVisible()


def test_the_setpoint_is_shown_and_taken_in_the_unit_chosen(qtbot, panel, given, make_snapshot):
    panel.show_snapshot(make_snapshot(tags={"setpoint_degc": "93.5", "idle_min": "odd"}))
    assert panel.fields.row("setpoint_degc").field.text() == "93.5"
    assert panel.fields.row("idle_min").field.text() == ""
    panel.set_unit(TempUnit.DEGF)
    assert panel.fields.row("setpoint_degc").field.text() == "200.3"
    type_into(qtbot, panel.fields.row("setpoint_degc").field, "201")
    assert given == ["tag.setpoint_degc=93.89"]
    panel.show_snapshot(make_snapshot(tags={"setpoint_degc": "93.89"}))
    assert panel.fields.row("setpoint_degc").field.text() == "201"


def test_an_emptied_tag_is_taken_away(qtbot, panel, given):
    type_into(qtbot, panel.fields.row("coffee").field, "")
    assert given == ["tag.coffee="]
    assert Entries(tags={"coffee": "house blend"}).taking(given[0]).tags == {}


def test_leaving_a_tag_unchanged_gives_nothing(qtbot, panel, given):
    panel.fields.row("coffee").field.setFocus()
    qtbot.keyClick(panel.fields.row("coffee").field, Qt.Key.Key_Tab)
    assert given == []


def test_a_tag_being_typed_is_not_overwritten(qtbot, panel, given, make_snapshot):
    field = panel.fields.row("coffee").field
    field.setFocus()
    field.selectAll()
    qtbot.keyClicks(field, "new ro")
    panel.show_snapshot(make_snapshot(tags={"coffee": "something else"}))
    assert field.text() == "new ro"
    qtbot.keyClicks(field, "ast")
    qtbot.keyClick(field, Qt.Key.Key_Return)
    assert given == ["tag.coffee=new roast"]


def test_free_tags_come_and_go(qtbot, panel, given, make_snapshot):
    panel.fields.new_name.setFocus()
    qtbot.keyClicks(panel.fields.new_name, "basket")
    qtbot.keyClick(panel.fields.new_name, Qt.Key.Key_Return)
    assert panel.fields.new_value.hasFocus()
    qtbot.keyClicks(panel.fields.new_value, "ridged 18 g")
    qtbot.keyClick(panel.fields.new_value, Qt.Key.Key_Return)
    assert given == ["tag.basket=ridged 18 g"]
    panel.show_snapshot(make_snapshot(tags={"basket": "ridged 18 g"}))
    assert panel.fields.names()[-1] == "basket"
    assert panel.fields.row("basket").field.text() == "ridged 18 g"

    remove = panel.fields.row("basket").remove
    remove.setFocus()
    qtbot.keyClick(remove, Qt.Key.Key_Return)
    assert given[-1] == "tag.basket="
    panel.show_snapshot(make_snapshot(tags={}))
    assert panel.fields.names() == USUAL


@pytest.mark.parametrize(("name", "value"), [("", "x"), ("basket", ""), ("a=b", "x")])
def test_a_tag_that_cannot_be_is_refused_in_a_sentence(qtbot, panel, given, name, value):
    panel.fields.new_name.setText(name)
    panel.fields.new_value.setText(value)
    panel.fields.add_button.setFocus()
    qtbot.keyClick(panel.fields.add_button, Qt.Key.Key_Return)
    assert given == []
    assert panel.fields.complaint.isVisible()
    assert panel.fields.new_name.text() == name


def test_earlier_values_are_offered(qtbot, panel, given):
    panel.set_known({"coffee": ["single farm", "house blend"], "basket": ["ridged"]})
    field = panel.fields.row("coffee").field
    field.setFocus()
    field.clear()
    qtbot.keyClicks(field, "farm")
    completer = field.completer()
    assert completer.completionCount() == 1
    popup = completer.popup()
    qtbot.waitUntil(popup.isVisible)
    qtbot.keyClick(popup, Qt.Key.Key_Down)
    qtbot.keyClick(popup, Qt.Key.Key_Return)
    assert given == ["tag.coffee=single farm"]
    qtbot.keyClicks(panel.fields.new_name, "bas")
    assert panel.fields.new_name.completer().completionCount() == 1


def test_the_last_shot_can_have_the_change_too(qtbot, panel, given, make_snapshot, make_shot):
    snapshot = make_snapshot(tags={"coffee": "house blend"}, shots=(make_shot(3),), stage=Stage.ENDED)
    panel.show_snapshot(snapshot)
    assert not panel.last_too_button.isVisible()
    type_into(qtbot, panel.fields.row("coffee").field, "single farm")
    assert panel.last_too_button.text() == "Give shot 3 this coffee too"
    panel.last_too_button.setFocus()
    qtbot.keyClick(panel.last_too_button, Qt.Key.Key_Return)
    assert given == ["tag.coffee=single farm", "shot 3 tag.coffee=single farm"]
    assert not panel.last_too_button.isVisible()
    assert Entries().taking(given[1]).for_shot(3).tags == {"coffee": "single farm"}


def test_the_offer_goes_when_the_next_shot_begins(qtbot, panel, make_snapshot, make_shot):
    panel.show_snapshot(make_snapshot(shots=(make_shot(3),)))
    type_into(qtbot, panel.fields.row("coffee").field, "single farm")
    assert panel.last_too_button.isVisible()
    panel.show_snapshot(make_snapshot(shots=(make_shot(3),), stage=Stage.RISING))
    assert not panel.last_too_button.isVisible()


def test_it_fits_a_narrow_drawer(panel, make_snapshot):
    panel.show_snapshot(make_snapshot(tags={"a name that is far too long for a label": "x"}))
    assert panel.minimumSizeHint().width() <= 240
