"""What an uncertainty is made of and what would lessen it: of a shot, or of a probe at brew temperature."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import (
    QAbstractItemView,
    QFrame,
    QHBoxLayout,
    QHeaderView,
    QLabel,
    QScrollArea,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from benchtemp.errors import BadInput
from benchtemp.probes.brew_budget import NOISE, brew_temp_budget
from benchtemp.reports.budget import cures, difference_line
from benchtemp.shots.budget import Estimates, budget_of, difference_of
from benchtemp.units import TempUnit, degc_from, degc_to, delta_to
from benchtemp.window.fields import NumberField
from benchtemp.window.panel import Panel
from benchtemp.window.panels.choice import Choice
from benchtemp.window.panels.labels import Sentence, button, heading, quiet
from benchtemp.window.probes_page.budget_chart import BudgetChart
from benchtemp.window.probes_page.estimates_form import EstimatesForm
from benchtemp.window.probes_page.texts import BREW_DEGC, looked_at, plus_minus, temp_with
from benchtemp.window.theme import figure_width

if TYPE_CHECKING:
    from PySide6.QtGui import QKeyEvent

    from benchtemp.bench.snapshot import Snapshot
    from benchtemp.probes.probe import Probe
    from benchtemp.probes.uncertainty import Budget
    from benchtemp.shots.shot import Shot
    from benchtemp.window.theme import Theme

COLUMNS = ("What may be wrong", "Input × sensitivity", "Adds", "Share", "Kind, and source")
_NUMBERS = (1, 2, 3)
_ROW_GAP = 6
_AT_RIGHT = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
_LOWEST_DEGC, _HIGHEST_DEGC = 0.0, 130.0
_MOMENT = re.compile(r"(\d{4}-\d\d-\d\d)T(\d\d:\d\d)\S*")


class BudgetView(Panel):
    """Table and bars of an uncertainty budget.

    Signals:
        left: Back to where it was opened from.
        estimates_chosen: Carries new `Estimates`.
    """

    left = Signal()
    estimates_chosen = Signal(object)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setProperty("look", "surface")
        self.setAccessibleName("Uncertainty")
        self._shots: tuple[Shot, ...] = ()
        self._probes: tuple[Probe, ...] = ()
        self._estimates = Estimates()
        self.budget: Budget | None = None
        self.subject = Choice("What the uncertainty is of", least_chars=20)
        self.subject.activated.connect(self._renew)
        self.other = Choice("Shot it is compared with", least_chars=14)
        self.other.activated.connect(self._renew)
        self.temp_field = NumberField(name="brew temperature", decimals=1, may_be_empty=False)
        self.temp_field.taken.connect(self._renew)
        self.temp_unit = quiet()
        self.back_button = button("Back", tip="Esc")
        self.back_button.clicked.connect(self.left)
        self.result = QLabel()
        self.result.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.how = quiet(wrap=True)
        self.better = Sentence(look="", name="What would make this number better?")
        self.difference = Sentence(look="", name="Difference")
        self.complaint = Sentence(look="bad", name="Uncertainty")
        self.temp_field.complaint.connect(self.complaint.say)
        self.chart = BudgetChart()
        self.table = _table()
        self.table.horizontalHeader().sectionResized.connect(self._fit_table)
        self.estimates = EstimatesForm()
        self.estimates.chosen.connect(self._take_estimates)
        self._lay_out()
        self.temp_field.show_value(BREW_DEGC)

    def _lay_out(self) -> None:
        head = QHBoxLayout()
        head.setSpacing(6)
        for widget in (self.subject, self.temp_field, self.temp_unit, self.other):
            head.addWidget(widget)
        head.addStretch(1)
        head.addWidget(self.back_button)
        inner = QWidget()
        body = QVBoxLayout(inner)
        body.setContentsMargins(0, 0, 6, 0)
        body.setSpacing(8)
        for widget in (self.result, self.how, self.complaint, self.difference):
            body.addWidget(widget)
        self._better_heading = heading("What would make this number better?")
        body.addWidget(self._better_heading)
        body.addWidget(self.better)
        body.addWidget(self.chart)
        body.addWidget(
            quiet("Hatched: an estimate. Bars: what each adds alone (k = 1). A: from readings, B: otherwise.")
        )
        body.addWidget(self.table)
        body.addWidget(self.estimates)
        body.addStretch(1)
        scroll = QScrollArea()
        scroll.setWidgetResizable(True)
        scroll.setFrameShape(QFrame.Shape.NoFrame)
        scroll.setWidget(inner)
        scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.scroller = scroll
        column = QVBoxLayout(self)
        column.setContentsMargins(14, 10, 8, 10)
        column.setSpacing(8)
        column.addLayout(head)
        column.addWidget(scroll, 1)

    # -- look ----------------------------------------------------------------------------------------------

    def set_theme(self, theme: Theme) -> None:
        """Take fonts and colours anew."""
        super().set_theme(theme)
        self.result.setFont(theme.font(1.6, bold=True, figures=True))
        self.chart.restyle(theme)
        self.table.setFont(theme.font(0.95, figures=True))
        self.estimates.set_theme(theme)
        self.temp_field.setFixedWidth(figure_width(self.temp_field.font(), "000.0") + 24)
        self._renew()

    def set_unit(self, unit: TempUnit) -> None:
        """Show everything in another unit."""
        temp_degc = self._temp_degc()
        super().set_unit(unit)
        self.temp_unit.setText(unit.symbol)
        self.temp_field.set_range(degc_to(_LOWEST_DEGC, unit), degc_to(_HIGHEST_DEGC, unit))
        self.temp_field.show_value(round(degc_to(temp_degc, unit), 1))
        self.estimates.set_unit(unit)
        self._renew()

    # -- subjects ------------------------------------------------------------------------------------------

    def show_estimates(self, estimates: Estimates) -> None:
        """Show the estimates in force."""
        self._estimates = estimates
        self.estimates.show_estimates(estimates)
        self._renew()

    def show_probes(self, probes: tuple[Probe, ...]) -> None:
        """Offer these probes."""
        self._probes = probes
        self._list_subjects()

    def show_snapshot(self, snapshot: Snapshot | None) -> None:
        """Offer the shots of the sitting that have a brew temperature."""
        shots = () if snapshot is None else snapshot.shots
        shots = tuple(shot for shot in shots if not shot.is_flush and shot.result.brew_temp_degc is not None)
        if shots != self._shots:
            self._shots = shots
            self._list_subjects()

    def _list_subjects(self) -> None:
        subjects = [(("shot", str(shot.key)), f"Shot {shot.number} of this sitting") for shot in self._shots]
        subjects += [(("probe", probe.name), f"{probe.name}, at") for probe in self._probes]
        _fill(self.subject, subjects)
        others: list[tuple[object, str]] = [(None, "no comparison")]
        others += [(str(shot.key), f"minus shot {shot.number}") for shot in self._shots]
        _fill(self.other, others)
        self._renew()

    def choose_shot(self, key: int) -> None:
        """Show a shot of the sitting."""
        self._choose(("shot", str(key)))

    def choose_probe(self, name: str) -> None:
        """Show a probe at brew temperature."""
        self._choose(("probe", name))

    def _choose(self, subject: tuple[str, str]) -> None:
        for row in range(self.subject.count()):
            if _data(self.subject, row) == subject:
                self.subject.setCurrentIndex(row)
        self.scroller.verticalScrollBar().setValue(0)
        self._renew()

    def take_focus(self) -> None:
        """Put the focus on the choice of the subject."""
        self.subject.setFocus()

    def _shot(self, key: object) -> Shot | None:
        return next((shot for shot in self._shots if str(shot.key) == key), None)

    def _temp_degc(self) -> float:
        value = self.temp_field.value
        return BREW_DEGC if value is None else degc_from(value, self.unit)

    # -- showing -------------------------------------------------------------------------------------------

    @Slot()
    def _renew(self) -> None:
        subject = _data(self.subject, self.subject.currentIndex())
        kind, key = subject if isinstance(subject, tuple) else ("", "")
        is_probe = kind == "probe"
        self.temp_field.setVisible(is_probe)
        self.temp_unit.setVisible(is_probe)
        self.other.setVisible(kind == "shot" and len(self._shots) > 1)
        self.complaint.say("")
        self.difference.say("")
        self.budget = None
        if kind == "shot" and (shot := self._shot(key)) is not None:
            self.budget = budget_of(shot)
            self._show_difference(shot)
        elif is_probe:
            self.budget = self._probe_budget(key)
        self._show(is_probe=is_probe)

    def _probe_budget(self, name: str) -> Budget | None:
        probe = next((probe for probe in self._probes if probe.name == name), None)
        if probe is None:
            return None
        estimates = self._estimates
        try:
            budget = brew_temp_budget(
                self._temp_degc(),
                shot_uncertainty_k=0.0,
                correction=probe.correction(),
                tolerance_class=probe.tolerance_class,
                drift_half_width_k=probe.drift_half_width_k(looked_at(self._probes)),
                junction_half_width_k=estimates.junction_half_width_k,
                room_degc=estimates.room_degc,
                probe=probe.name,
                position_half_width_k=estimates.position_half_width_k,
                position_fixed=estimates.position_fixed,
            )
            return budget.without(NOISE)  # there is no shot whose readings could scatter
        except BadInput as error:
            self.complaint.say(str(error))
            return None

    def _show_difference(self, shot: Shot) -> None:
        first = self._shot(_data(self.other, self.other.currentIndex()))
        if first is None or first.key == shot.key:
            return
        difference = difference_of(first, shot)
        if difference is not None:
            names = f"Shot {shot.number} minus shot {first.number}"
            self.difference.say(f"{difference_line(names, difference, self.unit)}.")

    def _show(self, *, is_probe: bool) -> None:
        budget, unit = self.budget, self.unit
        self.chart.show_budget(budget, unit)
        for widget in (self.chart, self.table, self._better_heading):
            widget.setVisible(budget is not None)
        if budget is None:
            self.result.setText("— " + unit.symbol)
            nothing = "Nothing to show yet: add a probe, or pull a shot on the Bench page."
            self.how.setText("" if self.subject.count() else nothing)
            self.better.say("")
            return
        self.result.setText(temp_with(budget.value, budget.expanded_k(), unit))
        more = " What a shot's own readings add comes on top." if is_probe else ""
        self.how.setText(f"{factor_text(budget, unit)}{more}")
        self.better.say(better_text(budget, unit))
        self._fill_table(budget)

    def _fill_table(self, budget: Budget) -> None:
        ranked, unit = budget.ranked(), self.unit
        self.table.setRowCount(len(ranked) + 1)
        for row, (line, share) in enumerate(ranked):
            note = _MOMENT.sub(r"\1 \2", line.note)
            kind = f"{line.kind}, estimate" if line.estimate else str(line.kind)
            self._set_row(
                row,
                (
                    line.name,
                    f"{line.uncertainty:.3g} {line.unit} × {line.sensitivity:.3g}",
                    f"{delta_to(line.share_k, unit):.3f} {unit.symbol}",
                    f"{100 * share:.0f} %",
                    f"{kind}: {note}",
                ),
            )
        together = f"{delta_to(budget.uncertainty_k, unit):.3f} {unit.symbol}"
        self._set_row(len(ranked), ("together", "", together, "", "root of the sum of squares"))
        self._fit_table()

    @Slot()
    def _fit_table(self) -> None:
        """Give the table the height of its rows, whose last column wraps."""
        self.table.resizeRowsToContents()
        least_px = self.table.verticalHeader().minimumSectionSize()
        for row in range(self.table.rowCount()):
            if self.table.rowHeight(row) > least_px:  # several lines must not run into the next row
                self.table.setRowHeight(row, self.table.rowHeight(row) + _ROW_GAP)
        rows_px = sum(self.table.rowHeight(row) for row in range(self.table.rowCount()))
        self.table.setFixedHeight(rows_px + self.table.horizontalHeader().sizeHint().height() + 4)

    def _set_row(self, row: int, texts: tuple[str, ...]) -> None:
        for column, text in enumerate(texts):
            item = QTableWidgetItem(text.replace("-", "−") if column in {1, 2} else text)
            item.setToolTip(text)
            if column in _NUMBERS:
                item.setTextAlignment(_AT_RIGHT)
            self.table.setItem(row, column, item)

    @Slot(object)
    def _take_estimates(self, estimates: Estimates) -> None:
        self._estimates = estimates
        self._renew()
        self.estimates_chosen.emit(estimates)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Go back with Esc."""
        if event.key() == Qt.Key.Key_Escape:
            self.left.emit()
        else:
            event.ignore()


def factor_text(budget: Budget, unit: TempUnit) -> str:
    """Return coverage factor, effective degrees of freedom and standard uncertainty behind a result."""
    dof = budget.dof
    freedom = "very many" if dof > 1000 else f"{dof:.0f}"
    return (
        f"Expanded uncertainty, k = {budget.coverage_factor():.2f} (about 95 %), {freedom} effective degrees "
        f"of freedom; standard uncertainty {delta_to(budget.uncertainty_k, unit):.3f} {unit.symbol}."
    )


def better_text(budget: Budget, unit: TempUnit) -> str:
    """Return what would make a result surer, the most helpful first, and how sure at best."""
    found = cures(budget)
    if not found:
        return "Nothing single: what may be wrong is spread evenly, or only the shot's own readings count."
    return "\n".join(
        f"• {cure.text[0].upper()}{cure.text[1:]}: at best {plus_minus(cure.reached_k, unit)} ({cure.name})."
        for cure in found
    )


def _data(choice: Choice, row: int) -> object:
    value: object = choice.itemData(row)
    # Qt hands a tuple back as a list.
    return tuple(value) if isinstance(value, list) else value


def _fill(choice: Choice, entries: list[tuple[object, str]] | list[tuple[tuple[str, str], str]]) -> None:
    """Offer these entries; what was chosen stays chosen while it is there."""
    now = [(_data(choice, row), choice.itemText(row)) for row in range(choice.count())]
    if now == entries:
        return
    chosen = _data(choice, choice.currentIndex())
    choice.clear()
    for value, text in entries:
        choice.addItem(text, value)
    for row in range(choice.count()):
        if _data(choice, row) == chosen:
            choice.setCurrentIndex(row)


def _table() -> QTableWidget:
    table = QTableWidget(0, len(COLUMNS))
    table.setAccessibleName("Uncertainty budget")
    table.setHorizontalHeaderLabels(COLUMNS)
    for column in _NUMBERS:
        head = QTableWidgetItem(COLUMNS[column])
        head.setTextAlignment(_AT_RIGHT)
        table.setHorizontalHeaderItem(column, head)
    table.verticalHeader().hide()
    table.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
    table.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
    table.setTabKeyNavigation(False)
    table.setShowGrid(False)
    table.setWordWrap(True)
    table.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
    table.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
    header = table.horizontalHeader()
    header.setHighlightSections(False)
    header.setDefaultAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
    header.setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
    header.setSectionResizeMode(len(COLUMNS) - 1, QHeaderView.ResizeMode.Stretch)
    return table
