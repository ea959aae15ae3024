"""Building the invented workshop's week in the background, whole or not at all."""

from __future__ import annotations

import shutil
import tempfile
import threading
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, QTimer, Signal, Slot

from benchtemp.errors import BenchtempError, StorageError
from benchtemp.logbook.folder import Logbook
from benchtemp.places import default_logbook_dir
from benchtemp.window.sources.background import Background

if TYPE_CHECKING:
    from collections.abc import Callable

NAME = "benchtemp demo week"
_LOOK_MS = 150


class _StoppedError(BenchtempError):
    """The window is being closed."""


def demo_dir() -> Path:
    """Return where the demo week lies: beside the user's own logbook."""
    return default_logbook_dir().with_name(NAME)


class DemoWeek(QObject):
    """Builds the demo week.

    Signals:
        told: What is being done, in words.
        built: Carries the `Logbook`.
        failed: Carries a sentence.
    """

    told = Signal(str)
    built = Signal(object)
    failed = Signal(str)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._work = Background(self, name="demo week")
        self._work.done.connect(self._finish)
        self._work.failed.connect(self._fail)
        self._stop = threading.Event()
        self._said: list[str] = []
        self._timer = QTimer(self)
        self._timer.setInterval(_LOOK_MS)
        self._timer.timeout.connect(self._tell)

    @property
    def busy(self) -> bool:
        """Tell whether it is being built."""
        return self._work.busy

    def begin(self) -> None:
        """Build it, or take the one there is."""
        if self.busy:
            return
        self._said = ["Building the demo week; this takes about a minute."]
        self._tell()
        self._timer.start()
        self._work.start(partial(build, demo_dir(), self._said, self._stop))

    @Slot()
    def _tell(self) -> None:
        days = max(0, len(self._said) - 1)
        count = f" ({days} sittings made)" if days else ""
        self.told.emit(f"{self._said[-1]}{count}")

    @Slot(object)
    def _finish(self, folder: Path) -> None:
        self._timer.stop()
        self.built.emit(Logbook(folder))

    @Slot(str)
    def _fail(self, sentence: str) -> None:
        self._timer.stop()
        self.failed.emit(sentence)

    def close_down(self) -> None:
        """Stop building and wait for the thread; what was half made is removed."""
        self._stop.set()
        self._timer.stop()
        self._work.join(30.0)


def build(folder: Path, said: list[str], stop: threading.Event) -> Path:
    """Build the demo week in a folder, unless it is there already; return the folder.

    Raises:
        StorageError: The disk does not take it.
    """
    from benchtemp.studies.workshop.week import build_week  # noqa: PLC0415 - not needed to paint

    if next(iter(Logbook(folder).shots()), None):
        return folder

    def tell(text: str) -> None:
        if stop.is_set():
            raise _StoppedError("Stopped.")
        said.append(text)

    return _whole(folder, lambda book: build_week(book, tell=tell))


def _whole(folder: Path, fill: Callable[[Logbook], object]) -> Path:
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        half = Path(tempfile.mkdtemp(prefix=".being-built-", dir=folder.parent))
    except OSError as error:
        raise StorageError(f"No folder can be made in {folder.parent}: {error.strerror}.") from error
    try:
        fill(Logbook(half))
        half.replace(folder)
    except OSError as error:
        raise StorageError(
            f"The demo week cannot be put to {folder}: {error.strerror}. Move away what is there."
        ) from error
    finally:
        shutil.rmtree(half, ignore_errors=True)
    return folder
