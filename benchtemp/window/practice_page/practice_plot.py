"""The trace a trainee watches: only what has come so far, and afterwards his marks beside the reference."""

from __future__ import annotations

from math import ceil
from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import Slot
from PySide6.QtWidgets import QHBoxLayout, QLabel, QVBoxLayout, QWidget

from benchtemp.units import TempUnit, degc_to, temp_text
from benchtemp.window.panel import Panel
from benchtemp.window.panels.labels import button
from benchtemp.window.plot.canvas import Canvas
from benchtemp.window.plot.curves import Curves, shown_temps
from benchtemp.window.plot.drawn_trace import with_gaps
from benchtemp.window.plot.shading import Shading
from benchtemp.window.plot.span import plausible, temp_span
from benchtemp.window.practice_page.answer_lines import AnswerLines, Level, Upright
from benchtemp.window.theme import figure_width, repolish

if TYPE_CHECKING:
    from benchtemp.readings.reading import FloatArray
    from benchtemp.shots.recipe import Recipe
    from benchtemp.teaching.exercise import Reference
    from benchtemp.teaching.marking import Answer
    from benchtemp.window.theme import Theme

LEAST_S = 45.0
STEP_S = 15.0
"""The time axis grows in steps, so that its end does not give away when the shot ends."""
_NEAR = (8.0, 2.0)
"""K below and above the highest reading drawn, when zoomed in."""


class PracticePlot(Panel):
    """Trace with nothing read out of it, until the reference is shown."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setProperty("look", "surface")
        self.canvas = Canvas(self)
        self.canvas.setAccessibleName("Temperature trace")
        self.curves = Curves(self.canvas)
        self.curves.set_channels(("T1",), 0)
        self.shading = Shading(self.canvas)
        self.lines = AnswerLines(self.canvas)
        self._t_s: FloatArray = np.empty(0)
        self._temp_degc: FloatArray = np.empty(0)
        self._rows = 0
        self._now_s = 0.0
        self._recipe: Recipe | None = None
        self._shows_band = True
        self._answer: Answer | None = None
        self._reference: Reference | None = None
        self._span_s = (0.0, LEAST_S)
        self._temp_range: tuple[float, float] | None = None
        self._by_hand = False
        self.caption = QLabel()
        self.now = QLabel("—")
        self.now.setAccessibleName("Temperature")
        self.near_button = button("Zoom in (Z)", tip="The temperature axis close to the trace's top (Z)")
        self.near_button.setCheckable(True)
        self.near_button.toggled.connect(self._refit)
        self.whole_button = button("Whole trace", tip="Back to the whole trace, after moving it by hand")
        self.whole_button.clicked.connect(self.show_whole)
        head = QHBoxLayout()
        head.setContentsMargins(10, 6, 6, 0)
        head.setSpacing(8)
        head.addWidget(self.caption, 1)
        head.addWidget(self.now)
        head.addSpacing(8)
        head.addWidget(self.near_button)
        head.addWidget(self.whole_button)
        column = QVBoxLayout(self)
        column.setContentsMargins(2, 2, 6, 2)
        column.setSpacing(0)
        column.addLayout(head)
        column.addWidget(self.canvas, 1)
        self.canvas.moved_by_hand.connect(self._take_hand)
        self.canvas.focus_changed.connect(self._show_focus)

    # -- look ----------------------------------------------------------------------------------------------

    def set_theme(self, theme: Theme) -> None:
        """Restyle everything by hand: plots do not follow a palette."""
        super().set_theme(theme)
        self.caption.setFont(theme.font())
        figures = theme.font(2.2, bold=True, figures=True)
        self.now.setFont(figures)
        self.now.setMinimumWidth(figure_width(figures, "000.0 °C"))
        self.canvas.restyle(theme, 1.0)
        self.curves.restyle(theme, 1.0)
        self.shading.restyle(theme, 1.0)
        self.lines.restyle(theme)
        self.canvas.name_axes(self.unit, since_pump=False, estimated=False)

    def set_unit(self, unit: TempUnit) -> None:
        """Show temperatures in another unit."""
        if unit is self.unit:
            return
        super().set_unit(unit)
        self.canvas.name_axes(unit, since_pump=False, estimated=False)
        self._temp_range = None
        self._by_hand = False
        self._draw(whole=True)

    @Slot()
    def _show_focus(self) -> None:
        self.setProperty("look", "surface-focus" if self.canvas.hasFocus() else "surface")
        repolish(self)

    # -- content -------------------------------------------------------------------------------------------

    def show_item(
        self, t_s: FloatArray, temp_degc: FloatArray, recipe: Recipe, *, shows_band: bool, caption: str
    ) -> None:
        """Take another shot; nothing of it is drawn before `show_until`.

        Args:
            t_s: Times from 0, shape (n,).
            temp_degc: Corrected temperatures, shape (n,), NaN where there is none.
            recipe: For the target band.
            shows_band: Whether the trainee sees the band.
            caption: What the shot is called.
        """
        spread = np.diff(t_s)
        gap_s = max(0.5, 3.5 * float(np.median(spread))) if len(spread) else 2.0
        drawn_s, temps = with_gaps(t_s, temp_degc[:, None], np.full(len(t_s), np.nan), None, gap_s)
        self._t_s, self._temp_degc = drawn_s, temps[:, 0]
        self._recipe, self._shows_band = recipe, shows_band
        self._answer = self._reference = None
        self._temp_range = None
        self._by_hand = False
        self.near_button.setChecked(False)
        self.caption.setText(caption)
        self._now_s = 0.0
        self._draw(whole=True)

    def show_until(self, now_s: float) -> None:
        """Draw what has come up to a moment."""
        rows = int(np.searchsorted(self._t_s, now_s, side="right"))
        self._now_s = now_s
        if rows != self._rows:
            self._draw(whole=False)

    def show_answer(self, answer: Answer, reference: Reference | None = None) -> None:
        """Draw the trainee's marks, and the reference beside them once it may be seen."""
        if answer != self._answer or reference is not self._reference:
            self._answer, self._reference = answer, reference
            self.now.setVisible(reference is None)
            self._draw(whole=True)

    def describe(self, sentence: str) -> None:
        """Tell in words what the plot shows."""
        self.canvas.setAccessibleDescription(sentence)

    # -- view ----------------------------------------------------------------------------------------------

    @Slot()
    def show_whole(self) -> None:
        """Show the whole trace again."""
        self._by_hand = False
        self.near_button.setChecked(False)
        self._refit()

    @Slot()
    def _take_hand(self) -> None:
        self._by_hand = True
        self.shading.place_names()

    @Slot()
    def _refit(self) -> None:
        self._temp_range = None
        self._by_hand = False
        self._draw(whole=True)

    # -- drawing -------------------------------------------------------------------------------------------

    def _draw(self, *, whole: bool) -> None:
        self._rows = int(np.searchsorted(self._t_s, self._now_s, side="right"))
        t_s, temp_degc = self._t_s[: self._rows], self._temp_degc[: self._rows]
        temps = shown_temps(temp_degc, self.unit)
        self.curves.show(t_s, temps[:, None])
        known = temp_degc[np.isfinite(temp_degc)]
        self.now.setText(temp_text(float(known[-1]) if len(known) else None, self.unit))
        if not self._by_hand:
            self._fit(temp_degc, whole=whole)
        if whole:
            self._shade()
            self.lines.show(self._uprights(), self._levels())

    def _fit(self, temp_degc: FloatArray, *, whole: bool) -> None:
        steps = ceil((self._now_s + 5.0 - LEAST_S) / STEP_S)
        span_s = (0.0, LEAST_S + STEP_S * max(0, steps))
        if span_s != self._span_s or whole:
            self._span_s = span_s
            self.canvas.view.setXRange(*span_s, padding=0)
        values = shown_temps(plausible(temp_degc), self.unit)
        step = 20.0 if self.unit is TempUnit.DEGF else 10.0
        if self.near_button.isChecked() and values.size:
            scale = 1.8 if self.unit is TempUnit.DEGF else 1.0
            top = float(np.ceil(values.max()))
            wanted = (top - _NEAR[0] * scale, top + _NEAR[1] * scale)
        else:
            wanted = temp_span(values, self._least_range(values), self._temp_range, step)
        if wanted != self._temp_range or whole:
            self._temp_range = wanted
            self.canvas.view.setYRange(*wanted, padding=0)
            self.shading.place_names()

    def _least_range(self, values: FloatArray) -> tuple[float, float]:
        """Return what is in view in any case: the band where it is shown, else a wide stretch."""
        if self._recipe is not None and self._shows_band:
            return (
                degc_to(self._recipe.band_low_degc, self.unit),
                degc_to(self._recipe.band_high_degc, self.unit),
            )
        middle = float(values[0]) if values.size else degc_to(90.0, self.unit)
        return middle, degc_to(100.0, self.unit)

    def _shade(self) -> None:
        banded = self._recipe is not None and self._shows_band
        self.shading.let_band_be_seen(banded)
        if banded:
            self.shading.show_band(*self._least_range(np.empty(0)))
        reference = self._reference
        span = None
        if reference is not None and reference.plateau_start_s is not None:
            assert reference.plateau_end_s is not None
            span = (reference.plateau_start_s, reference.plateau_end_s)
        self.shading.show_plateau(span)

    def _uprights(self) -> tuple[Upright, ...]:
        lines = []
        if self._answer is not None:
            lines += _timed(self._answer.pump_on_s, self._answer.plateau_start_s, own=True)
        if self._reference is not None:
            lines += _timed(self._reference.pump_on_s, self._reference.plateau_start_s, own=False)
        return tuple(lines)

    def _levels(self) -> tuple[Level, ...]:
        reference, answer = self._reference, self._answer
        if reference is None or reference.plateau_start_s is None or reference.plateau_end_s is None:
            return ()
        span = (reference.plateau_start_s, reference.plateau_end_s)
        found = []
        for temp_degc, own in (
            (None if answer is None else answer.brew_temp_degc, True),
            (reference.brew_temp_degc, False),
        ):
            if temp_degc is not None:
                found.append(Level(degc_to(temp_degc, self.unit), *span, own=own))
        return tuple(found)


def _timed(pump_on_s: float | None, plateau_start_s: float | None, *, own: bool) -> list[Upright]:
    named = ((pump_on_s, "pump on"), (plateau_start_s, "plateau"))
    return [Upright(t_s, text, own) for t_s, text in named if t_s is not None]
