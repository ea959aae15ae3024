"""The menu that chooses columns and what the list is sorted by, for the keyboard too."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from PySide6.QtCore import Signal, Slot
from PySide6.QtGui import QAction
from PySide6.QtWidgets import QMenu, QWidget

from benchtemp.units import TempUnit
from benchtemp.window.logbook_page.columns import COLUMNS, TAG, USUAL, columns_of, tag_column
from benchtemp.window.logbook_page.menu_button import MenuButton

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

TAGS_MAX = 24


class ColumnMenu(MenuButton):
    """The button that opens the menu.

    Signals:
        columns_chosen: Carries the keys of the columns.
        sort_chosen: By what (as `Query.sort`), and whether descending.
        usual_asked: The usual columns are wanted, as wide as usual.
    """

    columns_chosen = Signal(object)
    sort_chosen = Signal(str, bool)
    usual_asked = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__("Columns", "Columns and order", parent)
        self._keys: tuple[str, ...] = USUAL
        self._tags: tuple[str, ...] = ()
        self._sort, self._descending = "moment", True
        self._unit = TempUnit.DEGC
        self.wanted.connect(self.fill)

    def show_state(self, keys: Sequence[str], sort: str, *, descending: bool) -> None:
        """Know which columns are shown, and in which order."""
        self._keys = tuple(keys)
        self._sort, self._descending = sort, descending

    def set_tags(self, names: Sequence[str]) -> None:
        """Offer a column for each tag that occurs."""
        self._tags = tuple(names)[:TAGS_MAX]

    def set_unit(self, unit: TempUnit) -> None:
        """Name temperatures in another unit."""
        self._unit = unit

    @Slot()
    def fill(self) -> None:
        """Make the menu's entries anew."""
        menu = self.entries
        order = menu.addMenu("Sort by")
        shown = columns_of(self._keys)
        for column in shown:
            if column.sort:
                action = self._entry(order, column.full_name(self._unit), checked=column.sort == self._sort)
                action.triggered.connect(self._later(self._sort_by, column.sort))
        order.addSeparator()
        for words, descending in (("Smallest or oldest first", False), ("Largest or newest first", True)):
            action = self._entry(order, words, checked=descending == self._descending)
            action.triggered.connect(self._later(self._order, descending))
        menu.addSeparator()
        tags = dict.fromkeys(
            [*(key.removeprefix(TAG) for key in self._keys if key.startswith(TAG)), *self._tags]
        )
        for column in (*COLUMNS, *(tag_column(name) for name in tags)):
            words = column.full_name(self._unit)
            words = f"Tag: {words}" if column.key.startswith(TAG) else words
            action = self._entry(menu, words, checked=column in shown or column.key in self._keys)
            action.triggered.connect(self._later(self._toggle, column.key))
        menu.addSeparator()
        menu.addAction("Usual columns and widths").triggered.connect(self.usual_asked)

    @staticmethod
    def _later(act: Callable[[Any], None], value: object) -> Callable[[], None]:
        """Return what does it when an entry is chosen, whatever the entry's own state."""
        return lambda: act(value)

    @staticmethod
    def _entry(menu: QMenu, words: str, *, checked: bool) -> QAction:
        action = menu.addAction(words.replace("&", "&&"))
        action.setCheckable(True)
        action.setChecked(checked)
        return action

    def _toggle(self, key: str) -> None:
        others = [other for other in self._keys if other != key]
        keys = others if key in self._keys else [*others, key]
        if keys:
            self.columns_chosen.emit(tuple(column.key for column in columns_of(keys)))

    def _sort_by(self, sort: str) -> None:
        self.sort_chosen.emit(sort, self._descending)

    def _order(self, descending: bool) -> None:  # noqa: FBT001 - the one thing it is about
        self.sort_chosen.emit(self._sort, descending)
