"""One chart of a study, drawn from its arrays in the theme's colours."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING, Any

import numpy as np
import pyqtgraph as pg
from PySide6.QtCore import Qt
from PySide6.QtGui import QColor, QFontMetricsF
from PySide6.QtWidgets import QLabel, QSizePolicy, QVBoxLayout, QWidget

from benchtemp.reports.charts.axes import axis_title, converted, reach
from benchtemp.studies.chart import Look, Quantity
from benchtemp.units import MINUS, TempUnit
from benchtemp.window.panel import Panel
from benchtemp.window.panels.labels import heading, quiet
from benchtemp.window.plot.canvas import pen

if TYPE_CHECKING:
    from PySide6.QtGui import QResizeEvent, QWheelEvent

    from benchtemp.readings.reading import FloatArray
    from benchtemp.studies.chart import Chart, Level, Series
    from benchtemp.window.theme import Theme

_SYMBOLS = (
    ("o", "●"),
    ("s", "■"),
    ("t1", "▲"),
    ("d", "◆"),
    ("t", "▼"),
    ("p", "⬟"),
    ("star", "★"),
    ("x", "✕"),
)
_DASH_SIGNS = ("━━", "╍╍", "┈┈", "╍┈", "━╍", "╌╌", "╍┉", "┉┉")
_LABELLED_AT_MOST = 6
_MOST_TICKS = 15
_NAME_LINES = 3
_TICK_DENSITY = 2.0
_LINES = 22
"""Height of a chart, in lines of text."""


def legend_entries(told: dict[str, tuple[str, str]]) -> list[str]:
    """Return the legend's entries as rich text; a line and the band around it share one.

    Args:
        told: Sign and colour by name. A band around a line is named after it: `bar left`, `bar left, ± 1 sd`.
    """

    def of_line(name: str) -> str:
        line = name.partition(", ")[0]
        return line if line in told and told[line][1] == told[name][1] else name

    entries = []
    for name, (_, colour) in told.items():
        if of_line(name) != name:
            continue
        alike = [name, *(other for other in told if other != name and of_line(other) == name)]
        signs = "".join(told[other][0] for other in alike)
        words = escape(alike[-1]).replace(" ", "&nbsp;")
        entries.append(f'<span style="color:{colour}">{signs}</span>&nbsp;{words}')
    return entries


class _Scale(pg.AxisItem):  # type: ignore[misc]  # pyqtgraph has no types
    """An axis whose negative numbers have a proper minus sign."""

    def tickStrings(self, values: list[float], scale: float, spacing: float) -> list[str]:
        return [text.replace("-", MINUS) for text in super().tickStrings(values, scale, spacing)]


class _Ground(pg.PlotWidget):  # type: ignore[misc]  # pyqtgraph has no types
    """A plot that leaves the wheel to the page it stands on."""

    def __init__(self) -> None:
        super().__init__(enableMenu=False, axisItems={side: _Scale(side) for side in ("left", "bottom")})
        plot = self.getPlotItem()
        plot.hideButtons()
        plot.setMouseEnabled(x=False, y=False)
        plot.disableAutoRange()
        for side in ("left", "bottom"):
            axis = plot.getAxis(side)
            axis.enableAutoSIPrefix(enable=False)
            axis.setStyle(tickLength=-4, autoReduceTextSpace=False, maxTickLevel=0)
            axis.setTickDensity(_TICK_DENSITY)
            axis.setGrid(255)
            axis.setZValue(-200)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)

    def wheelEvent(self, event: QWheelEvent) -> None:
        """Let the page scroll."""
        event.ignore()


class ChartView(Panel):
    """Title, legend and plot of one chart."""

    def __init__(self, chart: Chart, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.chart = chart
        self.setProperty("look", "surface")
        self.setAccessibleName(chart.title)
        self.setAccessibleDescription(chart.summary)
        self.title = heading(chart.title)
        self.title.setWordWrap(True)  # a long one must not take the chart beside it its room
        self.legend = QLabel()
        self.legend.setTextFormat(Qt.TextFormat.RichText)
        self.legend.setWordWrap(True)
        self.y_title = quiet()
        self.plot = _Ground()
        layout = QVBoxLayout(self)
        layout.setContentsMargins(12, 8, 12, 8)
        layout.setSpacing(4)
        layout.addWidget(self.title)
        layout.addWidget(self.legend)
        layout.addWidget(self.y_title)
        layout.addWidget(self.plot, 1)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Preferred)

    def set_theme(self, theme: Theme) -> None:
        """Draw in a theme's colours: plots do not follow a palette."""
        super().set_theme(theme)
        # A wrapped legend makes layouts ask the plot how high it would like to be, which is far too high.
        self.setFixedHeight(int(self.fontMetrics().lineSpacing() * _LINES))
        self._draw()

    def set_unit(self, unit: TempUnit) -> None:
        """Draw in another unit."""
        super().set_unit(unit)
        self._draw()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Fit names below the axis to the new width."""
        super().resizeEvent(event)
        if self.chart.x.quantity is Quantity.NAME:
            self._axes()

    # -- drawing -------------------------------------------------------------------------------------------

    def _draw(self) -> None:
        theme, chart, plot = self.theme, self.chart, self.plot.getPlotItem()
        plot.clear()
        self.plot.setBackground(theme.surface)
        self._to_x = converted(chart.x.quantity, self.unit)
        self._to_y = converted(chart.y.quantity, self.unit)
        self._told: dict[str, tuple[str, str, bool]] = {}
        self._y_reach = reach(chart, upright=True, convert=self._to_y)
        x_reach = reach(chart, upright=False, convert=self._to_x)
        if chart.x.quantity is Quantity.NAME:
            x_reach = (-0.6, max(len(chart.x.names) - 0.4, 0.6))
        elif any(series.look is Look.BARS for series in chart.series):
            x_reach = (x_reach[0] - 0.4, x_reach[1] + 0.4)
        plot.setXRange(*x_reach, padding=0.0)
        plot.setYRange(*self._y_reach, padding=0.0)
        for level in chart.levels:
            self._level(level)
        for order, series in enumerate(chart.series):
            self._series(series, order)
        self._axes()
        entries = legend_entries({name: (sign, colour) for name, (sign, colour, _) in self._told.items()})
        self.legend.setText(" &nbsp; ".join(entries))
        self.legend.setVisible(len(entries) > 1)

    def _axes(self) -> None:
        theme, plot = self.theme, self.plot.getPlotItem()
        font = theme.font(0.95, figures=True)
        metrics = QFontMetricsF(font)
        lines = 1
        for side, axis in (("left", self.chart.y), ("bottom", self.chart.x)):
            drawn = plot.getAxis(side)
            drawn.setPen(pg.mkPen(theme.grid))
            drawn.setTextPen(pg.mkPen(theme.soft))
            drawn.setTickFont(font)
            drawn.labelStyle = {"color": theme.soft, "font-size": f"{font.pointSizeF():.1f}pt"}
            named = axis.quantity is Quantity.NAME
            title = axis_title(axis, self.unit)
            title = title[:1].upper() + title[1:]
            if side == "left":
                self.y_title.setText(title)
            else:
                drawn.setLabel(title)
            drawn.setGrid(False if named or axis.quantity is Quantity.SHOT else 255)
            if named:
                names = self._fitted(axis.names, metrics)
                lines = max((name.count("\n") + 1 for name in names), default=1)
                drawn.setTicks([list(enumerate(names))])
            elif axis.quantity is Quantity.SHOT:
                last = int(max((max(series.x, default=0) for series in self.chart.series), default=0))
                drawn.setTicks([[(shot, str(shot)) for shot in range(1, last + 1, 1 + last // _MOST_TICKS)]])
        plot.getAxis("left").setWidth(int(metrics.horizontalAdvance("+000.0") + 8))
        plot.getAxis("bottom").setHeight(int(metrics.height() * (2.3 + max(0, lines - 1)) + 8))

    def _fitted(self, names: tuple[str, ...], metrics: QFontMetricsF) -> list[str]:
        """Return names as they fit below the axis: on up to three lines, and cut in the middle past that."""
        room = max(60.0, (self.width() - 120) / max(1, len(names)) - 8)
        found: list[str] = []
        for name in names:
            lines = [""]
            for word in name.split(" "):
                longer = f"{lines[-1]} {word}".strip()
                if lines[-1] and len(lines) < _NAME_LINES and metrics.horizontalAdvance(longer) > room:
                    lines.append(word)
                else:
                    lines[-1] = longer
            cut = (metrics.elidedText(line, Qt.TextElideMode.ElideMiddle, room) for line in lines)
            found.append("\n".join(cut))
        return found

    def _colour(self, series: Series) -> QColor:
        if series.faint and series.look is Look.LINE:
            return QColor(self.theme.reference)
        colour = QColor(self.theme.channel(series.group).colour)
        if series.faint and series.look is not Look.BAND:
            colour.setAlphaF(0.6)
        return colour

    def _add(self, item: Any, z: float) -> None:
        item.setZValue(z)
        self.plot.addItem(item, ignoreBounds=True)

    def _tell(self, name: str, sign: str, colour: QColor, *, weak: bool = False) -> None:
        """Note an entry for the legend; of several with one name the strongest is shown."""
        if name and not (weak and name in self._told):
            self._told[name] = (sign, colour.name(), weak)

    def _level(self, level: Level) -> None:
        theme = self.theme
        convert = self._to_x if level.upright else self._to_y
        angle = 90 if level.upright else 0
        if level.to is None:
            (at,) = convert([level.at])
            if np.isfinite(at):
                dash = (2.0, 3.0) if level.faint else (8.0, 3.0)
                line = pg.InfiniteLine(float(at), angle=angle, pen=pen(theme.soft, dash, 1.0))
                self._add(line, -10)
                self._tell(level.name, "┄┄" if level.faint else "╌╌", QColor(theme.soft))
            return
        ends = convert([level.at, level.to])
        colour = QColor(theme.plateau if level.upright else theme.band)
        fill = QColor(colour)
        fill.setAlphaF(0.16)
        orientation = "vertical" if level.upright else "horizontal"
        strip = pg.LinearRegionItem(
            tuple(sorted(ends.tolist())),
            orientation=orientation,
            movable=False,
            brush=fill,
            pen=pg.mkPen(None),
        )
        self._add(strip, -20)
        self._tell(level.name, "▒", colour)

    def _series(self, series: Series, order: int) -> None:
        x = self._to_x(series.x)
        colour = self._colour(series)
        look = self.theme.channel(series.group)
        z = float(order)
        sign = _SYMBOLS[series.group % len(_SYMBOLS)][1]
        if series.look is Look.LINE:
            wide = 1.0 if series.faint or len(x) > 1500 else 2.0
            drawn = pen(colour.name(), () if series.faint else look.dash, wide)
            self._add(pg.PlotDataItem(x, self._to_y(series.y), pen=drawn, antialias=True), z)
            sign = "──" if series.faint else _DASH_SIGNS[series.group % len(_DASH_SIGNS)]
        elif series.look is Look.BAND:
            self._band(series, x, colour, z)
            sign = "░" if series.faint else "▓"
        elif series.look is Look.BARS:
            self._bars(series, x, colour, z)
            sign = "▇"
        else:
            if series.look is Look.INTERVALS:
                self._whiskers(series, x, colour, z)
            self._points(series, x, colour, z)
        self._tell(series.name, sign, colour, weak=series.faint)

    def _clipped(self, values: tuple[float, ...]) -> FloatArray:
        low, high = self._y_reach
        far = 2.0 * (high - low)
        return np.clip(self._to_y(values), low - far, high + far)

    def _band(self, series: Series, x: FloatArray, colour: QColor, z: float) -> None:
        fill = QColor(colour)
        fill.setAlphaF(0.13 if series.faint else 0.22)
        low, high = self._clipped(series.low), self._clipped(series.high)
        known = np.isfinite(low) & np.isfinite(high)
        curves = [pg.PlotCurveItem(x[known], ends[known], pen=pg.mkPen(None)) for ends in (low, high)]
        self._add(pg.FillBetweenItem(*curves, brush=fill), z - 5)

    def _whiskers(self, series: Series, x: FloatArray, colour: QColor, z: float) -> None:
        if not series.low or not series.high:
            return
        low, high = self._clipped(series.low), self._clipped(series.high)
        y = self._to_y(series.y)
        bars = pg.ErrorBarItem(
            x=x, y=y, top=high - y, bottom=y - low, beam=0.0, pen=pen(colour.name(), (), 2.0)
        )
        self._add(bars, z + 0.4)

    def _bars(self, series: Series, x: FloatArray, colour: QColor, z: float) -> None:
        apart = float(np.min(np.diff(np.unique(x)), initial=1.0)) if len(x) > 1 else 1.0
        heights = np.nan_to_num(self._to_y(series.y))
        bars = pg.BarGraphItem(x=x, height=heights, width=0.62 * apart, brush=colour, pen=pg.mkPen(None))
        self._add(bars, z)
        self._whiskers(series, x, QColor(self.theme.text), z)

    def _points(self, series: Series, x: FloatArray, colour: QColor, z: float) -> None:
        y = self._to_y(series.y)
        edge = pen(self.theme.surface, (), 1.0)
        symbol = _SYMBOLS[series.group % len(_SYMBOLS)][0]
        size = 9 if len(x) < 150 else 6
        self._add(pg.ScatterPlotItem(x, y, symbol=symbol, size=size, brush=colour, pen=edge), z + 0.5)
        marked = [index for index in series.marked if index < len(x)]
        if not marked:
            return
        alarm = QColor(self.theme.bad)
        rings = pg.ScatterPlotItem(
            x[marked], y[marked], symbol="o", size=17, brush=None, pen=pen(alarm.name(), (), 2.0)
        )
        self._add(rings, z + 1.0)
        self._tell(series.marked_as, "◯", alarm)
        if series.labels and len(marked) <= _LABELLED_AT_MOST:
            for index in marked:
                (left, right), (low, high) = self.plot.getPlotItem().viewRange()
                place = (float(x[index]) - left) / max(right - left, 1e-9)
                above = float(y[index]) < high - 0.2 * (high - low)
                anchor = (-0.05 if place < 0.25 else 1.05 if place > 0.75 else 0.5, 1.35 if above else -0.35)
                ground = QColor(self.theme.surface)
                ground.setAlphaF(0.75)  # a level may run behind it
                name = pg.TextItem(
                    series.labels[index], color=self.theme.soft, anchor=anchor, fill=pg.mkBrush(ground)
                )
                name.setFont(self.theme.font(0.85))
                name.setPos(float(x[index]), float(y[index]))
                self._add(name, z + 2.0)
