"""The trace an import would give, drawn as it is, with the shots found in it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pyqtgraph as pg
from PySide6.QtCore import Slot
from PySide6.QtGui import QColor
from PySide6.QtWidgets import QVBoxLayout, QWidget

from benchtemp.units import TempUnit
from benchtemp.window.panel import Panel
from benchtemp.window.plot.canvas import Canvas
from benchtemp.window.plot.curves import Curves, shown_temps
from benchtemp.window.plot.drawn_trace import GAP_PERIODS, with_gaps

if TYPE_CHECKING:
    from benchtemp.logbook.importing import Trial
    from benchtemp.window.theme import Theme

_LEAST_SPAN_K = 4.0
_MARGIN = 0.06
_SHADE_ALPHA = 38


class TraceView(Panel):
    """Draws a trial's trace; zooming and moving work as in the plot of the Bench."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setProperty("look", "surface")
        self.canvas = Canvas(self)
        self.canvas.setAccessibleName("The trace that would be imported")
        self.curves = Curves(self.canvas)
        self._shades: list[Any] = []
        self._trial: Trial | None = None
        layout = QVBoxLayout(self)
        layout.setContentsMargins(2, 4, 6, 2)
        layout.addWidget(self.canvas)
        self.canvas.moved_by_hand.connect(self._place_names)
        self.canvas.view.sigResized.connect(self._place_names)

    def set_theme(self, theme: Theme) -> None:
        """Restyle by hand: plots do not follow a palette."""
        super().set_theme(theme)
        self.canvas.restyle(theme, 1.0)
        self.curves.restyle(theme, 1.0)
        self.canvas.name_axes(self.unit, since_pump=False, estimated=False)
        self._shade()

    def set_unit(self, unit: TempUnit) -> None:
        """Draw in another unit."""
        super().set_unit(unit)
        self.canvas.name_axes(unit, since_pump=False, estimated=False)
        self.show_trial(self._trial)

    @Slot()
    def _place_names(self, *_: object) -> None:
        self.curves.place_names()

    def show_trial(self, trial: Trial | None) -> None:
        """Draw what would come out of a file; an empty plot where nothing would."""
        self._trial = trial
        stream = None if trial is None else trial.stream
        if stream is None:
            self.curves.set_channels((), 0)
            self.canvas.setAccessibleDescription("Nothing can be drawn yet.")
            self._shade()
            return
        if self.curves.channels != stream.channels:
            self.curves.set_channels(stream.channels, 0)
        steps_s = np.diff(stream.t_s)
        usual_s = float(np.median(steps_s)) if len(steps_s) else 1.0
        no_weight = np.full(len(stream.t_s), np.nan)
        t_s, temps_degc = with_gaps(
            stream.t_s, stream.temps_degc, no_weight, None, max(GAP_PERIODS * usual_s, 0.5)
        )
        temps = shown_temps(temps_degc, self.unit)
        self._fit(t_s, temps)
        self.curves.show(t_s, temps)
        self.canvas.setAccessibleDescription(
            f"{len(stream.t_s)} readings of {len(stream.channels)} channels, "
            f"{float(t_s[-1] - t_s[0]):.0f} s long."
        )
        self._shade()

    def _fit(self, t_s: Any, temps: Any) -> None:
        known = temps[np.isfinite(temps)]
        low, high = (float(known.min()), float(known.max())) if len(known) else (20.0, 100.0)
        room = max(0.0, _LEAST_SPAN_K - (high - low)) / 2 + _MARGIN * (high - low)
        view = self.canvas.view
        view.setYRange(low - room, high + room, padding=0.0)
        start, end = float(t_s[0]), float(t_s[-1])
        view.setXRange(start, max(end, start + 1.0), padding=0.01)

    def _shade(self) -> None:
        """Shade the shots that were found."""
        for shade in self._shades:
            self.canvas.removeItem(shade)
        self._shades = []
        analysis = None if self._trial is None or self._trial.stream is None else self._trial.analysis
        for shot in () if analysis is None else analysis.shots:
            colour = QColor(self.theme.plateau)
            colour.setAlpha(_SHADE_ALPHA)
            ends = (shot.result.pump_on_s, shot.result.pump_off_s or shot.result.plateau_end_s)
            if ends[1] is None:
                continue
            shade = pg.LinearRegionItem(ends, movable=False, brush=colour, pen=pg.mkPen(None))
            shade.setZValue(-50)
            self.canvas.addItem(shade, ignoreBounds=True)
            self._shades.append(shade)
