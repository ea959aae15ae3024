"""The small trace beside the list: one shot with its plateau and band, or several laid over each other."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QPainter, QPen, QPolygonF
from PySide6.QtWidgets import QSizePolicy, QWidget

from benchtemp.units import TempUnit, degc_to
from benchtemp.window.panel import Panel
from benchtemp.window.theme import scaled_font

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from PySide6.QtGui import QPaintEvent

    from benchtemp.window.logbook_page.looked import Trace
    from benchtemp.window.theme import Theme

    _Scale = Callable[[float], float]

_LINES = 9
_LEAST_SPAN_K = 4.0
_STEPS = (0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0)
_TIME_STEPS_S = (5.0, 10.0, 20.0, 30.0, 60.0, 120.0, 300.0, 600.0, 1800.0, 3600.0, 7200.0, 21600.0)


def step_for(span: float, most: int, steps: Sequence[float]) -> float:
    """Return the smallest step that cuts a span into at most so many parts."""
    return next((step for step in steps if span / step <= most), steps[-1])


class TraceView(Panel):
    """Draws traces; paints itself, so that going through the list stays quick."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.traces: tuple[Trace, ...] = ()
        self._said = ""
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setAccessibleName("Small trace")

    def sizeHint(self) -> QSize:
        """Return room for some lines of text."""
        return QSize(260, int(self.fontMetrics().lineSpacing() * _LINES))

    def show_traces(self, traces: Sequence[Trace], said: str = "", summary: str = "") -> None:
        """Draw traces, or say why there is none."""
        self.traces = tuple(traces)
        self._said = said
        self.setAccessibleDescription(summary or said)
        self.update()

    def set_theme(self, theme: Theme) -> None:
        """Take other colours."""
        super().set_theme(theme)
        self.updateGeometry()
        self.update()

    def set_unit(self, unit: TempUnit) -> None:
        """Show temperatures in another unit."""
        super().set_unit(unit)
        self.update()

    # -- painting ------------------------------------------------------------------------------------------

    def paintEvent(self, _event: QPaintEvent) -> None:
        """Draw everything anew."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setFont(scaled_font(0.85, figures=True))
        if self.traces:
            self._draw(painter)
        else:
            painter.setPen(QColor(self.theme.soft))
            flags = int(Qt.AlignmentFlag.AlignCenter) | int(Qt.TextFlag.TextWordWrap)
            painter.drawText(self.rect(), flags, self._said)
        painter.end()

    def _reach(self) -> tuple[float, float, float, float]:
        """Return first and last second, lowest and highest °C that are drawn."""
        t_low = min(float(trace.t_s[0]) for trace in self.traces)
        t_high = max(float(trace.t_s[-1]) for trace in self.traces)
        lows, highs = [], []
        for trace in self.traces:
            seen = trace.temp_degc[np.isfinite(trace.temp_degc)]
            lows.append(float(seen.min()))
            highs.append(float(seen.max()))
        low, high = min(lows), max(highs)
        spare = max((high - low) * 0.06, (_LEAST_SPAN_K - (high - low)) / 2, 0.1)
        return t_low, max(t_high, t_low + 1.0), low - spare, high + spare

    def _draw(self, painter: QPainter) -> None:
        metrics = painter.fontMetrics()
        t_low, t_high, low, high = self._reach()
        left = metrics.horizontalAdvance("000.0") + 8
        room = QRectF(left, 6.0, self.width() - left - 6.0, self.height() - metrics.height() - 14.0)

        def x(t_s: float) -> float:
            return room.left() + (t_s - t_low) / (t_high - t_low) * room.width()

        def y(degc: float) -> float:
            return room.bottom() - (degc - low) / (high - low) * room.height()

        self._draw_grounds(painter, room, x, y)
        self._draw_axes(painter, room, (t_low, t_high, low, high), x, y)
        painter.setClipRect(room.adjusted(-1, -1, 1, 1))
        several = len(self.traces) > 1
        for number, trace in enumerate(self.traces):
            look = self.theme.channels[number % len(self.theme.channels)]
            pen = QPen(QColor(look.colour), 1.0 if several else 1.6)
            if several and look.dash:
                pen.setDashPattern(list(look.dash))
            painter.setPen(pen)
            for start, end in _runs(np.isfinite(trace.temp_degc)):
                points = [
                    QPointF(x(float(t_s)), y(float(degc)))
                    for t_s, degc in zip(trace.t_s[start:end], trace.temp_degc[start:end], strict=True)
                ]
                painter.drawPolyline(QPolygonF(points))
        painter.setClipping(False)

    def _draw_grounds(self, painter: QPainter, room: QRectF, x: _Scale, y: _Scale) -> None:
        first = self.traces[0]
        if first.band_degc is not None:
            top, bottom = max(y(first.band_degc[1]), room.top()), min(y(first.band_degc[0]), room.bottom())
            if bottom > top:
                ground = QColor(self.theme.band)
                ground.setAlphaF(0.16)
                painter.fillRect(QRectF(room.left(), top, room.width(), bottom - top), ground)
        if len(self.traces) > 1:
            return
        if first.plateau_s is not None:
            ground = QColor(self.theme.plateau)
            ground.setAlphaF(0.16)
            start, end = x(first.plateau_s[0]), x(first.plateau_s[1])
            painter.fillRect(QRectF(start, room.top(), end - start, room.height()), ground)
        painter.setPen(QPen(QColor(self.theme.mark), 1.0, Qt.PenStyle.DashLine))
        if first.pump_off_s is not None:
            for t_s in (0.0, first.pump_off_s):
                painter.drawLine(QPointF(x(t_s), room.top()), QPointF(x(t_s), room.bottom()))

    def _draw_axes(
        self,
        painter: QPainter,
        room: QRectF,
        reach: tuple[float, float, float, float],
        x: _Scale,
        y: _Scale,
    ) -> None:
        t_low, t_high, low, high = reach
        metrics = painter.fontMetrics()
        shown_low, shown_high = degc_to(low, self.unit), degc_to(high, self.unit)
        step = step_for(shown_high - shown_low, 4, _STEPS)
        value = np.ceil(shown_low / step) * step
        while value <= shown_high:
            share = (value - shown_low) / (shown_high - shown_low)
            level = y(low + share * (high - low))
            painter.setPen(QPen(QColor(self.theme.grid), 1.0))
            painter.drawLine(QPointF(room.left(), level), QPointF(room.right(), level))
            painter.setPen(QColor(self.theme.soft))
            text = f"{value:.1f}" if step < 1 else f"{value:.0f}"
            painter.drawText(
                QRectF(0, level - metrics.height() / 2, room.left() - 5, metrics.height()),
                int(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter),
                text,
            )
            value += step
        minutes = t_high - t_low > 600
        step_s = step_for(t_high - t_low, 5, _TIME_STEPS_S)
        at_s = np.ceil(t_low / step_s) * step_s
        while at_s <= t_high:
            text = f"{(at_s / 60 if minutes else at_s) + 0.0:.0f}"
            width = metrics.horizontalAdvance(text) + 4
            painter.drawText(
                QRectF(x(float(at_s)) - width / 2, room.bottom() + 3, width, metrics.height()),
                int(Qt.AlignmentFlag.AlignCenter),
                text,
            )
            at_s += step_s
        unit = f"{self.unit.symbol}, {'min' if minutes else 's'}"
        width = metrics.horizontalAdvance(unit) + 4
        painter.drawText(
            QRectF(0, room.bottom() + 3, width, metrics.height()), int(Qt.AlignmentFlag.AlignLeft), unit
        )


def _runs(there: np.ndarray[tuple[int], np.dtype[np.bool_]]) -> list[tuple[int, int]]:
    """Return where stretches of True begin and end."""
    edges = np.flatnonzero(np.diff(np.concatenate(([False], there, [False])).astype(int)))
    return [(int(start), int(end)) for start, end in zip(edges[::2], edges[1::2], strict=True)]
