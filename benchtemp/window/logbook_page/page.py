"""The Logbook page: everything that was kept, found in a moment, looked at, marked, and handed on."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, QTimer, Signal, Slot
from PySide6.QtGui import QKeySequence, QShortcut
from PySide6.QtWidgets import QHBoxLayout, QLabel, QSplitter, QStackedWidget, QVBoxLayout, QWidget

from benchtemp.logbook.folder import Logbook
from benchtemp.logbook.index import Choices, LogbookIndex, Updated
from benchtemp.window.logbook_page.acting import Acting
from benchtemp.window.logbook_page.ask_row import AskRow
from benchtemp.window.logbook_page.check_view import CheckView
from benchtemp.window.logbook_page.detail import Detail
from benchtemp.window.logbook_page.export_form import ExportForm
from benchtemp.window.logbook_page.filter_bar import FilterBar
from benchtemp.window.logbook_page.kept import keep_split, kept_split
from benchtemp.window.logbook_page.listing import EMPTY, Listing
from benchtemp.window.logbook_page.looked import Chosen, look_into
from benchtemp.window.logbook_page.message_line import MessageLine
from benchtemp.window.logbook_page.upkeep import Upkeep
from benchtemp.window.panel import Panel, SourceChoice
from benchtemp.window.sources.background import Background
from benchtemp.window.sources.choices import replay_choice

if TYPE_CHECKING:
    from collections.abc import Sequence

    from PySide6.QtGui import QHideEvent, QKeyEvent, QShowEvent

    from benchtemp.units import TempUnit
    from benchtemp.window.theme import Theme

_LOOK_MS = 60
"""How long the selection rests before files are opened: going through the list with a key held down."""
_SPLIT = (720, 280)
"""Room for list and details, in proportion."""


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
        self.title = QLabel("Logbook")
        self.filters = FilterBar()
        self.listing = Listing(self.index, self.filters)
        self.shots, self.list = self.listing.shots, self.listing.list
        self.detail = Detail()
        self.check = CheckView()
        self.ask = AskRow()
        self.export = ExportForm()
        self.message = MessageLine()
        self.actions = QHBoxLayout()
        self._split = QSplitter(Qt.Orientation.Horizontal)
        self._stack = QStackedWidget()
        self.upkeep = Upkeep(logbook, self.index, self)
        self._looking = Background(self, name="details")
        self._opening = Background(self, name="recording")
        self._look_timer = QTimer(self)
        self._look_timer.setSingleShot(True)
        self._look_timer.setInterval(_LOOK_MS)
        self.acting = Acting(self)
        self._lay_out()
        self._connect()

    def _lay_out(self) -> None:
        self.actions.setSpacing(6)
        self.filters.more.addWidget(self.listing.columns)
        self._split.addWidget(self.listing)
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
        self.filters.list_asked.connect(self.take_focus)
        self.listing.found.connect(self._show_found)
        self.listing.failed.connect(self._tell_trouble)
        self.list.chosen_changed.connect(self._choose)
        self.list.replay_asked.connect(self.replay)
        self.list.edit_asked.connect(self.detail.take_focus)
        self.list.bin_asked.connect(self.acting.move)
        upkeep = self.upkeep
        upkeep.moved.connect(self.listing.search)
        upkeep.settled.connect(self._take_update)
        upkeep.choices_found.connect(self._take_choices)
        upkeep.told.connect(self.message.show_progress)
        upkeep.failed.connect(self._tell_trouble)
        self._look_timer.timeout.connect(self._look)
        self._looking.done.connect(self._take_looked)
        self._looking.failed.connect(self._tell_trouble)
        self._opening.done.connect(self._open)
        self._opening.failed.connect(self._tell_trouble)
        shortcut = QShortcut(QKeySequence.StandardKey.Find, self)
        shortcut.setContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
        shortcut.activated.connect(self.go_to_search)

    # -- look ----------------------------------------------------------------------------------------------

    def set_theme(self, theme: Theme) -> None:
        """Take colours and fonts anew."""
        super().set_theme(theme)
        self.title.setFont(theme.font(1.5, bold=True))
        for panel in (self.listing, self.detail, self.check):
            panel.set_theme(theme)
        self.detail.setMinimumWidth(self.fontMetrics().averageCharWidth() * 42)

    def set_unit(self, unit: TempUnit) -> None:
        """Show temperatures in another unit."""
        super().set_unit(unit)
        self.listing.set_unit(unit)
        self.detail.set_unit(unit)

    # -- what is shown -------------------------------------------------------------------------------------

    @property
    def in_bin(self) -> bool:
        """Tell whether the bin is listed in place of the logbook."""
        return self.listing.index is self._bin

    @property
    def shown(self) -> LogbookIndex:
        """Return the index of what is listed: of the logbook, or of its bin."""
        return self.listing.index

    @property
    def chosen_shots(self) -> tuple[str, ...]:
        """Return the places of the shots selected; of very many files they are told a moment later."""
        return () if self.in_bin else self.listing.chosen_shots or ()

    @property
    def chosen(self) -> tuple[Path, ...]:
        """Return the files of the shots selected."""
        return tuple(self._logbook.root / place for place in self.chosen_shots)

    @property
    def busy(self) -> bool:
        """Tell whether anything is being read, searched or done."""
        works = (self.listing, self.upkeep, self._looking, self._opening, self.acting)
        return self.filters.waiting or self._look_timer.isActive() or any(work.busy for work in works)

    @Slot()
    def read(self) -> None:
        """Show what is known at once, and look for what is new in the background."""
        self.listing.search()
        self.upkeep.begin()

    @Slot()
    def take_focus(self) -> None:
        """Put the focus on the list."""
        self.list.setFocus()

    @Slot()
    def go_to_search(self) -> None:
        """Go to the search field."""
        if self._stack.currentWidget() is self.check:
            self.acting.leave_check()
        self.filters.search.setFocus()
        self.filters.search.selectAll()

    def show_files(self, paths: Sequence[Path]) -> None:
        """Show certain files of the logbook, chosen in the list, whatever was asked for before."""
        if self._stack.currentWidget() is self.check:
            self.acting.leave_check()
        self.listing.choose(filter(None, map(self.index.place_of, paths)))
        self.show_bin(shown=False)

    def show_bin(self, *, shown: bool) -> None:
        """List what was thrown away, or the logbook again."""
        self.detail.commit()
        self.listing.index = self._bin if shown else self.index
        self.title.setText("Bin" if shown else "Logbook")
        self.filters.clear()
        self.upkeep.show_index(self.shown)
        self.take_focus()

    def show_check(self, *, shown: bool) -> None:
        """Show the check of all files, or the list again."""
        self._stack.setCurrentWidget(self.check if shown else self._split)
        for slip in (self.ask, self.export):
            slip.put_away()
        self.filters.setVisible(not shown)
        self.acting.bar.setVisible(not shown)
        self.message.clear()
        self.message.counts.setVisible(not shown)
        self.acting.offer_undo(offered=not shown)
        if not shown:
            self.take_focus()

    @Slot()
    def _show_found(self) -> None:
        self.export.show_files(self.list.chosen, self.shots.places)
        if self.shots.places or self.upkeep.reading:
            words = ""
        elif self.filters.narrows:
            words = "Nothing is found. Take a word or a filter away, or clear them all."
        else:
            words = "The bin is empty." if self.in_bin else EMPTY
        self.listing.empty.setText(words)
        self.listing.empty.setVisible(bool(words))

    # -- details -------------------------------------------------------------------------------------------

    @Slot()
    def _choose(self) -> None:
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
        if self.listing.chosen_shots is None:
            self.listing.take_rows(chosen.rows)
            self.acting.fit(self.list.chosen)
            self.chosen_changed.emit()

    # -- keeping up ----------------------------------------------------------------------------------------

    def renew(self) -> None:
        """Show what has just been done to files; the index knows it already."""
        self.listing.search()
        self.upkeep.update()

    @Slot(object)
    def _take_update(self, updated: Updated) -> None:
        if not updated.complete:
            self.message.say("Stopped. Not all files are listed yet; the rest is read when you come back.")
        self.listing.settle()

    @Slot(object)
    def _take_choices(self, choices: Choices) -> None:
        self.filters.set_machines(choices.machines)
        self.listing.columns.set_tags(tuple(choices.tags))
        self.detail.set_known(choices.tags)

    @Slot(str)
    def _tell_trouble(self, sentence: str) -> None:
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

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Go back with Esc: from the bin to the logbook, from anywhere else to the list."""
        if event.key() != Qt.Key.Key_Escape:
            super().keyPressEvent(event)
        elif self.in_bin:
            self.show_bin(shown=False)
        else:
            self.take_focus()

    def showEvent(self, event: QShowEvent) -> None:
        """Look again if something changed meanwhile."""
        super().showEvent(event)
        self.acting.order_tabs()
        self.upkeep.set_seen(seen=True)

    def hideEvent(self, event: QHideEvent) -> None:
        """Take what is being typed, and remember how the list looks."""
        super().hideEvent(event)
        self.upkeep.set_seen(seen=False)
        self.detail.commit()
        self.listing.keep()

    def close_down(self) -> None:
        """Take what is being typed, and wait for what is being done."""
        self.detail.commit()
        self._look_timer.stop()
        self.filters.stop()
        self.acting.close_down()
        self.upkeep.close_down()
        self.listing.close_down()
        for work in (self._looking, self._opening):
            work.join()
        keep_split(self._split.saveState())
