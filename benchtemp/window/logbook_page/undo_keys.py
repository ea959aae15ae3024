"""The keys that undo: of a field while something was typed into it, else of what was done to files."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QObject, Signal, Slot
from PySide6.QtGui import QGuiApplication, QKeyEvent, QKeySequence
from PySide6.QtWidgets import QApplication, QLineEdit, QPlainTextEdit, QWidget

_KEYS = frozenset({QEvent.Type.ShortcutOverride, QEvent.Type.KeyPress})


class UndoKeys(QObject):
    """Takes the keys from whatever has the focus in a page, before the window takes them for a pump mark.

    Signals:
        undo_asked, redo_asked: The key was pressed, and the field that has the focus has no use for it.
    """

    undo_asked = Signal()
    redo_asked = Signal()

    def __init__(self, page: QWidget) -> None:
        super().__init__(page)
        self._page = page
        app = QGuiApplication.instance()
        assert isinstance(app, QApplication)
        app.focusChanged.connect(self._watch)

    @Slot(QWidget, QWidget)
    def _watch(self, _old: QWidget | None, new: QWidget | None) -> None:
        if new is not None and self._page.isAncestorOf(new):
            new.installEventFilter(self)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Take a key, unless it undoes what was typed."""
        if event.type() not in _KEYS or not isinstance(event, QKeyEvent):
            return False
        redo = event.matches(QKeySequence.StandardKey.Redo)
        if not redo and not event.matches(QKeySequence.StandardKey.Undo):
            return False
        if _has_use(watched, redo=redo):
            return False
        if event.type() is QEvent.Type.KeyPress:
            (self.redo_asked if redo else self.undo_asked).emit()
        event.accept()
        return True


def _has_use(field: QObject, *, redo: bool) -> bool:
    """Tell whether a field has something of its own to undo, or to do again."""
    if isinstance(field, QLineEdit):
        return field.isRedoAvailable() if redo else field.isUndoAvailable()
    if isinstance(field, QPlainTextEdit):
        return field.document().isRedoAvailable() if redo else field.document().isUndoAvailable()
    return False
