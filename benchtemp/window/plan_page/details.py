"""One plan: what it is for, where it stands, and its shots in order."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Signal, Slot
from PySide6.QtWidgets import QHBoxLayout, QLabel, QVBoxLayout, QWidget

from benchtemp.window.panel import Panel
from benchtemp.window.panels.labels import button, quiet
from benchtemp.window.plan_page.shot_table import ShotTable

if TYPE_CHECKING:
    from benchtemp.units import TempUnit
    from benchtemp.window.plan_page.shelf import PlanEntry
    from benchtemp.window.theme import Theme


class PlanDetails(Panel):
    """Shows a plan.

    Signals:
        run_asked: Carries the `Plan` to run on the Bench.
        finding_asked: Carries the `Plan` whose finding is wanted.
        edit_asked: Carries the `PlanEntry` to be edited.
        bin_asked: Carries the `PlanEntry` to be moved to the bin.
    """

    run_asked = Signal(object)
    finding_asked = Signal(object)
    edit_asked = Signal(object)
    bin_asked = Signal(object)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.entry: PlanEntry | None = None
        self.name = QLabel()
        self.name.setWordWrap(True)
        self.purpose = quiet(wrap=True)
        self.summary = QLabel()
        self.summary.setWordWrap(True)
        self.order = quiet(wrap=True)
        self.stands = QLabel()
        self.stands.setWordWrap(True)
        self.run_button = button("Start on the Bench", look="primary")
        self.finding_button = button("See the finding")
        self.edit_button = button("Edit", look="flat", tip="Change the plan")
        self.bin_button = button("Move to bin", look="flat", tip="Its shots stay where they are (Delete)")
        self.table = ShotTable()
        self.run_button.clicked.connect(self._run)
        self.finding_button.clicked.connect(self._find)
        self.edit_button.clicked.connect(self._edit)
        self.bin_button.clicked.connect(self._bin)
        buttons = QHBoxLayout()
        buttons.addWidget(self.run_button)
        buttons.addWidget(self.finding_button)
        buttons.addStretch(1)
        buttons.addWidget(self.edit_button)
        buttons.addWidget(self.bin_button)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(4, 0, 0, 0)
        layout.setSpacing(6)
        for widget in (self.name, self.purpose, self.summary, self.order, self.stands):
            layout.addWidget(widget)
        layout.addLayout(buttons)
        layout.addWidget(self.table, 1)

    def set_theme(self, theme: Theme) -> None:
        """Take fonts."""
        super().set_theme(theme)
        self.name.setFont(theme.font(1.4, bold=True))
        self.stands.setFont(theme.font(1.15, bold=True, figures=True))
        self.table.set_theme(theme)

    def set_unit(self, unit: TempUnit) -> None:
        """Say temperatures in another unit."""
        super().set_unit(unit)
        self.table.set_unit(unit)
        if self.entry is not None:
            self.show_entry(self.entry)

    def show_entry(self, entry: PlanEntry) -> None:
        """Show a plan and where it stands."""
        self.entry = entry
        plan, status = entry.plan, entry.status
        self.name.setText(plan.name)
        self.purpose.setText(plan.purpose)
        self.purpose.setVisible(bool(plan.purpose))
        self.summary.setText(plan.summary(self.unit))
        self.order.setText(plan.order_sentence())
        self.stands.setText(f"{status.counted} of {plan.count} done. {status.sentence(self.unit)}")
        begun = bool(status.done)
        self.run_button.setText("Continue on the Bench" if begun else "Start on the Bench")
        self.run_button.setVisible(not status.finished)
        self.finding_button.setVisible(begun)
        self.finding_button.setText("See the finding" if status.finished else "See the finding so far")
        self.table.show_plan(plan, status)

    @Slot()
    def _run(self) -> None:
        if self.entry is not None:
            self.run_asked.emit(self.entry.plan)

    @Slot()
    def _find(self) -> None:
        if self.entry is not None:
            self.finding_asked.emit(self.entry.plan)

    @Slot()
    def _edit(self) -> None:
        if self.entry is not None:
            self.edit_asked.emit(self.entry)

    @Slot()
    def _bin(self) -> None:
        if self.entry is not None:
            self.bin_asked.emit(self.entry)
