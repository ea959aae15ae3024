"""The Plan page: the plans at the left; at the right one of them, or the form for a new one."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QEvent, QObject, Qt, Signal, Slot
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QHBoxLayout, QLabel, QListWidget, QStackedWidget, QVBoxLayout, QWidget

from benchtemp.window.panel import Panel
from benchtemp.window.panels.labels import Sentence, button, quiet
from benchtemp.window.plan_page.details import PlanDetails
from benchtemp.window.plan_page.new_plan import NewPlan
from benchtemp.window.plan_page.shelf import PlanEntry, PlanShelf

if TYPE_CHECKING:
    from benchtemp.logbook.folder import Logbook
    from benchtemp.studies.plans.plan import Plan
    from benchtemp.units import TempUnit
    from benchtemp.window.theme import Theme

_LIST_CHARS = 34
NOTHING = (
    "A test plan says which shots to pull on a machine, at which settings, in which order and how far apart, "
    "so that the answer does not hang on chance or on the machine warming up. Make the first one: ten shots "
    "three minutes apart show how steady a machine is."
)


class PlanPage(Panel):
    """Everything about plans but the pulling.

    Signals:
        run_asked: Carries the `Plan` to run on the Bench.
        finding_asked: Carries the `Plan` whose finding is wanted.
    """

    run_asked = Signal(object)
    finding_asked = Signal(object)

    def __init__(self, logbook: Logbook, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setProperty("look", "page")
        self.shelf = PlanShelf(logbook, self)
        self._wanted = ""
        self._machine = ""
        self.title = QLabel("Plans")
        self.list = QListWidget()
        self.list.setAccessibleName("Plans")
        self.list.setWordWrap(True)
        self.list.setSpacing(3)
        self.list.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.new_button = button("New plan", look="primary")
        self.said = Sentence(look="bad", name="Plans")
        self.nothing = quiet("Reading the plans.", wrap=True)
        self.details = PlanDetails()
        self.form = NewPlan()
        self._empty = QWidget()
        self._stack = QStackedWidget()
        self._lay_out()
        self._connect()

    def _lay_out(self) -> None:
        empty = QVBoxLayout(self._empty)
        empty.setContentsMargins(24, 20, 24, 20)
        empty.addWidget(self.nothing)
        empty.addStretch(1)
        for view in (self._empty, self.details, self.form):
            self._stack.addWidget(view)
        side = QVBoxLayout()
        side.setSpacing(8)
        side.addWidget(self.title)
        side.addWidget(self.list, 1)
        side.addWidget(self.new_button)
        self._side = QWidget()
        side.setContentsMargins(0, 0, 0, 0)
        self._side.setLayout(side)
        right = QVBoxLayout()
        right.setSpacing(8)
        right.addWidget(self.said)
        right.addWidget(self._stack, 1)
        layout = QHBoxLayout(self)
        layout.setContentsMargins(12, 10, 12, 10)
        layout.setSpacing(14)
        layout.addWidget(self._side)
        layout.addLayout(right, 1)

    def _connect(self) -> None:
        self.shelf.changed.connect(self._show_plans)
        self.shelf.saved.connect(self._take_saved)
        self.shelf.failed.connect(self.said.say)
        self.list.currentRowChanged.connect(self._choose)
        self.list.installEventFilter(self)
        self.new_button.clicked.connect(self.begin_new)
        self.form.made.connect(self._save)
        self.form.left.connect(self.leave_new)
        self.details.run_asked.connect(self.run_asked)
        self.details.finding_asked.connect(self.finding_asked)

    # -- look ----------------------------------------------------------------------------------------------

    def set_theme(self, theme: Theme) -> None:
        """Hand the theme on."""
        super().set_theme(theme)
        self.title.setFont(theme.font(1.5, bold=True))
        self.nothing.setFont(theme.font(1.2))
        self._side.setFixedWidth(self.fontMetrics().averageCharWidth() * _LIST_CHARS)
        self.details.set_theme(theme)
        self.form.set_theme(theme)

    def set_unit(self, unit: TempUnit) -> None:
        """Hand the unit on."""
        super().set_unit(unit)
        self.details.set_unit(unit)
        self.form.set_unit(unit)

    # -- content -------------------------------------------------------------------------------------------

    @property
    def entries(self) -> tuple[PlanEntry, ...]:
        """Return the plans there are."""
        return self.shelf.now.entries

    @Slot()
    def read(self) -> None:
        """Read plans and shots anew, in the background."""
        self.shelf.read()

    def set_machine(self, machine: str) -> None:
        """Offer the machine of the sitting under way for a new plan."""
        self._machine = machine

    @Slot()
    def _show_plans(self) -> None:
        entries = self.entries
        chosen = self.details.entry
        wanted = self._wanted or (chosen.plan.name if chosen is not None else "")
        self._wanted = ""
        self.list.blockSignals(True)  # noqa: FBT003 - Qt's own signature
        self.list.clear()
        for entry in entries:
            status = entry.status
            stand = "✓ done" if status.finished else f"{status.counted} of {entry.plan.count}"
            self.list.addItem(f"{entry.plan.name}\n{stand}, {_kind(entry)}")
        names = [entry.plan.name for entry in entries]
        row = names.index(wanted) if wanted in names else 0
        self.list.setCurrentRow(row if entries else -1)
        self.list.blockSignals(False)  # noqa: FBT003 - Qt's own signature
        self.said.say(" ".join(self.shelf.now.complaints), "bad")
        self.nothing.setText(NOTHING)
        if entries:
            self.details.show_entry(entries[row])
        if self._stack.currentWidget() is not self.form:
            self._stack.setCurrentWidget(self.details if entries else self._empty)

    @Slot(int)
    def _choose(self, row: int) -> None:
        if 0 <= row < len(self.entries):
            self.details.show_entry(self.entries[row])
            self._stack.setCurrentWidget(self.details)

    @Slot()
    def begin_new(self) -> None:
        """Show the form for a new plan."""
        self.said.say("")
        self._stack.setCurrentWidget(self.form)
        shown = self.details.entry
        machine = self._machine or (shown.plan.machine if shown is not None else "")
        self.form.begin(self.shelf.now.machines, machine)
        self.form.kind.setFocus()

    @Slot()
    def leave_new(self) -> None:
        """Leave the form."""
        self._stack.setCurrentWidget(self.details if self.entries else self._empty)
        self.said.say("")
        self.take_focus()

    @Slot(object)
    def _save(self, plan: Plan) -> None:
        self.said.say("")
        self.shelf.save(plan)

    @Slot(str)
    def _take_saved(self, name: str) -> None:
        self._wanted = name
        self.said.say(f"{name} is saved.", "good")
        self._stack.setCurrentWidget(self.details if self.entries else self._empty)
        self.list.setFocus()

    @Slot()
    def take_focus(self) -> None:
        """Put the focus on the plans, or on the way to the first one."""
        (self.list if self.entries or not self.shelf.was_read else self.new_button).setFocus()

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Start or continue the chosen plan with Enter in the list."""
        if (
            watched is self.list
            and event.type() is QEvent.Type.KeyPress
            and isinstance(event, QKeyEvent)
            and event.key() in {Qt.Key.Key_Return, Qt.Key.Key_Enter}
        ):
            if self.entries and self._stack.currentWidget() is self.details:
                visible = self.details.run_button.isVisibleTo(self.details)
                (self.details.run_button if visible else self.details.finding_button).click()
            return True
        return super().eventFilter(watched, event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Leave the form with Esc."""
        if event.key() == Qt.Key.Key_Escape and self._stack.currentWidget() is self.form:
            self.leave_new()
        else:
            event.ignore()

    def close_down(self) -> None:
        """Wait for what is being read or written."""
        self.shelf.close_down()


def _kind(entry: PlanEntry) -> str:
    kind = entry.plan.kind.value
    return "plan of your own" if kind == "own" else kind
