"""What an import came to: one row for each file."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Slot
from PySide6.QtGui import QBrush, QColor
from PySide6.QtWidgets import (
    QAbstractItemView,
    QHeaderView,
    QLabel,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from benchtemp.studies.outcome import plural
from benchtemp.units import TempUnit, temp_text
from benchtemp.window.panel import Panel

if TYPE_CHECKING:
    from pathlib import Path

    from benchtemp.window.import_page.job import FileDone
    from benchtemp.window.theme import Theme

HEADS = ("File", "What became of it", "Began", "Readings", "Shots", "Brew temperature")
_FILE, _WHAT, _BEGAN, _READINGS, _SHOTS, _BREW = range(len(HEADS))
_LINES_SHOWN = 7
_RIGHT = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter


class ResultsView(Panel):
    """Files with their recordings and shots; all that was remarked on the chosen one stands below."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.done: list[FileDone] = []
        self.table = QTableWidget(0, len(HEADS))
        self.table.setAccessibleName("Imported files")
        self.table.setHorizontalHeaderLabels(HEADS)
        self.table.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.table.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.table.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.table.setTabKeyNavigation(False)
        self.table.setShowGrid(False)
        self.table.setWordWrap(False)
        self.table.verticalHeader().hide()
        header = self.table.horizontalHeader()
        header.setHighlightSections(False)
        header.setDefaultAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
        header.setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
        header.setSectionResizeMode(_WHAT, QHeaderView.ResizeMode.Stretch)
        for column in (_READINGS, _SHOTS):
            head = QTableWidgetItem(HEADS[column])
            head.setTextAlignment(_RIGHT)
            self.table.setHorizontalHeaderItem(column, head)
        self.table.itemSelectionChanged.connect(self._show_remarks)
        self.remarks = QLabel()
        self.remarks.setTextFormat(Qt.TextFormat.PlainText)
        self.remarks.setWordWrap(True)
        self.remarks.setAlignment(Qt.AlignmentFlag.AlignTop)
        self.remarks.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(8)
        layout.addWidget(self.table, 1)
        layout.addWidget(self.remarks)

    def set_theme(self, theme: Theme) -> None:
        """Take colours and fonts anew."""
        super().set_theme(theme)
        self.table.setFont(theme.font(figures=True))
        self.table.verticalHeader().setDefaultSectionSize(int(self.fontMetrics().lineSpacing() * 1.8))
        self.remarks.setMinimumHeight(int(self.fontMetrics().lineSpacing() * _LINES_SHOWN))
        self._fill()

    def set_unit(self, unit: TempUnit) -> None:
        """Tell temperatures in another unit."""
        super().set_unit(unit)
        self._fill()

    def clear(self) -> None:
        """Begin a new list."""
        self.done = []
        self.table.setRowCount(0)
        self.remarks.clear()

    def add(self, done: FileDone) -> None:
        """Add what became of a file."""
        self.done.append(done)
        self.table.setRowCount(len(self.done))
        self._fill_row(len(self.done) - 1)
        if len(self.done) == 1:
            self.table.selectRow(0)

    @property
    def kept(self) -> tuple[Path, ...]:
        """Return what stands in the logbook now: shots, and recordings in which none was found."""
        found: list[Path] = []
        for done in self.done:
            found += done.kept or filter(None, (done.outcome.recording or done.outcome.already,))
        return tuple(found)

    @property
    def summary(self) -> str:
        """Return the whole outcome as one sentence."""
        recordings = sum(done.outcome.recording is not None for done in self.done)
        shots = sum(len(done.outcome.analysis.shots) for done in self.done)
        refused = sum(bool(done.outcome.complaint) for done in self.done)
        before = sum(done.outcome.already is not None for done in self.done)
        where = "it" if recordings == 1 else "them"
        found = f", {plural(shots, 'shot')} found in {where}" if recordings else ""
        parts = [f"{plural(recordings, 'recording')} made{found}"]
        if before:
            parts.append(f"{plural(before, 'file')} imported before")
        if refused:
            parts.append(f"{plural(refused, 'file')} refused")
        return "; ".join(parts) + "."

    def _fill(self) -> None:
        for row in range(len(self.done)):
            self._fill_row(row)
        self._show_remarks()

    def _fill_row(self, row: int) -> None:
        done = self.done[row]
        outcome, analysis = done.outcome, done.outcome.analysis
        brewed = [
            temp_text(shot.result.brew_temp_degc, self.unit, 1)
            for shot in analysis.shots
            if shot.result.brew_temp_degc is not None
        ]
        made = outcome.recording is not None
        what, colour = "✓ imported", self.theme.good
        if outcome.complaint:
            what, colour = f"✕ refused: {outcome.complaint}", self.theme.bad
        elif outcome.already is not None:
            what, colour = f"• imported before as {outcome.already.name}", self.theme.soft
        elif done.warnings:
            what = f"✓ imported, {plural(len(done.warnings), 'remark')}"
        texts = {
            _FILE: outcome.file.name,
            _WHAT: what,
            _BEGAN: outcome.started[:19].replace("T", " ") if made else "",
            _READINGS: str(outcome.rows) if made else "",
            _SHOTS: str(len(analysis.shots)) if made else "",
            _BREW: ", ".join(brewed[:3]) + (" …" if len(brewed) > 3 else ""),
        }
        for column, text in texts.items():
            item = self.table.item(row, column)
            if item is None:
                item = QTableWidgetItem()
                self.table.setItem(row, column, item)
            item.setText(text)
            item.setToolTip(text)
            if column == _WHAT:
                item.setForeground(QBrush(QColor(colour)))
            if column in (_READINGS, _SHOTS):
                item.setTextAlignment(_RIGHT)

    @Slot()
    def _show_remarks(self) -> None:
        row = self.table.currentRow()
        if not 0 <= row < len(self.done):
            self.remarks.clear()
            return
        done = self.done[row]
        lines = [done.outcome.complaint] if done.outcome.complaint else []
        if done.outcome.recording is not None:
            lines.append(f"Kept as {done.outcome.recording.name}.")
        if done.outcome.already is not None:
            lines.append(
                f"A recording was made of the very same content before: {done.outcome.already.name}. To "
                f"import it anew, go back and tick “Also what was imported before”."
            )
        if not done.outcome.analysis.shots and done.outcome.recording is not None:
            why = "; ".join(done.outcome.analysis.reasons)
            lines.append(f"No shot was found in it{': ' + why if why else ''}.".replace("..", "."))
        lines += done.warnings
        self.remarks.setText("\n".join(lines[:_LINES_SHOWN]))
        self.remarks.setToolTip("\n".join(lines) if len(lines) > _LINES_SHOWN else "")
