"""The errors a probe showed at its checks, over months, with uncertainty bars and the drift line."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any

import numpy as np
import pyqtgraph as pg
from PySide6.QtCore import QSize
from PySide6.QtGui import QColor, QFontMetricsF
from PySide6.QtWidgets import QSizePolicy, QWidget

from benchtemp.probes.uncertainty import coverage_factor
from benchtemp.units import TempUnit, delta_to
from benchtemp.window.plot.canvas import pen
from benchtemp.window.probes_page.texts import BREW_DEGC, age_text, drift_text, error_with, signed
from benchtemp.window.theme import LIGHT

if TYPE_CHECKING:
    from benchtemp.probes.probe import CheckedAt, Probe
    from benchtemp.window.theme import Theme

_DAY_S = 86_400.0
_LEAST_SPAN_S = 60 * _DAY_S


class _ErrorAxis(pg.AxisItem):  # type: ignore[misc]  # pyqtgraph has no types
    """Errors with their signs, lines at the labelled values only."""

    def __init__(self) -> None:
        super().__init__("left")

    def tickSpacing(self, low: float, high: float, size: float) -> Any:
        for step in (0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10):
            if (high - low) / step <= max(2, size / 26):
                return [(step, 0)]
        return [(20, 0)]

    def tickStrings(self, values: list[float], _scale: float, spacing: float) -> list[str]:
        decimals = 2 if spacing < 0.1 else 1
        return [f"{value:+.{decimals}f}".replace("-", "−") if abs(value) > 1e-9 else "0" for value in values]


_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_TICK_PX = 64.0


class _DayAxis(pg.AxisItem):  # type: ignore[misc]  # pyqtgraph has no types
    """Days for some weeks, months for some months, years for some years; labels never touch."""

    def __init__(self) -> None:
        super().__init__("bottom")

    def tickValues(self, low: float, high: float, size: float) -> list[tuple[float, list[float]]]:
        room = max(2.0, size / _TICK_PX)
        days = (high - low) / _DAY_S
        step_days = next((step for step in (1, 2, 5, 10) if days / step <= room), 0)
        if step_days:
            noon = (
                datetime.fromtimestamp(low).astimezone().replace(hour=12, minute=0, second=0, microsecond=0)
            )
            count = int(days / step_days) + 2
            moments = [noon + timedelta(days=step_days * number) for number in range(count)]
            return [(step_days * _DAY_S, _within(moments, low, high))]
        months = next((step for step in (1, 2, 3, 6, 12, 24, 60) if days / 30.4 / step <= room), 120)
        first = datetime.fromtimestamp(low).astimezone()
        begun = first.year * 12 + (first.month - 1) // months * months
        places = range(begun, begun + int(days / 30.4) + 2 * months, months)
        moments = [datetime(place // 12, place % 12 + 1, 1).astimezone() for place in places]
        return [(months * 30.4 * _DAY_S, _within(moments, low, high))]

    def tickStrings(self, values: list[float], _scale: float, spacing: float) -> list[str]:
        moments = [datetime.fromtimestamp(value).astimezone() for value in values]
        if spacing < 20.0 * _DAY_S:
            return [f"{moment.day} {_MONTHS[moment.month - 1]}" for moment in moments]
        return [str(moment.year) if moment.month == 1 else _MONTHS[moment.month - 1] for moment in moments]


def _within(moments: list[datetime], low: float, high: float) -> list[float]:
    times = [moment.timestamp() for moment in moments]
    return [time_s for time_s in times if low <= time_s <= high]


class HistoryChart(pg.PlotWidget):  # type: ignore[misc]  # pyqtgraph has no types
    """One point per check; the filled ones passed, the crosses failed."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent, axisItems={"left": _ErrorAxis(), "bottom": _DayAxis()})
        self.setMenuEnabled(False)
        self.hideButtons()
        self.setMouseEnabled(x=False, y=False)
        self.getPlotItem().showGrid(x=True, y=True, alpha=0.35)
        self.setAccessibleName("History of the probe's checks")
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self._theme: Theme = LIGHT
        self._unit = TempUnit.DEGC
        self._probe: Probe | None = None
        self._now = ""
        self.zero = pg.InfiniteLine(0.0, angle=0)
        self.limits = (pg.InfiniteLine(angle=0), pg.InfiniteLine(angle=0))
        self.bars = pg.ErrorBarItem(x=np.empty(0), y=np.empty(0), beam=0.0)
        self.trend = pg.PlotDataItem(antialias=True)
        self.passed = pg.ScatterPlotItem(symbol="o", size=9)
        self.failed = pg.ScatterPlotItem(symbol="x", size=11)
        for item in (self.zero, *self.limits, self.bars, self.trend, self.passed, self.failed):
            self.addItem(item)

    def sizeHint(self) -> QSize:
        """Return a low wide chart."""
        return QSize(400, int(self.fontMetrics().lineSpacing() * 10))

    def minimumSizeHint(self) -> QSize:
        """Let the page shrink."""
        return QSize(240, int(self.fontMetrics().lineSpacing() * 7))

    def restyle(self, theme: Theme) -> None:
        """Take a theme's colours and fonts by hand: plots do not follow a palette."""
        self._theme = theme
        self.setBackground(theme.surface)
        font = theme.font(0.95, figures=True)
        plot = self.getPlotItem()
        for side in ("left", "bottom"):
            axis = plot.getAxis(side)
            axis.setPen(pg.mkPen(theme.grid))
            axis.setTextPen(pg.mkPen(theme.soft))
            axis.setTickFont(font)
            axis.labelStyle = {"color": theme.soft, "font-size": f"{font.pointSizeF():.1f}pt"}
            axis.setLabel(axis.labelText)
            axis.enableAutoSIPrefix(False)  # noqa: FBT003 - pyqtgraph's own signature
        metrics = QFontMetricsF(font)
        plot.getAxis("left").setWidth(int(metrics.horizontalAdvance("+0.00") + metrics.height() * 1.4 + 10))
        plot.getAxis("bottom").setHeight(int(metrics.height() * 1.6 + 6))
        self.zero.setPen(pen(theme.soft))
        for line in self.limits:
            line.setPen(pen(theme.caution, (6, 4)))
        self.bars.setOpts(pen=pen(theme.channel(0).colour, width=1.0))
        self.trend.setPen(pen(theme.reference, (8, 4)))
        self.passed.setPen(pen(theme.channel(0).colour))
        self.passed.setBrush(QColor(theme.channel(0).colour))
        self.failed.setPen(pen(theme.bad, width=2.0))
        self._draw()

    def set_unit(self, unit: TempUnit) -> None:
        """Show differences in another unit."""
        self._unit = unit
        self._draw()

    def show_probe(self, probe: Probe | None, now: str) -> None:
        """Show a probe's history, up to a moment (ISO 8601)."""
        self._probe, self._now = probe, now
        self._draw()

    def _draw(self) -> None:
        unit = self._unit
        self.getPlotItem().setLabel("left", f"Error, {unit.symbol}")
        history = () if self._probe is None else self._probe.history(BREW_DEGC)
        times = np.array([point.when.timestamp() for point in history])
        errors = np.array([delta_to(-point.correction_k, unit) for point in history])
        bars = np.array([delta_to(self._expanded_k(point), unit) for point in history])
        self.bars.setData(x=times, y=errors, height=2.0 * bars, beam=0.0)
        passed = np.array([point.passed for point in history], dtype=bool)
        self.passed.setData(times[passed], errors[passed])
        self.failed.setData(times[~passed], errors[~passed])
        limit = None
        if self._probe is not None and self._probe.checks:
            limit = delta_to(self._probe.checks[-1].limit_k, unit)
        for line, sign in zip(self.limits, (1.0, -1.0), strict=True):
            line.setVisible(limit is not None)
            line.setValue(sign * (limit or 0.0))
        self._draw_trend(times, errors)
        self._set_ranges(times, errors, bars, limit)
        self.setAccessibleDescription(self.summary())

    @staticmethod
    def _expanded_k(point: CheckedAt) -> float:
        return 0.0 if point.uncertainty_k is None else coverage_factor() * point.uncertainty_k

    def _draw_trend(self, times: Any, errors: Any) -> None:
        drift = None if self._probe is None else self._probe.drift(BREW_DEGC)
        if drift is None:
            self.trend.setData([], [])
            return
        months = (times - times.mean()) / (_DAY_S * 365.2425 / 12.0)
        slope = -delta_to(drift.k_per_month, self._unit)
        self.trend.setData(times, errors.mean() + slope * months)

    def _set_ranges(self, times: Any, errors: Any, bars: Any, limit: float | None) -> None:
        end_s = datetime.fromisoformat(self._now).timestamp() if self._now else 0.0
        if not times.size:
            self.setXRange(end_s - _LEAST_SPAN_S, end_s, padding=0.02)
            self.setYRange(-1.0, 1.0, padding=0.0)
            return
        end_s = max(end_s, float(times[-1]))
        self.setXRange(min(float(times[0]), end_s - _LEAST_SPAN_S), end_s, padding=0.04)
        low = min(0.0, float((errors - bars).min()), -(limit or 0.0))
        high = max(0.0, float((errors + bars).max()), limit or 0.0)
        self.setYRange(low, high, padding=0.12)

    def summary(self) -> str:
        """Return in words what the chart shows."""
        probe = self._probe
        if probe is None or not probe.checks:
            return "No checks yet."
        last = probe.history(BREW_DEGC)[-1]
        error = error_with(-last.correction_k, self._expanded_k(last), self._unit)
        count = "1 check" if len(probe.checks) == 1 else f"{len(probe.checks)} checks"
        limit = signed(probe.checks[-1].limit_k, self._unit)
        return (
            f"{count}, {age_text(probe, self._now)}; error at the last one {error}, limit {limit}. "
            f"{drift_text(probe.drift(BREW_DEGC), self._unit)}"
        )
