"""The end of a round: its score, shot by shot, and how the trainee is getting on."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QFrame, QGridLayout, QHBoxLayout, QLabel, QScrollArea, QVBoxLayout, QWidget

from benchtemp.teaching.marking import POINTS, Part
from benchtemp.window.panel import Panel
from benchtemp.window.panels.labels import Sentence, button, quiet
from benchtemp.window.practice_page.progress_chart import ProgressChart
from benchtemp.window.practice_page.sentences import PART_NAMES, points_text

if TYPE_CHECKING:
    from benchtemp.teaching.practice import RoundResult
    from benchtemp.window.theme import Theme

_HEADS = ("Shot", *(PART_NAMES[part].removesuffix("?") for part in Part), "Points")


class ScoreView(Panel):
    """Shows what became of a round.

    Signals:
        another_asked: Another round of the same kind.
        left: Back to the choice.
    """

    another_asked = Signal()
    left = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setProperty("look", "page")
        self.step = QLabel()
        self.step.setAccessibleName("What to do next")
        self.step.setWordWrap(True)
        self.score = QLabel()
        self.score.setAccessibleName("Score of the round")
        self.about = quiet(wrap=True)
        self.kept = Sentence(name="Score")
        self.chart = ProgressChart(lines=14)
        self.another_button = button("Another round", look="primary")
        self.left_button = button("Choose something else", tip="Esc")
        self.another_button.clicked.connect(self.another_asked)
        self.left_button.clicked.connect(self.left)
        self._table = QWidget()
        self._grid = QGridLayout(self._table)
        self._grid.setContentsMargins(0, 0, 0, 0)
        self._grid.setHorizontalSpacing(18)
        self._grid.setVerticalSpacing(5)
        self._cells: list[QLabel] = []
        scroll = QScrollArea()
        scroll.setWidgetResizable(True)
        scroll.setFrameShape(QFrame.Shape.NoFrame)
        scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        scroll.setWidget(self._table)
        box = Panel()
        box.setProperty("look", "surface")
        inside = QVBoxLayout(box)
        inside.setContentsMargins(14, 10, 14, 10)
        inside.addWidget(self.score)
        inside.addWidget(self.about)
        inside.addWidget(self.kept)
        inside.addSpacing(6)
        inside.addWidget(scroll, 1)
        foot = QHBoxLayout()
        foot.addWidget(self.left_button)
        foot.addStretch(1)
        foot.addWidget(self.another_button)
        column = QVBoxLayout(self)
        column.setContentsMargins(12, 8, 12, 10)
        column.setSpacing(8)
        column.addWidget(self.step)
        column.addWidget(box, 1)
        column.addWidget(self.chart)
        column.addLayout(foot)

    def set_theme(self, theme: Theme) -> None:
        """Take fonts anew."""
        super().set_theme(theme)
        self.step.setFont(theme.font(1.5, bold=True))
        self.score.setFont(theme.font(2.6, bold=True, figures=True))
        self.chart.set_theme(theme)
        for cell in self._cells:
            cell.setFont(theme.font(figures=True))

    def show_result(self, result: RoundResult) -> None:
        """Show what became of a round."""
        score = result.score
        self.score.setText("No score" if score is None else f"{score:.0f} of 100 points")
        done = f"{len(result.items)} of {result.count} shots"
        self.about.setText(f"{result.title}. {done}{', left before its end' if result.aborted else ''}.")
        self.step.setText("The round is over. Enter begins another one; Esc leads back to the choice.")
        while self._cells:
            cell = self._cells.pop()
            self._grid.removeWidget(cell)
            cell.deleteLater()
        for column, text in enumerate(_HEADS):
            self._cell(0, column, text, head=True)
        for row, item in enumerate(result.items, 1):
            self._cell(row, 0, f"{row}" if not item.skipped else f"{row}, skipped")
            for column, part in enumerate(Part, 1):
                got = item.points.get(str(part), 0.0)
                self._cell(row, column, f"{points_text(round(got, 1))} of {points_text(POINTS[part])}")
            self._cell(row, len(_HEADS) - 1, points_text(round(item.score, 1)))
        self._grid.setColumnStretch(len(_HEADS), 1)
        self._grid.setRowStretch(len(result.items) + 1, 1)

    def _cell(self, row: int, column: int, text: str, *, head: bool = False) -> None:
        label = QLabel(text, self._table)
        label.setFont(self.theme.font(figures=True))
        if head:
            label.setProperty("look", "quiet")
        self._grid.addWidget(label, row, column)
        self._cells.append(label)
