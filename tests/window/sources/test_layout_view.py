from __future__ import annotations

import threading
from pathlib import Path

import pytest
from PySide6.QtCore import Qt, QTimer

from benchtemp.errors import NoReadings
from benchtemp.readings.layout import Channel, Layout, load_layout
from benchtemp.readings.opening import open_source
from benchtemp.readings.ports import PortInfo
from benchtemp.units import TempUnit
from benchtemp.window.sources import port_guess
from benchtemp.window.sources.layout_view import LayoutView
from benchtemp.window.sources.own_layouts import own_layouts


@pytest.fixture
def view(show):
    made = show(LayoutView(), width_px=930, height_px=560)
    yield made
    made.end()
    made.form.take_now()


def four_values(number):
    # The running number is never one of the temperatures.
    return f"{100 + number};{93 + number % 3}.25;OPEN;{22 + number % 2}.5\r\n".encode()


def cells(view):
    table = view.table
    return [
        [table.item(row, column).text() for column in range(table.columnCount())]
        for row in range(table.rowCount())
    ]


def test_a_guess_is_shown_beside_the_raw_lines_and_confirmed_with_enter(qtbot, view, plug_in):
    interface = plug_in(four_values)
    view.begin(interface.port, None)
    assert not view.form.isEnabled()
    assert "Listening" in view.progress.text()
    qtbot.waitUntil(view.connect_button.isEnabled, timeout=10_000)
    assert view.progress.text().startswith("Guessed")
    qtbot.waitUntil(lambda: len(cells(view)) >= 5, timeout=5000)
    raw, *values = cells(view)[-1]
    channels = view.form.layout_now.channel_names
    assert [view.table.horizontalHeaderItem(n + 1).text() for n in range(len(channels))] == list(channels)
    number, first, _, last = raw.split(";")
    assert values[0] == f"{first} °C"
    assert values[-1] == f"{float(last):.2f} °C"
    assert number not in {value.split(".")[0] for value in values}
    assert view.connect_button.hasFocus()
    with qtbot.waitSignal(view.confirmed) as caught:
        qtbot.keyClick(view.connect_button, Qt.Key.Key_Return)
    layout = caught.args[0]
    assert layout.channels[0].field == 2
    source = open_source(interface.device, layout)
    source.open()  # the port is free again
    source.close()


def test_every_edit_is_seen_at_once_in_the_same_lines(qtbot, view, plug_in):
    view.begin(plug_in(four_values).port, Layout(name="first", separator=";", channels=(Channel(field=2),)))
    qtbot.waitUntil(lambda: len(cells(view)) >= 3, timeout=5000)
    assert cells(view)[-1][1].endswith(".25 °C")
    view.form.rows[0].unit_choice.select("degF")
    view.form.take_now()
    raw, value = cells(view)[-1]
    assert value == f"{(float(raw.split(';')[1]) - 32) / 1.8:.2f} °C"
    field = view.form.rows[0].field
    field.setFocus()
    field.selectAll()
    qtbot.keyClicks(field, "4")
    qtbot.waitUntil(lambda: cells(view)[-1][1].startswith("−5."), timeout=3000)
    view.form.rows[0].unit_choice.select("degC")
    view.form.take_now()
    view.set_unit(TempUnit.DEGF)
    view.look()
    assert cells(view)[-1][1].endswith("°F")


def test_a_layout_that_makes_no_sense_cannot_be_confirmed(qtbot, view, plug_in):
    view.begin(plug_in(four_values).port, Layout(name="first", separator=";", channels=(Channel(field=2),)))
    qtbot.waitUntil(lambda: len(cells(view)) >= 3, timeout=5000)
    view.form.rows[0].field.setText("x")
    view.form.take_now()
    view.look()
    assert not view.connect_button.isEnabled()
    assert cells(view)[-1][0]  # the raw lines are still there to be looked at
    assert view.form.complaint.isVisible()


def test_it_can_be_kept_as_an_own_layout(qtbot, view, plug_in):
    view.begin(plug_in(four_values).port, Layout(name="my box", separator=";", channels=(Channel(field=2),)))
    qtbot.waitUntil(view.save_button.isEnabled, timeout=5000)
    view.save_button.setFocus()
    with qtbot.waitSignal(view.layouts_changed):
        qtbot.keyClick(view.save_button, Qt.Key.Key_Return)
    path = view.said.text().removeprefix("Kept as ").removesuffix(".")
    assert load_layout(Path(path)) == own_layouts()[0][0]


def test_lines_without_a_temperature_are_shown_all_the_same(qtbot, view, plug_in):
    view.begin(plug_in(lambda _: b"good morning to you\r\n").port, None)
    qtbot.waitUntil(lambda: "set it by hand" in view.progress.text(), timeout=10_000)
    assert view.status.isVisible()
    qtbot.waitUntil(lambda: cells(view)[-1:] == [["good morning to you", "no reading"]], timeout=5000)
    assert view.form.isEnabled()


def test_a_scale_is_told_from_an_interface(qtbot, view, plug_in):
    view.begin(plug_in(lambda number: f"ST,NT,+ {number % 50 + 1}.2g\r\n".encode()).port, None)
    qtbot.waitUntil(lambda: "scale" in view.status.text(), timeout=10_000)
    assert not view.connect_button.isEnabled()


def test_a_port_that_does_not_open_is_told_in_the_panel(qtbot, view):
    view.begin(PortInfo("/dev/no-such-port", "Gone"), None)
    qtbot.waitUntil(view.status.isVisible, timeout=5000)
    assert "no-such-port" in view.status.text()


def test_going_back_while_listening_frees_the_port_and_ends_the_thread(qtbot, view, plug_in):
    interface = plug_in(lambda number: f"{93 + number % 2}.5\r\n".encode(), period_s=0.5)
    view.begin(interface.port, None)
    qtbot.waitUntil(lambda: any(thread.name == "guess" for thread in threading.enumerate()))
    view.back_button.setFocus()
    with qtbot.waitSignal(view.left):
        qtbot.keyClick(view.back_button, Qt.Key.Key_Return)
    assert not any(thread.name == "guess" for thread in threading.enumerate())
    source = open_source(interface.device, Layout(name="one", channels=(Channel(field=1),)))
    source.open()
    source.close()


def test_the_window_does_not_wait_for_the_port(qtbot, view, plug_in):
    ticks = []
    interface = plug_in(lambda number: f"{93 + number % 2}.5\r\n".encode())
    view.begin(interface.port, None)
    timer = QTimer()
    timer.timeout.connect(lambda: ticks.append(1))
    timer.start(10)
    qtbot.waitUntil(view.connect_button.isEnabled, timeout=10_000)
    timer.stop()
    assert len(ticks) > 5


def test_an_instrument_that_must_be_asked_is_set_by_hand(qtbot, view, plug_in, monkeypatch):
    monkeypatch.setattr(port_guess, "guess_baud", silent)
    interface = plug_in(lambda _: b"", period_s=0.01)
    view.begin(interface.port, None)
    qtbot.waitUntil(lambda: "set it by hand" in view.progress.text(), timeout=5000)
    assert "must be asked" in view.status.text()
    field = view.form.request_field
    field.setFocus()
    qtbot.keyClicks(field, "READ?")
    qtbot.waitUntil(lambda: b"READ?\n" in interface.heard(), timeout=5000)
    assert view.form.layout_now.request == "READ?"
    assert view.connect_button.isEnabled()


def silent(port, **_):
    raise NoReadings(f"Nothing arrives at {port}; check whether it must be asked for readings.")
