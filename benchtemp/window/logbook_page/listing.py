"""The list as it was asked for: by words and filters, in an order, with its columns, all of it remembered."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from PySide6.QtCore import Signal, Slot
from PySide6.QtWidgets import QVBoxLayout, QWidget

from benchtemp.logbook.index import Kind
from benchtemp.window.logbook_page.column_menu import ColumnMenu
from benchtemp.window.logbook_page.columns import USUAL, columns_of
from benchtemp.window.logbook_page.finding import Finding, find
from benchtemp.window.logbook_page.kept import (
    keep_columns,
    keep_order,
    keep_widths,
    kept_columns,
    kept_order,
    kept_widths,
)
from benchtemp.window.logbook_page.list_model import BLOCK, ShotList
from benchtemp.window.logbook_page.list_view import ListView, Standing
from benchtemp.window.panel import Panel
from benchtemp.window.panels.labels import quiet
from benchtemp.window.sources.background import Background

if TYPE_CHECKING:
    from collections.abc import Iterable

    from benchtemp.logbook.index import LogbookIndex, Row
    from benchtemp.units import TempUnit
    from benchtemp.window.logbook_page.filter_bar import FilterBar
    from benchtemp.window.theme import Theme

EMPTY = (
    "Nothing is kept here yet. The first sitting on the Bench makes the first recording; text files of other "
    "meters can be imported."
)


class Listing(Panel):
    """Asks an index in the background, and shows what it found.

    Attributes:
        index: What is listed: the index of the logbook, or of its bin.
        columns: The menu of columns and orders.
        shots, list: Model and view.
        empty: What is said where nothing is listed.

    Signals:
        found: Something else may be listed now.
        failed: A sentence on why nothing could be found.
    """

    found = Signal()
    failed = Signal(str)

    def __init__(self, index: LogbookIndex, filters: FilterBar, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.index = index
        self._filters = filters
        self._sort, self._descending = kept_order()
        self._chosen_shots: tuple[str, ...] | None = None
        self._wanted: frozenset[str] = frozenset()
        self._last_try = False
        self.columns = ColumnMenu()
        self.shots = ShotList(index)
        self.list = ListView(self.shots)
        self.list.widths = kept_widths()
        self.empty = quiet(wrap=True)
        self.empty.hide()
        self._finding = Background(self, name="search")
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.addWidget(self.empty)
        layout.addWidget(self.list, 1)
        filters.changed.connect(self.search)
        self.columns.columns_chosen.connect(self.show_columns)
        self.columns.sort_chosen.connect(self.sort_by)
        self.columns.usual_asked.connect(self._show_usual)
        header = self.list.horizontalHeader()
        header.sortIndicatorChanged.connect(self.shots.sort)
        header.customContextMenuRequested.connect(lambda _point: self.columns.open())
        self.shots.sort_asked.connect(self.sort_by)
        self.list.chosen_changed.connect(self._forget_shots)
        self._finding.done.connect(self._take)
        self._finding.failed.connect(self.failed)
        self.show_columns(kept_columns())

    def set_theme(self, theme: Theme) -> None:
        """Take colours and fonts anew."""
        super().set_theme(theme)
        self.list.set_theme(theme)
        self.shots.set_look(theme, self.unit)
        self.show_columns([column.key for column in self.shots.columns])

    def set_unit(self, unit: TempUnit) -> None:
        """Show temperatures in another unit."""
        super().set_unit(unit)
        self.shots.set_look(self.theme, unit)
        self.columns.set_unit(unit)

    # -- asking --------------------------------------------------------------------------------------------

    @property
    def busy(self) -> bool:
        """Tell whether something is being found."""
        return self._finding.busy

    @Slot()
    def search(self) -> None:
        """Ask the index again."""
        query = self._filters.query(self._sort, descending=self._descending)
        if query is not None:
            self._finding.start(partial(find, self.index, query, self.list.standing().top))

    def choose(self, places: Iterable[str]) -> None:
        """Choose these files as soon as they are listed, until `settle`."""
        self._wanted, self._last_try = frozenset(places), False

    def settle(self) -> None:
        """Ask the index again, which knows all there is: what is not listed then is not waited for."""
        self._last_try = True
        self.search()

    @Slot(object)
    def _take(self, found: Finding) -> None:
        if found.index is not self.index:
            return
        standing = self.list.standing() if self.shots.places else Standing()
        wanted = [place for place in found.places if place in self._wanted] if self._wanted else []
        if wanted:
            standing = Standing(standing.top, wanted[0], chosen=frozenset(wanted), found=True)
        if self._last_try or len(wanted) == len(self._wanted):
            self._wanted = frozenset()
        self.shots.show(self.index, found.places, found.rows)
        self.list.restore(standing)
        self.found.emit()

    # -- what is chosen ------------------------------------------------------------------------------------

    @property
    def chosen_shots(self) -> tuple[str, ...] | None:
        """Return which of the files selected are shots, in the list's order; None while it is not known.

        Of a few it is asked for here; of very many only `take_rows` tells.
        """
        if self._chosen_shots is None and len(self.list.chosen) <= BLOCK:
            self.take_rows(filter(None, map(self.shots.row, self.list.chosen)))
        return self._chosen_shots

    def take_rows(self, rows: Iterable[Row]) -> None:
        """Take the rows of the files selected."""
        shots = {row.path for row in rows if row.kind is Kind.SHOT}
        self._chosen_shots = tuple(place for place in self.list.chosen if place in shots)

    @Slot()
    def _forget_shots(self) -> None:
        self._chosen_shots = None

    # -- columns and order ---------------------------------------------------------------------------------

    @Slot(str, bool)
    def sort_by(self, sort: str, descending: bool) -> None:  # noqa: FBT001 - a signal's arguments
        """Sort the list."""
        self._sort, self._descending = sort, descending
        self.list.show_sort(sort, descending=descending)
        self._tell_columns()
        self.search()

    @Slot(object)
    def show_columns(self, keys: Iterable[str]) -> None:
        """Show these columns, in the usual order."""
        self.list.show_columns(columns_of(keys), self._sort, descending=self._descending)
        self._tell_columns()

    @Slot()
    def _show_usual(self) -> None:
        self.list.widths.clear()
        self.show_columns(USUAL)

    def _tell_columns(self) -> None:
        keys = tuple(column.key for column in self.shots.columns)
        self.columns.show_state(keys, self._sort, descending=self._descending)

    def keep(self) -> None:
        """Remember columns, their widths and the order for the next start."""
        keep_columns([column.key for column in self.shots.columns])
        keep_widths(self.list.widths)
        keep_order(self._sort, descending=self._descending)

    def close_down(self) -> None:
        """Remember how the list looks, and wait for what is being found."""
        self.keep()
        self.shots.stop()
        self._finding.join()
