"""The plot of the bench page: follows the live trace, shows a past shot, or stays where the user put it."""

from __future__ import annotations

from dataclasses import replace
from enum import StrEnum
from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import Signal, Slot
from PySide6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QVBoxLayout, QWidget

from benchtemp.units import TempUnit, degc_to
from benchtemp.window.panel import Panel
from benchtemp.window.plot.canvas import Canvas
from benchtemp.window.plot.curves import Curves, shown_temps
from benchtemp.window.plot.drawn_trace import DrawnTrace
from benchtemp.window.plot.in_view import caption_of, others_than, plateau_of
from benchtemp.window.plot.legend import Legend
from benchtemp.window.plot.reference import ReferenceChoice
from benchtemp.window.plot.shading import MarkLines, Shading
from benchtemp.window.plot.span import LEAD_S, TimeSpan, live_span, plausible, shot_span, temp_span
from benchtemp.window.plot.summary import trace_summary
from benchtemp.window.plot.water_line import WaterLine
from benchtemp.window.theme import repolish

if TYPE_CHECKING:
    from benchtemp.bench.snapshot import Snapshot
    from benchtemp.readings.reading import FloatArray, Mark
    from benchtemp.shots.shot import Shot
    from benchtemp.window.theme import Theme

_REFERENCE_AFTER_S = 8.0
_SUMMARY_EVERY_S = 2.0


class Mode(StrEnum):
    """What decides which part of the trace is in view."""

    FOLLOW = "follow"
    SHOT = "shot"
    FREE = "free"


class TracePlot(Panel):
    """Trace, target band, plateau, marks and reference.

    Signals:
        reference_chosen: `none`, `last`, or the key of a shot as text; to be remembered.
        mode_changed: Carries the new `Mode`.
    """

    reference_chosen = Signal(str)
    mode_changed = Signal(object)

    def __init__(self, parent: QWidget | None = None, *, scale: float = 1.0, tools: bool = True) -> None:
        """Make an empty plot.

        Args:
            parent: Widget it belongs to.
            scale: Of fonts and lines against the usual size.
            tools: Whether the row above it has controls, beside its caption.
        """
        super().__init__(parent)
        self.setProperty("look", "surface")
        self._scale = scale
        self.canvas = Canvas(self)
        self.canvas.setAccessibleName("Temperature trace")
        self.curves = Curves(self.canvas)
        self.legend = Legend()
        self.water = WaterLine(self.canvas)
        self.shading = Shading(self.canvas)
        self.mark_lines = MarkLines(self.canvas)
        self._drawn = DrawnTrace()
        self._snapshot: Snapshot | None = None
        self._mode = Mode.FOLLOW
        self._span = TimeSpan(0.0, 0.0, 75.0, since_pump=False)
        self._temp_range: tuple[float, float] | None = None
        self._shot: Shot | None = None
        self._near_band = False
        self._hidden = False
        self._notes: tuple[Mark, ...] = ()
        self._reference_key: tuple[object, ...] | None = None
        self._drawn_state: tuple[object, ...] = ()
        self._summary_s = float("-inf")

        self._word = "Live"
        self._caption = QLabel()
        self._reference_box = ReferenceChoice()
        self._reference_box.changed.connect(self._redraw_whole)
        self._reference_box.chosen.connect(self.reference_chosen)
        self.band_button = QPushButton("Near band")
        self.band_button.setCheckable(True)
        self.band_button.setToolTip("Zoom the temperature axis to the target band (B)")
        self.band_button.toggled.connect(self._set_near_band)
        self.water_button = QPushButton("Water")
        self.water_button.setCheckable(True)
        self.water_button.setToolTip(
            "The water's temperature estimated from a probe whose time constant is known (W)"
        )
        self.water_button.toggled.connect(self._set_water)
        self.follow_button = QPushButton("Follow")
        self.follow_button.setToolTip("Back to the live trace (F)")
        self.follow_button.clicked.connect(self.follow)

        controls = (self._reference_box, self.water_button, self.band_button, self.follow_button)
        head = QHBoxLayout()
        head.setContentsMargins(10, 6, 6, 0)
        head.setSpacing(6)
        head.addWidget(self._caption, 1)
        if tools:
            for control in controls:
                head.addWidget(control)
        else:
            for control in controls:
                control.setParent(self)
                control.hide()
        self.water_button.hide()
        layout = QVBoxLayout(self)
        layout.setContentsMargins(2, 2, 6, 2)
        layout.setSpacing(0)
        layout.addLayout(head)
        layout.addWidget(self.legend)
        layout.addWidget(self.canvas, 1)
        self.canvas.moved_by_hand.connect(self._moved_by_hand)
        self.canvas.focus_changed.connect(self._show_focus)
        self._set_mode(Mode.FOLLOW)
        self.show_snapshot(None)

    # -- look -------------------------------------------------------------------------------------------

    def set_theme(self, theme: Theme) -> None:
        """Restyle everything by hand: plots do not follow a palette."""
        super().set_theme(theme)
        self._caption.setFont(theme.font(self._scale))
        self.canvas.restyle(theme, self._scale)
        self.curves.restyle(theme, self._scale)
        self.legend.restyle(theme, self._scale)
        self.water.restyle(theme, self._scale)
        self.shading.restyle(theme, self._scale)
        self.mark_lines.restyle(theme, self._scale)
        self.canvas.name_axes(self.unit, since_pump=self._span.since_pump, estimated=self._span.estimated)

    def set_unit(self, unit: TempUnit) -> None:
        """Show temperatures in another unit."""
        if unit is self.unit:
            return
        super().set_unit(unit)
        self._temp_range = None
        self._reference_key = None
        self.canvas.name_axes(unit, since_pump=self._span.since_pump, estimated=self._span.estimated)
        if self._mode is Mode.FREE:
            self.follow()
        self._redraw(whole=True)

    @Slot()
    def _show_focus(self) -> None:
        self.setProperty("look", "surface-focus" if self.canvas.hasFocus() else "surface")
        repolish(self)

    # -- mode -------------------------------------------------------------------------------------------

    @property
    def mode(self) -> Mode:
        """Return what decides about the view."""
        return self._mode

    @property
    def shot(self) -> Shot | None:
        """Return the shot that was chosen to be shown, None while following."""
        return self._shot

    @property
    def span(self) -> TimeSpan:
        """Return the stretch of time last set (by hand, the view may lie elsewhere)."""
        return self._span

    def _set_mode(self, mode: Mode) -> None:
        changed = mode is not self._mode
        self._mode = mode
        following = mode is Mode.FOLLOW
        self.follow_button.setProperty("look", "" if following else "primary")
        self.follow_button.setText("Following" if following else "Follow (F)")
        self.follow_button.setEnabled(not following)
        repolish(self.follow_button)
        if changed:
            self.mode_changed.emit(mode)

    @Slot()
    def follow(self) -> None:
        """Go back to the live trace."""
        self._shot = None
        self._temp_range = None
        self._set_mode(Mode.FOLLOW)
        self._redraw(whole=True)

    def show_shot(self, shot: Shot) -> None:
        """Show one shot of this sitting and stay there."""
        self._shot = shot
        self._temp_range = None
        self._set_mode(Mode.SHOT)
        self._redraw(whole=True)

    @Slot()
    def _moved_by_hand(self) -> None:
        if self._mode is not Mode.FREE:
            self._set_mode(Mode.FREE)
        self.shading.place_names()
        self._redraw(whole=True)

    @Slot(bool)
    def _set_near_band(self, near: bool) -> None:  # noqa: FBT001 - a Qt slot
        self._near_band = near
        if self._mode is Mode.FREE:
            self._set_mode(Mode.FOLLOW if self._shot is None else Mode.SHOT)
        self._temp_range = None
        self._redraw(whole=True)

    # -- teaching ----------------------------------------------------------------------------------------

    def hide_results(self, hidden: bool) -> None:  # noqa: FBT001 - a state, named by the method
        """Shade the plateau and tell figures, or do not."""
        if hidden != self._hidden:
            self._hidden = hidden
            self._summary_s = float("-inf")
            self._redraw(whole=True)

    def show_notes(self, notes: tuple[Mark, ...]) -> None:
        """Line notes beside the marks of the sitting."""
        if notes != self._notes:
            self._notes = notes
            self._redraw(whole=True)

    # -- lag ----------------------------------------------------------------------------------------------

    def set_time_constant(self, tau_s: float | None) -> None:
        """Take the time constant of the basket's probe; without one its lag cannot be removed."""
        if tau_s == self.water.tau_s:
            return
        self.water.tau_s = tau_s
        self.water_button.setVisible(tau_s is not None)
        self._redraw(whole=True)

    @Slot(bool)
    def _set_water(self, wanted: bool) -> None:  # noqa: FBT001 - a Qt slot
        self.water.wanted = wanted
        self._redraw(whole=True)

    @Slot()
    def toggle_water(self) -> None:
        """Show the curve with the lag removed, or hide it, where it can be worked out."""
        if self.water.tau_s is not None:
            self.water_button.toggle()

    # -- reference --------------------------------------------------------------------------------------

    @property
    def reference(self) -> str:
        """Return which reference was chosen."""
        return self._reference_box.reference

    def set_reference(self, reference: str) -> None:
        """Choose a reference: `none`, `last`, or a shot's key."""
        self._reference_box.take(reference)

    @Slot()
    def next_reference(self) -> None:
        """Choose the next one in the list, from the last one none again."""
        self._reference_box.go_to_next()

    def _show_reference(self, snapshot: Snapshot) -> None:
        shot = None
        if self._span.since_pump:
            of_shot = self._shot if self._mode is Mode.SHOT else None
            shot = self._reference_box.shot_of(others_than(snapshot, self._span, of_shot))
        key: tuple[object, ...] = (shot.key, shot.result, self.unit) if shot else (None,)
        if key == self._reference_key:
            return
        self._reference_key = key
        if shot is None:
            self.curves.show_reference(None, None)
            return
        result = shot.result
        end_s = (
            result.pump_off_s if result.pump_off_s is not None else result.plateau_end_s or result.pump_on_s
        )
        t_s, temps = self._drawn.between(result.pump_on_s - LEAD_S, end_s + _REFERENCE_AFTER_S)
        temps = shown_temps(temps[:, snapshot.basket], self.unit)
        self.curves.show_reference(t_s - result.pump_on_s, temps)

    # -- drawing ----------------------------------------------------------------------------------------

    def show_snapshot(self, snapshot: Snapshot | None) -> None:
        """Draw what is new."""
        was, self._snapshot = self._snapshot, snapshot
        if snapshot is None:
            self._drawn.reset(0)
            self._set_channels((), 0)
            self._drawn_state = ()
            self._shot = None
            self._reference_key = None
            self._set_mode(Mode.FOLLOW)
            self.shading.show_plateau(None)
            self.mark_lines.show((), 0.0, 0.0, 0.0)
            self.curves.show_reference(None, None)
            self._caption.setText("No source is open")
            self.canvas.setAccessibleDescription(trace_summary(None, self.unit))
            return
        if snapshot.channels != self.curves.channels or was is None:
            self._set_channels(snapshot.channels, snapshot.basket)
        if was is not None and snapshot.pump_running and not was.pump_running:
            self._shot = None
            self._set_mode(Mode.FOLLOW)
        if self._shot is not None:
            self._shot = next((shot for shot in snapshot.shots if shot.key == self._shot.key), self._shot)
        self._redraw(whole=was is None)

    def _set_channels(self, channels: tuple[str, ...], basket: int) -> None:
        self.curves.set_channels(channels, basket)
        self.legend.show_channels(channels, basket)
        self.shading.let_curves_cross(len(channels) > 1)

    @Slot()
    def _redraw_whole(self) -> None:
        self._redraw(whole=True)

    def _redraw(self, *, whole: bool) -> None:
        snapshot = self._snapshot
        if snapshot is None or not self.isVisible():
            return
        new_rows = self._drawn.take(snapshot.trace, snapshot.period_s)
        self._reference_box.list_shots(snapshot.shots)
        if self._mode is not Mode.FREE:
            span = live_span(snapshot) if self._shot is None else shot_span(self._shot)
            if span != self._span or whole:
                self._set_span(span)
                whole = True
        state = (snapshot.marks, snapshot.recipe, snapshot.stage, snapshot.plateau_start_s, self._shot)
        if not (new_rows or whole or state != self._drawn_state):
            return
        self._drawn_state = state
        self._draw(snapshot, whole=whole)

    def _set_span(self, span: TimeSpan) -> None:
        if span.since_pump != self._span.since_pump or span.origin_s != self._span.origin_s:
            self._temp_range = None
        self._span = span
        self.canvas.name_axes(self.unit, since_pump=span.since_pump, estimated=span.estimated)
        self.canvas.view.setXRange(span.start_s, span.end_s, padding=0)
        self._caption.setText(caption_of(span, self._shot, self._word))

    def _draw(self, snapshot: Snapshot, *, whole: bool) -> None:
        left, right = self.canvas.view.viewRange()[0]
        origin_s = self._span.origin_s
        t_s, temps_degc = self._drawn.between(origin_s + left, origin_s + right)
        recipe = snapshot.recipe if self._shot is None else self._shot.recipe
        band = (degc_to(recipe.band_low_degc, self.unit), degc_to(recipe.band_high_degc, self.unit))
        if whole:
            self.water.forget()
        self.water.show(self._drawn, origin_s, (left, right), snapshot.basket, self.unit)
        self.legend.show_extra(self.water.text)
        if self._mode is Mode.FREE:
            self._caption.setText("Moved by hand")
        else:
            self._set_temp_range(temps_degc, band)
        self.shading.show_band(*band)
        plateau = None if self._hidden else plateau_of(snapshot, self._span, self._shot)
        self.shading.show_plateau(plateau)
        self.mark_lines.show((*snapshot.marks, *self._notes), origin_s, left, right)
        self._show_reference(snapshot)
        self.curves.show(t_s - origin_s, shown_temps(temps_degc, self.unit))
        self.shading.keep_clear_of(self.curves.end)
        if abs(snapshot.now_s - self._summary_s) >= _SUMMARY_EVERY_S:
            self._summary_s = snapshot.now_s
            told = trace_summary(snapshot, self.unit, self._shot, results=not self._hidden)
            self.canvas.setAccessibleDescription(told)

    def _set_temp_range(self, temps_degc: FloatArray, band: tuple[float, float]) -> None:
        fahrenheit = self.unit is TempUnit.DEGF
        if self._near_band:
            margin = 3.6 if fahrenheit else 2.0
            wanted = (band[0] - margin, band[1] + margin)
        else:
            in_view = np.concatenate((temps_degc.ravel(), self.water.temps_degc))
            values = shown_temps(plausible(in_view), self.unit)
            wanted = temp_span(values, band, self._temp_range, 20.0 if fahrenheit else 10.0)
        if wanted != self._temp_range:
            self._temp_range = wanted
            self.canvas.view.setYRange(*wanted, padding=0)
            self.shading.place_names()
            self.curves.place_names()

    def showEvent(self, event: object) -> None:
        """Draw what came while it was hidden."""
        super().showEvent(event)  # type: ignore[arg-type]  # Qt gives a QShowEvent
        self._redraw(whole=True)

    def begin_again(self, *, replay: bool) -> None:
        """Forget the sitting before a new one begins."""
        self._word = "Replay" if replay else "Live"
        self.show_snapshot(None)
        self._span = replace(self._span, since_pump=False)
