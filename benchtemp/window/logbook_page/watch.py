"""Noticing that files come, change or go, whoever does it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QFileSystemWatcher, QObject, QTimer, Signal, Slot

if TYPE_CHECKING:
    from benchtemp.logbook.folder import Logbook

_SETTLES_MS = 400
FOLDERS_MAX = 400


class FolderWatch(QObject):
    """Watches the folders of a logbook.

    A file that is changed in place does not change its folder: what calls `moved` should also look when the
    window comes to the front.

    Signals:
        moved: Something in the folders is other than before; told once things have settled for a moment.
    """

    moved = Signal()

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._watcher = QFileSystemWatcher(self)
        self._watcher.directoryChanged.connect(self._wait)
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setInterval(_SETTLES_MS)
        self._timer.timeout.connect(self.moved)

    def watch(self, logbook: Logbook) -> None:
        """Watch the folders that are there now; the newest months if there are very many."""
        wanted = [logbook.root, logbook.recordings_dir, logbook.shots_dir]
        try:
            months = sorted((path for path in logbook.shots_dir.iterdir() if path.is_dir()), reverse=True)
        except OSError:
            months = []
        names = {str(path) for path in [*wanted, *months[:FOLDERS_MAX]] if path.is_dir()}
        watched = set(self._watcher.directories())
        if gone := sorted(watched - names):
            self._watcher.removePaths(gone)
        if new := sorted(names - watched):
            self._watcher.addPaths(new)

    def stop(self) -> None:
        """Watch nothing any more."""
        self._timer.stop()
        if watched := self._watcher.directories():
            self._watcher.removePaths(watched)

    @Slot()
    def _wait(self) -> None:
        self._timer.start()
