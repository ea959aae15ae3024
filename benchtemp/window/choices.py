"""The user's choices while the window is open: changed at once, kept a moment later."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import msgspec
from PySide6.QtCore import QObject, QTimer, Signal, Slot

from benchtemp.errors import StorageError
from benchtemp.logbook.preferences import load_preferences, save_preferences

if TYPE_CHECKING:
    from benchtemp.logbook.preferences import Preferences

_KEEP_AFTER_MS = 1000


class Choices(QObject):
    """Holds the preferences and keeps them.

    Signals:
        complaint: A sentence when they could not be kept.
    """

    complaint = Signal(str)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.now, self.warning = load_preferences()
        self._kept: Preferences = self.now
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setInterval(_KEEP_AFTER_MS)
        self._timer.timeout.connect(self.keep)

    def change(self, **fields: Any) -> None:
        """Take changed fields of the preferences."""
        changed = msgspec.structs.replace(self.now, **fields)
        if changed != self.now:
            self.take(changed)

    def take(self, preferences: Preferences) -> None:
        """Take changed preferences whole."""
        self.now = preferences
        self._timer.start()

    @Slot()
    def keep(self) -> None:
        """Write them now, if they changed."""
        self._timer.stop()
        if self.now == self._kept:
            return
        try:
            save_preferences(self.now)
        except StorageError as error:
            self.complaint.emit(str(error))
        else:
            self._kept = self.now
