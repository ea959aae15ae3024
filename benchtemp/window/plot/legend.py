"""The legend above the plot: a piece of each channel's line and its name."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QPointF, QSize
from PySide6.QtGui import QColor, QFontMetricsF, QPainter
from PySide6.QtWidgets import QSizePolicy, QWidget

from benchtemp.window.plot.canvas import pen
from benchtemp.window.theme import LIGHT, ChannelLook

if TYPE_CHECKING:
    from PySide6.QtGui import QPaintEvent

    from benchtemp.window.theme import Theme

_SWATCH = 34.0
_SPACE = 6.0


class Legend(QWidget):
    """One row of line samples; takes no room for a single channel alone."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme: Theme = LIGHT
        self._scale = 1.0
        self._texts: tuple[str, ...] = ()
        self._basket = 0
        self._extra = ""
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setAccessibleName("Legend")
        self.hide()

    @property
    def texts(self) -> tuple[str, ...]:
        """Return what stands in the legend, one text per channel, and that of a further curve."""
        return (*self._texts, self._extra) if self._extra else self._texts

    def show_channels(self, channels: tuple[str, ...], basket: int) -> None:
        """Show these channels; one alone needs no legend."""
        self._basket = basket
        self._texts = tuple(
            f"{name} basket" if index == basket else name for index, name in enumerate(channels)
        )
        self._renew()

    def show_extra(self, text: str) -> None:
        """Name a further curve, drawn dashed in the colour of text; none with an empty text."""
        if text != self._extra:
            self._extra = text
            self._renew()

    def _renew(self) -> None:
        self.setAccessibleDescription(", ".join(self.texts))
        self.setVisible(len(self._texts) > 1 or bool(self._extra))
        self.updateGeometry()
        self.update()

    def restyle(self, theme: Theme, scale: float) -> None:
        """Take a theme's channel looks."""
        self._theme, self._scale = theme, scale
        self.updateGeometry()
        self.update()

    def sizeHint(self) -> QSize:
        """Return room for one row."""
        metrics = QFontMetricsF(self._theme.font(self._scale, bold=True))
        width = sum(
            metrics.horizontalAdvance(text) + (_SWATCH + 3 * _SPACE) * self._scale for text in self.texts
        )
        return QSize(int(width) + 20, int(metrics.height() * 1.3))

    def minimumSizeHint(self) -> QSize:
        """Return the height of one row; a narrow plot cuts the last names, which stand in the plot too."""
        return QSize(60, self.sizeHint().height())

    def paintEvent(self, _event: QPaintEvent) -> None:
        """Draw samples and names."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        x, middle = 10.0, self.height() / 2
        swatch = _SWATCH * self._scale
        for index, text in enumerate(self.texts):
            look = self._theme.channel(index)
            if index == len(self._texts):
                look = ChannelLook(self._theme.text, (5, 3))
            font = self._theme.font(self._scale, bold=index == self._basket)
            metrics = QFontMetricsF(font)
            painter.setPen(pen(look.colour, look.dash, 2.0 if index == self._basket else 1.5))
            painter.drawLine(QPointF(x, middle), QPointF(x + swatch, middle))
            x += swatch + _SPACE
            painter.setPen(QColor(self._theme.text))
            painter.setFont(font)
            painter.drawText(QPointF(x, middle + metrics.ascent() / 2 - metrics.descent() / 2), text)
            x += metrics.horizontalAdvance(text) + 2 * _SPACE * self._scale
        painter.end()
