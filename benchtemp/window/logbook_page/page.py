"""The Logbook page: everything that was kept, found in a moment, looked at, marked, and handed on."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, QTimer, Signal, Slot
from PySide6.QtGui import QGuiApplication, QKeySequence, QShortcut
from PySide6.QtWidgets import QHBoxLayout, QLabel, QSplitter, QStackedWidget, QVBoxLayout, QWidget

from benchtemp.logbook.folder import Logbook
from benchtemp.logbook.index import Choices, Kind, LogbookIndex, Sort, Updated
from benchtemp.window.logbook_page.acting import Acting
from benchtemp.window.logbook_page.ask_row import AskRow
from benchtemp.window.logbook_page.check_view import CheckView
from benchtemp.window.logbook_page.column_menu import ColumnMenu
from benchtemp.window.logbook_page.columns import columns_of
from benchtemp.window.logbook_page.detail import Detail
from benchtemp.window.logbook_page.export_form import ExportForm, shots_among
from benchtemp.window.logbook_page.filter_bar import FilterBar
from benchtemp.window.logbook_page.finding import Finding, find
from benchtemp.window.logbook_page.kept import keep_columns, keep_split, kept_columns, kept_split
from benchtemp.window.logbook_page.list_model import BLOCK, ShotList
from benchtemp.window.logbook_page.list_view import ListView, Standing
from benchtemp.window.logbook_page.looked import Chosen, look_into
from benchtemp.window.logbook_page.message_line import MessageLine
from benchtemp.window.logbook_page.running import Running
from benchtemp.window.logbook_page.watch import FolderWatch
from benchtemp.window.panel import Panel, SourceChoice
from benchtemp.window.panels.labels import quiet
from benchtemp.window.sources.background import Background
from benchtemp.window.sources.choices import replay_choice

if TYPE_CHECKING:
    from PySide6.QtGui import QHideEvent, QShowEvent

    from benchtemp.units import TempUnit
    from benchtemp.window.theme import Theme

_LOOK_MS = 60
"""How long the selection rests before files are opened: going through the list with a key held down."""
_LIST_AGAIN_MS = 1500
"""How often the list is renewed while very many files are being read."""
_SPLIT = (720, 280)
"""Room for list and details, in proportion."""
EMPTY = (
    "Nothing is kept here yet. The first sitting on the Bench makes the first recording; text files of other "
    "meters can be imported."
)


class LogbookPage(Panel):
    """Lists all recordings and shots; Enter replays the chosen one.

    Attributes:
        actions: Row of buttons at the bottom; what else can be done with the shots chosen goes there.
        index: Of the logbook.

    Signals:
        replay_asked: Carries the `SourceChoice` that replays a file.
        import_asked: Files of other meters are to be imported.
        chosen_changed: Other files are selected; see `chosen`.
    """

    replay_asked = Signal(object)
    import_asked = Signal()
    chosen_changed = Signal()
    # Qt's own list of actions is not used here.
    actions: QHBoxLayout  # type: ignore[assignment]

    def __init__(self, logbook: Logbook, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setProperty("look", "page")
        self.index = LogbookIndex(logbook)
        self._logbook = logbook
        # What was thrown away lies in the bin as it lay in the logbook, and is listed the same way.
        self._bin = LogbookIndex(Logbook(logbook.bin_dir))
        self.in_bin = False
        self._chosen: tuple[Path, ...] | None = None
        self._stale = True
        self._sort, self._descending = str(Sort.MOMENT), True
        self.title = QLabel("Logbook")
        self.filters = FilterBar()
        self.columns = ColumnMenu()
        self.shots = ShotList(self.index)
        self.list = ListView(self.shots)
        self.detail = Detail()
        self.check = CheckView()
        self.ask = AskRow()
        self.export = ExportForm()
        self.message = MessageLine()
        self.empty = quiet(wrap=True)
        self.actions = QHBoxLayout()
        self._split = QSplitter(Qt.Orientation.Horizontal)
        self._stack = QStackedWidget()
        self._watch = FolderWatch(self)
        self._keeping = Running(self, name="logbook's list")
        self._finding = Background(self, name="search")
        self._looking = Background(self, name="details")
        self._choosing = Background(self, name="machines and tags")
        self._opening = Background(self, name="recording")
        self._look_timer = QTimer(self)
        self._look_timer.setSingleShot(True)
        self._look_timer.setInterval(_LOOK_MS)
        self._list_timer = QTimer(self)
        self._list_timer.setInterval(_LIST_AGAIN_MS)
        self.acting = Acting(self)
        self._lay_out()
        self._connect()
        self._show_columns(kept_columns())

    def _lay_out(self) -> None:
        self.actions.setSpacing(6)
        self.filters.more.addWidget(self.columns)
        left = QVBoxLayout()
        left.setContentsMargins(0, 0, 0, 0)
        left.addWidget(self.empty)
        left.addWidget(self.list, 1)
        side = QWidget()
        side.setLayout(left)
        self._split.addWidget(side)
        self._split.addWidget(self.detail)
        self._split.setStretchFactor(0, 3)
        self._split.setStretchFactor(1, 1)
        self._split.setChildrenCollapsible(False)
        self._split.setHandleWidth(8)
        state = kept_split()
        if state is None or not self._split.restoreState(state):
            self._split.setSizes(list(_SPLIT))
        self._stack.addWidget(self._split)
        self._stack.addWidget(self.check)
        self.empty.hide()
        self.filters.top.insertWidget(0, self.title)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(14, 10, 14, 8)
        layout.setSpacing(7)
        layout.addWidget(self.filters)
        layout.addWidget(self._stack, 1)
        layout.addWidget(self.ask)
        layout.addWidget(self.export)
        layout.addWidget(self.message)
        layout.addWidget(self.acting.bar)

    def _connect(self) -> None:
        self.filters.changed.connect(self.search)
        self.filters.list_asked.connect(self.take_focus)
        self.columns.columns_chosen.connect(self._show_columns)
        self.columns.sort_chosen.connect(self.sort_by)
        header = self.list.horizontalHeader()
        header.sortIndicatorChanged.connect(self.shots.sort)
        header.customContextMenuRequested.connect(lambda _point: self.columns.open())
        self.shots.sort_asked.connect(self.sort_by)
        self.list.chosen_changed.connect(self._choose)
        self.list.replay_asked.connect(self.replay)
        self.list.edit_asked.connect(self.detail.take_focus)
        self.list.bin_asked.connect(self.acting.move)
        self._look_timer.timeout.connect(self._look)
        self._list_timer.timeout.connect(self.search)
        self._watch.moved.connect(self._notice)
        self._keeping.told.connect(self._tell_keeping)
        self._keeping.failed.connect(self._tell_trouble)
        self._finding.done.connect(self._take_finding)
        self._finding.failed.connect(self._tell_trouble)
        self._looking.done.connect(self._take_looked)
        self._looking.failed.connect(self._tell_trouble)
        self._choosing.done.connect(self._take_choices)
        self._opening.done.connect(self._open)
        self._opening.failed.connect(self._tell_trouble)
        app = QGuiApplication.instance()
        assert isinstance(app, QGuiApplication)
        app.applicationStateChanged.connect(self._come_back)
        shortcut = QShortcut(QKeySequence.StandardKey.Find, self)
        shortcut.setContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
        shortcut.activated.connect(self.go_to_search)

    # -- look ----------------------------------------------------------------------------------------------

    def set_theme(self, theme: Theme) -> None:
        """Take colours and fonts anew."""
        super().set_theme(theme)
        self.title.setFont(theme.font(1.5, bold=True))
        self.list.set_theme(theme)
        self.detail.set_theme(theme)
        self.check.set_theme(theme)
        self.shots.set_look(theme, self.unit)
        self.detail.setMinimumWidth(self.fontMetrics().averageCharWidth() * 42)
        self._show_columns(column.key for column in self.shots.columns)

    def set_unit(self, unit: TempUnit) -> None:
        """Show temperatures in another unit."""
        super().set_unit(unit)
        self.shots.set_look(self.theme, unit)
        self.columns.set_unit(unit)
        self.detail.set_unit(unit)

    # -- what is shown -------------------------------------------------------------------------------------

    @property
    def shown(self) -> LogbookIndex:
        """Return the index of what is listed: of the logbook, or of its bin."""
        return self._bin if self.in_bin else self.index

    @property
    def chosen(self) -> tuple[Path, ...]:
        """Return the files of the shots selected, in the list's order, without recordings and flushes."""
        if self._chosen is None:
            places = () if self.in_bin else self.list.chosen
            if len(places) <= BLOCK:
                rows = [self.shots.row(place) for place in places]
                shots = tuple(row.path for row in rows if row is not None and row.kind is Kind.SHOT)
            else:
                shots = shots_among(self.index, places)
            self._chosen = tuple(self._logbook.root / place for place in shots)
        return self._chosen

    @property
    def busy(self) -> bool:
        """Tell whether anything is being read, searched or done."""
        works = (self._finding, self._looking, self._choosing, self._opening, self._keeping, self.acting)
        timers = (self._look_timer, self._list_timer)
        return (
            self.filters.waiting
            or any(work.busy for work in works)
            or any(timer.isActive() for timer in timers)
        )

    @Slot()
    def read(self) -> None:
        """Show what is known at once, and look for what is new in the background."""
        self._watch.watch(self._logbook)
        self.search()
        self._update()

    @Slot()
    def take_focus(self) -> None:
        """Put the focus on the list."""
        self.list.setFocus()

    @Slot()
    def go_to_search(self) -> None:
        """Go to the search field."""
        self._stack.setCurrentWidget(self._split)
        self.filters.search.setFocus()
        self.filters.search.selectAll()

    @Slot()
    def search(self) -> None:
        """Ask the index again, in the background."""
        query = self.filters.query(self._sort, descending=self._descending)
        if query is not None:
            top = self.list.standing().top
            self._finding.start(partial(find, self.shown, query, top, in_bin=self.in_bin))

    def show_bin(self, *, shown: bool) -> None:
        """List what was thrown away, or the logbook again."""
        self.detail.commit()
        self.in_bin = shown
        self.title.setText("Bin" if shown else "Logbook")
        self.filters.clear()
        self._stack.setCurrentWidget(self._split)
        self._update()
        self.take_focus()

    def show_check(self, *, shown: bool) -> None:
        """Show the check of all files, or the list again."""
        self._stack.setCurrentWidget(self.check if shown else self._split)
        for widget in (self.filters, self.ask, self.export):
            widget.setEnabled(not shown)
        self.acting.bar.setVisible(not shown)
        self.message.clear()
        if not shown:
            self.take_focus()

    @Slot(str, bool)
    def sort_by(self, sort: str, descending: bool) -> None:  # noqa: FBT001 - a signal's arguments
        """Sort the list."""
        self._sort, self._descending = sort, descending
        self.list.show_sort(sort, descending=descending)
        self._tell_columns()
        self.search()

    @Slot(object)
    def _show_columns(self, keys: object) -> None:
        assert not isinstance(keys, str)
        columns = columns_of(keys)  # type: ignore[arg-type]  # keys come through a signal
        self.list.show_columns(columns, self._sort, descending=self._descending)
        self._tell_columns()

    def _tell_columns(self) -> None:
        keys = tuple(column.key for column in self.shots.columns)
        self.columns.show_state(keys, self._sort, descending=self._descending)

    @Slot(object)
    def _take_finding(self, found: Finding) -> None:
        if found.in_bin != self.in_bin:
            return
        standing = self.list.standing() if self.shots.places else Standing()
        self.shots.show(self.shown, found.places, found.rows)
        self.list.restore(standing)
        self._tell_empty()
        self.export.show_files(self.list.chosen, found.places)

    def _tell_empty(self) -> None:
        empty = not self.shots.places
        if not empty or self._keeping.busy:
            words = ""
        elif self.filters.narrows:
            words = "Nothing is found. Take a word or a filter away, or clear them all."
        else:
            words = "The bin is empty." if self.in_bin else EMPTY
        self.empty.setText(words)
        self.empty.setVisible(bool(words))

    # -- details -------------------------------------------------------------------------------------------

    @Slot()
    def _choose(self) -> None:
        self._chosen = None
        chosen = self.list.chosen
        found, many = len(self.shots.places), len(chosen)
        words = f"{found:,} {'file' if found == 1 else 'files'}"
        self.message.counts.setText(f"{words}, {many:,} chosen" if many > 1 else words)
        self.detail.await_chosen(chosen)
        self.acting.fit(chosen)
        self._look_timer.start()
        self.chosen_changed.emit()

    @Slot()
    def _look(self) -> None:
        chosen = self.list.chosen
        if chosen:
            self._looking.start(partial(look_into, self.shown, chosen))
        else:
            self._looking.forget()
            self.detail.show_chosen(Chosen(), editable=False)

    @Slot(object)
    def _take_looked(self, chosen: Chosen) -> None:
        self.detail.show_chosen(chosen, editable=not self.in_bin)

    # -- keeping up ----------------------------------------------------------------------------------------

    @Slot()
    def _update(self) -> None:
        # What changes while files are being read may have been passed already.
        self._stale = self._keeping.busy
        if not self._stale:
            self._keeping.start("Reading files", self.shown.update, self._take_update)
            self._list_timer.start()

    def read_anew(self) -> None:
        """Make the list anew from the files."""
        self._keeping.start("Reading all files", self.shown.rebuild, self._take_update)
        self._list_timer.start()

    def renew(self) -> None:
        """Show what has just been done to files; the index knows it already."""
        self.search()
        self._update()

    def stop_reading(self) -> None:
        """Stop bringing the list up to date."""
        self._keeping.cancel()

    def _take_update(self, updated: Updated) -> None:
        self._list_timer.stop()
        self._watch.watch(self._logbook)
        if not updated.complete:
            self.message.say("Stopped. Not all files are listed yet; the rest is read when you come back.")
        self.search()
        self._choosing.start(self.shown.choices)
        if self._stale and updated.complete:
            self._update()

    @Slot(object)
    def _take_choices(self, choices: Choices) -> None:
        self.filters.set_machines(choices.machines)
        self.columns.set_tags(tuple(choices.tags))
        self.detail.set_known(choices.tags)

    @Slot(str)
    def _tell_keeping(self, words: str) -> None:
        # An update of a moment is not worth a word.
        self.message.show_progress(words if " of " in words or not words else "")

    @Slot()
    def _notice(self) -> None:
        if self.isVisible():
            self._update()
        else:
            self._stale = True

    @Slot(Qt.ApplicationState)
    def _come_back(self, state: Qt.ApplicationState) -> None:
        if state is Qt.ApplicationState.ApplicationActive:
            self._notice()

    @Slot(str)
    def _tell_trouble(self, sentence: str) -> None:
        self._list_timer.stop()
        self.message.say(sentence, "bad")

    # -- replay --------------------------------------------------------------------------------------------

    @Slot()
    def replay(self) -> None:
        """Read the current file in the background and ask for its replay."""
        line = self.list.currentIndex().row()
        if 0 <= line < len(self.shots.places):
            path = self.shown.logbook.root / self.shots.places[line]
            self.message.say(f"Reading {path.name}.")
            self._opening.start(partial(replay_choice, path))

    @Slot(object)
    def _open(self, choice: SourceChoice) -> None:
        self.message.clear()
        self.replay_asked.emit(choice)

    # -- coming and going ----------------------------------------------------------------------------------

    def showEvent(self, event: QShowEvent) -> None:
        """Look again if something changed meanwhile."""
        super().showEvent(event)
        if self._stale:
            self._update()

    def hideEvent(self, event: QHideEvent) -> None:
        """Take what is being typed."""
        super().hideEvent(event)
        self.detail.commit()

    def close_down(self) -> None:
        """Take what is being typed, and wait for what is being done."""
        self.detail.commit()
        self._watch.stop()
        for timer in (self._look_timer, self._list_timer):
            timer.stop()
        self.filters.stop()
        self.shots.stop()
        self.acting.close_down()
        self._keeping.finish(stopping=True)
        for work in (self._finding, self._looking, self._choosing, self._opening):
            work.join()
        keep_columns(tuple(column.key for column in self.shots.columns))
        keep_split(self._split.saveState())
