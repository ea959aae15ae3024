"""The water's temperature with the probe's lag removed: a second, estimated curve, clearly named."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pyqtgraph as pg

from benchtemp.errors import BadInput
from benchtemp.window.plot.canvas import Canvas, pen
from benchtemp.window.plot.curves import shown_temps

if TYPE_CHECKING:
    from benchtemp.readings.reading import FloatArray
    from benchtemp.units import TempUnit
    from benchtemp.window.plot.drawn_trace import DrawnTrace
    from benchtemp.window.theme import Theme

RENEWED_EVERY_S = 1.0
"""How often the curve follows a live trace; all of it is worked out anew each time."""
ROWS_MAX = 4000
"""Longer stretches take too long to work out while readings come."""
_BEFORE_TAUS = 10.0
"""So many time constants before the view are taken in, that its left edge does not bend the curve."""


class WaterLine:
    """Works the curve out for what is in view, and draws it.

    Attributes:
        tau_s: Time constant of the basket's probe, None where it is not known.
        wanted: Whether the user wants to see the curve.
        text: What the legend says: its name with the noise gain, or why there is none; empty if unwanted.
        curve: The drawn item.
        temps_degc: What is drawn, shape (rows,); empty where nothing is.
    """

    def __init__(self, canvas: Canvas) -> None:
        self.tau_s: float | None = None
        self.wanted = False
        self.text = ""
        self.temps_degc: FloatArray = np.empty(0)
        self.curve = pg.PlotDataItem(antialias=True)
        self.curve.setZValue(7)
        canvas.addItem(self.curve)
        self._drawn_at: tuple[object, ...] = ()

    @property
    def shown(self) -> bool:
        """Tell whether the curve is wanted and can be worked out."""
        return self.wanted and self.tau_s is not None

    def restyle(self, theme: Theme, scale: float) -> None:
        """Take a theme's colours."""
        self.curve.setPen(pen(theme.text, (5, 3), max(1.0, scale)))

    def forget(self) -> None:
        """Work it out anew at the next occasion."""
        self._drawn_at = ()

    def show(
        self, drawn: DrawnTrace, origin_s: float, view: tuple[float, float], basket: int, unit: TempUnit
    ) -> None:
        """Draw the curve over a stretch of time.

        Args:
            drawn: The corrected readings.
            origin_s: Where the axis has its 0, in recording time.
            view: Edges of what is seen, counted from the origin, s.
            basket: The channel.
            unit: To show temperatures in.
        """
        tau_s = self.tau_s
        if not self.wanted or tau_s is None:
            self._say_nothing("")
            return
        left, right = view
        t_s, temps = drawn.between(origin_s + left - _BEFORE_TAUS * tau_s, origin_s + right)
        last_s = float(t_s[-1]) if len(t_s) else 0.0
        at = (origin_s, left, right, basket, unit, tau_s, last_s // RENEWED_EVERY_S)
        if at == self._drawn_at:
            return
        self._drawn_at = at
        if len(t_s) > ROWS_MAX:
            self._say_nothing("lag not removed: zoom in")
            return
        from benchtemp.probes.lag import remove_lag  # noqa: PLC0415 - few want it, and it brings much with it

        try:
            removed = remove_lag(t_s, temps[:, basket], tau_s)
        except BadInput:
            self._say_nothing("lag not removed: too few readings")
            return
        self.text = f"{removed.label}, τ {tau_s:.2f} s, noise × {removed.noise_gain:.1f}"
        seen = t_s >= origin_s + left
        self.temps_degc = removed.temp_degc[seen]
        self.curve.setData(t_s[seen] - origin_s, shown_temps(self.temps_degc, unit))

    def _say_nothing(self, why: str) -> None:
        self.text = why
        self.temps_degc = np.empty(0)
        self.curve.setData(self.temps_degc, self.temps_degc)
