"""What became of an answer: the trainee's values beside the reference, points, and what to learn from it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QScrollArea, QVBoxLayout, QWidget

from benchtemp.teaching.marking import Part
from benchtemp.window.panel import Panel
from benchtemp.window.panels.labels import button, quiet
from benchtemp.window.practice_page.sentences import PART_NAMES, difference_text, points_text, value_text
from benchtemp.window.theme import repolish

if TYPE_CHECKING:
    from benchtemp.teaching.marking import Marking, PartMark
    from benchtemp.units import TempUnit
    from benchtemp.window.theme import Theme


class PartView(QWidget):
    """One part of a marking."""

    def __init__(self, part: Part) -> None:
        super().__init__()
        self.part = part
        self.name = QLabel(PART_NAMES[part])
        self.points = QLabel()
        self.points.setAccessibleName(f"Points for {PART_NAMES[part].lower()}")
        self.values = QLabel()
        self.values.setTextFormat(Qt.TextFormat.PlainText)
        self.values.setWordWrap(True)
        self.sentence = quiet(wrap=True)
        head = QHBoxLayout()
        head.setSpacing(8)
        head.addWidget(self.name, 1)
        head.addWidget(self.points)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(1)
        column.addLayout(head)
        column.addWidget(self.values)
        column.addWidget(self.sentence)

    def restyle(self, theme: Theme) -> None:
        """Take fonts anew."""
        self.name.setFont(theme.font(1.05, bold=True))
        self.points.setFont(theme.font(1.05, bold=True, figures=True))
        self.values.setFont(theme.font(figures=True))

    def show_mark(self, mark: PartMark, unit: TempUnit) -> None:
        """Show what became of the part."""
        full = mark.points >= mark.points_max
        sign, look = ("✓", "good") if full else ("✕", "bad") if mark.points <= 0 else ("·", "caution")
        self.points.setText(f"{sign} {points_text(mark.points)} of {points_text(mark.points_max)}")
        if self.points.property("look") != look:
            self.points.setProperty("look", look)
            repolish(self.points)
        given = value_text(mark.part, mark.given, unit)
        reference = value_text(mark.part, mark.reference, unit)
        off = difference_text(mark, unit)
        self.values.setText(f"Yours {given}, reference {reference}{f', {off}' if off else ''}")
        self.sentence.setText(mark.sentence)


class MarkingView(Panel):
    """All parts of one marking.

    Signals:
        again_asked: Watch the shot again.
        went_on: To the next shot, or to the score.
    """

    again_asked = Signal()
    went_on = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setProperty("look", "surface")
        self.setAccessibleName("Marking")
        self._marking: Marking | None = None
        self.title = QLabel()
        self.parts = {part: PartView(part) for part in Part}
        self.basis = quiet(wrap=True)
        self.again_button = button("Watch again", look="flat", tip="For practice; the first answer is scored")
        self.on_button = button("Next shot", look="primary")
        self.again_button.clicked.connect(self.again_asked)
        self.on_button.clicked.connect(self.went_on)
        inner = QWidget()
        body = QVBoxLayout(inner)
        body.setContentsMargins(0, 0, 6, 0)
        body.setSpacing(8)
        for view in self.parts.values():
            body.addWidget(view)
        body.addWidget(self.basis)
        body.addStretch(1)
        scroll = QScrollArea()
        scroll.setWidgetResizable(True)
        scroll.setFrameShape(QFrame.Shape.NoFrame)
        scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        scroll.setWidget(inner)
        foot = QHBoxLayout()
        foot.addWidget(self.again_button)
        foot.addStretch(1)
        foot.addWidget(self.on_button)
        column = QVBoxLayout(self)
        column.setContentsMargins(12, 10, 12, 10)
        column.setSpacing(8)
        column.addWidget(self.title)
        column.addWidget(scroll, 1)
        column.addLayout(foot)

    def set_theme(self, theme: Theme) -> None:
        """Take fonts anew."""
        super().set_theme(theme)
        self.title.setFont(theme.font(1.5, bold=True, figures=True))
        for view in self.parts.values():
            view.restyle(theme)

    def show_marking(self, marking: Marking, basis: str, *, last: bool, tries: int) -> None:
        """Show what became of an answer.

        Args:
            marking: It.
            basis: What the reference rests on.
            last: Whether this was the round's last shot.
            tries: How often the shot was handed in.
        """
        points = points_text(round(marking.points, 1))
        title = "Skipped" if marking.skipped else f"{points} of 100 points"
        self.title.setText(title if tries <= 1 else f"{title}, for practice")
        for mark in marking.parts:
            self.parts[mark.part].show_mark(mark, self.unit)
        self.basis.setText(f"The reference is {basis}.")
        self.on_button.setText("To your score" if last else "Next shot")

    def clear(self) -> None:
        """Hold nothing of a marking that is over: it would be an answer."""
        for view in self.parts.values():
            for label in (view.points, view.values, view.sentence):
                label.clear()
        self.title.clear()
        self.basis.clear()
