"""Keeping the list in step with the files, whoever changes them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Qt, QTimer, Signal, Slot
from PySide6.QtGui import QGuiApplication

from benchtemp.window.logbook_page.running import Running
from benchtemp.window.logbook_page.watch import FolderWatch
from benchtemp.window.sources.background import Background

if TYPE_CHECKING:
    from benchtemp.logbook.folder import Logbook
    from benchtemp.logbook.index import LogbookIndex, Updated

_LIST_AGAIN_MS = 1500
"""How often the list is renewed while very many files are being read."""


class Upkeep(QObject):
    """Brings an index up to date in the background: when asked, and when files come, change or go.

    Signals:
        moved: More is known than before; the list should be asked for again.
        settled: Carries the `Updated`: all that is there is known, or it was stopped.
        choices_found: Carries the `Choices`: machines and tags that occur.
        told: What is being read, empty when nothing is any more.
        failed: A sentence on what could not be read.
    """

    moved = Signal()
    settled = Signal(object)
    choices_found = Signal(object)
    told = Signal(str)
    failed = Signal(str)

    def __init__(self, logbook: Logbook, index: LogbookIndex, parent: QObject) -> None:
        super().__init__(parent)
        self._logbook, self._index = logbook, index
        self._seen = False
        self._stale = True
        self._watch = FolderWatch(self)
        self._reading = Running(self, name="logbook's list")
        self._choosing = Background(self, name="machines and tags")
        self._timer = QTimer(self)
        self._timer.setInterval(_LIST_AGAIN_MS)
        self._timer.timeout.connect(self.moved)
        self._watch.moved.connect(self.notice)
        self._reading.told.connect(self._tell)
        self._reading.failed.connect(self._fail)
        self._choosing.done.connect(self.choices_found)
        app = QGuiApplication.instance()
        assert isinstance(app, QGuiApplication)
        app.applicationStateChanged.connect(self._come_back)

    @property
    def reading(self) -> bool:
        """Tell whether files are being read."""
        return self._reading.busy

    @property
    def busy(self) -> bool:
        """Tell whether anything is being read or waited for."""
        return self._reading.busy or self._choosing.busy or self._timer.isActive()

    def show_index(self, index: LogbookIndex) -> None:
        """Keep another index up to date."""
        self._index = index
        self.update()

    def begin(self) -> None:
        """Watch the folders, and look for what is new."""
        self._watch.watch(self._logbook)
        self.update()

    @Slot()
    def update(self) -> None:
        """Look for what is new."""
        # What changes while files are being read may have been passed already.
        self._stale = self._reading.busy
        if not self._stale:
            self._reading.start("Reading files", self._index.update, self._settle)
            self._timer.start()

    @Slot()
    def rebuild(self) -> None:
        """Make the index anew from the files."""
        self._reading.start("Reading all files", self._index.rebuild, self._settle)
        self._timer.start()

    def cancel(self) -> None:
        """Stop reading."""
        self._reading.cancel()

    def set_seen(self, *, seen: bool) -> None:
        """Know whether the list can be seen; what changes meanwhile is looked for when it is again."""
        self._seen = seen
        if seen and self._stale:
            self.update()

    @Slot()
    def notice(self) -> None:
        """Look again now, or as soon as the list can be seen."""
        if self._seen:
            self.update()
        else:
            self._stale = True

    def _settle(self, updated: Updated) -> None:
        self._timer.stop()
        self._watch.watch(self._logbook)
        self.settled.emit(updated)
        self._choosing.start(self._index.choices)
        if self._stale and updated.complete:
            self.update()

    @Slot(str)
    def _tell(self, words: str) -> None:
        # An update of a moment is not worth a word.
        self.told.emit(words if " of " in words or not words else "")

    @Slot(str)
    def _fail(self, sentence: str) -> None:
        self._timer.stop()
        self.failed.emit(sentence)

    @Slot(Qt.ApplicationState)
    def _come_back(self, state: Qt.ApplicationState) -> None:
        if state is Qt.ApplicationState.ApplicationActive:
            self.notice()

    def close_down(self) -> None:
        """Stop reading, and wait for what is being asked."""
        self._watch.stop()
        self._timer.stop()
        self._reading.finish(stopping=True)
        self._choosing.join()
