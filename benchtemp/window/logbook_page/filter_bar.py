"""What narrows the list: words, kind, machine, verdict, days; and which columns it has."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, QTimer, Signal, Slot
from PySide6.QtWidgets import QGridLayout, QHBoxLayout, QToolButton, QWidget

from benchtemp.errors import BadInput
from benchtemp.logbook.index import Kind, Query, Sort
from benchtemp.window.fields import TextField
from benchtemp.window.panel import Panel
from benchtemp.window.panels.choice import Choice
from benchtemp.window.panels.labels import Sentence, button, quiet
from benchtemp.window.theme import repolish

if TYPE_CHECKING:
    from collections.abc import Sequence

    from PySide6.QtGui import QKeyEvent

_TYPED_MS = 120
HELP = (
    "Any words, or parts of words, found anywhere: machine, tags and their values, probe, notes, file name, "
    "the day as 2025-11-25 or 2025-11, “shot 3”, “counts”, “does not count”, “set aside”, “outside the "
    "recipe”, or the reason. All of them must occur; case and accents do not matter; words in double quotes "
    "stand together."
)
_KINDS: tuple[tuple[object, str], ...] = (
    ("", "All files"),
    (Kind.SHOT, "Shots"),
    (Kind.FLUSH, "Flushes"),
    (Kind.RECORDING, "Recordings"),
    (Kind.UNREADABLE, "Unreadable"),
)
_VERDICTS: tuple[tuple[object, str], ...] = (
    ("", "Any verdict"),
    ("counts", "Counts"),
    ("not", "Does not count"),
    ("aside", "Set aside"),
)


class FilterBar(Panel):
    """Fields that together make a query.

    Signals:
        changed: Something else is wanted.
        list_asked: The list itself is wanted: Down, Enter or Esc in the search field.
    """

    changed = Signal()
    list_asked = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.search = _SearchField(name="Search", hint="Search: any words, a machine, a tag, a day (Ctrl+F)")
        self.search.setClearButtonEnabled(True)
        for cross in self.search.findChildren(QToolButton):
            cross.setAccessibleName("Empty the search")
        self.search.textChanged.connect(self._wait)
        self.search.down.connect(self.list_asked)
        self.search.returnPressed.connect(self.list_asked)
        self.help_button = button("What can be typed?", look="flat")
        self.help_button.setCheckable(True)
        self.help = Sentence(name="What can be typed")
        self.help_button.toggled.connect(self._show_help)
        self.kind = Choice("Kind", _KINDS, least_chars=9)
        self.machine = Choice("Machine", [("", "Any machine")], least_chars=11)
        self.verdict = Choice("Verdict", _VERDICTS, least_chars=10)
        self.since = TextField(name="From day", hint="2025-11-25")
        self.until = TextField(name="To day", hint="2025-12")
        for field in (self.since, self.until):
            field.setFixedWidth(field.fontMetrics().horizontalAdvance("2025-11-25") + 20)
            field.textChanged.connect(self._wait)
            field.editingFinished.connect(self._wait)
        for choice in (self.kind, self.machine, self.verdict):
            choice.activated.connect(self.changed)
        self.clear_button = button("Clear", name="Clear filters", look="flat")
        self.clear_button.clicked.connect(self.clear)
        self.clear_button.setEnabled(False)
        self.complaint = Sentence(look="bad", name="Filter")
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setInterval(_TYPED_MS)
        self._timer.timeout.connect(self.changed)
        self.top, self.more = QHBoxLayout(), QHBoxLayout()
        self._lay_out()

    def _lay_out(self) -> None:
        top = self.top
        top.setSpacing(8)
        top.addWidget(self.search, 1)
        top.addWidget(self.help_button)
        row = QHBoxLayout()
        row.setSpacing(6)
        for widget in (self.kind, self.machine, self.verdict):
            row.addWidget(widget)
        for words, field in (("from", self.since), ("to", self.until)):
            label = quiet(words)
            label.setBuddy(field)
            row.addWidget(label)
            row.addWidget(field)
        row.addWidget(self.clear_button)
        row.addStretch(1)
        row.addLayout(self.more)
        grid = QGridLayout(self)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setVerticalSpacing(6)
        grid.addLayout(top, 0, 0)
        grid.addWidget(self.help, 1, 0)
        grid.addLayout(row, 2, 0)
        grid.addWidget(self.complaint, 3, 0)

    # -- what is wanted ------------------------------------------------------------------------------------

    @property
    def narrows(self) -> bool:
        """Tell whether anything but the whole list is wanted."""
        choices = (self.kind, self.machine, self.verdict)
        fields = (self.search, self.since, self.until)
        return any(choice.currentData() for choice in choices) or any(
            field.text().strip() for field in fields
        )

    def query(self, sort: str = Sort.MOMENT, *, descending: bool = True) -> Query | None:
        """Return what is asked for, all of it; None where something typed makes no sense, which is told."""
        verdict = self.verdict.currentData()
        kind, machine = self.kind.currentData(), self.machine.currentData()
        self.clear_button.setEnabled(self.narrows)
        wrong = ""
        for field in (self.since, self.until):
            try:
                Query(since=field.text().strip())
            except BadInput as error:
                wrong = wrong or str(error)
                self._mark(field, wrong=True)
            else:
                self._mark(field, wrong=False)
        # A day half typed is no reason to complain.
        self.complaint.say("" if self.since.hasFocus() or self.until.hasFocus() else wrong)
        if wrong:
            return None
        return Query(
            text=self.search.text(),
            kinds=(Kind(kind),) if kind else (),
            machines=(str(machine),) if machine else (),
            since=self.since.text().strip(),
            until=self.until.text().strip(),
            counts={"counts": True, "not": False}.get(str(verdict)),
            set_aside=True if verdict == "aside" else None,
            sort=sort,
            descending=descending,
            limit=None,
        )

    def set_machines(self, machines: Sequence[str]) -> None:
        """Offer the machines that occur."""
        chosen = self.machine.currentData()
        offered = [str(self.machine.itemData(number)) for number in range(1, self.machine.count())]
        if offered == list(machines):
            return
        self.machine.clear()
        self.machine.addItem("Any machine", "")
        for name in machines:
            self.machine.addItem(name, name)
        if chosen:
            self.machine.select(chosen)

    @property
    def waiting(self) -> bool:
        """Tell whether something was typed a moment ago."""
        return self._timer.isActive()

    def stop(self) -> None:
        """Wait for nothing any more."""
        self._timer.stop()

    @Slot()
    def clear(self) -> None:
        """Ask for the whole list."""
        for field in (self.search, self.since, self.until):
            field.clear()
        for choice in (self.kind, self.machine, self.verdict):
            choice.setCurrentIndex(0)
        self._timer.stop()
        self.changed.emit()

    @Slot()
    def _wait(self) -> None:
        self._timer.start()

    @Slot(bool)
    def _show_help(self, shown: bool) -> None:  # noqa: FBT001 - Qt's own signature
        self.help.say(HELP if shown else "")

    @staticmethod
    def _mark(field: TextField, *, wrong: bool) -> None:
        if bool(field.property("wrong")) != wrong:
            field.setProperty("wrong", wrong)
            repolish(field)


class _SearchField(TextField):
    """A search field: Down goes on to what was found, Esc empties it first."""

    down = Signal()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Down:
            self.down.emit()
        elif event.key() == Qt.Key.Key_Escape:
            if self.text():
                self.clear()
            else:
                self.down.emit()
        else:
            super().keyPressEvent(event)
