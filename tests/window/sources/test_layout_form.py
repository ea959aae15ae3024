from __future__ import annotations

import msgspec
import pytest
from PySide6.QtCore import Qt

from benchtemp.readings.layout import Channel, Junction, Layout, Weight, Wire, shipped_layouts
from benchtemp.window.sources.layout_form import LayoutForm

TWO = Layout(
    name="two",
    separator=";",
    fields=3,
    channels=(Channel(field=2, unit="degF"), Channel(field=3, unit="degF")),
    wire=Wire(baud=19200, parity="even", data_bits=7),
)


@pytest.fixture
def form(show):
    made = show(LayoutForm(), width_px=340, height_px=560)
    made.show_layout(TWO)
    yield made
    made.take_now()  # nothing may wait to be taken


@pytest.fixture
def edits(form):
    found = []
    form.edited.connect(found.append)
    return found


def type_into(qtbot, field, text):
    field.setFocus()
    field.selectAll()
    qtbot.keyClicks(field, text)


@pytest.mark.parametrize(
    "layout",
    [layout for layout in shipped_layouts().values() if layout.kind == "lines"],
    ids=lambda one: one.name,
)
def test_showing_a_layout_and_taking_it_changes_nothing(form, layout):
    form.show_layout(layout)
    form.take_now()
    assert form.layout_now == layout


def test_an_edit_arrives_whole_a_moment_later(qtbot, form, edits):
    type_into(qtbot, form.rows[0].field, "1")
    assert edits == []
    qtbot.waitUntil(lambda: bool(edits))
    assert edits == [msgspec.structs.replace(TWO, channels=(Channel(field=1, unit="degF"), TWO.channels[1]))]


def test_every_control_reaches_the_layout(qtbot, form):
    type_into(qtbot, form.name_field, "my box")
    form.separator_choice.select(",")
    form.rows[1].unit_choice.select("K")
    type_into(qtbot, form.weight_row.field, "1")
    form.weight_row.unit_choice.select("kg")
    form.baud_choice.setEditText("31250")
    form.bits_choice.select("8")
    form.parity_choice.select("none")
    form.stop_choice.select("2")
    type_into(qtbot, form.request_field, "MEAS:TEMP?")
    form.take_now()
    form.line_end_choice.select("CRLF")
    type_into(qtbot, form.period_field, "0,5")
    qtbot.keyClick(form.period_field, Qt.Key.Key_Return)
    form.take_now()
    assert form.layout_now == Layout(
        name="my box",
        separator=",",
        channels=(Channel(field=2, unit="degF"), Channel(field=3, unit="K")),
        weight=Weight(field=1, unit="kg"),
        wire=Wire(baud=31250, stop_bits=2),
        request="MEAS:TEMP?",
        line_end="CRLF",
        period_s=0.5,
    )


def test_channels_come_and_go(qtbot, form, edits):
    form.add_button.setFocus()
    qtbot.keyClick(form.add_button, Qt.Key.Key_Return)
    assert [row.place for row in form.rows] == ["2", "3", "4"]
    assert edits[-1].channels[2] == Channel(field=4, unit="degF")
    assert edits[-1].fields == 0  # three were counted, yet the user says there is a fourth
    type_into(qtbot, form.rows[2].field, "1")
    form.take_now()
    assert edits[-1].channels[2] == Channel(field=1, unit="degF")
    assert edits[-1].fields == 3
    form.rows[0].remove_button.setFocus()
    qtbot.keyClick(form.rows[0].remove_button, Qt.Key.Key_Return)
    assert [channel.field for channel in edits[-1].channels] == [3, 1]
    form.rows[0].remove_button.click()
    assert len(form.rows) == 1
    assert not form.rows[0].remove_button.isEnabled()


def test_eight_channels_are_the_most(form):
    form.show_layout(Layout(name="many", channels=tuple(Channel(field=number) for number in range(1, 8))))
    form.add_button.click()
    assert len(form.rows) == 8
    assert not form.add_button.isEnabled()


def test_finding_by_label_gives_labels_to_begin_with(form, edits):
    form.form_choice.select("label")
    form.form_choice.activated.emit(form.form_choice.currentIndex())
    form.take_now()
    assert [channel.label for channel in edits[-1].channels] == ["T1", "T2"]
    assert edits[-1].fields == 0
    assert not form.separator_choice.isVisible()


def test_a_reference_junction_is_asked_for_with_voltages_only(qtbot, form):
    assert not form.junction_row.isVisible()
    form.rows[0].unit_choice.select("mV")
    form.take_now()
    assert form.junction_row.isVisible()
    assert form.junction_field.isVisible()
    type_into(qtbot, form.junction_row.field, "1")
    form.take_now()
    assert form.layout_now.junction == Junction(field=1)
    assert not form.junction_field.isVisible()


@pytest.mark.parametrize(
    ("spoil", "sentence"),
    [
        (lambda form: form.rows[0].field.setText("x"), "T1 needs the number"),
        (lambda form: form.rows[0].field.setText(""), "T1 needs the number"),
        (lambda form: form.rows[0].field.setText("3"), "same place"),
        (lambda form: form.name_field.setText("  "), "needs a name"),
        (lambda form: form.baud_choice.setEditText("fast"), "no baud rate"),
        (lambda form: form.baud_choice.setEditText("7"), "at 7 baud"),
        (lambda form: form.weight_row.field.setText("-1"), "Weight needs the number"),
    ],
)
def test_what_makes_no_sense_is_said_and_nothing_is_given(form, edits, spoil, sentence):
    spoil(form)
    form.take_now()
    assert edits == []
    assert form.layout_now is None
    assert sentence in form.complaint.text()
    form.show_layout(TWO)
    assert not form.complaint.isVisible()


def test_what_the_form_does_not_show_is_kept(qtbot, form):
    layout = msgspec.structs.replace(TWO, description="told", reply_s=1.5, tare="T")
    form.show_layout(layout)
    type_into(qtbot, form.name_field, "renamed")
    form.take_now()
    assert form.layout_now == msgspec.structs.replace(layout, name="renamed")
