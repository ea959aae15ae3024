"""Long work on the page: one piece after the other, with its progress, and a way to stop it."""

from __future__ import annotations

import threading
from collections import deque
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QObject, QTimer, Signal, Slot

from benchtemp.errors import BenchtempError
from benchtemp.window.sources.background import Background

if TYPE_CHECKING:
    from collections.abc import Callable

_TELL_MS = 120
Work = "Callable[[Callable[[int, int], None], Callable[[], bool]], object]"
"""Gets what it tells (done, in all) to, and what tells it to stop."""


@dataclass
class _Piece:
    """One piece of work; the thread writes `done` and `total`, the window reads them."""

    words: str
    work: Callable[[Callable[[int, int], None], Callable[[], bool]], object]
    after: Callable[[Any], None]
    done: int = 0
    total: int = 0
    stopped: threading.Event = field(default_factory=threading.Event)

    def tell(self, done: int, total: int) -> None:
        self.done, self.total = done, total

    def __call__(self) -> object:
        return self.work(self.tell, self.stopped.is_set)


class Running(QObject):
    """Does pieces of work in their order, none of them lost.

    Signals:
        told: What is being done and how far it is, empty when nothing is any more.
        failed: The sentence of a BenchtempError.
    """

    told = Signal(str)
    failed = Signal(str)

    def __init__(self, parent: QObject | None = None, *, name: str = "work") -> None:
        super().__init__(parent)
        self._waiting: deque[_Piece] = deque()
        self._now: _Piece | None = None
        self._background = Background(self, name=name)
        self._background.done.connect(self._take)
        self._background.failed.connect(self._fail)
        self._timer = QTimer(self)
        self._timer.setInterval(_TELL_MS)
        self._timer.timeout.connect(self._tell)

    @property
    def busy(self) -> bool:
        """Tell whether something is being done or waits."""
        return self._now is not None

    def start(
        self,
        words: str,
        work: Callable[[Callable[[int, int], None], Callable[[], bool]], object],
        after: Callable[[Any], None],
    ) -> None:
        """Do some work after what is under way.

        Args:
            words: What is being done, such as `Checking`.
            work: Done in a thread; gets `progress(done, total)` and `cancelled()`.
            after: Gets what it returned, in the window's thread.
        """
        self._waiting.append(_Piece(words, work, after))
        if self._now is None:
            self._next()

    @Slot()
    def cancel(self) -> None:
        """Stop what is under way as soon as it asks; what waits is still done."""
        if self._now is not None:
            self._now.stopped.set()

    def finish(self, *, stopping: bool = False) -> None:
        """Wait for what is under way, and do what waits right here, for an orderly end.

        Args:
            stopping: Ask what is under way to stop, where nothing is lost by it.
        """
        if stopping:
            self.cancel()
        self._timer.stop()
        self._background.join(30.0)
        for piece in self._waiting:
            try:
                piece()
            except BenchtempError as error:
                self.failed.emit(str(error))
        self._waiting.clear()
        self._now = None

    def _next(self) -> None:
        self._now = self._waiting.popleft() if self._waiting else None
        if self._now is None:
            self._timer.stop()
            self.told.emit("")
            return
        self._timer.start()
        self._background.start(self._now)

    @Slot()
    def _tell(self) -> None:
        piece = self._now
        if piece is None:
            return
        if not self._background.busy:  # it broke, which is told elsewhere; the others must not wait for ever
            self._next()
            return
        far = f"{piece.done:,} of {piece.total:,}" if piece.total else ""
        words = "Stopping" if piece.stopped.is_set() else piece.words
        self.told.emit(f"{words}: {far}" if far else f"{words}.")

    @Slot(object)
    def _take(self, outcome: object) -> None:
        piece = self._now
        assert piece is not None
        self._next()
        piece.after(outcome)

    @Slot(str)
    def _fail(self, sentence: str) -> None:
        self._next()
        self.failed.emit(sentence)
