"""The form for a new plan of a ready-made kind, with its shots in order as they would be pulled."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Signal, Slot
from PySide6.QtWidgets import QCompleter, QGridLayout, QHBoxLayout, QLabel, QVBoxLayout, QWidget

from benchtemp.errors import BadInput
from benchtemp.studies.plans.order import Order
from benchtemp.studies.plans.plan import PlanKind
from benchtemp.units import TempUnit, degc_from, degc_to
from benchtemp.window.fields import NumberField, TextField
from benchtemp.window.panel import Panel
from benchtemp.window.panels.choice import Choice
from benchtemp.window.panels.labels import Sentence, button, heading, quiet
from benchtemp.window.plan_page.making import (
    COUNTS,
    INTERVALS_MIN,
    LEVELS,
    MADE_KINDS,
    ORDERED,
    Typed,
    make_plan,
    numbers,
)
from benchtemp.window.plan_page.shot_table import ShotTable

if TYPE_CHECKING:
    from benchtemp.studies.plans.plan import Plan
    from benchtemp.window.theme import Theme

_FIELD_CHARS = 34


class NewPlan(Panel):
    """Every change shows at once what the plan would be.

    Signals:
        made: Carries the `Plan` to be saved.
        left: No new plan after all.
    """

    made = Signal(object)
    left = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.plan: Plan | None = None
        self._quiet = False
        self.title = heading("New plan")
        self.kind = Choice("Kind", [(kind, kind.value.capitalize()) for kind in MADE_KINDS], least_chars=20)
        self.machine = TextField(name="Machine", hint="such as Ferrowick Two")
        self.levels = TextField(name="Levels")
        self.count = NumberField(name="count", low=1, high=500, decimals=0, may_be_empty=False)
        self.interval = NumberField(
            name="interval", hint="when ready", low=0.5, high=1440, decimals=1, may_be_empty=True
        )
        self.idle = NumberField(name="idle time", low=0, high=1440, decimals=1, may_be_empty=False)
        self.order = Choice("Order", [(order, order.value.capitalize()) for order in Order], least_chars=14)
        self.name = TextField(name="Name", hint="made from kind and machine")
        self.summary = QLabel()
        self.summary.setWordWrap(True)
        self.order_says = quiet(wrap=True)
        self.complaint = Sentence(look="bad", name="New plan")
        self.table = ShotTable()
        self.save_button = button("Save the plan", look="primary")
        self.cancel_button = button("Cancel (Esc)")
        self._rows: dict[QWidget, QLabel] = {}
        self._lay_out()
        self._connect()
        self._usual()

    def _lay_out(self) -> None:
        grid = QGridLayout()
        grid.setHorizontalSpacing(10)
        grid.setVerticalSpacing(6)
        rows = (
            ("Kind", self.kind),
            ("Machine", self.machine),
            ("", self.levels),
            ("After idle, min", self.idle),
            ("", self.count),
            ("Min apart", self.interval),
            ("Order", self.order),
            ("Name", self.name),
        )
        for place, (text, widget) in enumerate(rows):
            label = QLabel(text)
            label.setBuddy(widget)
            self._rows[widget] = label
            grid.addWidget(label, place, 0)
            grid.addWidget(widget, place, 1)
        buttons = QHBoxLayout()
        buttons.addWidget(self.save_button)
        buttons.addWidget(self.cancel_button)
        buttons.addStretch(1)
        left = QVBoxLayout()
        left.setSpacing(8)
        left.addLayout(grid)
        left.addWidget(self.complaint)
        left.addLayout(buttons)
        left.addStretch(1)
        self._form = QWidget()
        left.setContentsMargins(0, 0, 0, 0)
        self._form.setLayout(left)
        right = QVBoxLayout()
        right.setSpacing(6)
        right.addWidget(self.summary)
        right.addWidget(self.order_says)
        right.addWidget(self.table, 1)
        body = QHBoxLayout()
        body.setSpacing(16)
        body.addWidget(self._form)
        body.addLayout(right, 1)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(4, 0, 0, 0)
        layout.setSpacing(10)
        layout.addWidget(self.title)
        layout.addLayout(body, 1)

    def _connect(self) -> None:
        self.kind.currentIndexChanged.connect(self._usual)
        self.order.currentIndexChanged.connect(self._preview)
        for text in (self.machine, self.levels, self.name):
            text.textChanged.connect(self._preview)
            text.returnPressed.connect(self.save)
        for number in (self.count, self.interval, self.idle):
            number.taken.connect(self._preview)
            number.complaint.connect(self.complaint.say)
        self.save_button.clicked.connect(self.save)
        self.cancel_button.clicked.connect(self.left)

    # -- look ----------------------------------------------------------------------------------------------

    def set_theme(self, theme: Theme) -> None:
        """Take fonts."""
        super().set_theme(theme)
        self.title.setFont(theme.font(1.4, bold=True))
        self.summary.setFont(theme.font(1.15, bold=True))
        self.table.set_theme(theme)
        self._form.setFixedWidth(
            max(
                self.fontMetrics().averageCharWidth() * (_FIELD_CHARS + 10),
                self._form.minimumSizeHint().width(),
            )
        )

    def set_unit(self, unit: TempUnit) -> None:
        """Type setpoints in another unit; those typed so far are turned into it."""
        before = self.unit
        super().set_unit(unit)
        self.table.set_unit(unit)
        if before is unit:
            return
        if self._kind is PlanKind.SETPOINT:
            self._turn_setpoints(before, unit)
        self._name_rows()
        self._preview()

    def _turn_setpoints(self, before: TempUnit, unit: TempUnit) -> None:
        try:
            shown = numbers(self.levels.text(), "")
        except BadInput:
            return
        turned = (degc_to(degc_from(value, before), unit) for value in shown)
        self.levels.setText(", ".join(f"{value:.1f}".removesuffix(".0") for value in turned))

    # -- content -------------------------------------------------------------------------------------------

    def begin(self, machines: tuple[str, ...], machine: str = "") -> None:
        """Begin anew, with names of machines to offer."""
        completer = QCompleter(list(machines), self)
        completer.setCaseSensitivity(completer.caseSensitivity().CaseInsensitive)
        self.machine.setCompleter(completer)
        self._quiet = True
        self.name.clear()
        if machine or not self.machine.text():
            self.machine.setText(machine or (machines[0] if len(machines) == 1 else ""))
        self._quiet = False
        self._usual()

    @property
    def _kind(self) -> PlanKind:
        return PlanKind(self.kind.currentData())

    @Slot()
    def _usual(self) -> None:
        """Fill in what is usual for the kind."""
        kind = self._kind
        self._quiet = True
        text = LEVELS.get(kind, ("", ""))[1]
        if kind is PlanKind.SETPOINT and self.unit is TempUnit.DEGF:
            text = "194, 198, 202, 205"
        self.levels.setText(text)
        self.count.show_value(float(COUNTS.get(kind, ("", 1))[1]))
        self.interval.show_value(INTERVALS_MIN.get(kind))
        self.idle.show_value(10.0)
        self.order.select(ORDERED.get(kind, Order.AS_WRITTEN))
        shown = {
            self.machine: kind is not PlanKind.MACHINES,
            self.levels: kind in LEVELS,
            self.count: kind in COUNTS,
            self.interval: kind in INTERVALS_MIN,
            self.idle: kind is PlanKind.FLUSH,
            self.order: kind in ORDERED,
        }
        for widget, visible in shown.items():
            widget.setVisible(visible)
            self._rows[widget].setVisible(visible)
        self._name_rows()
        self._quiet = False
        self._preview()

    def _name_rows(self) -> None:
        kind = self._kind
        levels = LEVELS.get(kind, ("", ""))[0]
        self._rows[self.levels].setText(levels.replace("°C", self.unit.symbol))
        self.levels.setAccessibleName(levels.replace("°C", self.unit.symbol))
        self.levels.setPlaceholderText("two or more, with commas" if kind is PlanKind.MACHINES else "")
        self._rows[self.count].setText(COUNTS.get(kind, ("", 1))[0])

    @property
    def typed(self) -> Typed:
        """Return what stands in the form."""
        return Typed(
            kind=self._kind,
            machine=self.machine.text(),
            name=self.name.text(),
            levels=self.levels.text(),
            count=int(self.count.value or 1),
            interval_min=self.interval.value if self._kind in INTERVALS_MIN else None,
            idle_min=10.0 if self.idle.value is None else self.idle.value,
            order=Order(self.order.currentData()),
            unit=self.unit,
        )

    @Slot()
    def _preview(self) -> None:
        if self._quiet:
            return
        try:
            self.plan = make_plan(self.typed)
        except BadInput as error:
            self.plan = None
            self.complaint.say(str(error), "caution")
            self.summary.setText("")
            self.order_says.setText("")
            self.table.show_plan(None, None)
        else:
            self.complaint.say("")
            self.summary.setText(self.plan.summary(self.unit))
            self.order_says.setText(self.plan.order_sentence())
            self.table.show_plan(self.plan, None)
        self.save_button.setEnabled(self.plan is not None)

    @Slot()
    def save(self) -> None:
        """Ask for the plan to be kept."""
        if self.plan is not None:
            self.made.emit(self.plan)
