"""A slider over the time of a recording, with its marks drawn on it."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from typing import TYPE_CHECKING

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QAbstractSlider, QSizePolicy, QWidget

from benchtemp.readings.reading import Mark, MarkKind
from benchtemp.window.theme import LIGHT, Theme

if TYPE_CHECKING:
    from PySide6.QtGui import QMouseEvent

TICKS_PER_S = 10
_HEIGHT_PX = 34
_EDGE_PX = 9.0
_SHOWN_KINDS = (MarkKind.PUMP_ON, MarkKind.PUMP_OFF, MarkKind.NOTE, MarkKind.GAP)


class MarkedSlider(QAbstractSlider):
    """Shows and changes the place in a recording.

    Pump on is a triangle pointing right, pump off a square, a note a dot, a gap a cross; between a pump on
    and its pump off the track is thicker. The keyboard moves it as any slider; a click goes where it is.

    Signals:
        chosen: The time the user went to, s; at the end of a drag, at a click, at every key.
    """

    chosen = Signal(float)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = LIGHT
        self._start_s = 0.0
        self._end_s = 1.0
        self._marks: tuple[Mark, ...] = ()
        self._showing = False
        self.setOrientation(Qt.Orientation.Horizontal)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setAccessibleName("Place in the recording")
        self.setMouseTracking(True)
        self.actionTriggered.connect(self._moved_by_user)
        self.setSingleStep(TICKS_PER_S)
        self.setPageStep(10 * TICKS_PER_S)

    def set_theme(self, theme: Theme) -> None:
        """Take another theme's colours."""
        self._theme = theme
        self.update()

    def set_stretch(self, start_s: float, end_s: float, marks: Sequence[Mark] = ()) -> None:
        """Show another recording, from its first to its last time."""
        self._start_s, self._end_s = start_s, max(end_s, start_s + 0.1)
        self._marks = tuple(mark for mark in marks if mark.kind in _SHOWN_KINDS)
        self.setRange(0, round((self._end_s - self._start_s) * TICKS_PER_S))
        self.update()

    @property
    def marks(self) -> tuple[Mark, ...]:
        """Return the marks that are drawn."""
        return self._marks

    @property
    def time_s(self) -> float:
        """Return the time the handle stands at, also while it is dragged."""
        return self._start_s + self.sliderPosition() / TICKS_PER_S

    def show_time(self, t_s: float) -> None:
        """Show where the replay stands; a handle being dragged is left alone."""
        if not self.isSliderDown():
            self.setValue(round((t_s - self._start_s) * TICKS_PER_S))

    def mark_beside(self, t_s: float, *, forward: bool) -> float | None:
        """Return the time of the next or the previous mark, None where there is none."""
        times = sorted(mark.t_s for mark in self._marks)
        if forward:
            index = bisect_right(times, t_s + 0.05)
            return times[index] if index < len(times) else None
        index = bisect_left(times, t_s - 0.5)
        return times[index - 1] if index > 0 else None

    # -- drawing -----------------------------------------------------------------------------------------

    def sizeHint(self) -> QSize:
        """Return room for marks above the track."""
        return QSize(240, _HEIGHT_PX)

    def minimumSizeHint(self) -> QSize:
        """Return the least that can be used."""
        return QSize(80, _HEIGHT_PX)

    def x_of(self, t_s: float) -> float:
        """Return where a time lies, in pixels."""
        share = (t_s - self._start_s) / (self._end_s - self._start_s)
        return _EDGE_PX + min(max(share, 0.0), 1.0) * (self.width() - 2 * _EDGE_PX)

    def _ticks_at(self, x_px: float) -> int:
        share = (x_px - _EDGE_PX) / max(self.width() - 2 * _EDGE_PX, 1.0)
        return round(min(max(share, 0.0), 1.0) * self.maximum())

    def paintEvent(self, _event: QPaintEvent) -> None:
        """Draw the track, pulls, marks and the handle."""
        theme = self._theme
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        track_y = self.height() * 0.68
        here = self.x_of(self.time_s)
        enabled = self.isEnabled()
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(theme.line))
        painter.drawRoundedRect(QRectF(_EDGE_PX, track_y - 2, self.width() - 2 * _EDGE_PX, 4), 2, 2)
        painter.setBrush(QColor(theme.accent if enabled else theme.soft))
        painter.drawRoundedRect(QRectF(_EDGE_PX, track_y - 2, max(here - _EDGE_PX, 0.0), 4), 2, 2)
        self._draw_pulls(painter, track_y)
        for mark in self._marks:
            self._draw_mark(painter, mark)
        painter.setPen(QPen(QColor(theme.surface), 2))
        painter.setBrush(QColor(theme.accent if enabled else theme.soft))
        painter.drawEllipse(QPointF(here, track_y), 7, 7)
        if self.hasFocus():
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.setPen(QPen(QColor(theme.accent), 2))
            painter.drawRoundedRect(QRectF(1, 1, self.width() - 2, self.height() - 2), 5, 5)
        painter.end()

    def _draw_pulls(self, painter: QPainter, track_y: float) -> None:
        on_s: float | None = None
        painter.setBrush(QColor(self._theme.plateau))
        painter.setOpacity(0.45)
        for mark in self._marks:
            if mark.kind is MarkKind.PUMP_ON:
                on_s = mark.t_s
            elif mark.kind is MarkKind.PUMP_OFF and on_s is not None:
                left, right = self.x_of(on_s), self.x_of(mark.t_s)
                painter.drawRect(QRectF(left, track_y - 5, max(right - left, 2.0), 10))
                on_s = None
        painter.setOpacity(1.0)

    def _draw_mark(self, painter: QPainter, mark: Mark) -> None:
        x, y, size = self.x_of(mark.t_s), self.height() * 0.26, 4.0
        colour = QColor(self._theme.mark)
        painter.setPen(QPen(colour, 1))
        painter.drawLine(QPointF(x, y), QPointF(x, self.height() * 0.68))
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(colour)
        if mark.kind is MarkKind.PUMP_ON:
            painter.drawPolygon(
                QPolygonF([QPointF(x, y - size), QPointF(x + 1.6 * size, y), QPointF(x, y + size)])
            )
        elif mark.kind is MarkKind.PUMP_OFF:
            painter.drawRect(QRectF(x - size, y - size, 2 * size, 2 * size))
        elif mark.kind is MarkKind.NOTE:
            painter.drawEllipse(QPointF(x, y), size, size)
        else:
            painter.setPen(QPen(QColor(self._theme.bad), 2))
            painter.drawLine(QPointF(x - size, y - size), QPointF(x + size, y + size))
            painter.drawLine(QPointF(x - size, y + size), QPointF(x + size, y - size))

    # -- using -------------------------------------------------------------------------------------------

    def _moved_by_user(self, action: int) -> None:
        # Told before the value changes: sliderPosition already is where it goes. A drag is told at its end.
        if action != QAbstractSlider.SliderAction.SliderMove.value:
            self.chosen.emit(self._start_s + self.sliderPosition() / TICKS_PER_S)

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Take the handle to the place clicked."""
        if event.button() is Qt.MouseButton.LeftButton:
            self.setSliderDown(True)
            self.setSliderPosition(self._ticks_at(event.position().x()))
            self.update()

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        """Drag the handle; without a button, tell which mark is under the pointer."""
        if self.isSliderDown():
            self.setSliderPosition(self._ticks_at(event.position().x()))
            self.update()
            return
        near = min(
            self._marks, key=lambda mark: abs(self.x_of(mark.t_s) - event.position().x()), default=None
        )
        hit = near is not None and abs(self.x_of(near.t_s) - event.position().x()) <= 6
        self.setToolTip(f"{near.t_s - self._start_s:.1f} s: {near}" if near is not None and hit else "")

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        """Let go: the replay goes there."""
        if event.button() is Qt.MouseButton.LeftButton and self.isSliderDown():
            chosen_s = self.time_s
            self.setSliderDown(False)
            self.chosen.emit(chosen_s)
