"""The step in which the probes sit in the bath: the page watches, and finds the settled level by itself."""

from __future__ import annotations

from math import isfinite
from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import (
    QAbstractItemView,
    QHBoxLayout,
    QHeaderView,
    QLabel,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from benchtemp.bench.snapshot import Snapshot
from benchtemp.errors import BadInput
from benchtemp.probes.uncertainty import coverage_factor
from benchtemp.readings.reading import NoticeKind
from benchtemp.units import delta_text, temp_text
from benchtemp.window.panel import Panel
from benchtemp.window.panels.labels import Sentence, button, quiet
from benchtemp.window.plot.canvas import minutes_text
from benchtemp.window.probes_page.bath_plot import BathPlot
from benchtemp.window.probes_page.bath_source import value_of
from benchtemp.window.probes_page.texts import signed, state_text, temp_with

if TYPE_CHECKING:
    from benchtemp.probes.bath_progress import InBath, Progress
    from benchtemp.probes.checking import ProbeCheck
    from benchtemp.probes.reference import Reference
    from benchtemp.readings.reading import Reading
    from benchtemp.units import TempUnit
    from benchtemp.window.theme import Theme

COLUMNS = ("Probe", "Now", "How it is doing", "Settled level", "Held", "Error so far")
_LOOK_EVERY_S = 0.25
_NAME_CHARS = 16
_CELL_CHARS = 28
_TABLE_CHARS = 130


class BathStep(Panel):
    """Feeds readings to a check and shows how it goes.

    Signals:
        taken: The bath's points were taken into the check.
        left: The bath is given up.
    """

    taken = Signal()
    left = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._check: ProbeCheck | None = None
        self._reference: Reference | None = None
        self._channels: tuple[int, ...] = ()
        self._times: list[float] = []
        self._temps: list[tuple[float, ...]] = []
        self._next_look_s = 0.0
        self.progress: Progress | None = None
        self.headline = QLabel()
        self.headline.setWordWrap(True)
        self.held_to = quiet()
        self.trouble = Sentence(look="bad", name="Bath")
        self.table = _table()
        self.plot = BathPlot()
        self.take_button = button("Take the settled level", look="primary")
        self.take_button.clicked.connect(self._take)
        self.stop_button = button("Give this bath up")
        self.stop_button.clicked.connect(self.left)
        row = QHBoxLayout()
        row.addWidget(self.stop_button)
        row.addStretch(1)
        row.addWidget(self.take_button)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(8)
        column.addWidget(self.headline)
        column.addWidget(self.held_to)
        column.addWidget(self.table)
        column.addWidget(self.trouble)
        column.addWidget(self.plot, 1)
        column.addLayout(row)

    # -- look ----------------------------------------------------------------------------------------------

    def set_theme(self, theme: Theme) -> None:
        """Take fonts and colours anew."""
        super().set_theme(theme)
        self.headline.setFont(theme.font(1.35, bold=True, figures=True))
        self.table.setFont(theme.font(figures=True))
        self.plot.set_theme(theme)
        self._fit_table()

    def set_unit(self, unit: TempUnit) -> None:
        """Show temperatures in another unit."""
        super().set_unit(unit)
        self.plot.set_unit(unit)
        self._show()

    # -- the bath ------------------------------------------------------------------------------------------

    def begin(
        self,
        check: ProbeCheck,
        reference: Reference | None,
        channels: tuple[int, ...],
        altitude_m: float | None = None,
    ) -> None:
        """Begin a bath.

        Args:
            check: Takes the readings.
            reference: What the bath's temperature is, None where that is not known.
            channels: Index of each probe's channel, in the check's order.
            altitude_m: The altitude the reference rests on alone.
        """
        check.begin_bath(reference, altitude_m=altitude_m)
        self._check, self._reference, self._channels = check, reference, channels
        self._times, self._temps = [], []
        self._next_look_s = float("-inf")
        self.progress = None
        self.trouble.say("")
        self.plot.begin(check.names, reference)
        self.table.setRowCount(len(check.names))
        self._fit_table()
        self._show()
        self.stop_button.setFocus()

    def end(self) -> None:
        """Take no more readings."""
        self._check = None

    @property
    def running(self) -> bool:
        """Tell whether a bath is under way."""
        return self._check is not None

    def take_readings(self, readings: list[Reading], snapshot: Snapshot) -> None:
        """Pass readings on to the check and show what they mean."""
        check = self._check
        if check is None:
            return
        for reading in readings:
            check.step(reading.t_s, reading.temps_degc)
            self._times.append(reading.t_s)
            self._temps.append(tuple(value_of(reading, channel) for channel in self._channels))
        if readings and readings[-1].t_s >= self._next_look_s:
            self._next_look_s = readings[-1].t_s + _LOOK_EVERY_S
            self.progress = check.progress()
            self._show()
            self._draw()
        self._tell_source(snapshot)

    def give_up(self, sentence: str) -> None:
        """Say why the bath cannot go on; its readings are no longer taken."""
        self._check = None
        self.take_button.setEnabled(False)
        self.trouble.say(sentence, "bad")
        self.stop_button.setFocus()

    # -- showing -------------------------------------------------------------------------------------------

    def _tell_source(self, snapshot: Snapshot) -> None:
        if snapshot.status in {NoticeKind.LOST, NoticeKind.GARBAGE}:
            self.trouble.say(snapshot.status_text, "bad")
        elif self.progress is not None and self.progress.trouble:
            self.trouble.say(self.progress.trouble, "bad" if self.progress.lost else "caution")
        else:
            self.trouble.say("")

    def _show(self) -> None:
        progress, check = self.progress, self._check
        self._show_reference()
        ready = progress is not None and progress.ready
        was_ready = self.take_button.isEnabled()
        if not ready and self.take_button.hasFocus():
            self.stop_button.setFocus()  # or Qt would give the focus away when it is disabled
        self.take_button.setEnabled(ready)
        self.take_button.setText("Take the settled level" if ready else "Waiting for the bath to settle")
        if progress is None:
            self.headline.setText("Waiting for the first readings of the bath …")
            return
        after = minutes_text(progress.elapsed_s)
        if ready:
            self.headline.setText(f"✓ Settled after {after}. Enter takes the level.")
        else:
            self.headline.setText(f"{progress.text[0].upper()}{progress.text[1:]}, {after} so far")
        for row, probe in enumerate(progress.probes):
            self._show_probe(row, probe)
        if ready and not was_ready and check is not None and self.stop_button.hasFocus():
            self.take_button.setFocus()

    def _show_reference(self) -> None:
        reference, unit = self._reference, self.unit
        if reference is None:
            self.held_to.setText("No reference: the probes are held against their own mean.")
        elif self._check is not None:
            limit = delta_text(self._check.limit_k, unit)
            temp = temp_with(reference.temp_degc, reference.expanded_k(), unit)
            self.held_to.setText(f"The {reference.kind} is at {temp}; a probe may be off by ± {limit}.")

    def _show_probe(self, row: int, probe: InBath) -> None:
        level, unit = probe.status.level, self.unit
        state = state_text(probe.status, unit)
        found, held, error = "—", "—", "—"
        if level is not None:
            expanded_k = coverage_factor(level.mean.dof) * level.mean.uncertainty
            found = temp_with(level.mean.value, expanded_k, unit)
            held = f"{level.end_s - level.start_s:.0f} s"
        if probe.error_k is not None and isfinite(probe.error_k):
            error = signed(probe.error_k, unit)
        for column, text in enumerate(
            (probe.name, temp_text(probe.temp_degc, unit, 2), state.text, found, held, error)
        ):
            item = self.table.item(row, column)
            if item is None:
                item = QTableWidgetItem()
                self.table.setItem(row, column, item)
            cut = text if column or len(text) <= _NAME_CHARS else f"{text[: _NAME_CHARS - 1]}…"
            if item.text() != cut:
                item.setText(cut)
                item.setToolTip(text)

    def _fit_table(self) -> None:
        rows = self.table.rowCount()
        height = int(self.fontMetrics().lineSpacing() * 1.7)
        self.table.setMaximumWidth(self.fontMetrics().averageCharWidth() * _TABLE_CHARS)
        # How the bath is doing has the room that is left.
        most_px = self.fontMetrics().averageCharWidth() * _CELL_CHARS
        self.table.horizontalHeader().setMaximumSectionSize(most_px)
        self.table.verticalHeader().setDefaultSectionSize(height)
        header = self.table.horizontalHeader()
        self.table.setFixedHeight(rows * height + header.sizeHint().height() + 4)

    def _draw(self) -> None:
        temps = np.array(self._temps).reshape(len(self._times), len(self._channels))
        times = np.array(self._times)
        level = None
        if self.progress is not None and len(self.progress.probes) == 1:
            found = self.progress.probes[0].status.level
            level = None if found is None else found.mean.value
        self.plot.show_readings(times - (times[0] if len(times) else 0.0), temps, level)

    # -- what the user wants -------------------------------------------------------------------------------

    @Slot()
    def _take(self) -> None:
        if self._check is None:
            return
        try:
            self._check.finish_bath()
        except BadInput as error:
            self.trouble.say(str(error), "bad")
            return
        self._check = None
        self.taken.emit()


def _table() -> QTableWidget:
    table = QTableWidget(0, len(COLUMNS))
    table.setAccessibleName("Probes in the bath")
    table.setHorizontalHeaderLabels(COLUMNS)
    table.verticalHeader().hide()
    table.setFocusPolicy(Qt.FocusPolicy.NoFocus)
    table.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
    table.setSelectionMode(QAbstractItemView.SelectionMode.NoSelection)
    table.setShowGrid(False)
    table.setWordWrap(False)
    table.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
    table.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
    header = table.horizontalHeader()
    header.setDefaultAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
    header.setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
    header.setSectionResizeMode(2, QHeaderView.ResizeMode.Stretch)
    return table
