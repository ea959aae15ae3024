"""The strip that must read from two metres: temperature, stage, pump time, brew temperature."""

from __future__ import annotations

from math import isfinite
from typing import TYPE_CHECKING

from PySide6.QtCore import QSize, Qt
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QSizePolicy, QVBoxLayout, QWidget

from benchtemp.readings.reading import NoticeKind
from benchtemp.shots.result import Origin
from benchtemp.shots.stages import Stage
from benchtemp.units import TempUnit, delta_text, temp_text
from benchtemp.window.figure import Figure, width_of
from benchtemp.window.guidance import only_warms
from benchtemp.window.lesson.hidden import HIDDEN, without_results
from benchtemp.window.panel import Panel
from benchtemp.window.theme import repolish

if TYPE_CHECKING:
    from PySide6.QtGui import QFont, QResizeEvent

    from benchtemp.bench.snapshot import Snapshot
    from benchtemp.shots.shot import Shot
    from benchtemp.window.theme import Theme

PUMP_TIME = "Pump time"
_SMALL = 0.26
STAGE_WORDS = {
    Stage.STANDBY: "Standby",
    Stage.RISING: "Rising",
    Stage.PLATEAU: "Plateau",
    Stage.ENDED: "Ended",
}
WARMING = "Warming"
"""A rise that is too slow for water."""


class Cell(QWidget):
    """A caption, a figure that can be seen from afar, and a quiet line beneath."""

    def __init__(self, caption: str, pattern: str, *, emphasis: float = 1.0) -> None:
        super().__init__()
        self._pattern = pattern
        self._emphasis = emphasis
        self.caption = QLabel(caption)
        self.caption.setProperty("look", "quiet")
        self.figure = Figure()
        self.figure.setAccessibleName(caption)
        self.detail = QLabel(" ")
        self.detail.setProperty("look", "quiet")
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(0)
        for label in (self.caption, self.figure, self.detail):
            label.setTextFormat(Qt.TextFormat.PlainText)
            layout.addWidget(label)

    def font_at(self, theme: Theme, scale: float) -> QFont:
        """Return the figure's font at a scale of the strip."""
        return theme.font(scale * self._emphasis, bold=True, figures=True)

    def width_at(self, theme: Theme, scale: float) -> int:
        """Return how wide the figure can become at a scale of the strip, px."""
        return width_of(self.font_at(theme, scale), self._pattern)

    def restyle(self, theme: Theme, scale: float, tallest: QFont, small: float) -> None:
        """Take fonts; the figure gets the room of its widest text so that nothing jumps."""
        self.figure.restyle(self.font_at(theme, scale), self._pattern, tallest)
        self.caption.setFont(theme.font(small))
        self.detail.setFont(theme.font(small, figures=True))

    def show_texts(self, figure: str, detail: str, *, caption: str | None = None, look: str = "") -> None:
        """Show texts; the accessible text follows them."""
        if self.figure.text() != figure:
            self.figure.setText(figure)
        if self.detail.text() != detail:
            self.detail.setText(detail or " ")
        if caption is not None and self.caption.text() != caption:
            self.caption.setText(caption)
            self.figure.setAccessibleName(caption)
        told = f"{figure}, {detail}" if detail.strip() else figure
        if self.figure.accessibleDescription() != told:
            self.figure.setAccessibleDescription(told)
        if (self.figure.property("look") or "") != look:
            self.figure.setProperty("look", look)
            repolish(self.figure)


class Headline(Panel):
    """Temperature, stage, pump time and brew temperature, as large as the window allows."""

    def __init__(self, parent: QWidget | None = None, *, largest: float = 8.0, small: float = _SMALL) -> None:
        """Make an empty strip.

        Args:
            parent: Widget it belongs to.
            largest: The largest scale of the figures against the system's font.
            small: How large captions and quiet lines are against the figures.
        """
        super().__init__(parent)
        self.setProperty("look", "surface")
        self._largest = largest
        self._small = small
        self._scale = 0.0
        self._hidden = False
        self.temperature = Cell("Temperature", "000.0 °C", emphasis=1.25)
        self.stage = Cell("Stage", "Standby")
        self.pump = Cell(PUMP_TIME, "000.0 s")
        self.brew = Cell("Brew temperature", "000.0 °C")
        layout = QHBoxLayout(self)
        layout.setContentsMargins(16, 6, 16, 6)
        layout.setSpacing(12)
        for index, cell in enumerate((self.temperature, self.stage, self.pump, self.brew)):
            if index:
                rule = QFrame()
                rule.setFrameShape(QFrame.Shape.VLine)
                rule.setProperty("look", "rule")
                layout.addWidget(rule)
            layout.addWidget(cell, 5 if index in {0, 3} else 4, Qt.AlignmentFlag.AlignBottom)
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)
        self.show_snapshot(None)

    # -- look -------------------------------------------------------------------------------------------

    def set_theme(self, theme: Theme) -> None:
        """Take fonts anew."""
        super().set_theme(theme)
        self._scale = 0.0
        self._fit()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Fill the width with the largest figures that fit, in steps."""
        super().resizeEvent(event)
        self._fit()

    def minimumSizeHint(self) -> QSize:
        """Let the window shrink: the figures grow with it, they must not hold it open."""
        return QSize(600, super().minimumSizeHint().height())

    def _fit(self) -> None:
        """Choose the figures' scale: all four side by side must fit the width."""
        cells = (self.temperature, self.stage, self.pump, self.brew)
        wide_px = sum(cell.width_at(self.theme, 10) for cell in cells)
        room_px = self.width() - 16 * 2 - 7 * 12 - 8
        scale = min(self._largest, max(1.5, int(room_px / wide_px * 10 * 4) / 4))
        if scale != self._scale:
            self._scale = scale
            tallest = self.temperature.font_at(self.theme, scale)
            for cell in cells:
                cell.restyle(self.theme, scale, tallest, max(1.0, scale * self._small))

    # -- content ----------------------------------------------------------------------------------------

    def hide_results(self, hidden: bool) -> None:  # noqa: FBT001 - a state, named by the method
        """Show stage and brew temperature from the next snapshot on, or only that they are hidden."""
        self._hidden = hidden

    def show_snapshot(self, snapshot: Snapshot | None) -> None:
        """Show where the bench stands; a stale temperature is not shown at all."""
        if snapshot is None:
            self.temperature.show_texts(temp_text(None, self.unit), "no source is open")
            self.stage.show_texts("—", "")
            self.pump.show_texts("— s", "")
            self.brew.show_texts(temp_text(None, self.unit), "", caption="Brew temperature")
            return
        seen = without_results(snapshot) if self._hidden else snapshot
        self._show_temperature(seen)
        self._show_pump(seen)
        if self._hidden:
            self.stage.show_texts("—", HIDDEN)
            self.brew.show_texts(temp_text(None, self.unit), HIDDEN, caption="Brew temperature")
        else:
            self._show_stage(seen)
            self._show_brew(seen)

    def _show_temperature(self, snapshot: Snapshot) -> None:
        caption = "Temperature"
        if len(snapshot.channels) > 1:
            caption += f", {snapshot.channels[snapshot.basket]}"
        figure, detail, look = temperature_texts(snapshot, self.unit)
        self.temperature.show_texts(figure, detail, caption=caption, look=look)

    def _show_stage(self, snapshot: Snapshot) -> None:
        detail = ""
        if snapshot.stage is Stage.PLATEAU and snapshot.plateau_start_s is not None:
            detail = f"for {max(0.0, snapshot.now_s - snapshot.plateau_start_s):.0f} s"
        elif snapshot.pump_running:
            detail = "pump on"
        word = WARMING if only_warms(snapshot) else STAGE_WORDS[snapshot.stage]
        self.stage.show_texts(word, detail)

    def _show_pump(self, snapshot: Snapshot) -> None:
        figure, detail, caption = pump_texts(snapshot)
        self.pump.show_texts(figure, detail, caption=caption)

    def _show_brew(self, snapshot: Snapshot) -> None:
        shot = last_result(snapshot)
        if shot is None and snapshot.stage in {Stage.RISING, Stage.PLATEAU}:
            figure = temp_text(snapshot.running_brew_degc, self.unit)
            detail = "no plateau yet" if snapshot.running_brew_degc is None else "mean of the plateau so far"
            if snapshot.running_brew_degc is not None and snapshot.running_expanded_k is not None:
                detail = f"± {delta_text(snapshot.running_expanded_k, self.unit)} (k = 2), mean so far"
            self.brew.show_texts(figure, detail, caption="Brew so far")
            return
        if shot is None:
            self.brew.show_texts(temp_text(None, self.unit), "no shot yet", caption="Brew temperature")
            return
        self.brew.show_texts(
            temp_text(shot.result.brew_temp_degc, self.unit),
            spread_text(shot, self.unit),
            caption=f"Brew, shot {shot.number}",
        )


def last_result(snapshot: Snapshot) -> Shot | None:
    """Return the shot whose result is to be seen: none while another one runs.

    A rise that nobody marked may be no shot at all (the probe warms up again after each); until it comes to a
    plateau the last result stays.
    """
    marked = snapshot.pump_marked or snapshot.pump_running
    if snapshot.stage is Stage.PLATEAU or (snapshot.stage is Stage.RISING and marked):
        return None
    return next((shot for shot in reversed(snapshot.shots) if not shot.is_flush), None)


def temperature_texts(snapshot: Snapshot, unit: TempUnit) -> tuple[str, str, str]:
    """Return figure, quiet line and look for the temperature now."""
    dash = temp_text(None, unit)
    if snapshot.last_s is None:
        return dash, "no reading yet", ""
    if snapshot.stale:
        age_s = max(0.0, snapshot.now_s - snapshot.last_s)
        why = "interface lost" if snapshot.status is NoticeKind.LOST else "no reading"
        return dash, f"{why} for {age_s:.0f} s", "bad"
    temp_degc = (
        snapshot.temps_degc[snapshot.basket] if snapshot.basket < len(snapshot.temps_degc) else float("nan")
    )
    if not isfinite(temp_degc):
        reason = snapshot.reasons[snapshot.basket] if snapshot.basket < len(snapshot.reasons) else ""
        return dash, reason or "the probe gives no value", "bad"
    recipe = snapshot.recipe
    if recipe.band_low_degc <= temp_degc <= recipe.band_high_degc:
        return temp_text(temp_degc, unit), "in the target band", ""
    if temp_degc < recipe.band_low_degc:
        return (
            temp_text(temp_degc, unit),
            f"{delta_text(recipe.band_low_degc - temp_degc, unit, 1)} below band",
            "",
        )
    return (
        temp_text(temp_degc, unit),
        f"{delta_text(temp_degc - recipe.band_high_degc, unit, 1)} above band",
        "",
    )


def pump_texts(snapshot: Snapshot) -> tuple[str, str, str]:
    """Return figure, quiet line and caption for the time since pump on, or since the rise where unmarked."""
    if snapshot.stage in {Stage.RISING, Stage.PLATEAU} and snapshot.pump_on_s is not None:
        end_s = snapshot.pump_off_s if snapshot.pump_off_s is not None else snapshot.now_s
        recipe = snapshot.recipe
        figure = f"{max(0.0, end_s - snapshot.pump_on_s):.1f} s"
        if not snapshot.pump_marked:
            return figure, "pump on not marked", "Since the rise"
        return figure, f"window {recipe.time_low_s:g}–{recipe.time_high_s:g} s", PUMP_TIME
    shot = next((shot for shot in reversed(snapshot.shots) if not shot.is_flush), None)
    if shot is None or shot.result.shot_time_s is None:
        return "— s", "", PUMP_TIME
    estimated = Origin.ESTIMATED in {shot.result.pump_on_source, shot.result.pump_off_source}
    detail = f"shot {shot.number}, estimated" if estimated else f"shot {shot.number}"
    return f"{shot.result.shot_time_s:.1f} s", detail, PUMP_TIME


def spread_text(shot: Shot, unit: TempUnit) -> str:
    """Return what stands beside a brew temperature: its expanded uncertainty if known, and its spread."""
    if shot.result.brew_temp_degc is None:
        return "no plateau"
    parts = []
    if shot.brew_temp_expanded_uncertainty_k is not None:
        parts.append(f"± {delta_text(shot.brew_temp_expanded_uncertainty_k, unit)} (k = 2)")
    if shot.result.sd_k is not None:
        parts.append(f"sd {delta_text(shot.result.sd_k, unit)}")
    return ", ".join(parts)
