"""The curves of the channels, their names at the end of the line, and the reference trace behind them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pyqtgraph as pg
from PySide6.QtGui import QFontMetricsF

from benchtemp.units import TempUnit
from benchtemp.window.plot.canvas import Canvas, pen, veil

if TYPE_CHECKING:
    from benchtemp.readings.reading import FloatArray
    from benchtemp.window.theme import Theme

WIDE_UP_TO = 1500
"""Up to this many points the basket's curve is drawn two pixels wide; beyond, wide pens are too slow."""


_OTHERS = 0.9
"""How wide the other channels' curves are in a large view, px for each step of its scale."""


def shown_temps(temps_degc: FloatArray, unit: TempUnit) -> FloatArray:
    """Return temperatures in the unit shown (the very array where nothing is to be done)."""
    if unit is TempUnit.DEGF:
        return temps_degc * 1.8 + 32.0
    return temps_degc


def spread(wanted: list[float], least: float, low: float, high: float) -> list[float]:
    """Return places near the wanted ones (rising) with at least `least` between them, within limits."""
    places: list[float] = []
    for place in wanted:
        places.append(max(place, low, places[-1] + least if places else low))
    ceiling = high
    for index in reversed(range(len(places))):
        places[index] = min(places[index], ceiling)
        ceiling = places[index] - least
    return places


class Curves:
    """One curve for every channel; made once per sitting, given new data from then on."""

    def __init__(self, canvas: Canvas) -> None:
        self._canvas = canvas
        self._curves: list[Any] = []
        self._names: list[Any] = []
        self._channels: tuple[str, ...] = ()
        self._basket = 0
        self._wide = False
        self._theme: Theme | None = None
        self._scale = 1.0
        self._ends: list[tuple[float, float] | None] = []
        self._end = float("-inf")
        self.reference = pg.PlotDataItem(antialias=True)
        self.reference.setZValue(-5)
        canvas.addItem(self.reference)

    @property
    def channels(self) -> tuple[str, ...]:
        """Return the names of the channels there are curves for."""
        return self._channels

    def curve(self, index: int) -> Any:
        """Return a channel's curve."""
        return self._curves[index]

    def set_channels(self, channels: tuple[str, ...], basket: int) -> None:
        """Make curves for these channels, taking those there are away."""
        for item in (*self._curves, *self._names):
            self._canvas.removeItem(item)
        self._curves, self._names = [], []
        self._channels, self._basket = channels, basket
        self._ends = [None] * len(channels)
        for index, _ in enumerate(channels):
            curve = pg.PlotDataItem(antialias=True)
            curve.setZValue(10 if index == basket else 5)
            self._canvas.addItem(curve)
            self._curves.append(curve)
            if len(channels) > 1:
                name = pg.TextItem(anchor=(0.0, 0.5))
                name.setZValue(12)
                name.hide()
                self._canvas.addItem(name, ignoreBounds=True)
                self._names.append(name)
        if self._theme:
            self.restyle(self._theme, self._scale)

    def restyle(self, theme: Theme, scale: float) -> None:
        """Take a theme's channel colours and dashes."""
        self._theme, self._scale = theme, scale
        for index, curve in enumerate(self._curves):
            look = theme.channel(index)
            wide = 1.0
            if self._wide:
                # On the bench thin ones cost least; from afar they could not be seen.
                wide = 2.0 * scale if index == self._basket else max(1.0, _OTHERS * scale)
            curve.setPen(pen(look.colour, look.dash, wide))
        for index, name in enumerate(self._names):
            name.setFont(theme.font(scale, bold=index == self._basket))
            name.setText(self._channels[index], color=theme.channel(index).ink)
            name.fill = veil(theme)
        self.reference.setPen(pen(theme.reference, (2, 3)))

    def show(self, x_s: FloatArray, temps: FloatArray) -> None:
        """Draw; `x_s` has shape (rows,), `temps` (rows, channels) in the unit shown."""
        wide = len(x_s) <= WIDE_UP_TO
        if wide != self._wide and self._theme:
            self._wide = wide
            self.restyle(self._theme, self._scale)
        for index, curve in enumerate(self._curves):
            curve.setData(x_s, temps[:, index])
        self._end = float(x_s[-1]) if len(x_s) else float("-inf")
        if self._names:
            for index in range(len(self._curves)):
                known = np.flatnonzero(np.isfinite(temps[-50:, index]))
                row = len(x_s) - len(temps[-50:]) + int(known[-1]) if len(known) else None
                self._ends[index] = None if row is None else (float(x_s[row]), float(temps[row, index]))
            self.place_names()

    @property
    def end(self) -> float:
        """Return where the curves drawn last end on the time axis; minus infinity without any."""
        return self._end

    def place_names(self) -> None:
        """Put the channels' names at the ends of their curves, moved apart where they would overlap."""
        if not self._names or self._theme is None:
            return
        (left, right), (low, high) = self._canvas.view.viewRange()
        height_px = max(1.0, self._canvas.view.height())
        line_height = QFontMetricsF(self._theme.font(self._scale)).height() * (high - low) / height_px
        width_px = max(1.0, self._canvas.view.width())
        room = (right - left) * 40 * self._scale / width_px
        order = sorted(
            (index for index, end in enumerate(self._ends) if end is not None and left <= end[0] <= right),
            key=lambda index: self._ends[index][1],  # type: ignore[index]  # those without an end are left out
        )
        for index, name in enumerate(self._names):
            name.setVisible(index in order)
        wanted = [self._ends[index][1] for index in order]  # type: ignore[index]  # as above
        heights = spread(wanted, line_height, low + line_height / 2, high - line_height / 2)
        for index, height in zip(order, heights, strict=True):
            end = self._ends[index]
            assert end is not None
            self._names[index].setPos(min(end[0], right - room), height)

    def show_reference(self, x_s: FloatArray | None, temps: FloatArray | None) -> None:
        """Draw a trace behind the live one, or none."""
        if x_s is None or temps is None:
            self.reference.setData([], [])
        else:
            self.reference.setData(x_s, temps)
