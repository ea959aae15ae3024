"""A layout as fields on the screen: everything that says how lines read, edited in place."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, get_args

import msgspec
from PySide6.QtCore import QTimer, Signal, Slot
from PySide6.QtWidgets import QHBoxLayout, QVBoxLayout, QWidget

from benchtemp.errors import BadInput
from benchtemp.readings.layout import MOST_CHANNELS, Channel, Junction, Layout, LineEnd, Weight, Wire
from benchtemp.window.fields import NumberField, TextField
from benchtemp.window.panels.choice import DECIMAL_SIGNS, Choice
from benchtemp.window.panels.labelled_form import LabelledForm
from benchtemp.window.panels.labels import Sentence, button, quiet
from benchtemp.window.sources.place_row import PlaceRow

if TYPE_CHECKING:
    from collections.abc import Iterable

_SETTLES_MS = 250
_BAUDS = (1200, 2400, 4800, 9600, 19200, 38400, 57600, 115200, 230400, 250000, 460800, 921600)
_SEPARATORS = (
    (",", "comma"),
    (";", "semicolon"),
    ("\t", "tab"),
    ("", "spaces or tabs"),
    ("|", "bar |"),
    (" ", "one space"),
)
_FORMS = (("field", "its number in the line"), ("label", "the text before it"), ("key", "its JSON key"))
_TEMP_UNITS = (("degC", "°C"), ("degF", "°F"), ("K", "K"), ("mV", "mV"))
_JUNCTION_UNITS = _TEMP_UNITS[:3]
_WEIGHT_UNITS = (("g", "g"), ("kg", "kg"), ("oz", "oz"), ("lb", "lb"))


class LayoutForm(QWidget):
    """Shows a layout and takes changes to it.

    Signals:
        edited: A whole, valid `Layout`, a moment after the user's last change.
    """

    edited = Signal(object)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._base = Layout(name="new", channels=(Channel(field=1),))
        self._layout: Layout | None = self._base
        self._filling = False
        self.rows: list[PlaceRow] = []
        self._settle = QTimer(self)
        self._settle.setSingleShot(True)
        self._settle.setInterval(_SETTLES_MS)
        self._settle.timeout.connect(self.take_now)
        self._build()
        self._lay_out()
        self.show_layout(self._base)

    # -- building ----------------------------------------------------------------------------------------

    def _build(self) -> None:
        self.name_field = self._text("Name of the layout", "a name to find it by")
        self.separator_choice = self._choice("Between values", _SEPARATORS)
        self.decimal_choice = self._choice("Decimal sign", DECIMAL_SIGNS)
        self.form_choice = self._choice("A value is found by", _FORMS)
        self.form_choice.activated.connect(self._change_form)
        self.add_button = button("Add a channel", look="flat")
        self.add_button.clicked.connect(self._add_channel)
        self.weight_row = PlaceRow("Weight", _WEIGHT_UNITS, hint="none")
        self.weight_row.changed.connect(self._changed)
        self.junction_row = PlaceRow("Junction", _JUNCTION_UNITS, hint="not sent")
        self.junction_row.changed.connect(self._changed)
        self.junction_field = NumberField(
            name="temperature of the reference junction", low=-270, high=1372, may_be_empty=False
        )
        self.junction_field.taken.connect(self._changed)
        self.baud_choice = self._choice("Baud rate", ((str(baud), str(baud)) for baud in _BAUDS))
        self.baud_choice.setEditable(True)
        self.baud_choice.editTextChanged.connect(self._changed)
        self.bits_choice = self._choice("Data bits", ((str(bits), f"{bits} data") for bits in (8, 7, 6, 5)))
        parities = ((name, name) for name in ("none", "even", "odd", "mark", "space"))
        self.parity_choice = self._choice("Parity", parities)
        self.stop_choice = self._choice("Stop bits", (("1", "1 stop"), ("2", "2 stop")))
        self.request_field = self._text("What asks for a reading", "empty: it speaks by itself")
        self.line_end_choice = self._choice("End of the request", ((end, end) for end in get_args(LineEnd)))
        self.period_field = NumberField(name="time between questions", low=0, high=3600, decimals=3, hint="0")
        self.period_field.taken.connect(self._changed)
        self.complaint = Sentence(look="bad", name="Layout")

    def _text(self, name: str, hint: str) -> TextField:
        field = TextField(name=name, hint=hint)
        field.textEdited.connect(self._changed)
        return field

    def _choice(self, name: str, entries: Iterable[tuple[str, str]]) -> Choice:
        made = Choice(name, entries, least_chars=3)
        made.activated.connect(self._changed)
        return made

    def _lay_out(self) -> None:
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(6)
        form = self._form = LabelledForm()
        form.add_field("Name", self.name_field)
        form.add_heading("Values")
        form.add_field("Found by", self.form_choice)
        form.add_field("Between", self.separator_choice)
        form.add_field("Decimals", self.decimal_choice)
        self._channels = QVBoxLayout()
        self._channels.setSpacing(4)
        form.addRow(self._channels)
        adding = QHBoxLayout()
        adding.addWidget(self.add_button)
        adding.addStretch(1)
        form.addRow(adding)
        form.addRow(self.weight_row)
        form.addRow(self.junction_row)
        self._junction_fixed = QWidget()
        fixed = QHBoxLayout(self._junction_fixed)
        fixed.setContentsMargins(0, 0, 0, 0)
        fixed.addWidget(quiet("Junction is at"))
        fixed.addWidget(self.junction_field, 1)
        fixed.addWidget(quiet("°C"))
        form.addRow(self._junction_fixed)
        form.add_heading("Line")
        form.add_field("Baud", self.baud_choice)
        form.add_field("Bits", _row(self.bits_choice, self.stop_choice))
        form.add_field("Parity", self.parity_choice)
        form.add_field("Asked with", self.request_field)
        form.add_field("ends in", self.line_end_choice)
        form.add_field("every, s", self.period_field)
        column.addLayout(form)
        column.addWidget(self.complaint)
        column.addStretch(1)

    # -- showing -----------------------------------------------------------------------------------------

    @property
    def layout_now(self) -> Layout | None:
        """Return the layout as it stands, None while it makes no sense."""
        return self._layout

    def show_layout(self, layout: Layout) -> None:
        """Show a layout in place of what is there."""
        self._settle.stop()
        self._filling = True
        self._base = self._layout = layout
        self.name_field.setText(layout.name)
        self.separator_choice.select(layout.separator)
        self.decimal_choice.select(layout.decimal)
        form = layout.channels[0].form if layout.channels else "field"
        self.form_choice.select(form or "field")
        self._show_rows([(_written(channel), channel.unit) for channel in layout.channels])
        self.weight_row.show_place(_written(layout.weight), layout.weight.unit if layout.weight else "g")
        junction = layout.junction
        self.junction_row.show_place(_written(junction), junction.unit if junction else "degC")
        self.junction_field.show_value(layout.junction_degc)
        wire = layout.wire
        self.baud_choice.setEditText(str(wire.baud))
        self.bits_choice.select(str(wire.data_bits))
        self.parity_choice.select(wire.parity)
        self.stop_choice.select(str(wire.stop_bits))
        self.request_field.setText(layout.request)
        self.line_end_choice.select(layout.line_end)
        self.period_field.show_value(layout.period_s)
        self._filling = False
        self.complaint.say("")
        self._show_what_matters()

    def _show_rows(self, places: list[tuple[str, str]]) -> None:
        while len(self.rows) > len(places):
            row = self.rows.pop()
            self._channels.removeWidget(row)
            row.deleteLater()
        while len(self.rows) < len(places):
            row = PlaceRow(f"T{len(self.rows) + 1}", _TEMP_UNITS, removable=True)
            row.changed.connect(self._changed)
            row.removed.connect(self._remove_channel)
            self.rows.append(row)
            self._channels.addWidget(row)
        for row, (place, unit) in zip(self.rows, places, strict=True):
            row.show_place(place, unit)
            row.set_removable(removable=len(self.rows) > 1)
        self.add_button.setEnabled(len(self.rows) < MOST_CHANNELS)

    def _show_what_matters(self) -> None:
        """Show only the fields that this kind of layout uses."""
        form = str(self.form_choice.currentData())
        self._form.setRowVisible(self.separator_choice, form == "field")
        self._form.setRowVisible(self.decimal_choice, form != "key")
        voltages = any(row.unit == "mV" for row in self.rows)
        self._form.setRowVisible(self.junction_row, voltages)
        self._form.setRowVisible(self._junction_fixed, voltages and not self.junction_row.place)
        asked = bool(self.request_field.text())
        self._form.setRowVisible(self.line_end_choice, asked)
        self._form.setRowVisible(self.period_field, asked)

    # -- what the user does ------------------------------------------------------------------------------

    @Slot()
    def _changed(self) -> None:
        if not self._filling:
            self._settle.start()

    @Slot()
    def _add_channel(self) -> None:
        form = str(self.form_choice.currentData())
        places = [(row.place, row.unit) for row in self.rows]
        places.append((self._next_place(form), places[-1][1] if places else "degC"))
        self._show_rows(places)
        self.rows[-1].field.setFocus()
        self.take_now()

    def _next_place(self, form: str) -> str:
        number = len(self.rows) + 1
        if form != "field":
            return f"T{number}"
        taken = [int(row.place) for row in self.rows if row.place.isdecimal()]
        return str(max(taken, default=0) + 1)

    @Slot()
    def _remove_channel(self) -> None:
        gone = self.sender()
        self._show_rows([(row.place, row.unit) for row in self.rows if row is not gone])
        self.take_now()

    @Slot()
    def _change_form(self) -> None:
        form = str(self.form_choice.currentData())
        for number, row in enumerate(self.rows, start=1):
            fits = row.place.isdecimal() if form == "field" else bool(row.place) and not row.place.isdecimal()
            if not fits:
                row.show_place(str(number) if form == "field" else f"T{number}", row.unit)
        for row in (self.weight_row, self.junction_row):
            if row.place and row.place.isdecimal() != (form == "field"):
                row.show_place("", row.unit)
        self._changed()

    @Slot()
    def take_now(self) -> None:
        """Make a layout of what stands in the fields, or say why it is none."""
        self._settle.stop()
        self._show_what_matters()
        try:
            layout = self._made()
        except (BadInput, msgspec.ValidationError) as error:
            self._layout = None
            self.complaint.say(str(error))
            return
        self.complaint.say("")
        changed = layout != self._layout
        self._layout = layout
        if changed:
            self.edited.emit(layout)

    def _made(self) -> Layout:
        form = str(self.form_choice.currentData())
        voltages = any(row.unit == "mV" for row in self.rows)
        plain: dict[str, Any] = {
            "name": self.name_field.text().strip(),
            "separator": self.separator_choice.currentData() if form == "field" else self._base.separator,
            "decimal": self.decimal_choice.currentData(),
            "fields": self._base.fields if form == "field" and self._field_count_holds() else 0,
            "channels": tuple(
                msgspec.convert({**_place(form, row.place, row.name), "unit": row.unit}, Channel)
                for row in self.rows
            ),
            "weight": _optional(form, self.weight_row, Weight),
            "junction": _optional(form, self.junction_row, Junction) if voltages else None,
            "junction_degc": self.junction_field.value or 0.0,
            "request": self.request_field.text(),
            "line_end": self.line_end_choice.currentData(),
            "period_s": self.period_field.value or 0.0,
            "wire": self._wire(),
        }
        if not plain["name"]:
            raise BadInput("The layout needs a name; write one at the top.")
        return msgspec.structs.replace(self._base, **plain)

    def _field_count_holds(self) -> bool:
        """Tell whether lines still have as many fields as were counted: same separator, none beyond them."""
        rows = (*self.rows, self.weight_row, self.junction_row)
        named = [int(row.place[:6]) for row in rows if row.place.isdecimal()]
        same = self.separator_choice.currentData() == self._base.separator
        return bool(same and max(named, default=0) <= self._base.fields)

    def _wire(self) -> Wire:
        written = self.baud_choice.currentText().strip()
        if not written.isdecimal():
            raise BadInput(
                f"'{written}' is no baud rate; give the rate the interface sends at, such as 9600."
            )
        plain = {
            "baud": int(written[:9]),
            "data_bits": int(self.bits_choice.currentData()),
            "parity": self.parity_choice.currentData(),
            "stop_bits": int(self.stop_choice.currentData()),
        }
        return msgspec.convert(plain, Wire)


def _written(place: Channel | Weight | Junction | None) -> str:
    if place is None:
        return ""
    return str(place.field) if place.field is not None else (place.label or place.key or "")


def _place(form: str, written: str, name: str) -> dict[str, object]:
    if form != "field":
        if not written:
            raise BadInput(
                f"{name} needs {'the text before its value' if form == 'label' else 'its JSON key'}."
            )
        return {form: written}
    if not written.isdecimal() or not 1 <= int(written[:6]) <= 1000:
        raise BadInput(
            f"{name} needs the number of its value in the line, counted from 1; '{written}' is none."
        )
    return {"field": int(written)}


def _optional(form: str, row: PlaceRow, kind: type[Weight | Junction]) -> Weight | Junction | None:
    if not row.place:
        return None
    return msgspec.convert({**_place(form, row.place, row.name), "unit": row.unit}, kind)


def _row(*widgets: QWidget) -> QWidget:
    holder = QWidget()
    row = QHBoxLayout(holder)
    row.setContentsMargins(0, 0, 0, 0)
    row.setSpacing(4)
    for widget in widgets:
        row.addWidget(widget)
    return holder
