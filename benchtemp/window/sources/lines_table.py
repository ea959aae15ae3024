"""Raw lines beside what a layout makes of them."""

from __future__ import annotations

from collections.abc import Sequence
from math import isfinite
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtGui import QBrush, QColor, QFontDatabase
from PySide6.QtWidgets import QAbstractItemView, QHeaderView, QTableWidget, QTableWidgetItem, QWidget

from benchtemp.readings.values import Values
from benchtemp.units import TempUnit, temp_text
from benchtemp.window.sources.raw_lines import visible_text
from benchtemp.window.theme import LIGHT, Theme

if TYPE_CHECKING:
    from benchtemp.readings.serial_source import RawLine

ROWS = 18


class LinesTable(QTableWidget):
    """Shows the last lines, newest at the bottom, with one column for every value of the layout."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = LIGHT
        self._unit = TempUnit.DEGC
        self.setAccessibleName("Lines as they come, and how they are read")
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.setSelectionMode(QAbstractItemView.SelectionMode.NoSelection)
        self.setTabKeyNavigation(False)
        self.setShowGrid(False)
        self.verticalHeader().setVisible(False)
        self.verticalHeader().setDefaultSectionSize(round(self.fontMetrics().height() * 1.6))
        self.horizontalHeader().setHighlightSections(False)
        self.setWordWrap(False)
        self._shown: tuple[object, ...] = ()

    def set_theme(self, theme: Theme) -> None:
        """Take another theme's colours."""
        self._theme = theme
        self._shown = ()

    def set_unit(self, unit: TempUnit) -> None:
        """Take another unit to show temperatures in."""
        self._unit = unit
        self._shown = ()

    def show_lines(
        self,
        lines: Sequence[RawLine],
        read: Sequence[Values | None],
        channels: Sequence[str],
        *,
        weight: bool,
    ) -> None:
        """Show lines and what was read from them; None where a line is no reading."""
        lines, read = lines[-ROWS:], read[-ROWS:]
        shown = (tuple(lines), tuple(map(str, read)), tuple(channels), weight)
        if shown == self._shown:
            return
        self._shown = shown
        heads = ["As it comes", *channels, *(["weight"] if weight else [])]
        if self.columnCount() != len(heads):
            self.setColumnCount(len(heads))
            header = self.horizontalHeader()
            header.setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
            header.setSectionResizeMode(0, QHeaderView.ResizeMode.Stretch)
        self.setHorizontalHeaderLabels(heads)
        self.setRowCount(len(lines))
        for row, (line, values) in enumerate(zip(lines, read, strict=True)):
            self._show_line(row, line, values, len(channels), weight=weight)
        self.scrollToBottom()

    def _show_line(
        self, row: int, line: RawLine, values: Values | None, channel_count: int, *, weight: bool
    ) -> None:
        raw = self._cell(row, 0, visible_text(line.raw))
        raw.setFont(QFontDatabase.systemFont(QFontDatabase.SystemFont.FixedFont))
        raw.setToolTip(visible_text(line.raw))
        if values is None:
            for column in range(1, self.columnCount()):
                self._cell(row, column, "no reading" if column == 1 else "", soft=True)
            return
        for channel in range(channel_count):
            there = channel < len(values.temps_degc)
            temp_degc = values.temps_degc[channel] if there else float("nan")
            reason = values.reasons[channel] if channel < len(values.reasons) else ""
            cell = self._cell(
                row,
                channel + 1,
                temp_text(temp_degc, self._unit, 2),
                soft=not isfinite(temp_degc),
                right=True,
            )
            cell.setToolTip(reason)
        if weight:
            grams = values.weight_g
            text = f"{grams:.1f} g" if isfinite(grams) else "— g"
            self._cell(row, channel_count + 1, text, soft=not isfinite(grams), right=True)

    def _cell(
        self, row: int, column: int, text: str, *, soft: bool = False, right: bool = False
    ) -> QTableWidgetItem:
        item = self.item(row, column)
        if item is None:
            item = QTableWidgetItem()
            self.setItem(row, column, item)
        item.setText(text)
        item.setToolTip("")
        item.setForeground(QBrush(QColor(self._theme.soft if soft else self._theme.text)))
        side = Qt.AlignmentFlag.AlignRight if right else Qt.AlignmentFlag.AlignLeft
        item.setTextAlignment(side | Qt.AlignmentFlag.AlignVCenter)
        return item
