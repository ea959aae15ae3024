"""Faults of ours: written down and told in the window, while the recording goes on."""

from __future__ import annotations

import sys
import threading
import traceback
from collections import deque
from datetime import datetime
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, QTimer, Signal, Slot

from benchtemp.places import cache_dir

if TYPE_CHECKING:
    from pathlib import Path
    from types import TracebackType

_LOOK_MS = 1000
_SIZE_MAX = 1_000_000


def fault_file() -> Path:
    """Return the file faults are written to."""
    return cache_dir() / "faults.log"


class Faults(QObject):
    """Catches what no code of ours caught, in slots and in threads.

    Signals:
        told: A sentence about a fault, for the window; emitted in the window's thread.
    """

    told = Signal(str)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._waiting: deque[str] = deque(maxlen=20)
        self._before = (sys.excepthook, threading.excepthook)
        sys.excepthook = self._take
        threading.excepthook = self._take_from_thread
        self._timer = QTimer(self)
        self._timer.setInterval(_LOOK_MS)
        self._timer.timeout.connect(self.look)
        self._timer.start()

    def let_go(self) -> None:
        """Give the hooks back."""
        self._timer.stop()
        sys.excepthook, threading.excepthook = self._before

    @Slot()
    def look(self) -> None:
        """Tell what has come since the last look."""
        while self._waiting:
            self.told.emit(self._waiting.popleft())

    def _take(self, kind: type[BaseException], error: BaseException, trace: TracebackType | None) -> None:
        if issubclass(kind, KeyboardInterrupt):
            self._before[0](kind, error, trace)
            return
        text = "".join(traceback.format_exception(kind, error, trace))
        sys.stderr.write(text)
        where = self._write_down(text)
        self._waiting.append(
            f"benchtemp has a fault ({kind.__name__}: {error}). The recording goes on; more is in {where}."
        )

    def _take_from_thread(self, args: threading.ExceptHookArgs) -> None:
        if args.exc_value is not None:
            self._take(args.exc_type, args.exc_value, args.exc_traceback)

    @staticmethod
    def _write_down(text: str) -> str:
        path = fault_file()
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            mode = "w" if path.exists() and path.stat().st_size > _SIZE_MAX else "a"
            with path.open(mode, encoding="utf-8") as file:
                file.write(f"{datetime.now().astimezone().isoformat(timespec='seconds')}\n{text}\n")
        except OSError:
            return "the terminal"
        return str(path)
