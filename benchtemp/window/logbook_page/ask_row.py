"""A question that stands in the page: a sentence, a field for the answer, and what to do with it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QStringListModel, Qt, Signal, Slot
from PySide6.QtWidgets import QHBoxLayout, QLabel, QWidget

from benchtemp.window.fields import TextField
from benchtemp.window.logbook_page.slip import Slip
from benchtemp.window.panels.labels import button
from benchtemp.window.panels.tag_row import completer_for

if TYPE_CHECKING:
    from collections.abc import Sequence


class AskRow(Slip):
    """Asks for some words; Enter gives them, Esc gives up.

    Signals:
        given: The words.
    """

    given = Signal(str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.question = QLabel()
        self.question.setTextFormat(Qt.TextFormat.PlainText)
        self.field = TextField()
        self._offers = QStringListModel(self)
        self.field.setCompleter(completer_for(self._offers, self.field))
        self.field.returnPressed.connect(self._give)
        self.yes_button = button("", look="primary")
        self.yes_button.clicked.connect(self._give)
        self.no_button = button("Cancel (Esc)", look="flat")
        self.no_button.clicked.connect(self.put_away)
        row = QHBoxLayout(self)
        row.setContentsMargins(10, 6, 8, 6)
        row.setSpacing(8)
        row.addWidget(self.question)
        row.addWidget(self.field, 1)
        row.addWidget(self.yes_button)
        row.addWidget(self.no_button)

    def ask(self, question: str, *, hint: str, yes: str, offers: Sequence[str] = (), length_max: int) -> None:
        """Ask, with answers given before on offer."""
        self.question.setText(question)
        self.field.setAccessibleName(question)
        self.field.setPlaceholderText(hint)
        self.field.setMaxLength(length_max)
        self.field.clear()
        self._offers.setStringList(list(offers))
        self.yes_button.setText(yes)
        self.show()
        self.field.setFocus()

    @Slot()
    def _give(self) -> None:
        words = " ".join(self.field.text().split())
        if not words:
            self.field.setFocus()
            return
        self.put_away()
        self.given.emit(words)
