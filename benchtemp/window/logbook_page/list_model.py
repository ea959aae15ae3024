"""The list as Qt wants it: it holds the names of the files found, and fetches rows as they are seen."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QAbstractTableModel, QModelIndex, QPersistentModelIndex, Qt, QTimer, Signal, Slot
from PySide6.QtGui import QColor

from benchtemp.errors import BenchtempError
from benchtemp.units import TempUnit
from benchtemp.window.logbook_page.columns import USUAL, Column, columns_of, verdict_colour
from benchtemp.window.logbook_page.tips import plain_tip
from benchtemp.window.theme import LIGHT, Theme

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from benchtemp.logbook.index import LogbookIndex, Row

BLOCK = 100
"""Rows fetched at once."""
KEPT_MAX = 5000
_WAIT_S = 0.03
"""How long a row may keep the window waiting while somebody writes the index; then it comes later."""
_AGAIN_MS = 120
_RIGHT = int(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
_LEFT = int(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
_Index = QModelIndex | QPersistentModelIndex


class ShotList(QAbstractTableModel):
    """Files found in the logbook, in order.

    Signals:
        sort_asked: Rows are wanted by something (as `Query.sort`), and whether descending.
    """

    sort_asked = Signal(str, bool)

    def __init__(self, index: LogbookIndex) -> None:
        super().__init__()
        self._index = index
        self.places: tuple[str, ...] = ()
        self.columns: tuple[Column, ...] = columns_of(USUAL)
        self._rows: dict[str, Row] = {}
        self._theme: Theme = LIGHT
        self._unit = TempUnit.DEGC
        self.sorted_by = ""
        self._again = QTimer(self)
        self._again.setSingleShot(True)
        self._again.setInterval(_AGAIN_MS)
        self._again.timeout.connect(self._tell_rows)

    # -- what is shown -------------------------------------------------------------------------------------

    def show(self, index: LogbookIndex, places: Sequence[str], rows: Mapping[str, Row]) -> None:
        """Show other files, some of whose rows are known already."""
        self.beginResetModel()
        self._index = index
        self.places = tuple(places)
        self._rows = dict(rows)
        self.endResetModel()

    def set_columns(self, columns: Sequence[Column]) -> None:
        """Show other columns."""
        self.beginResetModel()
        self.columns = tuple(columns)
        self.endResetModel()

    def set_look(self, theme: Theme, unit: TempUnit) -> None:
        """Take a theme and a unit."""
        self._theme, self._unit = theme, unit
        self.headerDataChanged.emit(Qt.Orientation.Horizontal, 0, len(self.columns) - 1)
        self._tell_rows()

    def row(self, place: str) -> Row | None:
        """Return the row of a file, None if it cannot be had just now."""
        if place not in self._rows:
            self._fetch((place,))
        return self._rows.get(place)

    def stop(self) -> None:
        """Wait for nothing any more."""
        self._again.stop()

    @Slot()
    def _tell_rows(self) -> None:
        if self.places:
            last = self.index(len(self.places) - 1, len(self.columns) - 1)
            self.dataChanged.emit(self.index(0, 0), last)

    def _row(self, number: int) -> Row | None:
        place = self.places[number]
        found = self._rows.get(place)
        if found is None and not self._again.isActive():
            start = number - number % BLOCK
            self._fetch(self.places[start : start + BLOCK])
            found = self._rows.get(place)
        return found

    def _fetch(self, places: Sequence[str]) -> None:
        if len(self._rows) > KEPT_MAX:
            self._rows.clear()
        try:
            self._rows.update(self._index.rows(places, wait_s=_WAIT_S))
        except BenchtempError:
            self._again.start()

    # -- what Qt asks --------------------------------------------------------------------------------------

    def rowCount(self, parent: _Index = QModelIndex()) -> int:  # noqa: B008 - Qt's own default
        """Return how many files there are."""
        return 0 if parent.isValid() else len(self.places)

    def columnCount(self, parent: _Index = QModelIndex()) -> int:  # noqa: B008 - Qt's own default
        """Return how many columns are shown."""
        return 0 if parent.isValid() else len(self.columns)

    def headerData(self, section: int, orientation: Qt.Orientation, role: int = 0) -> Any:
        """Return a column's heading, its full name, and where it stands."""
        if orientation is not Qt.Orientation.Horizontal or section >= len(self.columns):
            return None
        column = self.columns[section]
        if role == Qt.ItemDataRole.DisplayRole:
            # The arrow that shows the order stands over the end of the heading.
            ordered = column.right and column.sort and column.sort == self.sorted_by
            return column.heading(self._unit) + ("\u2003" if ordered else "")
        if role == Qt.ItemDataRole.ToolTipRole:
            return plain_tip(column.full_name(self._unit))
        if role == Qt.ItemDataRole.AccessibleTextRole:
            return column.full_name(self._unit)
        if role == Qt.ItemDataRole.TextAlignmentRole:
            return _RIGHT if column.right else _LEFT
        return None

    def cell(self, line: int, number: int) -> tuple[str, str, bool]:
        """Return what stands in a cell, its colour (empty for that of any text), and whether at the right."""
        column, row = self.columns[number], self._row(line)
        if row is None:
            return "", "", column.right
        colour = verdict_colour(row, self._theme) if column.key == "verdict" else ""
        return column.text(row, self._unit), colour, column.right

    def data(self, index: _Index, role: int = 0) -> Any:
        """Return what stands in a cell; the same as a tip, where it is cut."""
        column = self.columns[index.column()]
        if role == Qt.ItemDataRole.TextAlignmentRole:
            return _RIGHT if column.right else _LEFT
        if role in {Qt.ItemDataRole.DisplayRole, Qt.ItemDataRole.ToolTipRole}:
            text = self.cell(index.row(), index.column())[0]
            return (text if role == Qt.ItemDataRole.DisplayRole else plain_tip(text)) or None
        if role == Qt.ItemDataRole.ForegroundRole and column.key == "verdict":
            row = self._row(index.row())
            colour = "" if row is None else verdict_colour(row, self._theme)
            return QColor(colour) if colour else None
        return None

    def sort(self, column: int, order: Qt.SortOrder = Qt.SortOrder.AscendingOrder) -> None:
        """Ask for another order; the index sorts."""
        if 0 <= column < len(self.columns) and self.columns[column].sort:
            self.sort_asked.emit(str(self.columns[column].sort), order is Qt.SortOrder.DescendingOrder)
