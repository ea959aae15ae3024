"""The form that asks: which study, of which shots, and what the study itself needs to know."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Signal, Slot
from PySide6.QtWidgets import QFrame, QGridLayout, QLabel, QVBoxLayout, QWidget

from benchtemp.errors import BadInput
from benchtemp.studies.evidence.shot_set import Selection
from benchtemp.units import TempUnit, degc_from, degc_to, delta_to
from benchtemp.window.fields import NumberField
from benchtemp.window.findings_page.asking import Question, Scope, StudyKind
from benchtemp.window.panel import Panel
from benchtemp.window.panels.choice import Choice
from benchtemp.window.panels.labels import Sentence, heading, quiet

if TYPE_CHECKING:
    from benchtemp.window.theme import Theme

_TARGETED = {StudyKind.SETPOINT, StudyKind.ROUTINE, StudyKind.CYCLE}
_ANY = ""


class QuestionForm(Panel):
    """Every change asks anew.

    Signals:
        asked: Carries the `Question`.
    """

    asked = Signal(object)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setProperty("look", "surface")
        self.setAccessibleName("What to find out")
        self._scope = Scope()
        self._quiet = False
        self._target_degc = 93.0
        self._within_k = 0.5
        self._matters_k = 0.5
        self.kind = Choice("Study", [(kind, kind.heading) for kind in StudyKind], least_chars=12)
        self.says = quiet(wrap=True)
        self.plan = Choice("Shots pulled for plan", least_chars=12)
        self.machine = Choice("Machine", least_chars=12)
        self.since = Choice("From day", least_chars=10)
        self.until = Choice("To day", least_chars=10)
        self.tag = Choice("Tag", least_chars=10)
        self.value = Choice("Value of the tag", least_chars=10)
        self.factor = Choice("Compare by", least_chars=10)
        self.channel = Choice("Channel at boiler or group", least_chars=6)
        self.target = NumberField(name="target", decimals=1, may_be_empty=False)
        self.idle = NumberField(name="idle time", low=0, high=1440, decimals=1, may_be_empty=False)
        self.idle.show_value(10.0)
        self.within = NumberField(name="closeness", decimals=2, may_be_empty=False)
        self.matters = NumberField(name="difference that matters", decimals=2, may_be_empty=False)
        self.complaint = Sentence(look="bad", name="What to find out")
        self._rows: dict[QWidget, QLabel] = {}
        self._lay_out()
        self.kind.currentIndexChanged.connect(self._change_kind)
        self.tag.currentIndexChanged.connect(self._change_tag)
        for choice in (
            self.plan, self.machine, self.since, self.until, self.value, self.factor, self.channel
        ):  # fmt: skip
            choice.currentIndexChanged.connect(self._ask)
        self.target.taken.connect(self._take_target)
        self.within.taken.connect(self._take_within)
        self.matters.taken.connect(self._take_matters)
        self.idle.taken.connect(self._ask)
        for field in (self.target, self.idle, self.within, self.matters):
            field.complaint.connect(self.complaint.say)
        self.set_unit(TempUnit.DEGC)
        self.show_scope(Scope())
        self._show_rows()

    def _lay_out(self) -> None:
        grid = QGridLayout()
        grid.setHorizontalSpacing(10)
        grid.setVerticalSpacing(6)
        grid.setColumnStretch(1, 1)

        def row(text: str, widget: QWidget) -> None:
            label = QLabel(text)
            label.setBuddy(widget)
            self._rows[widget] = label
            place = grid.rowCount()
            grid.addWidget(label, place, 0)
            grid.addWidget(widget, place, 1)

        row("Study", self.kind)
        grid.addWidget(self.says, grid.rowCount(), 0, 1, 2)
        row("Target", self.target)
        row("After idle, min", self.idle)
        row("Settled within", self.within)
        row("Compare by", self.factor)
        row("Matters from", self.matters)
        row("Channel", self.channel)
        rule = QFrame()
        rule.setFixedHeight(4)
        grid.addWidget(rule, grid.rowCount(), 0, 1, 2)
        grid.addWidget(heading("Of these shots"), grid.rowCount(), 0, 1, 2)
        row("Plan", self.plan)
        row("Machine", self.machine)
        row("From", self.since)
        row("To", self.until)
        row("Tag", self.tag)
        row("Its value", self.value)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(12, 10, 12, 10)
        layout.setSpacing(8)
        layout.addLayout(grid)
        layout.addWidget(self.complaint)
        layout.addStretch(1)

    def set_theme(self, theme: Theme) -> None:
        """Take fonts of figures."""
        super().set_theme(theme)
        for field in (self.target, self.idle, self.within, self.matters):
            field.setFont(theme.font(figures=True))

    def set_unit(self, unit: TempUnit) -> None:
        """Show temperatures and differences in another unit."""
        super().set_unit(unit)
        self._rows[self.target].setText(f"Target, {unit.symbol}")
        self._rows[self.within].setText(f"Settled within, {unit.symbol}")
        self._rows[self.matters].setText(f"Matters from, {unit.symbol}")
        self.target.set_range(degc_to(20.0, unit), degc_to(140.0, unit))
        for field in (self.within, self.matters):
            field.set_range(delta_to(0.01, unit), delta_to(20.0, unit))
        self._show_numbers()

    def _show_numbers(self) -> None:
        self.target.show_value(round(degc_to(self._target_degc, self.unit), 2))
        self.within.show_value(round(delta_to(self._within_k, self.unit), 3))
        self.matters.show_value(round(delta_to(self._matters_k, self.unit), 3))

    # -- scope ---------------------------------------------------------------------------------------------

    def show_scope(self, scope: Scope) -> None:
        """Offer what is in a logbook; what is chosen stays chosen."""
        self._scope = scope
        self._quiet = True
        plans = [(name, name) for name in reversed(scope.plans)]
        _offer(self.plan, [(_ANY, "any, or none"), *plans])
        _offer(self.machine, [(_ANY, "any"), *((name, name) for name in scope.machines)])
        days = [(day, day) for day in scope.days]
        _offer(self.since, [(_ANY, "the first day"), *days])
        _offer(self.until, [(_ANY, "the last day"), *reversed(days)])
        _offer(self.tag, [(_ANY, "any"), *((name, name) for name in scope.tag_names)])
        own = ("machine", "setpoint", "operator", "probe", "date", "recording", "plan")
        names = dict.fromkeys((*own, *scope.tag_names))
        _offer(self.factor, [(name, name) for name in names])
        channels = scope.further_channels or ("T2",)
        _offer(self.channel, [(name, name) for name in channels])
        self._offer_values()
        self._quiet = False

    def _offer_values(self) -> None:
        name = self.tag.currentData() or ""
        values = self._scope.tag_values(name) if name else ()
        _offer(self.value, [(value, value) for value in values])
        for widget in (self.value, self._rows[self.value]):
            widget.setVisible(bool(values))

    # -- asking --------------------------------------------------------------------------------------------

    @property
    def question(self) -> Question:
        """Return what is asked now.

        Raises:
            BadInput: The last day lies before the first.
        """
        since, until = self.since.currentData() or "", self.until.currentData() or ""
        if since and until and since > until:
            raise BadInput("The last day lies before the first one; choose them the other way round.")
        tag, machine = self.tag.currentData() or "", self.machine.currentData() or ""
        return Question(
            kind=StudyKind(self.kind.currentData()),
            selection=Selection(
                machines=(machine,) if machine else (),
                tags={tag: self.value.currentData()} if tag and self.value.currentData() else {},
                since=since,
                until=until,
                plan=self.plan.currentData() or "",
            ),
            target_degc=self._target_degc,
            idle_min=10.0 if self.idle.value is None else self.idle.value,
            within_k=self._within_k,
            channel=self.channel.currentData() or "T2",
            factor=self.factor.currentData() or "machine",
            matters_k=self._matters_k,
        )

    def show_question(self, question: Question) -> None:
        """Put a question into the form and ask it."""
        self._quiet = True
        chosen = question.selection
        self.kind.select(question.kind)
        self._select(chosen)
        self.factor.select(question.factor)
        self._target_degc = question.target_degc
        self._within_k, self._matters_k = question.within_k, question.matters_k
        self.idle.show_value(question.idle_min)
        self._show_numbers()
        self._show_rows()
        self._quiet = False
        self._ask()

    def _select(self, chosen: Selection) -> None:
        self.plan.select(chosen.plan)
        self.machine.select(chosen.machines[0] if chosen.machines else _ANY)
        self.since.select(chosen.since)
        self.until.select(chosen.until)
        name, value = next(iter(chosen.tags.items()), (_ANY, _ANY))
        self.tag.select(name)
        self._offer_values()
        if value:
            self.value.select(value)

    def _show_rows(self) -> None:
        kind = StudyKind(self.kind.currentData())
        self.says.setText(kind.question)
        shown = {
            self.target: kind in _TARGETED,
            self.idle: kind is StudyKind.ROUTINE,
            self.within: kind is StudyKind.WARM_UP,
            self.factor: kind is StudyKind.COMPARISON,
            self.matters: kind is StudyKind.COMPARISON,
            self.channel: kind is StudyKind.CYCLE,
        }
        for widget, visible in shown.items():
            widget.setVisible(visible)
            self._rows[widget].setVisible(visible)

    @Slot()
    def _change_kind(self) -> None:
        self._show_rows()
        if self._quiet:
            return
        self._quiet = True
        self._select(self._scope.suited(StudyKind(self.kind.currentData())))
        self._quiet = False
        self._ask()

    @Slot()
    def _change_tag(self) -> None:
        if self._quiet:
            return
        self._quiet = True
        self._offer_values()
        self._quiet = False
        self._ask()

    @Slot(object)
    def _take_target(self, value: float) -> None:
        self._target_degc = degc_from(value, self.unit)
        self._ask()

    @Slot(object)
    def _take_within(self, value: float) -> None:
        self._within_k = value / delta_to(1.0, self.unit)
        self._ask()

    @Slot(object)
    def _take_matters(self, value: float) -> None:
        self._matters_k = value / delta_to(1.0, self.unit)
        self._ask()

    @Slot()
    def _ask(self) -> None:
        if self._quiet:
            return
        try:
            question = self.question
        except BadInput as error:
            self.complaint.say(str(error))
            return
        self.complaint.say("")
        self.asked.emit(question)


def _offer(choice: Choice, entries: list[tuple[str, str]]) -> None:
    before = choice.currentData()
    choice.clear()
    for value, text in entries:
        choice.addItem(text, value)
    place = choice.findData(before) if before is not None else 0
    choice.setCurrentIndex(max(0, place))
