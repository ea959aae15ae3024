from __future__ import annotations

import msgspec
import pytest
from PySide6.QtCore import Qt

from benchtemp.readings.layout import Channel, Layout, save_layout, shipped_layout
from benchtemp.readings.ports import PortIdentity, PortInfo
from benchtemp.window.sources import serial_card
from benchtemp.window.sources.own_layouts import keep_own_layout
from benchtemp.window.sources.serial_card import SerialCard

BOX = PortInfo("/dev/ttyQ0", "Quillmore Box (ttyQ0)", PortIdentity(0x1111, 0x2222, "A1", "1-2"))
SCALE = PortInfo("/dev/ttyQ1", "Bramley Scale (ttyQ1)", PortIdentity(0x1111, 0x2223, "", "1-3"))
PLAIN = PortInfo("/dev/ttyS0", "serial port (ttyS0)")
CONFIRMED = Layout(name="confirmed", channels=(Channel(field=3),))


@pytest.fixture(autouse=True)
def plugged(monkeypatch):
    """Return a list of the ports there are; change it to plug in and out."""
    there = []
    monkeypatch.setattr(serial_card, "list_ports", lambda: tuple(there))
    return there


@pytest.fixture
def card(show):
    made = show(SerialCard(), width_px=300, height_px=560)
    yield made
    made.end()


@pytest.fixture
def picks(card):
    found = []
    card.picked.connect(found.append)
    return found


def texts(choice):
    return [choice.itemText(index) for index in range(choice.count()) if choice.itemText(index)]


def choose(choice, text):
    choice.setCurrentText(text)
    assert choice.currentText() == text
    choice.activated.emit(choice.currentIndex())


def test_ports_come_and_go_by_themselves(qtbot, card, plugged):
    assert card.none_note.isVisible()
    assert not card.connect_button.isEnabled()
    card._timer.setInterval(20)
    plugged.append(BOX)
    qtbot.waitUntil(lambda: card.chosen_port == BOX, timeout=3000)
    assert card.connect_button.isEnabled()
    plugged.clear()
    qtbot.waitUntil(card.none_note.isVisible, timeout=3000)
    assert card.chosen_port is None


def test_what_was_chosen_stays_chosen_when_another_is_plugged_in(qtbot, card):
    card.show_ports((BOX, PLAIN))
    card.list.setFocus()
    qtbot.keyClick(card.list, Qt.Key.Key_Down)
    assert card.chosen_port == PLAIN
    card.show_ports((BOX, SCALE, PLAIN))
    assert card.chosen_port == PLAIN


def test_without_anything_known_the_layout_is_guessed(qtbot, card, picks):
    card.show_ports((BOX,))
    assert card.chosen_layout is None
    assert card.connect_button.text() == "Look at its lines"
    assert not card.check_button.isVisible()  # it would do the same
    card.machine_field.setFocus()
    qtbot.keyClicks(card.machine_field, "bar left")
    card.connect_button.setFocus()
    qtbot.keyClick(card.connect_button, Qt.Key.Key_Return)
    assert picks == [serial_card.SerialPick(BOX, None, "bar left")]


def test_enter_in_the_list_connects(qtbot, card, picks):
    card.show_ports((BOX,))
    card.list.setFocus()
    qtbot.keyClick(card.list, Qt.Key.Key_Return)
    assert [pick.port for pick in picks] == [BOX]


def test_a_layout_confirmed_for_this_adapter_comes_first(card, picks):
    card.show_ports((BOX, SCALE))
    card.set_remembered({str(BOX.identity): msgspec.to_builtins(CONFIRMED), "torn": {"name": 3}})
    assert card.chosen_layout == CONFIRMED
    assert card.layout_choice.currentText() == "as last time: confirmed"
    assert card.connect_button.text() == "Connect"
    card.connect_button.click()
    assert picks[0].layout == CONFIRMED
    card.list.setCurrentRow(1)
    assert card.chosen_layout is None  # another adapter, nothing remembered


def test_shipped_and_own_layouts_are_offered_scales_only_as_scales(card):
    keep_own_layout(Layout(name="my own box", channels=(Channel(field=1),)))
    card.reload_layouts()
    offered = texts(card.layout_choice)
    assert "my own box" in offered
    assert shipped_layout("labelled-four-channels").name in offered
    assert shipped_layout("scale").name not in offered
    assert shipped_layout("scale").name in texts(card.scale_layout_choice)
    assert not shipped_layout("scale").request
    assert card.scale_layout_choice.currentData().request == ""


def test_a_shipped_layout_tells_what_it_fits(card):
    card.show_ports((BOX,))
    layout = shipped_layout("labelled-four-channels")
    choose(card.layout_choice, layout.name)
    assert card.chosen_layout == layout
    assert card.layout_note.text() == layout.description
    assert card.connect_button.text() == "Connect"


def test_a_layout_file_can_be_taken(card, tmp_path):
    card.show_ports((BOX,))
    save_layout(CONFIRMED, tmp_path / "box.toml")
    card.take_layout_file(tmp_path / "box.toml")
    assert card.chosen_layout == CONFIRMED
    (tmp_path / "torn.toml").write_text("[")
    card.take_layout_file(tmp_path / "torn.toml")
    assert "torn.toml" in card.complaint.text()
    assert card.complaint.isVisible()


def test_a_scale_on_a_port_of_its_own(card, picks):
    card.show_ports((BOX, SCALE))
    assert not card.scale_layout_choice.isVisible()
    choose(card.scale_port_choice, SCALE.name)
    assert card.scale_layout_choice.isVisible()
    card.connect_button.click()
    assert picks[0].scale_port == SCALE
    assert picks[0].scale_layout.kind == "scale"
    choose(card.scale_port_choice, BOX.name)
    card.connect_button.click()
    assert len(picks) == 1
    assert "same port" in card.complaint.text()


def test_looking_at_the_lines_first(card, picks):
    card.show_ports((BOX,))
    card.set_remembered({str(BOX.identity): msgspec.to_builtins(CONFIRMED)})
    card.check_button.click()
    assert picks[0].check
    assert picks[0].layout == CONFIRMED


def test_an_instrument_that_sends_no_lines_is_not_looked_at(card, picks):
    card.show_ports((BOX,))
    choose(card.layout_choice, shipped_layout("modbus-tenths").name)
    assert not card.check_button.isEnabled()
    card.connect_button.click()
    assert picks[0].layout.kind == "modbus"
    choose(card.layout_choice, "guess from what it sends")
    assert card.check_button.isEnabled()


def test_asking_the_system_for_ports_does_not_hold_up_the_window(qtbot, monkeypatch, card):
    import threading  # noqa: PLC0415

    asked_by = []
    monkeypatch.setattr(serial_card, "list_ports", lambda: asked_by.append(threading.get_ident()) or ())
    qtbot.waitUntil(lambda: not card._looking.busy)
    card.look_for_ports()
    qtbot.waitUntil(lambda: bool(asked_by))
    assert threading.get_ident() not in asked_by
