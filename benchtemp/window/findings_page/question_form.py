"""The form that asks: which study, of which shots, and what the study itself needs to know."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import QFrame, QGridLayout, QLabel, QVBoxLayout, QWidget

from benchtemp.errors import BadInput
from benchtemp.reports.answering import Asked, Wanted
from benchtemp.studies.evidence.shot_set import Selection
from benchtemp.units import TempUnit, degc_from, degc_to, delta_to
from benchtemp.window.fields import NumberField
from benchtemp.window.findings_page.asking import Question, Scope
from benchtemp.window.findings_page.tag_filters import TagFilters
from benchtemp.window.panel import Panel
from benchtemp.window.panels.choice import Choice
from benchtemp.window.panels.labels import Sentence, heading, quiet

if TYPE_CHECKING:
    from benchtemp.window.theme import Theme

_TARGETED = {Asked.SETPOINT, Asked.ROUTINE, Asked.CYCLE}
_ANY = ""
_MARGIN, _SPACING = 12, 10


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
        self._wanted = Wanted()
        self.kind = Choice("Study", [(asked, asked.heading) for asked in Asked], least_chars=10)
        self.says = quiet(wrap=True)
        self.plan = Choice("Shots pulled for plan", least_chars=10)
        self.machine = Choice("Machine", least_chars=10)
        self.since = Choice("From day", least_chars=10)
        self.until = Choice("To day", least_chars=10)
        self.tags = TagFilters()
        self.factor = Choice("Compare by", least_chars=10)
        self.channel = Choice("Channel at boiler or group", least_chars=6)
        self.settling = Choice("What settles", least_chars=10)
        self.target = NumberField(name="target", decimals=1, may_be_empty=False)
        self.idle = NumberField(name="idle time", low=0, high=1440, decimals=1, may_be_empty=False)
        self.within = NumberField(name="closeness", decimals=2, may_be_empty=False)
        self.matters = NumberField(name="difference that matters", decimals=2, may_be_empty=False)
        self.complaint = Sentence(look="bad", name="What to find out")
        self._rows: dict[QWidget, QLabel] = {}
        self._lay_out()
        self.kind.currentIndexChanged.connect(self._change_kind)
        self.tags.changed.connect(self._ask)
        for choice in (
            self.plan, self.machine, self.since, self.until, self.factor, self.channel, self.settling
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
        grid.setHorizontalSpacing(_SPACING)
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
        row("Settling of", self.settling)
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
        row("Tags", self.tags)
        grid.setAlignment(self._rows[self.tags], Qt.AlignmentFlag.AlignTop)
        # Beside the first of its rows, as high as the words of the others.
        self._rows[self.tags].setContentsMargins(0, 6, 0, 0)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(_MARGIN, 10, _MARGIN, 10)
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

    @property
    def least_width(self) -> int:
        """Return how wide the form must be for any study, whichever rows it shows now."""
        words = max(label.sizeHint().width() for label in self._rows.values())
        fields = max(field.minimumSizeHint().width() for field in self._rows)
        return words + fields + 2 * _MARGIN + _SPACING

    def _show_numbers(self) -> None:
        wanted = self._wanted
        self.target.show_value(round(degc_to(wanted.target_degc, self.unit), 2))
        self.idle.show_value(wanted.idle_min)
        self.within.show_value(round(delta_to(wanted.within_k, self.unit), 3))
        self.matters.show_value(round(delta_to(wanted.matters_k, self.unit), 3))

    # -- scope ---------------------------------------------------------------------------------------------

    def show_scope(self, scope: Scope) -> None:
        """Offer what is in a logbook; what is chosen stays chosen."""
        self._scope = scope
        self._quiet = True
        plans = [(name, name) for name in reversed(scope.plans)]
        self.plan.offer([(_ANY, "any, or none"), *plans])
        self.machine.offer([(_ANY, "any"), *((name, name) for name in scope.machines)])
        days = [(day, day) for day in scope.days]
        self.since.offer([(_ANY, "the first day"), *days])
        self.until.offer([(_ANY, "the last day"), *reversed(days)])
        own = ("machine", "setpoint", "operator", "probe", "date", "recording", "plan")
        self.factor.offer((name, name) for name in dict.fromkeys((*own, *scope.tag_names)))
        channels = scope.further_channels
        self.channel.offer((name, name) for name in channels or ("T2",))
        self.settling.offer([(_ANY, "the shots"), *((name, f"channel {name}") for name in channels)])
        self.tags.show_scope(scope)
        self._quiet = False

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
        machine = self.machine.currentData() or ""
        wanted = replace(
            self._wanted,
            idle_min=self._wanted.idle_min if self.idle.value is None else self.idle.value,
            by=self.factor.currentData() or self._wanted.by,
            channel=self.channel.currentData() or self._wanted.channel,
            settling_channel=self.settling.currentData() or "",
        )
        return Question(
            asked=Asked(self.kind.currentData()),
            selection=Selection(
                machines=(machine,) if machine else (),
                tags=self.tags.tags,
                since=since,
                until=until,
                plan=self.plan.currentData() or "",
            ),
            wanted=wanted,
        )

    def show_question(self, question: Question) -> None:
        """Put a question into the form and ask it."""
        self._quiet = True
        self._wanted = question.wanted
        self.kind.select(question.asked)
        self._select(question.selection)
        self.factor.select(question.wanted.by)
        if self.channel.findData(question.wanted.channel) >= 0:
            self.channel.select(question.wanted.channel)
        self.settling.select(question.wanted.settling_channel)
        self._show_numbers()
        self._show_rows()
        self._quiet = False
        self._ask()

    def _select(self, chosen: Selection) -> None:
        self.plan.select(chosen.plan)
        self.machine.select(chosen.machines[0] if chosen.machines else _ANY)
        self.since.select(chosen.since)
        self.until.select(chosen.until)
        self.tags.select(chosen.tags)

    def _show_rows(self) -> None:
        asked = Asked(self.kind.currentData())
        self.says.setText(asked.question)
        shown = {
            self.target: asked in _TARGETED,
            self.idle: asked is Asked.ROUTINE,
            self.settling: asked is Asked.WARM_UP,
            self.within: asked is Asked.WARM_UP,
            self.factor: asked is Asked.COMPARISON,
            self.matters: asked is Asked.COMPARISON,
            self.channel: asked is Asked.CYCLE,
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
        self._select(self._scope.suited(Asked(self.kind.currentData())))
        self._quiet = False
        self._ask()

    @Slot(object)
    def _take_target(self, value: float) -> None:
        self._wanted = replace(self._wanted, target_degc=degc_from(value, self.unit))
        self._ask()

    @Slot(object)
    def _take_within(self, value: float) -> None:
        self._wanted = replace(self._wanted, within_k=value / delta_to(1.0, self.unit))
        self._ask()

    @Slot(object)
    def _take_matters(self, value: float) -> None:
        self._wanted = replace(self._wanted, matters_k=value / delta_to(1.0, self.unit))
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
