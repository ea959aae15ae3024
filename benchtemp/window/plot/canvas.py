"""The drawing ground of the trace: axes, zooming and panning by mouse and keys, restyled by hand."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pyqtgraph as pg
from PySide6.QtCore import QEvent, Qt, Signal, Slot
from PySide6.QtGui import QBrush, QColor, QFontMetricsF, QKeyEvent, QPen

from benchtemp.units import MINUS

if TYPE_CHECKING:
    from PySide6.QtGui import QFocusEvent
    from PySide6.QtWidgets import QGraphicsSceneWheelEvent, QWidget

    from benchtemp.units import TempUnit
    from benchtemp.window.theme import Theme

_ZOOM = 0.8
_OUT_KEYS = {Qt.Key.Key_Minus, Qt.Key.Key_Underscore}
_ZOOM_KEYS = {Qt.Key.Key_Plus, Qt.Key.Key_Equal, Qt.Key.Key_Asterisk} | _OUT_KEYS
_OWN_KEYS = {Qt.Key.Key_Left, Qt.Key.Key_Right, Qt.Key.Key_Up, Qt.Key.Key_Down} | _ZOOM_KEYS
_PAN = 0.15


def minutes_text(t_s: float) -> str:
    """Return a running time for reading, such as `1:05`."""
    sign = MINUS if t_s < 0 else ""
    whole_s = abs(round(t_s))
    if whole_s >= 3600:
        return f"{sign}{whole_s // 3600}:{whole_s // 60 % 60:02d}:{whole_s % 60:02d}"
    return f"{sign}{whole_s // 60}:{whole_s % 60:02d}"


class _TempAxis(pg.AxisItem):  # type: ignore[misc]  # pyqtgraph has no types
    """Temperatures, with lines at the labelled values only."""

    def __init__(self) -> None:
        super().__init__("left")

    def tickStrings(self, values: list[float], scale: float, spacing: float) -> list[str]:
        return [text.replace("-", MINUS) for text in super().tickStrings(values, scale, spacing)]

    def tickSpacing(self, low: float, high: float, size: float) -> Any:
        for step in (0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100, 200):
            if (high - low) / step <= min(max(3, size / 27), 12):
                return [(step, 0)]
        return [(500, 0)]


class _TimeAxis(pg.AxisItem):  # type: ignore[misc]  # pyqtgraph has no types
    """Seconds since pump on, or the recording's running time in minutes and seconds."""

    def __init__(self) -> None:
        super().__init__("bottom")
        self.since_pump = False

    def tickStrings(self, values: list[float], _scale: float, spacing: float) -> list[str]:
        if self.since_pump or spacing < 1:
            return [f"{value:.10g}".replace("-", MINUS) for value in values]
        return [minutes_text(value) for value in values]

    def tickSpacing(self, low: float, high: float, size: float) -> Any:
        fine = (0.1, 0.2, 0.5, 1, 2)
        coarse = (
            (5, 10, 20, 50, 100) if self.since_pump else (5, 10, 15, 30, 60, 120, 300, 600, 1800, 3600, 7200)
        )
        for step in (*fine, *coarse):
            if (high - low) / step <= min(max(4, size / 52), 14):
                return [(step, 0)]
        return [(1000 if self.since_pump else 14400, 0)]


class _View(pg.ViewBox):  # type: ignore[misc]  # pyqtgraph has no types
    """The wheel zooms time, with Ctrl temperature; dragging moves both."""

    def wheelEvent(self, event: QGraphicsSceneWheelEvent, axis: int | None = None) -> None:
        if axis is None:
            axis = 1 if event.modifiers() & Qt.KeyboardModifier.ControlModifier else 0
        super().wheelEvent(event, axis)


class Canvas(pg.PlotWidget):  # type: ignore[misc]  # pyqtgraph has no types
    """A plot with a time axis and a temperature axis, and nothing on it yet.

    Signals:
        moved_by_hand: The user zoomed or moved the view.
        focus_changed: The plot got or lost the focus.
    """

    moved_by_hand = Signal()
    focus_changed = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        self._time_axis = _TimeAxis()
        self._view = _View(enableMenu=False, defaultPadding=0.0)
        axes = {"bottom": self._time_axis, "left": _TempAxis()}
        super().__init__(parent, viewBox=self._view, axisItems=axes, enableMenu=False)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        plot = self.getPlotItem()
        plot.hideButtons()
        plot.disableAutoRange()
        plot.setClipToView(True)
        plot.setDownsampling(auto=True, mode="peak")
        for side in ("left", "bottom"):
            axis = plot.getAxis(side)
            axis.enableAutoSIPrefix(enable=False)
            axis.setStyle(tickLength=-4, autoExpandTextSpace=False, autoReduceTextSpace=False)
            # The grid belongs to the axis and is cached with it; the curves must lie above it.
            axis.setGrid(255)
            axis.setZValue(-200)
        self._view.setLimits(minXRange=0.5, minYRange=0.5, yMin=-500.0, yMax=5000.0)
        self._view.sigRangeChangedManually.connect(self._moved)

    @property
    def view(self) -> Any:
        """Return the view box."""
        return self._view

    @property
    def since_pump(self) -> bool:
        """Tell whether the time axis counts from a pump on."""
        return bool(self._time_axis.since_pump)

    @Slot()
    def _moved(self, *_: object) -> None:
        self.moved_by_hand.emit()

    def name_axes(self, unit: TempUnit, *, since_pump: bool, estimated: bool) -> None:
        """Label both axes; `estimated` where nobody marked pump on and the rise stands in for it."""
        plot = self.getPlotItem()
        plot.setLabel("left", f"Temperature, {unit.symbol}")
        since = "Time since the rise began, s" if estimated else "Time since pump on, s"
        plot.setLabel("bottom", since if since_pump else "Running time, min:s")
        if self._time_axis.since_pump != since_pump:
            self._time_axis.since_pump = since_pump
            self._time_axis.picture = None
            self._time_axis.update()

    def restyle(self, theme: Theme, scale: float) -> None:
        """Take a theme's colours and the system's font at a scale."""
        self.setBackground(theme.surface)
        font = theme.font(scale, figures=True)
        metrics = QFontMetricsF(font)
        plot = self.getPlotItem()
        for side in ("left", "bottom"):
            axis = plot.getAxis(side)
            axis.setPen(pg.mkPen(theme.grid))
            axis.setTextPen(pg.mkPen(theme.soft))
            axis.setTickFont(font)
            axis.labelStyle = {"color": theme.soft, "font-size": f"{font.pointSizeF():.1f}pt"}
            axis.setLabel(axis.labelText)
        height = metrics.height()
        plot.getAxis("left").setWidth(int(metrics.horizontalAdvance("0000") + height * 1.4 + 8))
        plot.getAxis("bottom").setHeight(int(height * 2.3 + 8))

    def focusInEvent(self, event: QFocusEvent) -> None:
        """Tell that the focus came."""
        super().focusInEvent(event)
        self.focus_changed.emit()

    def focusOutEvent(self, event: QFocusEvent) -> None:
        """Tell that the focus went."""
        super().focusOutEvent(event)
        self.focus_changed.emit()

    def event(self, event: QEvent) -> bool:
        """Keep the arrow keys, plus and minus from the window's keys while the plot has the focus."""
        if (
            event.type() is QEvent.Type.ShortcutOverride
            and isinstance(event, QKeyEvent)
            and event.key() in _OWN_KEYS
            and not event.modifiers() & Qt.KeyboardModifier.ControlModifier
        ):
            event.accept()
            return True
        return bool(super().event(event))

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Zoom with plus and minus, move with the arrow keys; Shift with them means temperature."""
        shift = bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier)
        key = event.key()
        left, right = self._view.viewRange()[0]
        low, high = self._view.viewRange()[1]
        steps = {
            Qt.Key.Key_Left: (-_PAN, 0.0),
            Qt.Key.Key_Right: (_PAN, 0.0),
            Qt.Key.Key_Up: (0.0, _PAN),
            Qt.Key.Key_Down: (0.0, -_PAN),
        }
        if key in steps:
            x_share, y_share = steps[Qt.Key(key)]
            self._view.translateBy(x=x_share * (right - left), y=y_share * (high - low))
        elif key in _ZOOM_KEYS:
            factor = 1 / _ZOOM if key in _OUT_KEYS else _ZOOM
            self._view.scaleBy(x=None if shift else factor, y=factor if shift else None)
        else:
            event.ignore()
            return
        self.moved_by_hand.emit()


def veil(theme: Theme) -> QBrush:
    """Return a ground for texts in the plot: lines behind them are seen, and do not strike them out."""
    colour = QColor(theme.surface)
    colour.setAlphaF(0.6)
    return QBrush(colour)


def pen(colour: str, dash: tuple[float, ...] = (), width: float = 1.0) -> QPen:
    """Return a pen whose width and dashes are in screen pixels."""
    made: QPen = pg.mkPen(colour, width=width)
    if dash:
        made.setDashPattern([length / width for length in dash])
    return made
