"""The check of all files: what is damaged, and mending it when asked."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import (
    QAbstractItemView,
    QHBoxLayout,
    QHeaderView,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from benchtemp.logbook.index.batch import do_each
from benchtemp.logbook.index.checking import Checked, check, mend
from benchtemp.logbook.shot_file import Condition
from benchtemp.window.logbook_page.deeds import files
from benchtemp.window.logbook_page.tips import plain_tip
from benchtemp.window.panel import Panel
from benchtemp.window.panels.labels import Sentence, button, heading, quiet

if TYPE_CHECKING:
    from pathlib import Path

    from PySide6.QtGui import QKeyEvent

    from benchtemp.logbook.index import LogbookIndex
    from benchtemp.window.logbook_page.deeds import Cancelled, Progress
    from benchtemp.window.theme import Theme

_FINE = frozenset({Condition.WHOLE, Condition.NO_DIGEST})
_MENDABLE = frozenset({Condition.ROWS_DAMAGED, Condition.NOT_CLOSED})
_SIGNS = {
    Condition.ROWS_DAMAGED: "✕ rows damaged",
    Condition.UNREADABLE: "✕ cannot be read",
    Condition.NOT_CLOSED: "○ never closed",
    Condition.HEADER_CHANGED: "○ header changed",
}
_COUNTED = {
    Condition.ROWS_DAMAGED: "with damaged rows",
    Condition.NOT_CLOSED: "never closed",
    Condition.HEADER_CHANGED: "with a changed header",
    Condition.NO_DIGEST: "without a digest to hold it against",
}
LISTED_MAX = 2000


class Report:
    """What a check came to: how many files in which condition, and those with something about them."""

    def __init__(self, counted: Counter[Condition], found: list[Checked], *, complete: bool) -> None:
        self.counted = counted
        self.found = found
        self.complete = complete

    @property
    def sentence(self) -> str:
        """Return the outcome in a sentence or two."""
        total = self.counted.total()
        if not total:
            return "There are no files yet." if self.complete else "Stopped before anything was checked."
        parts = [
            f"{number:,} {_COUNTED.get(condition, condition)}"
            for condition, number in self.counted.most_common()
        ]
        words = f"{files(total)} checked: {', '.join(parts)}."
        return words if self.complete else f"Stopped. {words} The rest was not looked at."


def check_all(index: LogbookIndex, progress: Progress, cancelled: Cancelled) -> Report:
    """Check every file; nothing is changed.

    Raises:
        StorageError: A folder of the logbook cannot be read.
    """
    counted: Counter[Condition] = Counter()
    found: list[Checked] = []
    for checked in check(index.logbook, progress, cancelled):
        counted[checked.condition] += 1
        if checked.condition not in _FINE:
            found.append(checked)
    return Report(counted, found, complete=not cancelled())


def mend_each(
    index: LogbookIndex, places: tuple[str, ...], progress: Progress, cancelled: Cancelled
) -> dict[str, str]:
    """Mend files; return what came of each, as a sentence.

    Raises:
        StorageError: The index cannot be kept.
    """
    told: dict[str, str] = {}

    def work(path: Path) -> None:
        done = mend(index.logbook, path)
        kept = f" The original is kept: {done.original}." if done.original else ""
        told[index.place_of(path) or ""] = f"✓ {done.text}{kept}"

    batch = do_each(index, places, work, progress, cancelled)
    return {**told, **batch.refused}


class CheckView(Panel):
    """Shows what a check found.

    Signals:
        mend_asked: Carries the places of files to be mended.
        back_asked: The list is wanted again.
    """

    mend_asked = Signal(object)
    back_asked = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setProperty("look", "surface")
        self._found: list[Checked] = []
        self._done: set[str] = set()
        self.said = Sentence(look="", name="Check")
        self.about = quiet(
            "Every recording and shot is held against the digest written with it; nothing is changed. "
            "Mending writes anew what can still be read, or closes a recording that was never closed; "
            "a damaged original is kept in the bin.",
            wrap=True,
        )
        self.table = QTableWidget(0, 3)
        self.table.setAccessibleName("Files with something about them")
        self.table.setHorizontalHeaderLabels(["Condition", "File", "What was found"])
        self.table.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.table.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.table.setTabKeyNavigation(False)
        self.table.setShowGrid(False)
        self.table.setWordWrap(True)
        self.table.verticalHeader().hide()
        header = self.table.horizontalHeader()
        header.setHighlightSections(False)
        header.setDefaultAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
        header.setSectionResizeMode(2, QHeaderView.ResizeMode.Stretch)
        self.table.itemSelectionChanged.connect(self._fit_buttons)
        self.mend_button = button("Mend chosen", look="primary")
        self.mend_button.clicked.connect(self._mend)
        self.back_button = button("Back to the list (Esc)")
        self.back_button.clicked.connect(self.back_asked)
        row = QHBoxLayout()
        row.addStretch(1)
        row.addWidget(self.mend_button)
        row.addWidget(self.back_button)
        column = QVBoxLayout(self)
        column.setContentsMargins(12, 10, 12, 10)
        column.setSpacing(8)
        column.addWidget(heading("Check of all files"))
        column.addWidget(self.about)
        column.addWidget(self.said)
        column.addWidget(self.table, 1)
        column.addLayout(row)
        column.addStretch()
        self._fit_buttons()

    def set_theme(self, theme: Theme) -> None:
        """Take fonts anew."""
        super().set_theme(theme)
        self.table.setFont(theme.font(figures=True))

    def begin(self) -> None:
        """Show that a check is under way."""
        self.said.say("Checking.", "quiet")
        self._list([])
        self.back_button.setFocus()

    def show_report(self, report: Report) -> None:
        """Show what was found."""
        bad = any(one.is_damaged for one in report.found)
        self.said.say(report.sentence, "bad" if bad else "good" if not report.found else "caution")
        self._list(report.found[:LISTED_MAX])
        if self.isVisible() and report.found:
            self.table.selectRow(0)
            self.table.setFocus()

    def show_mended(self, told: dict[str, str]) -> None:
        """Show what came of mending."""
        for number, one in enumerate(self._found):
            if one.path in told:
                good = told[one.path].startswith("✓")
                self._done.add(one.path)
                self._cell(number, 0, "✓ mended" if good else "✕ not mended")
                self._cell(number, 2, told[one.path].removeprefix("✓ "))
        self._fit_buttons()
        self._fit_rows()

    def tell(self, sentence: str) -> None:
        """Show why it could not be done."""
        self.said.say(sentence, "bad")

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Go back with Esc."""
        if event.key() == Qt.Key.Key_Escape:
            self.back_asked.emit()
        else:
            super().keyPressEvent(event)

    def _list(self, found: list[Checked]) -> None:
        self._found = found
        self._done.clear()
        self.table.setRowCount(len(found))
        for number, one in enumerate(found):
            self._cell(number, 0, _SIGNS.get(one.condition, str(one.condition)))
            self._cell(number, 1, one.path.rpartition("/")[2])
            self._cell(number, 2, one.text)
        self.table.resizeColumnToContents(0)
        self.table.setColumnWidth(1, self.fontMetrics().averageCharWidth() * 34)
        self.table.setVisible(bool(found))
        self.mend_button.setVisible(bool(found))
        self._fit_rows()
        self._fit_buttons()

    def _fit_rows(self) -> None:
        self.table.resizeRowsToContents()
        for line in range(self.table.rowCount()):
            self.table.setRowHeight(line, self.table.rowHeight(line) + self.fontMetrics().lineSpacing() // 2)

    def _cell(self, line: int, column: int, text: str) -> None:
        item = QTableWidgetItem(text)
        item.setToolTip(plain_tip(text))
        self.table.setItem(line, column, item)

    def _chosen(self) -> tuple[str, ...]:
        lines = sorted({index.row() for index in self.table.selectedIndexes()})
        found = (self._found[line] for line in lines)
        return tuple(one.path for one in found if one.condition in _MENDABLE and one.path not in self._done)

    @Slot()
    def _fit_buttons(self) -> None:
        count = len(self._chosen())
        self.mend_button.setEnabled(bool(count))
        self.mend_button.setText(f"Mend {files(count)}" if count else "Mend chosen")

    @Slot()
    def _mend(self) -> None:
        places = self._chosen()
        if places:
            self.mend_asked.emit(places)
