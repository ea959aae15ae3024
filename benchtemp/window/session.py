"""The window's hold on the bench: begins and ends sittings, polls snapshots, carries out commands."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, QTimer, Signal, Slot

from benchtemp.errors import BenchtempError
from benchtemp.readings.reading import MarkKind

if TYPE_CHECKING:
    from benchtemp.bench.live import LiveBench
    from benchtemp.bench.snapshot import Event, Snapshot
    from benchtemp.window.panel import SourceChoice

TICK_MS = 20
"""How often it is asked whether there is a new reading, so that one is shown without delay."""
SHOW_EVERY_S = 0.095
"""How often the bench is shown at least while a sitting runs: the pump time's last figure is a tenth."""
SHOW_AGAIN_AFTER_S = 0.04
"""How soon at the earliest one new reading after another is shown: fast sources must not flood the window."""
IDLE_TICK_MS = 500

StartBench = Callable[["SourceChoice"], "LiveBench"]
"""Makes the live bench of a choice, not yet started."""


class Session(QObject):
    """Owns the live bench of the window, if any. All of it happens in the window's thread.

    Signals:
        looked: The latest `Snapshot`, 10 to 25 times a second while a sitting runs; None once none does.
        happened: One `Event` of the bench, in order.
        begun: A sitting was begun; carries its `SourceChoice`.
        ended: A sitting has ended; its files are closed.
        failed: The source could not be opened or broke for good; the sentence says what to do.
    """

    looked = Signal(object)
    happened = Signal(object)
    begun = Signal(object)
    ended = Signal()
    failed = Signal(str)

    def __init__(self, start_bench: StartBench, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._start_bench = start_bench
        self._live: LiveBench | None = None
        self.choice: SourceChoice | None = None
        self.snapshot: Snapshot | None = None
        self._note_began_s: float | None = None
        self._timer = QTimer(self)
        self._timer.setInterval(IDLE_TICK_MS)
        self._timer.timeout.connect(self._tick)
        self._shown_s = self._shown_new_s = float("-inf")
        self._shown_reading_s: float | None = None
        self._timer.start()

    @property
    def running(self) -> bool:
        """Tell whether a sitting is under way."""
        return self._live is not None

    # -- sittings ------------------------------------------------------------------------------------------

    def begin(self, choice: SourceChoice) -> None:
        """End what runs and begin a sitting with another source."""
        self.end()
        try:
            live = self._start_bench(choice)
        except BenchtempError as error:
            self.failed.emit(str(error))
            return
        self._live, self.choice = live, choice
        live.start()
        self._timer.setInterval(TICK_MS)
        self.begun.emit(choice)

    def end(self) -> None:
        """Stop the bench: what is open is settled and its files are closed before this returns."""
        live = self._live
        if live is None:
            return
        live.stop()
        self._tell(live)
        self._live = None
        self.choice = None
        self.snapshot = None
        self._timer.setInterval(IDLE_TICK_MS)
        self.ended.emit()
        self.looked.emit(None)

    def close(self) -> None:
        """End the sitting and stop looking, for good."""
        self.end()
        self._timer.stop()

    # -- looking -------------------------------------------------------------------------------------------

    @Slot()
    def _tick(self) -> None:
        live = self._live
        if live is None:
            return
        latest = live.snapshot
        now_s = time.perf_counter()
        new = latest is not None and latest.last_s != self._shown_reading_s
        if new and now_s - self._shown_new_s >= SHOW_AGAIN_AFTER_S:
            self._shown_new_s = now_s
        elif now_s - self._shown_s < SHOW_EVERY_S:
            return
        self.look()

    def look(self) -> None:
        """Fetch events and the latest snapshot and hand them round."""
        live = self._live
        if live is None:
            return
        self._shown_s = time.perf_counter()
        self.snapshot = live.snapshot
        self._shown_reading_s = self.snapshot.last_s if self.snapshot else None
        over = self._tell(live)
        if self._live is not live:  # a receiver has ended this sitting or begun another
            return
        if self.snapshot is not None:
            self.looked.emit(self.snapshot)
        if over:
            self.end()

    def _tell(self, live: LiveBench) -> bool:
        """Emit what happened; tell whether the bench has ended by itself."""
        for event in live.drain_events():
            self._emit(event)
        return not live.running

    def _emit(self, event: Event) -> None:
        from benchtemp.bench.snapshot import SourceFailed  # noqa: PLC0415 - not needed to paint

        self.happened.emit(event)
        if isinstance(event, SourceFailed):
            self.failed.emit(event.reason)

    # -- what the user wants -------------------------------------------------------------------------------

    @Slot()
    def press(self) -> None:
        """Press the pump key now."""
        if self._live:
            self._live.press()

    @Slot()
    def undo(self) -> None:
        """Take the last pump mark back."""
        self._mark(MarkKind.UNDO)

    @Slot()
    def tare(self) -> None:
        """Set the scale to zero."""
        if self._live:
            self._live.tare()

    @Slot()
    def begin_note(self) -> None:
        """Take the time for a note that is about to be typed."""
        self._note_began_s = self._live.source.now_s() if self._live else None

    @Slot(str)
    def note(self, text: str) -> None:
        """Make a note, with the time at which it was begun."""
        if text.strip() and self._live:
            self._live.mark(MarkKind.NOTE, text, self._note_began_s)
        self._note_began_s = None

    @Slot(str)
    def enter(self, text: str) -> None:
        """Enter a value, given as the text of a `set` mark."""
        self._mark(MarkKind.SET, text)

    def _mark(self, kind: MarkKind, text: str = "") -> None:
        if self._live:
            self._live.mark(kind, text)
