"""The Plan page: the plans at the left; at the right one of them, or the form for a new one."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QEvent, QObject, Qt, Signal, Slot
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QLabel, QListWidget, QWidget

from benchtemp.window.panels.labels import Wrapped, button
from benchtemp.window.panels.side_page import SidePage, words_view
from benchtemp.window.plan_page.details import PlanDetails
from benchtemp.window.plan_page.plan_form import PlanForm
from benchtemp.window.plan_page.shelf import PlanEntry, PlanShelf

if TYPE_CHECKING:
    from pathlib import Path

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


class PlanPage(SidePage):
    """Everything about plans but the pulling.

    Signals:
        run_asked: Carries the `Plan` to run on the Bench.
        finding_asked: Carries the `Plan` whose finding is wanted.
        replaced: Carries a `Plan` that was edited, and the name it had before.
        removed: Carries the `Plan` that was moved to the bin.
    """

    run_asked = Signal(object)
    finding_asked = Signal(object)
    replaced = Signal(object, str)
    removed = Signal(object)

    def __init__(self, logbook: Logbook, parent: QWidget | None = None) -> None:
        super().__init__("Plans", parent)
        self.shelf = PlanShelf(logbook, self)
        self._wanted = ""
        self._machine = ""
        self._editing: PlanEntry | None = None
        self._binned: Path | None = None
        self.title = QLabel("Plans")
        self.list = QListWidget()
        self.list.setAccessibleName("Plans")
        self.list.setWordWrap(True)
        self.list.setSpacing(3)
        self.list.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.new_button = button("New plan", look="primary")
        self.back_button = button("Put it back", look="flat")
        self.back_button.hide()
        self.nothing = Wrapped("Reading the plans.")
        self.first_button = button("Make the first plan", look="primary")
        self.first_button.clicked.connect(self.begin_new)
        self.first_button.hide()
        self.details = PlanDetails()
        self.form = PlanForm()
        self._empty = words_view(self.nothing, self.first_button)
        # In this order Tab goes from one to the next.
        self.side.addWidget(self.title)
        self.side.addWidget(self.list, 1)
        self.side.addWidget(self.new_button)
        self.side.addStretch(0)
        self.above.addWidget(self.back_button)
        for view in (self._empty, self.details, self.form):
            self.views.addWidget(view)
        self._connect()

    def _connect(self) -> None:
        self.shelf.changed.connect(self._show_plans)
        self.shelf.saved.connect(self._take_saved)
        self.shelf.removed.connect(self._take_removed)
        self.shelf.returned.connect(self._take_returned)
        self.shelf.failed.connect(self._tell_trouble)
        self.list.currentRowChanged.connect(self._choose)
        self.list.installEventFilter(self)
        self.new_button.clicked.connect(self.begin_new)
        self.form.made.connect(self._save)
        self.form.left.connect(self.leave_form)
        self.back_button.clicked.connect(self._put_back)
        self.details.run_asked.connect(self.run_asked)
        self.details.finding_asked.connect(self.finding_asked)
        self.details.edit_asked.connect(self.edit)
        self.details.bin_asked.connect(self.move_to_bin)

    # -- look ----------------------------------------------------------------------------------------------

    def set_theme(self, theme: Theme) -> None:
        """Hand the theme on."""
        super().set_theme(theme)
        self.title.setFont(theme.font(1.5, bold=True))
        self.nothing.setFont(theme.font(1.2))
        self.fix_side(_LIST_CHARS)
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
        if self.shelf.now.complaints:
            self.said.say(" ".join(self.shelf.now.complaints), "bad")
        self._offer_first(not entries)
        if entries:
            self.details.show_entry(entries[row])
        if self.views.currentWidget() is not self.form:
            self.views.setCurrentWidget(self.details if entries else self._empty)

    def _offer_first(self, first: bool) -> None:  # noqa: FBT001 - a state, named by the method
        """Lead to the first plan, or show those there are."""
        self.nothing.setText(NOTHING)
        waiting = self.list.hasFocus() or self.first_button.hasFocus()
        for widget in (self.list, self.new_button):
            widget.setVisible(not first)
        self.first_button.setVisible(first)
        if waiting and self.views.currentWidget() is not self.form:
            (self.first_button if first else self.list).setFocus()

    @Slot(int)
    def _choose(self, row: int) -> None:
        if 0 <= row < len(self.entries):
            self.details.show_entry(self.entries[row])
            self.views.setCurrentWidget(self.details)

    @Slot()
    def begin_new(self) -> None:
        """Show the form for a new plan."""
        self._editing = None
        self._say_nothing()
        shown = self.details.entry
        machine = self._machine or (shown.plan.machine if shown is not None else "")
        self.form.begin(self.shelf.now.machines, machine)
        self.views.setCurrentWidget(self.form)
        self.form.take_focus()

    @Slot(object)
    def edit(self, entry: PlanEntry) -> None:
        """Show the form with a plan in it."""
        self._editing = entry
        self._say_nothing()
        self.form.edit(self.shelf.now.machines, entry)
        self.views.setCurrentWidget(self.form)
        self.form.take_focus()

    @Slot()
    def leave_form(self) -> None:
        """Leave the form, with nothing changed."""
        self._show_details()
        self._say_nothing()
        self.take_focus()

    def _show_details(self) -> None:
        self._editing = None
        self.views.setCurrentWidget(self.details if self.entries else self._empty)

    @Slot(object)
    def _save(self, plan: Plan) -> None:
        self._say_nothing()
        self.shelf.save(plan, self._editing)

    @Slot(object)
    def _take_saved(self, plan: Plan) -> None:
        self._wanted = plan.name
        self.said.say(f"{plan.name} is saved.", "good")
        if self._editing is not None:
            self.replaced.emit(plan, self._editing.plan.name)
        self._show_details()
        self.list.setFocus()

    @Slot(object)
    def move_to_bin(self, entry: PlanEntry) -> None:
        """Move a plan to the bin."""
        self._say_nothing()
        self.shelf.remove(entry)

    @Slot(object, object)
    def _take_removed(self, entry: PlanEntry, binned: Path) -> None:
        self._binned = binned
        pulled = "; the shots pulled for it stay where they are" if entry.status.done else ""
        self.said.say(f"{entry.plan.name} is in the bin{pulled}.", "quiet")
        self.back_button.show()
        self.list.setFocus()
        self.removed.emit(entry.plan)

    @Slot()
    def _put_back(self) -> None:
        if self._binned is not None:
            self.shelf.put_back(self._binned)
            self.list.setFocus()

    @Slot(object)
    def _take_returned(self, plan: Plan) -> None:
        self._wanted = plan.name
        self._say_nothing()
        self.said.say(f"{plan.name} is back.", "good")

    @Slot(str)
    def _tell_trouble(self, sentence: str) -> None:
        self.said.say(sentence, "bad")

    def _say_nothing(self) -> None:
        self._binned = None
        self.back_button.hide()
        self.said.say("")

    @Slot()
    def take_focus(self) -> None:
        """Put the focus on the plans, or on the way to the first one."""
        (self.list if self.entries or not self.shelf.was_read else self.first_button).setFocus()

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Start or continue the chosen plan with Enter in the list; Delete moves it to the bin."""
        if (
            watched is not self.list
            or event.type() is not QEvent.Type.KeyPress
            or not isinstance(event, QKeyEvent)
        ):
            return super().eventFilter(watched, event)
        if event.key() in {Qt.Key.Key_Delete, Qt.Key.Key_Backspace}:
            if self.entries and self.views.currentWidget() is self.details:
                self.details.bin_button.click()
            return True
        if event.key() in {Qt.Key.Key_Return, Qt.Key.Key_Enter}:
            if self.entries and self.views.currentWidget() is self.details:
                visible = self.details.run_button.isVisibleTo(self.details)
                (self.details.run_button if visible else self.details.finding_button).click()
            return True
        return super().eventFilter(watched, event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Leave the form with Esc."""
        if event.key() == Qt.Key.Key_Escape and self.views.currentWidget() is self.form:
            self.leave_form()
        else:
            event.ignore()

    def close_down(self) -> None:
        """Wait for what is being read or written."""
        self.shelf.close_down()


def _kind(entry: PlanEntry) -> str:
    kind = entry.plan.kind.value
    return "plan of your own" if kind == "own" else kind
