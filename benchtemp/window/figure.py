"""A number that is read from afar: its unit is written smaller, so that the number can be larger."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QSize
from PySide6.QtGui import QFont, QFontMetricsF, QPainter, QPaintEvent, QPalette
from PySide6.QtWidgets import QLabel, QSizePolicy

from benchtemp.window.theme import figure_width

UNIT_SHARE = 0.5
"""How large a unit is written against its number."""
_UNITS = frozenset({"°C", "°F", "K", "s"})


def parted(text: str) -> tuple[str, str]:
    """Return what is written large and the unit behind it, empty where there is none."""
    number, _, unit = text.rpartition(" ")
    return (number, unit) if unit in _UNITS else (text, "")


def width_of(font: QFont, pattern: str) -> int:
    """Return how wide a text becomes in pixels: each `0` in `pattern` stands for any figure."""
    number, unit = parted(pattern)
    return figure_width(font, number) + int(_unit_width(font, unit))


def _unit_font(font: QFont) -> QFont:
    small = QFont(font)
    small.setPointSizeF(font.pointSizeF() * UNIT_SHARE)
    return small


def _gap(font: QFont) -> float:
    return QFontMetricsF(_unit_font(font)).horizontalAdvance(" ") * 0.8


def _unit_width(font: QFont, unit: str) -> float:
    return _gap(font) + QFontMetricsF(_unit_font(font)).horizontalAdvance(unit) + 1.0 if unit else 0.0


class Figure(QLabel):
    """One line of text on a given base line; `text()` is all of it."""

    def __init__(self, text: str = "—") -> None:
        super().__init__(text)
        self._pattern = "0"
        self._tallest = QFont(self.font())
        self.setSizePolicy(QSizePolicy.Policy.MinimumExpanding, QSizePolicy.Policy.Fixed)

    def restyle(self, font: QFont, pattern: str, tallest: QFont) -> None:
        """Take a font, and the room for the widest text.

        Args:
            font: Of the number.
            pattern: The widest text; each `0` stands for any figure.
            tallest: The largest font in the row: all stand on its base line.
        """
        self._pattern, self._tallest = pattern, QFont(tallest)
        self.setFont(font)
        self.updateGeometry()
        self.update()

    def sizeHint(self) -> QSize:
        """Return the room of the widest text, or of this one where it is wider."""
        width = max(width_of(self.font(), self._pattern), width_of(self.font(), self.text()))
        return QSize(width, int(QFontMetricsF(self._tallest).height()))

    def minimumSizeHint(self) -> QSize:
        """Return the same: a figure is never cut."""
        return self.sizeHint()

    def paintEvent(self, _event: QPaintEvent) -> None:
        """Write number and unit on one base line."""
        painter = QPainter(self)
        painter.setPen(self.palette().color(QPalette.ColorRole.WindowText))
        number, unit = parted(self.text())
        base = self.height() - QFontMetricsF(self._tallest).descent()
        font = self.font()
        painter.setFont(font)
        painter.drawText(QPointF(0.0, base), number)
        if unit:
            painter.setFont(_unit_font(font))
            painter.drawText(QPointF(QFontMetricsF(font).horizontalAdvance(number) + _gap(font), base), unit)
        painter.end()
