"""A slim bar that shows how far something has come toward a window it should end in."""

from __future__ import annotations

from PySide6.QtCore import QRectF, QSize, Qt
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QWidget

from benchtemp.window.theme import LIGHT, Theme

_HEIGHT_PX = 16
_TRACK_PX = 6
_ROOM_PAST_WINDOW = 1.25
_SCALE_WITHOUT_WINDOW = 50.0


class WindowBar(QWidget):
    """A track from zero to a quarter past the window's end; the window is bracketed, the value is filled.

    The place of the fill's end against the bracket tells the story, so colour is not needed to read it.
    """

    def __init__(self, parent: QWidget | None = None, *, name: str, unit: str) -> None:
        super().__init__(parent)
        self._theme = LIGHT
        self._name = name
        self._unit = unit
        self._value: float | None = None
        self._low: float | None = None
        self._high: float | None = None
        self.setAccessibleName(name)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)

    def set_theme(self, theme: Theme) -> None:
        """Take another theme's colours."""
        self._theme = theme
        self.update()

    def show_progress(self, value: float | None, low: float | None, high: float | None) -> None:
        """Show a value against a window; None where either is unknown."""
        if (value, low, high) == (self._value, self._low, self._high):
            return
        self._value, self._low, self._high = value, low, high
        self.setAccessibleDescription(self.summary())
        self.update()

    def summary(self) -> str:
        """Return in words what is drawn."""
        value = "none yet" if self._value is None else f"{self._value:.1f} {self._unit}"
        if self._low is None or self._high is None:
            return value
        return f"{value}, window {self._low:g}–{self._high:g} {self._unit}"

    @property
    def full_scale(self) -> float:
        """Return the value at the right end of the track."""
        if self._high is not None:
            return self._high * _ROOM_PAST_WINDOW
        return max((self._value or 0.0) * _ROOM_PAST_WINDOW, _SCALE_WITHOUT_WINDOW)

    def sizeHint(self) -> QSize:
        """Return a slim strip."""
        return QSize(160, _HEIGHT_PX)

    def minimumSizeHint(self) -> QSize:
        """Return the least that can be read."""
        return QSize(60, _HEIGHT_PX)

    def x_of(self, value: float) -> float:
        """Return where a value lies, in pixels from the left edge."""
        share = min(max(value / self.full_scale, 0.0), 1.0)
        return 1.0 + share * (self.width() - 2.0)

    def paintEvent(self, _event: QPaintEvent) -> None:
        """Draw track, window and value."""
        theme = self._theme
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        middle = self.height() / 2
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(theme.grid))
        track = QRectF(1, middle - _TRACK_PX / 2, self.width() - 2, _TRACK_PX)
        painter.drawRoundedRect(track, 3, 3)
        inside = False
        if self._low is not None and self._high is not None:
            left, right = self.x_of(self._low), self.x_of(self._high)
            painter.setBrush(QColor(theme.good_ground))
            painter.setPen(QPen(QColor(theme.good), 1.5))
            painter.drawRoundedRect(QRectF(left, 1.5, max(right - left, 3.0), self.height() - 3.0), 2, 2)
            inside = self._value is not None and self._low <= self._value <= self._high
        if self._value is not None and self._value > 0:
            past = self._high is not None and self._value > self._high
            colour = theme.good if inside else theme.bad if past else theme.accent
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(QColor(colour))
            end = self.x_of(self._value)
            painter.drawRoundedRect(QRectF(1, middle - _TRACK_PX / 2, max(end - 1, 2.0), _TRACK_PX), 3, 3)
            painter.setBrush(QColor(theme.text))
            painter.drawRect(QRectF(end - 1.0, 0, 2.0, self.height()))
        painter.end()
