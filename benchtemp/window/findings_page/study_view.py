"""What a study comes to: the verdict first, then its limits and warnings, charts, tables, shots left out."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Slot
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QFrame, QGridLayout, QHBoxLayout, QLabel, QScrollArea, QVBoxLayout, QWidget

from benchtemp.reports.study_text import left_out_lines, study_text
from benchtemp.window.findings_page.chart_view import ChartView
from benchtemp.window.findings_page.rich_table import table_html
from benchtemp.window.panel import Panel
from benchtemp.window.panels.labels import Wrapped, button, heading, quiet

if TYPE_CHECKING:
    from PySide6.QtGui import QResizeEvent

    from benchtemp.studies.outcome import Study
    from benchtemp.units import TempUnit
    from benchtemp.window.theme import Theme

_LARGE, _LESS_LARGE, _SHORT_CHARS = 1.4, 1.2, 150
"""A verdict is written large; one longer than this less so, to leave room for what it rests on."""
_CHART_CHARS = 62
"""A chart is at least so many characters wide, or it stands alone in its row."""


class StudyView(Panel):
    """Shows one study at a time; made anew for each, and for another unit.

    Attributes:
        action_row: A row beside the title for what can be done with the study shown.
    """

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.study: Study | None = None
        self.charts: list[ChartView] = []
        self._columns = 0
        self.title = quiet()
        self.verdict = Wrapped()
        self.verdict.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.limits = quiet(wrap=True)
        self.copy_button = button("Copy as text", look="flat", tip="Verdict, warnings and tables as text")
        self.copy_button.clicked.connect(self.copy)
        self.room = QScrollArea()
        self.room.setWidgetResizable(True)
        self.room.setFrameShape(QFrame.Shape.NoFrame)
        self.room.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.room.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.room.setAccessibleName("Warnings, charts and tables of the study")
        self._rest: QWidget | None = None
        self._grid = QGridLayout()
        self._tables: list[tuple[QLabel, int]] = []
        self.action_row = QHBoxLayout()
        self.action_row.setSpacing(4)
        self.action_row.addWidget(self.copy_button)
        head = QHBoxLayout()
        head.addWidget(self.title, 1)
        head.addLayout(self.action_row)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(6)
        layout.addLayout(head)
        layout.addWidget(self.verdict)
        layout.addWidget(self.limits)
        layout.addWidget(self.room, 1)

    def set_theme(self, theme: Theme) -> None:
        """Dress all of it."""
        super().set_theme(theme)
        self._fit_verdict()
        for chart in self.charts:
            chart.set_theme(theme)
        self._fill_tables()

    def set_unit(self, unit: TempUnit) -> None:
        """Say all of it in another unit."""
        changed = unit is not self.unit
        super().set_unit(unit)
        if changed and self.study is not None:
            self.show_study(self.study, top=False)

    # -- content -------------------------------------------------------------------------------------------

    def show_study(self, study: Study, *, top: bool = True) -> None:
        """Show a study, from its top or where the last one was being read."""
        self.study = study
        told = study.verdict(self.unit)
        self.title.setText(study.title)
        self.verdict.setText(told.sentence)
        self._fit_verdict()
        self.verdict.setAccessibleName(f"Verdict: {told.sentence}")
        self.limits.setText("; ".join(told.limits))
        at = 0 if top else self.room.verticalScrollBar().value()
        rest = QWidget()
        layout = QVBoxLayout(rest)
        layout.setContentsMargins(0, 4, 8, 8)
        layout.setSpacing(8)
        for concern in told.concerns:
            layout.addWidget(_concern(concern))
        self._grid = QGridLayout()
        self._grid.setSpacing(10)
        layout.addLayout(self._grid)
        self.charts = [ChartView(chart) for chart in study.charts(self.unit)]
        self._columns = 0
        self._place_charts()
        self._add_tables(layout, study)
        self._add_left_out(layout, study)
        layout.addStretch(1)
        # Into its place before it is dressed: moving a widget under a style sheet takes its fonts away.
        self.room.setWidget(rest)
        self._rest = rest
        for chart in self.charts:
            chart.unit = self.unit
            chart.set_theme(self.theme)
        self._fill_tables()
        self.room.verticalScrollBar().setValue(at)

    def _fit_verdict(self) -> None:
        scale = _LARGE if len(self.verdict.text()) <= _SHORT_CHARS else _LESS_LARGE
        self.verdict.setFont(self.theme.font(scale, bold=True, figures=True))

    def _add_tables(self, layout: QVBoxLayout, study: Study) -> None:
        self._tables = []
        for index, table in enumerate(study.tables(self.unit)):
            box = QFrame()
            box.setProperty("look", "surface")
            inner = QVBoxLayout(box)
            inner.setContentsMargins(12, 8, 12, 8)
            inner.addWidget(heading(table.title))
            label = QLabel()
            label.setTextFormat(Qt.TextFormat.RichText)
            label.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
            label.setWordWrap(True)
            label.setAccessibleName(table.title)
            inner.addWidget(label)
            layout.addWidget(box)
            self._tables.append((label, index))

    def _fill_tables(self) -> None:
        if self.study is None:
            return
        tables = self.study.tables(self.unit)
        for label, index in self._tables:
            label.setFont(self.theme.font(figures=True))
            label.setText(table_html(tables[index], self.theme))

    def _add_left_out(self, layout: QVBoxLayout, study: Study) -> None:
        lines = left_out_lines(study)
        if not lines:
            return
        layout.addWidget(heading("Shots left out"))
        text = QLabel("\n".join(lines))
        text.setTextFormat(Qt.TextFormat.PlainText)
        text.setWordWrap(True)
        text.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        layout.addWidget(text)

    def _place_charts(self) -> None:
        least = self.fontMetrics().averageCharWidth() * _CHART_CHARS
        columns = max(1, min(2, len(self.charts), self.width() // max(1, least)))
        if columns == self._columns:
            return
        self._columns = columns
        for place, chart in enumerate(self.charts):
            alone = place == len(self.charts) - 1 and not place % columns
            self._grid.addWidget(chart, place // columns, place % columns, 1, columns if alone else 1)
        for column in range(2):
            self._grid.setColumnStretch(column, 1 if column < columns else 0)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Stand charts side by side where there is room."""
        super().resizeEvent(event)
        self._place_charts()

    @Slot()
    def copy(self) -> None:
        """Put the whole study as text on the clipboard."""
        if self.study is not None:
            QGuiApplication.clipboard().setText(study_text(self.study, self.unit))


def _concern(text: str) -> QFrame:
    box = QFrame()
    box.setProperty("look", "note-caution")
    inner = QVBoxLayout(box)
    inner.setContentsMargins(10, 5, 10, 5)
    label = Wrapped(f"⚠ {text}")
    label.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
    inner.addWidget(label)
    return box
