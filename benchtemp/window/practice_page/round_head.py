"""Above a practice round: what to do next, which shot it is, and the way out."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QHBoxLayout, QLabel, QVBoxLayout, QWidget

from benchtemp.window.panel import Panel
from benchtemp.window.panels.labels import Sentence, button, quiet

if TYPE_CHECKING:
    from benchtemp.teaching.practice import RoundView
    from benchtemp.window.theme import Theme

SITTING_OPEN = "A sitting is open on the Bench. While you practise, its pump key is Ctrl+Space."


class RoundHead(Panel):
    """Says where a round stands.

    Signals:
        leave_asked: The round is to be left.
    """

    leave_asked = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAccessibleName("The round")
        self.step = QLabel()
        self.step.setAccessibleName("What to do next")
        self.step.setWordWrap(True)
        self.place = quiet()
        self.place.setAccessibleName("Place in the round")
        self.leave_button = button("Leave the round", look="flat", tip="Esc, twice")
        self.leave_button.clicked.connect(self.leave_asked)
        self.trouble = Sentence(look="bad", name="Practice")
        self.sitting = Sentence(look="caution", name="Bench")
        row = QHBoxLayout()
        row.setSpacing(12)
        row.addWidget(self.step, 1)
        row.addWidget(self.place)
        row.addWidget(self.leave_button)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(4)
        column.addLayout(row)
        column.addWidget(self.trouble)
        column.addWidget(self.sitting)

    def set_theme(self, theme: Theme) -> None:
        """Take fonts anew."""
        super().set_theme(theme)
        self.step.setFont(theme.font(1.5, bold=True))
        # Two lines have room, so that nothing below moves from sentence to sentence.
        self.step.setFixedHeight(int(self.step.fontMetrics().lineSpacing() * 2) + 4)
        self.place.setFont(theme.font(1.1, figures=True))

    def say_step(self, sentence: str) -> bool:
        """Say what to do next; tell whether that is something new."""
        if self.step.text() == sentence:
            return False
        self.step.setText(sentence)
        return True

    def show_place(self, view: RoundView) -> None:
        """Show which shot it is, and the points so far."""
        place = f"Shot {view.number} of {view.count}"
        if view.scores:
            place += f", so far {sum(view.scores) / len(view.scores):.0f} points"
        if self.place.text() != place:
            self.place.setText(place)

    def show_sitting(self, open_: bool) -> None:  # noqa: FBT001 - a state, named by the method
        """Tell whose the pump key is while a sitting is open on the Bench."""
        self.sitting.say(SITTING_OPEN if open_ else "")
