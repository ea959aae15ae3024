"""What stands where results would stand while they are hidden."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QLabel, QVBoxLayout, QWidget

from benchtemp.window.panel import Panel
from benchtemp.window.panels.labels import button, quiet

if TYPE_CHECKING:
    from benchtemp.window.theme import Theme


class HiddenCard(Panel):
    """Says that results are hidden, and how to see them.

    Signals:
        shown_asked: Show them.
    """

    shown_asked = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setProperty("look", "surface")
        self.setAccessibleName("Results hidden")
        self.title = QLabel("Results hidden")
        self.words = quiet(
            "Time for questions: When is the plateau reached? What is the brew temperature? "
            "Does the shot count?",
            wrap=True,
        )
        self.show_button = button("Show results (H)", look="primary")
        self.show_button.clicked.connect(self.shown_asked)
        column = QVBoxLayout(self)
        column.setContentsMargins(12, 10, 12, 12)
        column.setSpacing(8)
        column.addWidget(self.title)
        column.addWidget(self.words)
        column.addWidget(self.show_button)

    def set_theme(self, theme: Theme) -> None:
        """Take fonts anew."""
        super().set_theme(theme)
        self.title.setFont(theme.font(1.5, bold=True))
        self.words.setFont(theme.font(1.1))
