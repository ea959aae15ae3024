"""The form for a plan, new or edited, with its shots in order as they would be pulled."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Signal, Slot
from PySide6.QtWidgets import QCompleter, QGridLayout, QHBoxLayout, QLabel, QVBoxLayout, QWidget

from benchtemp.errors import BadInput
from benchtemp.shots.entries import Entries
from benchtemp.shots.recipe import Recipe
from benchtemp.studies.plans.order import Order
from benchtemp.studies.plans.plan import PlanKind
from benchtemp.units import TempUnit, degc_from, degc_to
from benchtemp.window.fields import NumberField, TextField
from benchtemp.window.panel import Panel
from benchtemp.window.panels.choice import Choice
from benchtemp.window.panels.labels import Sentence, button, heading, quiet
from benchtemp.window.panels.recipe import RecipePanel
from benchtemp.window.panels.side_page import scroll_bar_width, scrolled
from benchtemp.window.plan_page.making import (
    COUNTS,
    INTERVALS_MIN,
    LEVELS,
    MADE_KINDS,
    ORDERED,
    RESTED,
    Typed,
    make_plan,
    numbers,
    typed_of,
)
from benchtemp.window.plan_page.shot_table import ShotTable

if TYPE_CHECKING:
    from benchtemp.studies.plans.plan import Plan, PlannedShot
    from benchtemp.window.plan_page.shelf import PlanEntry
    from benchtemp.window.theme import Theme

_FORM_CHARS = 42
_SPACING = 10
_KINDS = [(kind, kind.value.capitalize()) for kind in MADE_KINDS]
_AS_IT_IS = "As in its file"


class PlanForm(Panel):
    """Every change shows at once what the plan would be.

    Of a plan whose shots have begun, what those shots rest on stays: name, settings, order.

    Signals:
        made: Carries the `Plan` to be saved.
        left: Nothing is to be kept after all.
    """

    made = Signal(object)
    left = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.plan: Plan | None = None
        self._quiet = False
        self._seed = 1
        self._shots: tuple[PlannedShot, ...] = ()
        self.title = heading("New plan")
        self.kind = Choice("Kind", _KINDS, least_chars=16)
        self.machine = TextField(name="Machine", hint="such as Ferrowick Two")
        self.levels = TextField(name="Levels")
        self.count = NumberField(name="count", low=1, high=500, decimals=0, may_be_empty=False)
        self.interval = NumberField(
            name="interval", hint="when ready", low=0.5, high=1440, decimals=1, may_be_empty=True
        )
        self.idle = NumberField(name="idle time", low=0, high=1440, decimals=1, may_be_empty=False)
        self.order = Choice("Order", [(order, order.value.capitalize()) for order in Order], least_chars=14)
        self.rest = NumberField(name="rest", hint="none", low=0, high=1440, decimals=1, may_be_empty=True)
        self.name = TextField(name="Name", hint="made from kind and machine")
        self.purpose = TextField(name="Purpose", hint="the kind's own")
        self.holds = Choice("Recipe", [(False, "as set on the Bench"), (True, "of its own")], least_chars=12)
        self.recipe = RecipePanel()
        self._recipe = Recipe()
        self.begun = quiet(wrap=True)
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
        grid.setHorizontalSpacing(_SPACING)
        grid.setVerticalSpacing(6)
        rows = (
            ("Kind", self.kind),
            ("Machine", self.machine),
            ("", self.levels),
            ("After idle, min", self.idle),
            ("", self.count),
            ("Minutes apart", self.interval),
            ("Rest, min", self.rest),
            ("Order", self.order),
            ("Name", self.name),
            ("Purpose", self.purpose),
            ("Recipe", self.holds),
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
        self._form = QWidget()
        fields = QVBoxLayout(self._form)
        fields.setContentsMargins(0, 0, 6, 0)
        fields.setSpacing(8)
        fields.addWidget(self.begun)
        fields.addLayout(grid)
        fields.addWidget(self.recipe)
        fields.addStretch(1)
        self._scroll = scrolled(self._form)
        self.recipe.hide()
        left = QVBoxLayout()
        left.setSpacing(8)
        left.addWidget(self._scroll, 1)
        left.addWidget(self.complaint)
        left.addLayout(buttons)
        right = QVBoxLayout()
        right.setSpacing(6)
        right.addWidget(self.summary)
        right.addWidget(self.order_says)
        right.addWidget(self.table, 1)
        body = QHBoxLayout()
        body.setSpacing(16)
        body.addLayout(left)
        body.addLayout(right, 1)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(4, 0, 0, 0)
        layout.setSpacing(10)
        layout.addWidget(self.title)
        layout.addLayout(body, 1)

    def _connect(self) -> None:
        self.kind.currentIndexChanged.connect(self._usual)
        self.order.currentIndexChanged.connect(self._preview)
        self.holds.currentIndexChanged.connect(self._change_recipe)
        self.recipe.entered.connect(self._take_recipe)
        for text in (self.machine, self.levels, self.name, self.purpose):
            text.textChanged.connect(self._preview)
            text.returnPressed.connect(self.save)
        for number in (self.count, self.interval, self.idle, self.rest):
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
        self.recipe.set_theme(theme)
        self._fit()

    def _fit(self) -> None:
        """Take the width that the rows shown need, and a scroll bar beside them."""
        least_px = max(
            self.fontMetrics().averageCharWidth() * _FORM_CHARS,
            self._form.minimumSizeHint().width(),
            self.recipe.minimumSizeHint().width(),
        )
        self._scroll.setFixedWidth(least_px + scroll_bar_width(self._scroll) + 4)

    def set_unit(self, unit: TempUnit) -> None:
        """Type setpoints in another unit; those typed so far are turned into it."""
        before = self.unit
        super().set_unit(unit)
        self.table.set_unit(unit)
        self.recipe.set_unit(unit)
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
        """Begin a new plan, with names of machines to offer."""
        self._offer(machines)
        self.title.setText("New plan")
        self._quiet = True
        self.kind.offer(_KINDS)
        self.name.clear()
        self.purpose.clear()
        self._seed, self._shots = 1, ()
        self._show_recipe(None)
        self._lock(None)
        if machine or not self.machine.text():
            self.machine.setText(machine or (machines[0] if len(machines) == 1 else ""))
        self._quiet = False
        self._usual()

    def edit(self, machines: tuple[str, ...], entry: PlanEntry) -> None:
        """Begin with a plan there is."""
        typed = typed_of(entry.plan, self.unit)
        self._offer(machines)
        self.title.setText(f"Edit {entry.plan.name}")
        self._quiet = True
        own = typed.kind is PlanKind.OWN
        self.kind.offer([(PlanKind.OWN, _AS_IT_IS)] if own else _KINDS)
        self.kind.select(typed.kind)
        self._show_kind()
        self.machine.setText(typed.machine)
        self.levels.setText(typed.levels)
        self.count.show_value(float(typed.count))
        self.interval.show_value(typed.interval_min)
        self.idle.show_value(typed.idle_min)
        self.rest.show_value(typed.rest_min or None)
        self.order.select(typed.order)
        self.name.setText(typed.name)
        self.purpose.setText(typed.purpose)
        for field in (self.levels, self.name, self.purpose):
            field.setCursorPosition(0)
        self._seed, self._shots = typed.seed, typed.shots
        self._show_recipe(typed.recipe)
        self._lock(entry)
        self._quiet = False
        self._preview()

    def take_focus(self) -> None:
        """Put the focus on the first thing that can be changed."""
        fields = (self.kind, self.machine, self.count, self.interval, self.rest, self.purpose)
        next(field for field in fields if field.isEnabled() and field.isVisibleTo(self)).setFocus()

    def _offer(self, machines: tuple[str, ...]) -> None:
        completer = QCompleter(list(machines), self)
        completer.setCaseSensitivity(completer.caseSensitivity().CaseInsensitive)
        self.machine.setCompleter(completer)

    def _lock(self, entry: PlanEntry | None) -> None:
        """Lock what the shots pulled so far rest on: their numbers, settings and the plan's name."""
        done = entry.status.done if entry is not None else ()
        fixed = entry is not None and entry.plan.kind in {PlanKind.BEFORE_AFTER, PlanKind.WARM_UP}
        self.count.set_range(max((one.step.repeat for one in done), default=1), 500)
        for field in (self.kind, self.machine, self.levels, self.idle, self.order, self.name):
            field.setEnabled(not done)
        self.count.setEnabled(not (done and fixed))
        self.begun.setVisible(bool(done))
        self.begun.setText(
            "Shots were pulled for it already, so its name, settings and order stay; the rest can be changed."
        )

    @property
    def _kind(self) -> PlanKind:
        return PlanKind(self.kind.currentData())

    @Slot()
    def _usual(self) -> None:
        """Fill in what is usual for the kind."""
        if self._quiet:
            return
        kind = self._kind
        self._quiet = True
        text = LEVELS.get(kind, ("", ""))[1]
        if kind is PlanKind.SETPOINT and self.unit is TempUnit.DEGF:
            text = "194, 198, 202, 205"
        self.levels.setText(text)
        self.count.show_value(float(COUNTS.get(kind, ("", 1))[1]))
        self.interval.show_value(INTERVALS_MIN.get(kind))
        self.idle.show_value(10.0)
        self.rest.show_value(None)
        self.order.select(ORDERED.get(kind, Order.AS_WRITTEN))
        self._show_kind()
        self._quiet = False
        self._preview()

    def _show_kind(self) -> None:
        """Show what the kind needs to be told."""
        kind = self._kind
        shown = {
            self.machine: kind is not PlanKind.MACHINES,
            self.levels: kind in LEVELS,
            self.count: kind in COUNTS,
            self.interval: kind in INTERVALS_MIN,
            self.idle: kind is PlanKind.FLUSH,
            self.rest: kind in RESTED,
            self.order: kind in ORDERED,
        }
        for widget, visible in shown.items():
            widget.setVisible(visible)
            self._rows[widget].setVisible(visible)
        self._name_rows()
        self._fit()

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
            seed=self._seed,
            unit=self.unit,
            rest_min=self.rest.value or 0.0,
            purpose=self.purpose.text(),
            recipe=self._recipe if self.holds.currentData() else None,
            shots=self._shots,
        )

    # -- recipe --------------------------------------------------------------------------------------------

    def _show_recipe(self, recipe: Recipe | None) -> None:
        self.holds.select(recipe is not None)
        self._recipe = recipe or Recipe()
        self.recipe.show_recipe(self._recipe)
        self.recipe.setVisible(recipe is not None)

    @Slot()
    def _change_recipe(self) -> None:
        self.recipe.setVisible(bool(self.holds.currentData()))
        self._fit()
        self._preview()

    @Slot(str)
    def _take_recipe(self, text: str) -> None:
        try:
            self._recipe = Entries(recipe=self._recipe).taking(text).recipe
        except BadInput as error:
            self.complaint.say(str(error), "caution")
        self.recipe.show_recipe(self._recipe)
        self._preview()

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
