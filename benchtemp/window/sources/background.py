"""Work that must not hold up the window: done in a thread, its outcome delivered in the window's own."""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Any

from PySide6.QtCore import QObject, QTimer, Signal, Slot

from benchtemp.errors import BenchtempError

_LOOK_MS = 40


class Background(QObject):
    """Runs one piece of work at a time; a newer one makes the outcome of an older one worthless.

    The thread never touches a Qt object: it leaves its outcome in a plain list that a timer looks into.

    Signals:
        done: What the work returned.
        failed: The sentence of the BenchtempError it raised.
    """

    done = Signal(object)
    failed = Signal(str)

    def __init__(self, parent: QObject | None = None, *, name: str = "work") -> None:
        super().__init__(parent)
        self._name = name
        self._outcome: list[Any] | None = None
        self._thread: threading.Thread | None = None
        self._timer = QTimer(self)
        self._timer.setInterval(_LOOK_MS)
        self._timer.timeout.connect(self._look)

    @property
    def busy(self) -> bool:
        """Tell whether an outcome is awaited."""
        return self._outcome is not None

    def start(self, work: Callable[[], object]) -> None:
        """Do `work` in the background; what was under way goes on, but nobody hears of it."""
        outcome: list[Any] = []
        self._outcome = outcome
        self._thread = threading.Thread(target=_do, args=(work, outcome), name=self._name, daemon=True)
        self._thread.start()
        self._timer.start()

    def forget(self) -> None:
        """Wait for nothing any more."""
        self._outcome = None
        self._timer.stop()

    def join(self, timeout_s: float = 5.0) -> None:
        """Wait for the thread itself, for an orderly end."""
        self.forget()
        if self._thread is not None:
            self._thread.join(timeout_s)

    @Slot()
    def _look(self) -> None:
        if not self._outcome:
            return
        outcome = self._outcome[0]
        self.forget()
        if isinstance(outcome, BenchtempError):
            self.failed.emit(str(outcome))
        elif isinstance(outcome, BaseException):
            raise outcome
        else:
            self.done.emit(outcome)


def _do(work: Callable[[], object], outcome: list[Any]) -> None:
    try:
        found = work()
    except BaseException as error:  # noqa: BLE001 - raised again in the window's thread, where it is seen
        outcome.append(error)
    else:
        outcome.append(found)
