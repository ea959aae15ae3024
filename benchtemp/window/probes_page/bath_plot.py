"""The live trace of a bath: the probes as reported, the reference with its uncertainty, the level found."""

from __future__ import annotations

from math import ceil, floor
from typing import TYPE_CHECKING, Any

import numpy as np
import pyqtgraph as pg
from PySide6.QtCore import QSize
from PySide6.QtGui import QColor
from PySide6.QtWidgets import QSizePolicy, QVBoxLayout, QWidget

from benchtemp.units import TempUnit, degc_to, delta_to
from benchtemp.window.panel import Panel
from benchtemp.window.plot.canvas import Canvas, pen
from benchtemp.window.plot.curves import Curves, shown_temps
from benchtemp.window.plot.legend import Legend

if TYPE_CHECKING:
    from benchtemp.probes.reference import Reference
    from benchtemp.readings.reading import FloatArray
    from benchtemp.window.theme import Theme

SHOWN_S = 150.0
_STEP_S = 15.0
_LEAST_K = 1.0
"""Least height of the plot: below it noise would look like trouble."""


class BathPlot(Panel):
    """Follows the last minutes of a bath; time counts from its beginning."""

    def __init__(self, parent: QWidget | None = None, *, shown_s: float = SHOWN_S) -> None:
        super().__init__(parent)
        self.setProperty("look", "surface")
        self._shown_s = shown_s
        self.canvas = Canvas(self)
        self.canvas.setAccessibleName("Trace of the bath")
        self.canvas.view.setMouseEnabled(x=False, y=False)
        self.canvas.setMinimumHeight(90)
        self.curves = Curves(self.canvas)
        self.legend = Legend()
        self.band = pg.LinearRegionItem(orientation="horizontal", movable=False)
        self.band.setZValue(-20)
        self.reference_line = _line("reference", 0.02)
        self.level_line = _line("settled level", 0.84)
        for item in (self.band, self.reference_line, self.level_line):
            self.canvas.addItem(item, ignoreBounds=True)
        self._reference: Reference | None = None
        self._level_degc: float | None = None
        self._times = np.empty(0)
        self._temps = np.empty((0, 0))
        layout = QVBoxLayout(self)
        layout.setContentsMargins(2, 2, 6, 2)
        layout.setSpacing(0)
        layout.addWidget(self.legend)
        layout.addWidget(self.canvas, 1)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)

    def minimumSizeHint(self) -> QSize:
        """Let the page shrink."""
        return QSize(240, int(self.fontMetrics().lineSpacing() * 7))

    # -- look ----------------------------------------------------------------------------------------------

    def set_theme(self, theme: Theme) -> None:
        """Restyle everything by hand: plots do not follow a palette."""
        super().set_theme(theme)
        self.canvas.restyle(theme, 1.0)
        self.curves.restyle(theme, 1.0)
        self.legend.restyle(theme, 1.0)
        ground = QColor(theme.reference)
        ground.setAlphaF(0.22)
        self.band.setBrush(ground)
        for line in self.band.lines:
            line.setPen(pg.mkPen(None))
        for item, colour, dash in (
            (self.reference_line, theme.soft, (6.0, 4.0)),
            (self.level_line, theme.good, (2.0, 3.0)),
        ):
            item.setPen(pen(colour, dash))
            item.label.setColor(colour)
            item.label.setFont(theme.font(0.95))
        self.canvas.name_axes(self.unit, since_pump=False, estimated=False)

    def set_unit(self, unit: TempUnit) -> None:
        """Show temperatures in another unit."""
        super().set_unit(unit)
        self.canvas.name_axes(unit, since_pump=False, estimated=False)
        self._draw()

    # -- content -------------------------------------------------------------------------------------------

    def begin(self, names: tuple[str, ...], reference: Reference | None) -> None:
        """Get ready for a bath with these probes."""
        self.curves.set_channels(names, -1)
        self.legend.show_channels(names, -1)
        self._reference = reference
        self._level_degc = None
        self._times, self._temps = np.empty(0), np.empty((0, len(names)))
        self._draw()

    def show_readings(self, t_s: FloatArray, temps_degc: FloatArray, level_degc: float | None) -> None:
        """Show readings, shapes (rows,) and (rows, probes), and the settled level of a single probe."""
        self._times, self._temps, self._level_degc = t_s, temps_degc, level_degc
        self._draw()

    def _draw(self) -> None:
        unit = self.unit
        last_s = float(self._times[-1]) if len(self._times) else 0.0
        end_s = max(self._shown_s, _STEP_S * ceil((last_s + 1.0) / _STEP_S))
        first = int(np.searchsorted(self._times, end_s - self._shown_s))
        t_s, temps = self._times[first:], self._temps[first:]
        self.canvas.view.setXRange(end_s - self._shown_s, end_s, padding=0)
        self._draw_lines(unit)
        self.canvas.view.setYRange(*self._range(temps), padding=0)
        self.curves.show(t_s, shown_temps(temps, unit))

    def _draw_lines(self, unit: TempUnit) -> None:
        reference = self._reference
        for item in (self.band, self.reference_line):
            item.setVisible(reference is not None)
        if reference is not None:
            middle, half = degc_to(reference.temp_degc, unit), delta_to(reference.expanded_k(), unit)
            self.band.setRegion((middle - half, middle + half))
            self.reference_line.setValue(middle)
        self.level_line.setVisible(self._level_degc is not None)
        if self._level_degc is not None:
            self.level_line.setValue(degc_to(self._level_degc, unit))

    def _range(self, temps: FloatArray) -> tuple[float, float]:
        """Return lowest and highest temperature to show, in the unit shown: the readings, in whole steps."""
        unit = self.unit
        finite = temps[np.isfinite(temps) & (np.abs(temps) < 400.0)]
        reference = self._reference
        if not finite.size:
            middle = degc_to(20.0 if reference is None else reference.temp_degc, unit)
            return middle - 5.0, middle + 5.0
        low, high = float(finite.min()), float(finite.max())
        if reference is not None and low - 3.0 < reference.temp_degc < high + 3.0:
            half = reference.expanded_k()
            low, high = min(low, reference.temp_degc - half), max(high, reference.temp_degc + half)
        low, high = degc_to(low, unit), degc_to(high, unit)
        least = delta_to(_LEAST_K, unit)
        if high - low < least:
            middle = (low + high) / 2.0
            low, high = middle - least / 2.0, middle + least / 2.0
        step = 0.5 if high - low < 4.0 else 2.0 if high - low < 20.0 else 10.0
        return step * floor(low / step - 0.05), step * ceil(high / step + 0.05)


def _line(text: str, place: float) -> Any:
    return pg.InfiniteLine(
        angle=0, label=text, labelOpts={"position": place, "anchors": [(0.0, 1.0), (0.0, 1.0)]}
    )
