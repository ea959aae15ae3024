from __future__ import annotations

import msgspec
import pytest
from PySide6.QtCore import QMimeData, QPointF, Qt, QUrl
from PySide6.QtGui import QDropEvent
from PySide6.QtWidgets import QLabel, QWidget

from benchtemp.logbook.folder import Logbook
from benchtemp.readings.layout import Channel, Layout
from benchtemp.readings.ports import PortIdentity
from benchtemp.readings.replay import ReplaySource
from benchtemp.readings.virtual import VirtualSource
from benchtemp.window.sources import serial_card
from benchtemp.window.sources.picker import SourcePicker
from benchtemp.window.theme import DARK, LIGHT


@pytest.fixture(autouse=True)
def plugged(monkeypatch):
    there = []
    monkeypatch.setattr(serial_card, "list_ports", lambda: tuple(there))
    return there


@pytest.fixture
def picker(show, tmp_path):
    made = show(SourcePicker(), width_px=940, height_px=600)
    made.set_known(logbook=Logbook(tmp_path / "logbook"))
    yield made
    made.end()


@pytest.fixture
def chosen(picker):
    found = []
    picker.chosen.connect(found.append)
    return found


def drop(widget, *paths):
    data = QMimeData()
    data.setUrls([QUrl.fromLocalFile(str(path)) for path in paths])
    event = QDropEvent(
        QPointF(50, 50),
        Qt.DropAction.CopyAction,
        data,
        Qt.MouseButton.LeftButton,
        Qt.KeyboardModifier.NoModifier,
    )
    widget.dropEvent(event)
    return event


def test_a_new_user_needs_one_press_of_enter(qtbot, picker, chosen):
    picker.focus_first()
    first = picker.virtual.buttons[0]
    assert first.hasFocus()
    qtbot.keyClick(first, Qt.Key.Key_Return)
    assert isinstance(chosen[0].source, VirtualSource)
    assert chosen[0].keep


def test_every_virtual_machine_has_its_line_of_explanation(picker):
    for button in picker.virtual.buttons:
        assert button.accessibleName()
        assert button.accessibleDescription()


def test_a_virtual_machine_without_a_scale(picker, chosen):
    picker.virtual.scale_choice.select(value=False)
    picker.virtual.buttons[2].click()
    assert not chosen[0].source.has_weight


def test_the_last_source_is_offered_first_and_had_with_enter(qtbot, picker, chosen):
    picker.set_known(last_source={"kind": "virtual", "key": "thermoblock"})
    picker.focus_first()
    assert picker.again_button.hasFocus()
    assert "Kessamun Dash" in picker.again_button.accessibleName()
    with qtbot.waitSignal(picker.chosen):
        qtbot.keyClick(picker.again_button, Qt.Key.Key_Return)
    assert chosen[0].source.name == "Kessamun Dash"


def test_a_last_source_that_is_gone_is_told_in_the_page(qtbot, picker, chosen, tmp_path):
    picker.set_known(last_source={"kind": "replay", "path": str(tmp_path / "gone.ecsv")})
    picker.again_button.click()
    qtbot.waitUntil(picker.complaint.isVisible)
    assert "gone.ecsv" in picker.complaint.text()
    assert not chosen
    assert not picker.busy_note.isVisible()


def test_a_dropped_recording_is_replayed(qtbot, picker, chosen, recording):
    with qtbot.waitSignal(picker.chosen):
        assert drop(picker, recording).isAccepted()
    assert isinstance(chosen[0].source, ReplaySource)
    assert not chosen[0].keep
    assert chosen[0].begin_again == {"kind": "replay", "path": str(recording)}


def test_a_dropped_letter_is_refused_in_the_page(qtbot, picker, chosen, tmp_path):
    letter = tmp_path / "letter.txt"
    letter.write_text("Dear reader,\n")
    drop(picker, letter)
    qtbot.waitUntil(picker.complaint.isVisible)
    assert "letter.txt" in picker.complaint.text()
    assert not chosen


def test_the_logbooks_recordings_are_listed(qtbot, picker, recording):
    picker.set_known(recent=[str(recording)])
    card = picker.recordings
    qtbot.waitUntil(lambda: card.list.count() > 0)
    qtbot.waitUntil(lambda: "Kestle Bench" in [card.list.item(n).text() for n in range(card.list.count())])


def test_an_interface_from_port_to_choice_by_keyboard(qtbot, picker, chosen, plugged, plug_in):
    confirmed = []
    picker.layout_confirmed.connect(lambda adapter, layout: confirmed.append((adapter, layout)))
    interface = plug_in(lambda number: f"T1={93 + number % 2}.25;T2=22.50\r\n".encode())
    identity = PortIdentity(0x1111, 0x2222, "A1", "1-2")
    plugged.append(interface.port._replace(identity=identity))
    picker.serial.look_for_ports()
    qtbot.waitUntil(lambda: picker.serial.chosen_port is not None, timeout=3000)
    picker.serial.connect_button.setFocus()
    qtbot.keyClick(picker.serial.connect_button, Qt.Key.Key_Return)
    view = picker.layout_view
    qtbot.waitUntil(lambda: view.isVisible() and view.connect_button.hasFocus(), timeout=10_000)
    qtbot.keyClick(view.connect_button, Qt.Key.Key_Return)
    choice = chosen[0]
    assert choice.hardware
    assert choice.source.channels == ("T1", "T2")
    adapter, layout = confirmed[0]
    assert adapter == str(identity)
    assert [channel.label for channel in layout.channels] == ["T1", "T2"]

    # next time the same adapter needs no guess
    picker.set_known(layouts={adapter: msgspec.to_builtins(layout)})
    picker.serial.connect_button.click()
    assert len(chosen) == 2
    assert msgspec.convert(chosen[1].begin_again["layout"], Layout) == layout
    choice.source.open()
    items = []
    for _ in range(50):
        items += choice.source.read()
        if len(items) > 3:
            break
    choice.source.close()
    assert any(getattr(item, "temps_degc", ()) for item in items)


def test_escape_leaves_the_layout_then_the_picker(qtbot, picker, plug_in):
    left = []
    picker.cancelled.connect(lambda: left.append(1))
    interface = plug_in(lambda _: b"93.5\r\n")
    one = Layout(name="one", channels=(Channel(field=1),))
    picker._pick_serial(serial_card.SerialPick(interface.port, one, check=True))
    assert picker.layout_view.isVisible()
    qtbot.keyClick(picker.layout_view.connect_button, Qt.Key.Key_Escape)
    assert not picker.layout_view.isVisible()
    assert left == []
    qtbot.keyClick(picker.virtual.buttons[0], Qt.Key.Key_Escape)
    assert left == [1]


def test_why_a_source_did_not_open_stands_in_the_page(picker):
    picker.show_failure("Another program uses /dev/ttyQ0; close it.")
    assert picker.complaint.isVisible()
    picker.virtual.buttons[0].click()
    assert not picker.complaint.isVisible()


@pytest.mark.parametrize("width_px", [560, 940])
def test_nothing_is_cut(picker, qtbot, width_px):
    picker.setFixedWidth(width_px)
    for theme in (LIGHT, DARK):
        picker.set_theme(theme)
        qtbot.wait(20)
        for label in picker.findChildren(QLabel):
            if not label.isVisible() or not label.text():
                continue
            needed = label.heightForWidth(label.width()) if label.wordWrap() else label.sizeHint().height()
            assert label.height() >= needed, label.text()
            if not label.wordWrap():
                assert label.width() >= label.sizeHint().width(), label.text()


def test_every_control_has_a_name(picker):
    for widget in picker.findChildren(QWidget):
        if widget.focusPolicy() is Qt.FocusPolicy.NoFocus or not widget.isVisible():
            continue
        named = widget.accessibleName() or getattr(widget, "text", str)()
        assert named or widget.parent().accessibleName(), widget
