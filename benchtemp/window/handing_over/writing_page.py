"""What the pages that write documents have in common: they say how it goes, and lead back with Esc."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal, Slot

from benchtemp.window.panel import Panel

if TYPE_CHECKING:
    from PySide6.QtGui import QKeyEvent

    from benchtemp.window.panels.labels import Sentence


class WritingPage(Panel):
    """A page that makes a document in a thread.

    Attributes:
        status: One line that says how it goes.

    Signals:
        left: Back to where the user came from; what is being written goes on.
    """

    left = Signal()
    status: Sentence

    def _show_buttons(self) -> None:
        """Offer what can be done now."""

    @Slot(str)
    def _tell(self, words: str) -> None:
        if words:
            self.status.say(words, "quiet")
        elif self.status.property("look") == "quiet":
            self.status.say("")
        self._show_buttons()

    @Slot(str)
    def _fail(self, sentence: str) -> None:
        self.status.say(sentence, "bad")
        self._show_buttons()

    def read(self) -> None:
        """Nothing grows old here: shots are read when they are given."""

    @Slot()
    def leave(self) -> None:
        """Go back; what is being written goes on."""
        self.left.emit()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Go back with Esc."""
        if event.key() == Qt.Key.Key_Escape:
            self.leave()
        else:
            event.ignore()
