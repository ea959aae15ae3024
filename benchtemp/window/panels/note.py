"""A note, written in place and timed when it is taken."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Signal, Slot
from PySide6.QtWidgets import QHBoxLayout, QWidget

from benchtemp.window.fields import TextField
from benchtemp.window.lesson.lesson import NOTE_LENGTH_MAX as OWN_LENGTH_MAX
from benchtemp.window.panel import Panel
from benchtemp.window.panels.labels import button

if TYPE_CHECKING:
    from benchtemp.bench.snapshot import Snapshot

NOTE_LENGTH_MAX = 300


class NoteEntry(Panel):
    """One line for a note mark; Enter makes the mark and clears the line.

    Signals:
        noted: The note's text, never empty.
        left: Escape was pressed, or a note was given: the focus may go back to the bench.
    """

    noted = Signal(str)
    left = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAccessibleName("Note")
        self.field = TextField(name="Note", hint="note, for instance: cup changed")
        self.field.setMaxLength(NOTE_LENGTH_MAX)
        self.note_button = button("Note it", tip="Put this note into the recording, now")
        self.field.returnPressed.connect(self._give)
        self.note_button.clicked.connect(self._give)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(6)
        row.addWidget(self.field, 1)
        row.addWidget(self.note_button)
        self.setEnabled(False)

    def say_where(self, *, replay: bool) -> None:
        """Say where a note goes: into the recording, or to a teacher's notes on a replay."""
        self.field.setMaxLength(OWN_LENGTH_MAX if replay else NOTE_LENGTH_MAX)
        self.field.setPlaceholderText(
            "your note at this moment, for instance: why does it climb?"
            if replay
            else "note, for instance: cup changed"
        )
        self.note_button.setToolTip(
            "Keep this note beside the recording, which stays as it is"
            if replay
            else "Put this note into the recording, now"
        )

    def show_snapshot(self, snapshot: Snapshot | None) -> None:
        """Take notes only while a source is open."""
        if self.isEnabled() != (snapshot is not None):
            self.setEnabled(snapshot is not None)

    @Slot()
    def _give(self) -> None:
        text = " ".join(self.field.text().split())
        if not text:
            self.field.setFocus()
            return
        self.field.clear()
        self.noted.emit(text)
        self.left.emit()
