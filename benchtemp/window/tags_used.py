"""Tags used before, read from the logbook in the background, to be offered again."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal, Slot

from benchtemp.window.sources.background import Background

if TYPE_CHECKING:
    from benchtemp.logbook.folder import Logbook


class TagsUsed(QObject):
    """What the shots of a logbook were tagged with.

    Attributes:
        used: Values by tag name.

    Signals:
        changed: `used` was read anew.
    """

    changed = Signal()

    def __init__(self, logbook: Logbook, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.used: dict[str, list[str]] = {}
        self._logbook = logbook
        self._work = Background(self, name="tags used earlier")
        self._work.done.connect(self._take)

    @property
    def machines(self) -> tuple[str, ...]:
        """Return the machines tested before."""
        return tuple(self.used.get("machine", ()))

    @Slot()
    def read(self) -> None:
        """Read them again, without waiting."""
        self._work.start(self._logbook.tags_used)

    @Slot(object)
    def _take(self, used: dict[str, list[str]]) -> None:
        self.used = used
        self.changed.emit()

    def close_down(self) -> None:
        """Wait for what is being read."""
        self._work.join()
