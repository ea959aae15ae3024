"""The first lines of a file in their cells, and above each column what it is taken for."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from math import isfinite
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QBrush, QColor
from PySide6.QtWidgets import QAbstractItemView, QTableWidget, QTableWidgetItem, QVBoxLayout, QWidget

from benchtemp.units import TempUnit, temp_text
from benchtemp.window.import_page.roles import NOTHING, Use, roles_for, units_of
from benchtemp.window.panels.choice import Choice
from benchtemp.window.theme import LIGHT, Theme

if TYPE_CHECKING:
    from benchtemp.logbook.importing import PreviewRow

MOST_COLUMNS = 48
"""Columns beyond are not shown: with their choices they would take the window long to make."""
_WIDEST_CHARS = 38
_ROLES, _HEAD = 0, 1


class PreviewTable(QTableWidget):
    """Lines as they part into cells, with a choice of role and unit above each column.

    Signals:
        role_chosen: Column from 0, and its new role.
        unit_chosen: Column from 0, and its new unit.
    """

    role_chosen = Signal(int, str)
    unit_chosen = Signal(int, str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = LIGHT
        self._unit = TempUnit.DEGC
        self._rows: tuple[PreviewRow, ...] = ()
        self._uses: list[Use] = []
        self._names: tuple[str, ...] = ()
        self.roles: list[Choice] = []
        self.units: list[Choice] = []
        self.setAccessibleName("First lines of the file, and what each column is taken for")
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.setSelectionMode(QAbstractItemView.SelectionMode.NoSelection)
        self.setHorizontalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setTabKeyNavigation(False)
        self.setShowGrid(False)
        self.setWordWrap(False)
        self.setFocusPolicy(Qt.FocusPolicy.ClickFocus)
        self.horizontalHeader().setHighlightSections(False)
        self.verticalHeader().setHighlightSections(False)
        self.verticalHeader().setDefaultAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)

    def set_theme(self, theme: Theme) -> None:
        """Take another theme's colours."""
        self._theme = theme
        self.setFont(theme.font(figures=True))
        self.verticalHeader().setDefaultSectionSize(round(self.fontMetrics().height() * 1.55))
        self._fill()

    def set_unit(self, unit: TempUnit) -> None:
        """Take another unit to tell temperatures in."""
        self._unit = unit
        self._fill()

    @property
    def columns_cut(self) -> int:
        """Return how many columns of the file are not shown."""
        return max(0, len(self._uses) - MOST_COLUMNS)

    def cells_of(self, place: int) -> list[str]:
        """Return the cells shown of a column, of rows alone."""
        return [row.cells[place] for row in self._rows if row.is_row and place < len(row.cells)]

    def show_rows(
        self, rows: tuple[PreviewRow, ...], uses: Sequence[Use], names: tuple[str, ...], *, usable: bool
    ) -> None:
        """Show lines and roles.

        Args:
            rows: Lines in cells.
            uses: What each column is taken for.
            names: The columns' headings, as far as there are any.
            usable: Whether roles can be chosen.
        """
        self._rows, self._uses, self._names = rows, list(uses), names
        shown = min(len(uses), MOST_COLUMNS) if usable else 0
        widest = max((len(row.cells) for row in rows), default=0)
        self._set_choices(shown)
        self.setColumnCount(min(max(shown, widest), MOST_COLUMNS))
        self.setRowCount(_HEAD + len(rows))
        offered = roles_for(uses)
        for place in range(shown):
            self._show_choice(place, offered)
        self._fill()
        self._size_columns()

    def _set_choices(self, count: int) -> None:
        while len(self.roles) > count:
            self.removeCellWidget(_ROLES, len(self.roles) - 1)
            self.roles.pop()
            self.units.pop()
        if self.rowCount() < _HEAD:
            self.setRowCount(_HEAD)
        if self.columnCount() < count:
            self.setColumnCount(count)
        for place in range(len(self.roles), count):
            role, unit = Choice("", least_chars=5), Choice("", least_chars=4)
            role.activated.connect(partial(self._tell_role, place))
            unit.activated.connect(partial(self._tell_unit, place))
            both = QWidget()
            column = QVBoxLayout(both)
            column.setContentsMargins(2, 2, 2, 2)
            column.setSpacing(2)
            column.addWidget(role)
            column.addWidget(unit)
            column.addStretch(1)
            self.setCellWidget(_ROLES, place, both)
            self.roles.append(role)
            self.units.append(unit)
            QWidget.setTabOrder(self.units[place - 1] if place else self, role)
            QWidget.setTabOrder(role, unit)
        height = max((role.sizeHint().height() for role in self.roles), default=0)
        self.setRowHeight(_ROLES, 2 * height + 8)
        self.setRowHidden(_ROLES, not count)

    def _show_choice(self, place: int, offered: Sequence[tuple[str, str]]) -> None:
        use, called = self._uses[place], self._called(place)
        role, unit = self.roles[place], self.units[place]
        for choice, entries, value, what in (
            (role, offered, use.role, "What it is"),
            (unit, units_of(use), use.unit, "Unit"),
        ):
            choice.setAccessibleName(f"{what}: {called}")
            if [choice.itemData(at) for at in range(choice.count())] != [value for value, _ in entries]:
                choice.clear()
                for one, text in entries:
                    choice.addItem(text, one)
            if entries:
                choice.select(value)
            choice.setMinimumContentsLength(max(4, len(choice.currentText())))
        unit.setVisible(bool(units_of(use)))

    def _called(self, place: int) -> str:
        name = self._names[place] if place < len(self._names) else ""
        return name or f"column {place + 1}"

    def _tell_role(self, place: int, index: int) -> None:
        self.role_chosen.emit(place, self.roles[place].itemData(index))

    def _tell_unit(self, place: int, index: int) -> None:
        self.unit_chosen.emit(place, self.units[place].itemData(index))

    def _fill(self) -> None:
        self.setHorizontalHeaderLabels([str(place + 1) for place in range(self.columnCount())])
        self.setVerticalHeaderLabels(["line", *(str(row.line) for row in self._rows)])
        for at, row in enumerate(self._rows, _HEAD):
            for place in range(self.columnCount()):
                text = row.cells[place] if place < len(row.cells) else ""
                self._cell(at, place, row, text)

    def _cell(self, at: int, place: int, row: PreviewRow, text: str) -> None:
        item = self.item(at, place)
        if item is None:
            item = QTableWidgetItem()
            self.setItem(at, place, item)
        use = self._uses[place] if place < len(self._uses) else Use()
        read = row.is_row and use.role != NOTHING
        item.setText(text)
        item.setToolTip(self._read_as(row, use) if read else text if row.is_row else f"no row: {row.raw}")
        item.setForeground(QBrush(QColor(self._theme.text if read else self._theme.soft)))
        font = self._theme.font(figures=True)
        font.setItalic(not row.is_row)
        item.setFont(font)

    def _read_as(self, row: PreviewRow, use: Use) -> str:
        """Return what a cell is read as."""
        if use.channel and use.channel <= len(row.temps_degc):
            temp_degc = row.temps_degc[use.channel - 1]
            return temp_text(temp_degc, self._unit, 2) if isfinite(temp_degc) else "no reading"
        if use.role == "weight":
            return f"{row.weight_g:.1f} g" if isfinite(row.weight_g) else "no weight"
        if use.role in ("time", "date") and row.t_s is not None:
            return f"{row.t_s:g} s after the first row"
        return ""

    def _size_columns(self) -> None:
        self.resizeColumnsToContents()
        widest = self.fontMetrics().averageCharWidth() * _WIDEST_CHARS
        if not self.roles:
            widest *= 3
        for place in range(self.columnCount()):
            least = 0
            if place < len(self.roles):
                choices = [self.roles[place]] + ([self.units[place]] if units_of(self._uses[place]) else [])
                least = max(choice.sizeHint().width() for choice in choices) + 8
            self.setColumnWidth(place, max(least, min(self.columnWidth(place), widest)))
