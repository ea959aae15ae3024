"""The points of a table's layout that belong to no single column, as fields."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import msgspec
from PySide6.QtCore import QStringListModel, Qt, Signal, Slot
from PySide6.QtWidgets import QCompleter, QVBoxLayout, QWidget

from benchtemp.errors import BadInput
from benchtemp.logbook.importing import Given, TableLayout
from benchtemp.logbook.importing.layout import LONGEST_INTERVAL_S
from benchtemp.logbook.importing.text import ENCODINGS
from benchtemp.shots.entries import TAG_LENGTH_MAX
from benchtemp.window.fields import NumberField, TextField
from benchtemp.window.panels.choice import DECIMAL_SIGNS, Choice
from benchtemp.window.panels.labelled_form import LabelledForm
from benchtemp.window.panels.labels import Sentence, button
from benchtemp.window.probes_page.tick import Tick

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

GUESS = ""
_DELIMITERS = (
    (",", "commas"),
    (";", "semicolons"),
    ("\t", "tabs"),
    ("|", "bars |"),
    ("", "spaces or tabs"),
    ("  ", "two spaces or tabs"),
)
_ORDERS = (("", "not known"), ("dmy", "day first"), ("mdy", "month first"), ("ymd", "year first"))
_MOST_LINES = 100_000


class TableForm(QWidget):
    """How the text of a file parts into cells, what its dates mean, and what the import adds.

    Signals:
        restated: A point was changed that everything else rests on; it is to be guessed anew.
        changed: A point was changed that leaves the rest as it is.
        layout_chosen: The name of a kept layout, or an empty text for a guess.
        keep_asked: The layout is to be kept under the name in the field.
        forget_asked: The kept layout that is chosen is to be forgotten.
    """

    restated = Signal()
    changed = Signal()
    layout_chosen = Signal(str)
    keep_asked = Signal()
    forget_asked = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._pinned: dict[str, Any] = {}
        self._build()
        self._lay_out()

    def _build(self) -> None:
        self.kept = Choice("Layout", ((GUESS, "guessed from the file"),), least_chars=12)
        self.kept.activated.connect(self._choose_kept)
        self.delimiter = self._choice("Cells are parted by", _DELIMITERS)
        self.decimal = self._choice("Decimal sign", DECIMAL_SIGNS)
        self.encoding = self._choice("Text encoding", ((name, name) for name in ENCODINGS))
        self.skip_lines = NumberField(name="lines to skip", high=_MOST_LINES, decimals=0, may_be_empty=False)
        self.skip_lines.taken.connect(self._restate)
        for choice in (self.delimiter, self.decimal, self.encoding):
            choice.activated.connect(self._restate)
        self.order = self._choice("Dates have", _ORDERS)
        self.order.activated.connect(self._change)
        self.interval = NumberField(
            name="time between rows, s", high=LONGEST_INTERVAL_S, decimals=4, hint="must be stated"
        )
        self.interval.taken.connect(self._change)
        self.junction = NumberField(
            name="temperature of the reference junction, °C",
            low=-50,
            high=150,
            decimals=2,
            hint="must be stated",
        )
        self.junction.taken.connect(self._change)
        self.none_words = TextField(name="Words for no reading", hint="such as -999; OPN")
        self.none_words.setToolTip("Beside the usual ones, parted by semicolons")
        self.none_words.editingFinished.connect(self._take_words)
        self.machine = TextField(name="Machine", hint="which one was tested")
        self.machine.setMaxLength(TAG_LENGTH_MAX)
        self._machines = QStringListModel(self)
        completer = QCompleter(self._machines, self)
        completer.setCaseSensitivity(Qt.CaseSensitivity.CaseInsensitive)
        self.machine.setCompleter(completer)
        self.again = Tick("Also what was imported before")
        self.name = TextField(name="Name of the layout", hint="a name, such as bench meter")
        self.name.setMaxLength(200)
        self.name.returnPressed.connect(self.keep_asked)
        self.keep_button = button("Remember this layout", tip="For other files of the same kind")
        self.keep_button.clicked.connect(self.keep_asked)
        self.forget_button = button("Forget it", look="flat", tip="Offer the layout chosen no more")
        self.forget_button.clicked.connect(self.forget_asked)
        self.said = Sentence(look="quiet", name="Layout")
        for field in (self.skip_lines, self.interval, self.junction):
            field.complaint.connect(self._complain)

    def _choice(self, name: str, entries: Iterable[tuple[str, str]]) -> Choice:
        return Choice(name, entries, least_chars=8)

    def _lay_out(self) -> None:
        column = QVBoxLayout(self)
        column.setContentsMargins(12, 10, 12, 10)
        column.setSpacing(6)
        form = self._form = LabelledForm()
        form.add_field("Layout", self.kept)
        form.add_heading("Text")
        form.add_field("Parted by", self.delimiter)
        form.add_field("Decimals", self.decimal)
        form.add_field("Encoding", self.encoding)
        form.add_field("Skip lines", self.skip_lines)
        form.add_heading("Readings")
        form.add_field("Dates have", self.order)
        form.add_field("A row every, s", self.interval)
        form.add_field("Junction at, °C", self.junction)
        form.add_field("No reading", self.none_words)
        form.add_heading("For all files")
        form.add_field("Machine", self.machine)
        form.addRow(self.again)
        form.add_heading("Next time")
        column.addLayout(form)
        column.addWidget(self.name)
        column.addWidget(self.keep_button)
        column.addWidget(self.forget_button)
        column.addWidget(self.said)
        column.addStretch(1)

    # -- showing -------------------------------------------------------------------------------------------

    def offer_kept(self, layouts: Sequence[TableLayout], chosen: str) -> None:
        """Offer the layouts that were kept."""
        self.kept.clear()
        self.kept.addItem("guessed from the file", GUESS)
        for layout in layouts:
            self.kept.addItem(layout.name, layout.name)
        self.kept.select(chosen)
        self.show_forget()

    def show_forget(self) -> None:
        """Offer to forget a layout while one that was kept is chosen."""
        self.forget_button.setVisible(self.kept.currentData() != GUESS)

    def offer_machines(self, names: Sequence[str]) -> None:
        """Offer names of machines used before."""
        self._machines.setStringList(list(names))

    def show_layout(self, layout: TableLayout) -> None:
        """Show a layout's points."""
        self.delimiter.select(layout.delimiter)
        self.decimal.select(layout.decimal)
        if layout.encoding:
            self.encoding.select(layout.encoding)
        self.skip_lines.show_value(float(layout.skip_lines))
        self.order.select(layout.time.order)
        self.interval.show_value(layout.time.interval_s or None)
        self.junction.show_value(layout.junction_degc)
        self.none_words.setText("; ".join(layout.none_words))
        if layout.name:
            self.name.setText(layout.name)
        timing = layout.time
        rows = self._form
        rows.setRowVisible(self.order, timing.kind == "clock" or bool(timing.start_labels))
        rows.setRowVisible(self.interval, timing.kind == "interval")
        rows.setRowVisible(self.junction, layout.has_voltages and layout.junction is None)

    def show_encoding(self, encoding: str) -> None:
        """Show what the text was read as."""
        self.encoding.select(encoding)

    # -- what stands in the fields -------------------------------------------------------------------------

    @property
    def given(self) -> Given:
        """Return the points the user stated."""
        return Given(**self._pinned)

    def forget(self) -> None:
        """Let every point be guessed again."""
        self._pinned = {}

    def applied(self, layout: TableLayout) -> TableLayout:
        """Return a layout with the points that leave its columns as they are.

        Raises:
            BadInput: They contradict the layout.
        """
        timing = msgspec.structs.replace(
            layout.time, order=self.order.currentData(), interval_s=self.interval.value or 0.0
        )
        try:
            return msgspec.structs.replace(
                layout,
                time=timing,
                junction_degc=self.junction.value if layout.has_voltages else None,
                none_words=self._words(),
            )
        except msgspec.ValidationError as error:
            raise BadInput(f"This cannot be used: {error}.") from error

    @Slot()
    def _restate(self) -> None:
        """Pin the one point that was changed; what was only guessed may come out otherwise now."""
        points: tuple[tuple[QWidget, str, object], ...] = (
            (self.delimiter, "delimiter", self.delimiter.currentData()),
            (self.decimal, "decimal", self.decimal.currentData()),
            (self.encoding, "encoding", self.encoding.currentData()),
            (self.skip_lines, "skip_lines", int(self.skip_lines.value or 0)),
        )
        self._pinned |= {name: value for field, name, value in points if field is self.sender()}
        self.restated.emit()

    @Slot()
    def _change(self) -> None:
        if self.order.currentData():
            self._pinned["order"] = self.order.currentData()
        if self.interval.value and not self.interval.isHidden():
            self._pinned["interval_s"] = self.interval.value
        if self.junction.value is not None:
            self._pinned["junction_degc"] = self.junction.value
        self._pinned["none_words"] = self._words()
        self.changed.emit()

    @Slot()
    def _take_words(self) -> None:
        """Take the words where they were changed: leaving the field is no change."""
        if self.none_words.isModified():
            self.none_words.setModified(False)
            self._change()

    def _words(self) -> tuple[str, ...]:
        return tuple(word.strip() for word in self.none_words.text().split(";") if word.strip())

    @Slot(int)
    def _choose_kept(self, index: int) -> None:
        self.show_forget()
        self.layout_chosen.emit(self.kept.itemData(index))

    @Slot(str)
    def _complain(self, sentence: str) -> None:
        self.said.say(sentence, "bad")
