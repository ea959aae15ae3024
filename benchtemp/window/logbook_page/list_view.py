"""The list on the screen: keys, selection, and keeping its place when what it shows is renewed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from PySide6.QtCore import QItemSelection, QItemSelectionModel, QSignalBlocker, Qt, Signal, Slot
from PySide6.QtWidgets import QAbstractItemView, QHeaderView, QTableView, QWidget

from benchtemp.window.logbook_page.cell_painter import CellPainter
from benchtemp.window.logbook_page.columns import Column

if TYPE_CHECKING:
    from collections.abc import Sequence

    from PySide6.QtGui import QKeyEvent

    from benchtemp.window.logbook_page.list_model import ShotList
    from benchtemp.window.theme import Theme

_DISPLAY = int(Qt.ItemDataRole.DisplayRole)
_ENTER = {Qt.Key.Key_Return, Qt.Key.Key_Enter}
_DELETE = {Qt.Key.Key_Delete, Qt.Key.Key_Backspace}


@dataclass(frozen=True)
class Standing:
    """Where the list stands: the file at the top, the current one with its line, and those chosen.

    `found` tells that those chosen are to be brought into view.
    """

    top: str = ""
    current: str = ""
    line: int = 0
    chosen: frozenset[str] = frozenset()
    found: bool = False


class ListView(QTableView):
    """Shows a `ShotList`.

    Attributes:
        widths: Widths in pixels that the user gave to columns, by their keys.

    Signals:
        replay_asked, edit_asked, bin_asked: Enter, F2, Delete.
        chosen_changed: Others are selected.
    """

    replay_asked = Signal()
    edit_asked = Signal()
    bin_asked = Signal()
    chosen_changed = Signal()

    def __init__(self, shots: ShotList, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.shots = shots
        self.widths: dict[str, int] = {}
        self._renewing = False
        self._chosen: tuple[str, ...] | None = None
        self.setModel(shots)
        self.setItemDelegate(CellPainter(shots, self))
        self.setAccessibleName("Shots and recordings")
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.setSelectionMode(QAbstractItemView.SelectionMode.ExtendedSelection)
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.setShowGrid(False)
        self.setTabKeyNavigation(False)
        self.setWordWrap(False)
        self.setCornerButtonEnabled(False)
        self.setContextMenuPolicy(Qt.ContextMenuPolicy.CustomContextMenu)
        lines = self.verticalHeader()
        lines.hide()
        # Lines of one height are not measured one by one.
        lines.setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
        header = self.horizontalHeader()
        header.setHighlightSections(False)
        # Whether a whole column is selected would be asked of every file, only to be shown nowhere.
        header.setSelectionModel(QItemSelectionModel(shots, header))
        header.setSectionsClickable(True)
        header.setSortIndicatorShown(True)
        header.setStretchLastSection(True)
        header.setMinimumSectionSize(30)
        header.setContextMenuPolicy(Qt.ContextMenuPolicy.CustomContextMenu)
        header.sectionResized.connect(self._take_width)
        self.doubleClicked.connect(self.replay_asked)
        self.selectionModel().selectionChanged.connect(self._tell)
        shots.modelReset.connect(self._forget_chosen)

    def set_theme(self, theme: Theme) -> None:
        """Take fonts anew."""
        self.setFont(theme.font(figures=True))
        self.verticalHeader().setDefaultSectionSize(int(self.fontMetrics().lineSpacing() * 1.6))

    # -- columns -------------------------------------------------------------------------------------------

    def show_columns(self, columns: Sequence[Column], sort: str, *, descending: bool) -> None:
        """Show other columns, with the selection as it was."""
        standing = self.standing()
        self._renewing = True
        self.shots.set_columns(columns)
        metrics = self.fontMetrics()
        for number, column in enumerate(columns):
            heading = str(self.shots.headerData(number, Qt.Orientation.Horizontal, _DISPLAY))
            # Room for the padding, and beside the heading for the arrow that shows the order.
            width = max(metrics.horizontalAdvance(column.sample), metrics.horizontalAdvance(heading) + 12)
            self.setColumnWidth(number, self.widths.get(column.key, width + 18))
        self._renewing = False
        self.show_sort(sort, descending=descending)
        self.restore(standing)

    @Slot(int, int, int)
    def _take_width(self, number: int, _before: int, width_px: int) -> None:
        # The last column takes whatever room is left.
        if not self._renewing and 0 <= number < len(self.shots.columns) - 1:
            self.widths[self.shots.columns[number].key] = width_px

    def show_sort(self, sort: str, *, descending: bool) -> None:
        """Show by what the list is sorted."""
        header = self.horizontalHeader()
        self.shots.sorted_by = sort
        sorts = [column.sort for column in self.shots.columns]
        order = Qt.SortOrder.DescendingOrder if descending else Qt.SortOrder.AscendingOrder
        with QSignalBlocker(header):
            header.setSortIndicator(sorts.index(sort) if sort in sorts else -1, order)
        header.viewport().update()

    # -- selection -----------------------------------------------------------------------------------------

    @property
    def chosen(self) -> tuple[str, ...]:
        """Return the places of the files selected, in the order of the list."""
        if self._chosen is None:
            self._chosen = self._selected()
        return self._chosen

    def _selected(self) -> tuple[str, ...]:
        selection = self.selectionModel().selection()
        ranges = [selection.at(number) for number in range(selection.count())]
        spans = sorted((span.top(), span.bottom()) for span in ranges)
        lines = dict.fromkeys(line for top, bottom in spans for line in range(top, bottom + 1))
        places = self.shots.places
        return tuple(places[line] for line in lines if line < len(places))

    def standing(self) -> Standing:
        """Return where the list stands."""
        places = self.shots.places
        top, current = self.rowAt(0), self.currentIndex().row()
        return Standing(
            places[top] if 0 <= top < len(places) else "",
            places[current] if 0 <= current < len(places) else "",
            max(current, 0),
            frozenset(self.chosen),
        )

    def restore(self, standing: Standing) -> None:
        """Stand there again, as far as those files are still listed; else on the line where it stood."""
        places = self.shots.places
        self._renewing = True
        self._chosen = None
        selection = self.selectionModel()
        selection.clear()
        if places:
            wanted = {standing.top, standing.current, *standing.chosen}
            line_of = {place: line for line, place in enumerate(places) if place in wanted}
            chosen = sorted(line_of[place] for place in standing.chosen if place in line_of)
            line = line_of.get(standing.current, min(standing.line, len(places) - 1))
            if not chosen:
                chosen = [line]
            flags = QItemSelectionModel.SelectionFlag
            selection.setCurrentIndex(self.shots.index(line, 0), flags.NoUpdate)
            selection.select(self._spans(chosen), flags.Select)
            if standing.top and standing.top in line_of:
                self.scrollTo(
                    self.shots.index(line_of[standing.top], 0), QAbstractItemView.ScrollHint.PositionAtTop
                )
            elif standing.chosen and line == chosen[0]:
                self.scrollTo(self.shots.index(line, 0))
            if standing.found:
                for shown in (chosen[-1], chosen[0]):
                    self.scrollTo(self.shots.index(shown, 0))
        self._renewing = False
        self._tell()

    def _spans(self, lines: Sequence[int]) -> QItemSelection:
        found = QItemSelection()
        last = len(self.shots.columns) - 1
        start = before = lines[0]
        for line in [*lines[1:], -1]:
            if line != before + 1:
                found.select(self.shots.index(start, 0), self.shots.index(before, last))
                start = line
            before = line
        return found

    @Slot()
    def _forget_chosen(self) -> None:
        self._chosen = None

    @Slot()
    def _tell(self) -> None:
        self._chosen = None
        if not self._renewing:
            self.chosen_changed.emit()

    # -- keys ----------------------------------------------------------------------------------------------

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Obey the keys of the list."""
        if event.key() in _ENTER:
            self.replay_asked.emit()
        elif event.key() == Qt.Key.Key_F2:
            self.edit_asked.emit()
        elif event.key() in _DELETE:
            self.bin_asked.emit()
        else:
            super().keyPressEvent(event)

    def keyboardSearch(self, _search: str) -> None:
        """Look for nothing by letters: that would read every row, and there is a field for it."""
