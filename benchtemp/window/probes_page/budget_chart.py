"""The contributions to an uncertainty as bars, the largest on top; length, figure and name for each."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QRectF, QSize, Qt
from PySide6.QtGui import QBrush, QColor, QFontMetricsF, QPainter
from PySide6.QtWidgets import QSizePolicy, QWidget

from benchtemp.probes.uncertainty import Budget
from benchtemp.units import TempUnit, delta_to
from benchtemp.window.plot.canvas import pen
from benchtemp.window.theme import LIGHT

if TYPE_CHECKING:
    from PySide6.QtGui import QPaintEvent

    from benchtemp.window.theme import Theme

_LEFT = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter


class BudgetChart(QWidget):
    """One bar per contribution, as long as what it alone adds (k = 1); hatched where it is an estimate."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme: Theme = LIGHT
        self._unit = TempUnit.DEGC
        self._budget: Budget | None = None
        self.setAccessibleName("Contributions to the uncertainty")
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)

    def restyle(self, theme: Theme) -> None:
        """Take a theme's colours and fonts."""
        self._theme = theme
        self.updateGeometry()
        self.update()

    def show_budget(self, budget: Budget | None, unit: TempUnit) -> None:
        """Show a budget's contributions in a unit."""
        self._budget, self._unit = budget, unit
        self.setAccessibleDescription("; ".join(self.lines()))
        self.updateGeometry()
        self.update()

    def lines(self) -> list[str]:
        """Return what the bars say, one text each, the largest first."""
        if self._budget is None:
            return []
        return [
            f"{line.name} {self._figure(line.share_k, share)}{', estimate' if line.estimate else ''}"
            for line, share in self._budget.ranked()
        ]

    def _figure(self, share_k: float, share: float) -> str:
        return f"{delta_to(share_k, self._unit):.3f} {self._unit.symbol}, {100 * share:.0f} %"

    def _row_height(self) -> float:
        return QFontMetricsF(self._theme.font()).height() * 1.45

    def sizeHint(self) -> QSize:
        """Return a row per contribution."""
        rows = 0 if self._budget is None else len(self._budget.contributions)
        return QSize(420, int(rows * self._row_height()) + 6)

    def minimumSizeHint(self) -> QSize:
        """Let the page be narrow; the rows keep their height."""
        return QSize(260, self.sizeHint().height())

    def paintEvent(self, _event: QPaintEvent) -> None:
        """Draw names, bars and figures."""
        if self._budget is None:
            return
        theme, ranked = self._theme, self._budget.ranked()
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        font = theme.font(figures=True)
        metrics = QFontMetricsF(font)
        painter.setFont(font)
        name_px = max(metrics.horizontalAdvance(line.name) for line, _ in ranked) + 12
        figure_px = max(
            metrics.horizontalAdvance(self._figure(line.share_k, share)) for line, share in ranked
        )
        room_px = max(20.0, self.width() - name_px - figure_px - 16)
        largest_k = ranked[0][0].share_k or 1.0
        bar = QColor(theme.channel(0).colour)
        row_px = self._row_height()
        for row, (line, share) in enumerate(ranked):
            top = 3 + row * row_px
            base = top + row_px / 2 + metrics.ascent() / 2 - metrics.descent() / 2
            painter.setPen(QColor(theme.text))
            painter.drawText(QRectF(0, top, name_px, row_px), _LEFT, line.name)
            long_px = room_px * line.share_k / largest_k
            rect = QRectF(name_px, top + row_px * 0.2, max(1.0, long_px), row_px * 0.6)
            if line.estimate:
                painter.fillRect(rect, QColor(theme.sunken))
                painter.fillRect(rect, QBrush(bar, Qt.BrushStyle.BDiagPattern))
                painter.setPen(pen(theme.channel(0).colour))
                painter.setBrush(Qt.BrushStyle.NoBrush)
                painter.drawRect(rect)
            else:
                painter.fillRect(rect, bar)
            painter.setPen(QColor(theme.soft))
            painter.drawText(int(name_px + long_px + 8), int(base), self._figure(line.share_k, share))
        painter.end()
