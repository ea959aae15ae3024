"""One probe: what is known of it, its history, and what can be done with it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import msgspec
from PySide6.QtCore import Qt, Signal, SignalInstance, Slot
from PySide6.QtWidgets import QFormLayout, QGridLayout, QHBoxLayout, QLabel, QVBoxLayout, QWidget

from benchtemp.probes.probe import DEFAULT_CHECK_DAYS, Probe
from benchtemp.probes.tolerance import ToleranceClass
from benchtemp.units import delta_to, temp_text
from benchtemp.window.fields import TextField
from benchtemp.window.panel import Panel
from benchtemp.window.panels.choice import Choice
from benchtemp.window.panels.labels import Sentence, button, quiet
from benchtemp.window.probes_page.history_chart import HistoryChart
from benchtemp.window.probes_page.texts import (
    BREW_DEGC,
    correction_text,
    date_text,
    drift_text,
    error_with,
    lag_text,
    now_text,
    standing,
)
from benchtemp.window.sources.two_lines import TwoLineList

if TYPE_CHECKING:
    from benchtemp.probes.check import Check
    from benchtemp.units import TempUnit
    from benchtemp.window.theme import Theme

_CHECKED = Qt.ItemDataRole.UserRole
NOT_PLUGGED = ""


class ProbeDetails(Panel):
    """Shows one probe and lets its class, mark and notes be edited.

    Signals:
        edited: Name of the probe, and its fields with their new values (a dict).
        plugged: Name of the probe and the channel it is on now; empty for none.
        check_asked: A guided check of this probe is wanted.
        plunge_asked: Its time constant is to be measured.
        budget_asked: What its uncertainty is made of at brew temperature.
        removal_asked: Name of the probe and the moment of the check to take out of its history.
    """

    edited = Signal(str, object)
    plugged = Signal(str, str)
    check_asked = Signal(str)
    plunge_asked = Signal(str)
    budget_asked = Signal(str)
    removal_asked = Signal(str, str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setProperty("look", "surface")
        self.setAccessibleName("Probe")
        self._probe: Probe | None = None
        self._check_days = DEFAULT_CHECK_DAYS
        self._now = ""
        self._build()
        self._build_fields()
        self._lay_out()
        self._show_removal()

    def _build(self) -> None:
        self.title = QLabel()
        self.title.setTextFormat(Qt.TextFormat.PlainText)
        self.standing = Sentence(name="Check")
        self.correction = QLabel()
        self.last = QLabel()
        self.lag = QLabel()
        for label in (self.correction, self.last, self.lag):
            label.setTextFormat(Qt.TextFormat.PlainText)
        self.correction_caption = quiet()
        self.check_button = button("Check this probe", look="primary", tip="A guided check, step by step")
        self.plunge_button = button("Measure its time constant", tip="By a plunge into hot water")
        self.budget_button = button("Its uncertainty", tip="What it is made of, at brew temperature")
        self.check_button.clicked.connect(lambda: self._ask(self.check_asked))
        self.plunge_button.clicked.connect(lambda: self._ask(self.plunge_asked))
        self.budget_button.clicked.connect(lambda: self._ask(self.budget_asked))
        self.chart = HistoryChart()
        self.chart.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.drift = quiet(wrap=True)
        self._room = QWidget()
        """Takes the room of chart and list while there is no check."""
        self.checks = TwoLineList("Checks of this probe")
        self.checks.currentRowChanged.connect(self._show_removal)
        self.remove_button = button("Take out the chosen check…", look="flat")
        self.remove_button.clicked.connect(self._ask_removal)
        self.yes_button = button("Yes, take it out")
        self.yes_button.clicked.connect(self._remove)
        self.no_button = button("No, keep it")
        self.no_button.clicked.connect(self._show_removal)
        self.question = QLabel("Take this check out of the history for good?")

    def _build_fields(self) -> None:
        self.class_choice = Choice("Class of the probe", ((one, str(one)) for one in ToleranceClass))
        self.class_choice.setToolTip("What its packet says; counts until the probe is checked")
        self.class_choice.activated.connect(self._edit)
        self.serial_field = TextField(name="Number or mark on the probe", hint="number or mark on it")
        self.notes_field = TextField(name="Notes", hint="notes: where bought, how it sits in the basket")
        for field in (self.serial_field, self.notes_field):
            field.editingFinished.connect(self._edit)
        self.channel_choice = Choice("Channel the probe is plugged into", least_chars=12)
        self.channel_choice.activated.connect(self._plug)
        self.channel_note = Sentence(name="Channel")

    def _lay_out(self) -> None:
        captions = (self.correction_caption, quiet("Last check"), quiet("Time constant"))
        figures = QGridLayout()
        figures.setHorizontalSpacing(20)
        figures.setVerticalSpacing(0)
        for place, figure in enumerate((self.correction, self.last, self.lag)):
            figures.addWidget(captions[place], 0, place)
            figures.addWidget(figure, 1, place)
        figures.setColumnStretch(3, 1)
        actions = QHBoxLayout()
        actions.setSpacing(6)
        for one in (self.check_button, self.plunge_button, self.budget_button):
            actions.addWidget(one)
        actions.addStretch(1)
        left, right = QFormLayout(), QFormLayout()
        for form in (left, right):
            form.setContentsMargins(0, 0, 0, 0)
            form.setHorizontalSpacing(8)
            form.setVerticalSpacing(4)
            form.setFieldGrowthPolicy(QFormLayout.FieldGrowthPolicy.AllNonFixedFieldsGrow)
        left.addRow("Class", self.class_choice)
        left.addRow("Plugged into", self.channel_choice)
        right.addRow("Mark", self.serial_field)
        right.addRow("Notes", self.notes_field)
        facts = QHBoxLayout()
        facts.setSpacing(16)
        facts.addLayout(left, 1)
        facts.addLayout(right, 1)
        removal = QHBoxLayout()
        removal.setSpacing(6)
        removal.addWidget(self.remove_button)
        for widget in (self.question, self.yes_button, self.no_button):
            removal.addWidget(widget)
        removal.addStretch(1)
        column = QVBoxLayout(self)
        column.setContentsMargins(14, 10, 14, 10)
        column.setSpacing(6)
        column.addWidget(self.title)
        column.addWidget(self.standing)
        column.addLayout(figures)
        column.addLayout(actions)
        column.addLayout(facts)
        column.addWidget(self.channel_note)
        column.addWidget(self.chart, 3)
        column.addWidget(self.drift)
        column.addWidget(self.checks, 2)
        column.addLayout(removal)
        column.addWidget(self._room, 5)

    # -- look ----------------------------------------------------------------------------------------------

    def set_theme(self, theme: Theme) -> None:
        """Take fonts and colours anew."""
        super().set_theme(theme)
        self.title.setFont(theme.font(1.4, bold=True))
        for label in (self.correction, self.last, self.lag):
            label.setFont(theme.font(1.15, bold=True, figures=True))
        self.chart.restyle(theme)
        self.checks.set_theme(theme)
        self.checks.setMinimumHeight(int(self.fontMetrics().lineSpacing() * 3.4))

    def set_unit(self, unit: TempUnit) -> None:
        """Show differences in another unit."""
        super().set_unit(unit)
        self.chart.set_unit(unit)
        self._show()

    # -- showing -------------------------------------------------------------------------------------------

    @property
    def probe(self) -> Probe | None:
        """Return the probe shown."""
        return self._probe

    def show_probe(self, probe: Probe, check_days: float, now: str = "") -> None:
        """Show a probe as it stands at a moment (ISO 8601; this one if empty).

        Fields being typed into are left alone.
        """
        other = self._probe is None or self._probe.name != probe.name
        self._probe, self._check_days, self._now = probe, check_days, now
        for field, text in ((self.serial_field, probe.serial), (self.notes_field, probe.notes)):
            if other or not (field.hasFocus() and field.isModified()):
                field.setText(text)
                field.setCursorPosition(0)  # its beginning says more than its end
        self.class_choice.select(probe.tolerance_class)
        self._show()

    def _show(self) -> None:
        probe = self._probe
        if probe is None:
            return
        now = self._now or now_text()
        self.title.setText(probe.name)
        self.standing.say(*standing(probe, now, self._check_days))
        self.correction_caption.setText(f"Added at {temp_text(BREW_DEGC, self.unit, 0)}")
        never = not probe.checks
        self.correction.setText("nothing yet" if never else correction_text(probe.correction(), self.unit))
        self.last.setText("never" if never else date_text(probe.checks[-1].checked))
        lag = probe.time_constant
        self.lag.setText("not measured" if lag is None else lag_text(lag))
        self.lag.setToolTip("" if lag is None else f"k = 2; measured {date_text(lag.measured)}")
        self.chart.show_probe(probe, now)
        legend = "Bars: k = 2. Dashed: the last limit, and the drift."
        history = f"{drift_text(probe.drift(BREW_DEGC), self.unit)} {legend}"
        self.chart.setVisible(not never)
        self._room.setVisible(never)
        self.drift.setText("Its checks, and how it drifts, will stand here." if never else history)
        self._list_checks(probe)

    def _list_checks(self, probe: Probe) -> None:
        row = self.checks.currentRow()
        self.checks.blockSignals(True)  # noqa: FBT003 - Qt's own signature
        self.checks.clear()
        for check in reversed(probe.checks):
            title, detail = check_lines(check, self.unit)
            item = self.checks.add(title, detail, f"{title}\n{detail}")
            item.setData(_CHECKED, check.checked)
        self.checks.blockSignals(False)  # noqa: FBT003
        if probe.checks:
            self.checks.setCurrentRow(min(max(row, 0), self.checks.count() - 1))
        self.checks.setVisible(bool(probe.checks))
        self._show_removal()

    # -- channel -------------------------------------------------------------------------------------------

    def show_channels(self, channels: tuple[str, ...], on: str, note: str) -> None:
        """Show the channels of the source that is open, and which one the probe is on.

        Args:
            channels: Of the source; none where no source is open.
            on: The probe's channel, empty for none.
            note: A sentence to show below.
        """
        entries = [(NOT_PLUGGED, "no channel" if channels else "no source is open")]
        entries += [(channel, channel) for channel in channels]
        now = [
            (self.channel_choice.itemData(row), self.channel_choice.itemText(row))
            for row in range(self.channel_choice.count())
        ]
        if now != entries:
            self.channel_choice.clear()
            for value, text in entries:
                self.channel_choice.addItem(text, value)
        self.channel_choice.setEnabled(bool(channels))
        if self.channel_choice.currentData() != on:
            self.channel_choice.select(on)
        self.channel_note.say(note)

    # -- what the user wants -------------------------------------------------------------------------------

    def _ask(self, signal: SignalInstance) -> None:
        if self._probe is not None:
            signal.emit(self._probe.name)

    @Slot()
    def _plug(self) -> None:
        if self._probe is not None:
            self.plugged.emit(self._probe.name, str(self.channel_choice.currentData()))

    @Slot()
    def _edit(self) -> None:
        probe = self._probe
        if probe is None:
            return
        wanted = {
            "tolerance_class": ToleranceClass(str(self.class_choice.currentData())),
            "serial": self.serial_field.text().strip(),
            "notes": self.notes_field.text().strip(),
        }
        changed = {name: value for name, value in wanted.items() if value != getattr(probe, name)}
        if changed:
            self._probe = msgspec.structs.replace(probe, **changed)
            self.edited.emit(probe.name, changed)

    @Slot()
    def _show_removal(self) -> None:
        self._show_question(asked=False)

    @Slot()
    def _ask_removal(self) -> None:
        self._show_question(asked=True)
        self.no_button.setFocus()

    def _show_question(self, *, asked: bool) -> None:
        any_check = self.checks.currentItem() is not None
        had_focus = self.yes_button.hasFocus() or self.no_button.hasFocus()
        self.remove_button.setVisible(any_check and not asked)
        for widget in (self.question, self.yes_button, self.no_button):
            widget.setVisible(any_check and asked)
        if had_focus and not asked:
            (self.remove_button if any_check else self.check_button).setFocus()

    @Slot()
    def _remove(self) -> None:
        item = self.checks.currentItem()
        if item is not None and self._probe is not None:
            self.removal_asked.emit(self._probe.name, str(item.data(_CHECKED)))
        self._show_removal()


def check_lines(check: Check, unit: TempUnit) -> tuple[str, str]:
    """Return a check in two lines: when, how and how far off; verdict, operator, conditions."""
    verdict = check.verdict
    points = "" if len(check.points) == 1 else f", {len(check.points)} points, the worst"
    title = (
        f"{date_text(check.checked)}  {check.method}{points}: error "
        f"{error_with(verdict.error_k, verdict.expanded_k, unit)}"
    )
    limit = f"{delta_to(check.limit_k, unit):.2f} {unit.symbol}"
    parts = [f"✓ within {limit}" if check.passed else f"✕ beyond {limit}"]
    if not check.certain:
        parts[0] += " (not certain)"
    if check.operator:
        parts.append(f"by {check.operator}")
    parts += [f"{name} {text}" for name, text in check.conditions.items()]
    if check.note:
        parts.append(check.note)
    if check.recording:
        parts.append(f"readings in {check.recording}")
    return title, "; ".join(parts)
