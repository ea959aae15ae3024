"""A trainee's scores from round to round, as a small chart."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pyqtgraph as pg
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QVBoxLayout, QWidget

from benchtemp.window.panel import Panel
from benchtemp.window.panels.labels import heading, quiet
from benchtemp.window.plot.canvas import pen

if TYPE_CHECKING:
    from PySide6.QtGui import QWheelEvent

    from benchtemp.teaching.scores import Progress
    from benchtemp.window.theme import Theme

_ROUNDS_LEAST = 5


class _Ground(pg.PlotWidget):  # type: ignore[misc]  # pyqtgraph has no types
    """A plot that is only looked at."""

    def __init__(self) -> None:
        super().__init__(enableMenu=False)
        plot = self.getPlotItem()
        plot.hideButtons()
        plot.setMouseEnabled(x=False, y=False)
        plot.disableAutoRange()
        for side in ("left", "bottom"):
            axis = plot.getAxis(side)
            axis.enableAutoSIPrefix(enable=False)
            axis.setStyle(tickLength=-4, autoReduceTextSpace=False, maxTickLevel=0)
            axis.setGrid(255)
            axis.setZValue(-200)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)

    def wheelEvent(self, event: QWheelEvent) -> None:
        """Let the page scroll."""
        event.ignore()


class ProgressChart(Panel):
    """Points of every whole round, 0 to 100, with a sentence."""

    def __init__(self, parent: QWidget | None = None, *, lines: int = 9) -> None:
        """Make an empty chart.

        Args:
            parent: Widget it belongs to.
            lines: Height of the plot, in lines of text.
        """
        super().__init__(parent)
        self._lines = lines
        self.setProperty("look", "surface")
        self.setAccessibleName("Progress")
        self._scores: tuple[float, ...] = ()
        self.title = heading("Progress")
        self.sentence = quiet("No whole round yet.", wrap=True)
        self.plot = _Ground()
        self._curve = pg.PlotDataItem(symbol="o", antialias=True)
        self.plot.addItem(self._curve)
        column = QVBoxLayout(self)
        column.setContentsMargins(12, 8, 12, 8)
        column.setSpacing(4)
        column.addWidget(self.title)
        column.addWidget(self.sentence)
        column.addWidget(self.plot, 1)
        self.plot.hide()

    @property
    def scores(self) -> tuple[float, ...]:
        """Return what is drawn."""
        return self._scores

    def set_theme(self, theme: Theme) -> None:
        """Draw in a theme's colours: plots do not follow a palette."""
        super().set_theme(theme)
        self.plot.setFixedHeight(int(self.fontMetrics().lineSpacing() * self._lines))
        self.plot.setBackground(theme.surface)
        font = theme.font(0.95, figures=True)
        plot = self.plot.getPlotItem()
        for side, title in (("left", "Points"), ("bottom", "Round")):
            axis = plot.getAxis(side)
            axis.setPen(pg.mkPen(theme.grid))
            axis.setTextPen(pg.mkPen(theme.soft))
            axis.setTickFont(font)
            axis.setLabel(title, color=theme.soft)
        plot.getAxis("left").setTicks([[(value, str(value)) for value in (0, 25, 50, 75, 100)]])
        colour = theme.channel(0).colour
        self._curve.setPen(pen(colour, (), 2.0))
        self._curve.setSymbolPen(pen(colour))
        self._curve.setSymbolBrush(pg.mkBrush(colour))
        self._curve.setSymbolSize(8)

    def show_progress(self, name: str, progress: Progress | None) -> None:
        """Show how somebody is getting on; None where nobody is named."""
        self.title.setText(f"Progress of {name}" if name else "Progress")
        self._scores = () if progress is None else progress.scores
        sentence = "Type a name, and scores are kept." if progress is None else progress.sentence
        self.sentence.setText(sentence)
        self.plot.setVisible(bool(self._scores))
        count = len(self._scores)
        rounds = list(range(1, count + 1))
        self._curve.setData(rounds, list(self._scores))
        view = self.plot.getPlotItem().getViewBox()
        last = max(count, _ROUNDS_LEAST)
        view.setXRange(0.5, last + 0.5, padding=0)
        view.setYRange(-10.0, 110.0, padding=0)
        step = max(1, last // 8)
        ticks = [(number, str(number)) for number in range(1, last + 1, step)]
        self.plot.getPlotItem().getAxis("bottom").setTicks([ticks])
        self.setAccessibleDescription(sentence)
