"""The estimates that uncertainties rest on: nobody measured them, so whoever knows better says so here."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import QGridLayout, QLabel, QVBoxLayout, QWidget

from benchtemp.shots.budget import WIDEST_K, Estimates
from benchtemp.units import TempUnit, degc_from, degc_to, delta_to
from benchtemp.window.fields import NumberField
from benchtemp.window.panel import Panel
from benchtemp.window.panels.labels import Sentence, button, heading, quiet
from benchtemp.window.probes_page.tick import Tick
from benchtemp.window.theme import figure_width

if TYPE_CHECKING:
    from benchtemp.window.theme import Theme


class EstimatesForm(Panel):
    """Edits the estimates.

    Signals:
        chosen: Carries the new `Estimates`.
    """

    chosen = Signal(object)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAccessibleName("Estimates")
        self._estimates = Estimates()
        self.complaint = Sentence(look="bad", name="Estimates")
        self.position = self._field("how far the place in the puck matters", 0.0, WIDEST_K)
        self.junction = self._field("how far the interface's own terminals may be off", 0.0, WIDEST_K)
        self.junction.setPlaceholderText("usual")
        self.room = self._field("temperature of the room", -20.0, 80.0)
        self.fixed = Tick("at the same place in every shot")
        self.fixed.setToolTip("Then it cancels in differences between shots. Enter switches it.")
        self.fixed.toggled.connect(self._take)
        self.usual_button = button("Back to the usual estimates", look="flat")
        self.usual_button.clicked.connect(self._go_back)
        self._units: list[QLabel] = []
        grid = QGridLayout()
        grid.setHorizontalSpacing(6)
        grid.setVerticalSpacing(4)
        for row, (text, field, sign) in enumerate(
            (
                ("Place in the puck", self.position, "±"),
                ("Terminals of the interface", self.junction, "±"),
                ("Room at the terminals", self.room, ""),
            )
        ):
            label, unit = QLabel(text), quiet()
            label.setBuddy(field)
            self._units.append(unit)
            grid.addWidget(label, row, 0)
            grid.addWidget(quiet(sign), row, 1)
            grid.addWidget(field, row, 2)
            grid.addWidget(unit, row, 3)
        grid.addWidget(self.fixed, 0, 4)
        grid.addWidget(quiet("empty: 0.2 °C with a checked probe, else 1 °C"), 1, 4)
        grid.addWidget(self.usual_button, 2, 4, Qt.AlignmentFlag.AlignLeft)
        grid.setColumnStretch(4, 1)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(4)
        column.addWidget(heading("Estimates, yours to change"))
        column.addLayout(grid)
        column.addWidget(self.complaint)
        column.addWidget(
            quiet("They hold at once for a probe here, and for shots from the next sitting on.", wrap=True)
        )
        self._show()

    def _field(self, name: str, low: float, high: float) -> NumberField:
        field = NumberField(name=name, low=low, high=high, decimals=2)
        field.setFixedWidth(figure_width(field.font(), "00.00") + 24)
        field.taken.connect(self._take)
        field.complaint.connect(self.complaint.say)
        return field

    def set_theme(self, theme: Theme) -> None:
        """Take another theme."""
        super().set_theme(theme)
        for field in (self.position, self.junction, self.room):
            field.setFixedWidth(figure_width(field.font(), "00.00") + 24)

    def set_unit(self, unit: TempUnit) -> None:
        """Show temperatures in another unit."""
        super().set_unit(unit)
        self._show()

    def show_estimates(self, estimates: Estimates) -> None:
        """Show the estimates in force."""
        self._estimates = estimates
        self._show()

    def _show(self) -> None:
        now, unit = self._estimates, self.unit
        for label in self._units:
            label.setText(unit.symbol)
        junction = now.junction_half_width_k
        for field, value in (
            (self.position, round(delta_to(now.position_half_width_k, unit), 3)),
            (self.junction, None if junction is None else round(delta_to(junction, unit), 3)),
            (self.room, round(degc_to(now.room_degc, unit), 2)),
        ):
            field.show_value(value)
        for field in (self.position, self.junction):
            field.set_range(0.0, delta_to(WIDEST_K, unit))
        self.room.set_range(degc_to(-20.0, unit), degc_to(80.0, unit))
        self.fixed.blockSignals(True)  # noqa: FBT003 - Qt's own signature
        self.fixed.setChecked(now.position_fixed)
        self.fixed.blockSignals(False)  # noqa: FBT003

    @Slot()
    def _take(self) -> None:
        factor = delta_to(1.0, self.unit)
        position, junction, room = self.position.value, self.junction.value, self.room.value
        usual = Estimates()
        wanted = Estimates(
            position_half_width_k=usual.position_half_width_k if position is None else position / factor,
            position_fixed=self.fixed.isChecked(),
            junction_half_width_k=None if junction is None else junction / factor,
            room_degc=usual.room_degc if room is None else degc_from(room, self.unit),
        )
        if wanted != self._estimates:
            self.show_estimates(wanted)
            self.chosen.emit(wanted)

    @Slot()
    def _go_back(self) -> None:
        if self._estimates != Estimates():
            self.show_estimates(Estimates())
            self.chosen.emit(Estimates())
