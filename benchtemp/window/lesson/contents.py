"""The contents of a replay: its marks and notes to jump to, and what a teacher does with his own notes."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QEvent, QObject, Qt, Signal, Slot
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QHBoxLayout, QListWidgetItem, QSizePolicy, QVBoxLayout, QWidget

from benchtemp.readings.reading import Mark, MarkKind
from benchtemp.window.lesson.lesson import Entry, Lesson
from benchtemp.window.panel import Panel
from benchtemp.window.panels.labels import Sentence, button, quiet
from benchtemp.window.sources.replay_bar import clock_text
from benchtemp.window.sources.two_lines import TwoLineList

if TYPE_CHECKING:
    from benchtemp.window.theme import Theme

_ENTRY = Qt.ItemDataRole.UserRole
_KINDS = {MarkKind.PUMP_ON: "Pump on", MarkKind.PUMP_OFF: "Pump off", MarkKind.GAP: "Readings paused"}
NOT_YET = "A note to come"


class ReplayContents(Panel):
    """Lists marks and notes; Enter goes there.

    Signals:
        seek_asked: A time in the recording, s.
        note_asked: A new note is wanted, at the moment shown.
        rewording_asked: Carries the teacher's note that is to get other words.
        deletion_asked: Carries the teacher's note that is to go.
        put_back_asked: The note deleted last is wanted after all.
        hiding_asked: Hide the results, or show them.
        exercise_asked: An exercise is to be made of this replay.
    """

    seek_asked = Signal(float)
    note_asked = Signal()
    rewording_asked = Signal(object)
    deletion_asked = Signal(object)
    put_back_asked = Signal()
    hiding_asked = Signal()
    exercise_asked = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAccessibleName("Notes and marks of the replay")
        self._lesson = Lesson()
        self._start_s = 0.0
        self._shown: tuple[object, ...] = ()
        self._come = -1
        self.list = TwoLineList("Marks and notes")
        self.list.setMinimumHeight(72)
        # It takes what is left: the buttons must stay in view in a low window.
        self.list.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Ignored)
        self.list.itemActivated.connect(self._go)
        self.list.itemClicked.connect(self._go)
        self.list.currentItemChanged.connect(self._fit_buttons)
        self.list.installEventFilter(self)
        self.nothing = quiet("This recording has no marks. N writes a note at the moment shown.", wrap=True)
        self.note_button = button("Add note (N)", tip="Write a note at the moment shown (N)")
        self.reword_button = button("Edit", name="Edit note", tip="Other words for this note (F2)")
        self.delete_button = button("Delete", name="Delete note", tip="Take this note out (Del)")
        self.hide_button = button("Hide results (H)", tip="Ask before you show (H)")
        self.exercise_button = button(
            "Make an exercise…", tip="Hand shots of this recording to trainees as one file"
        )
        self.back_button = button("Put it back", look="flat")
        self.back_button.hide()
        self.said = Sentence(name="Notes")
        self.note_button.clicked.connect(self.note_asked)
        self.reword_button.clicked.connect(self._reword)
        self.delete_button.clicked.connect(self._delete)
        self.back_button.clicked.connect(self.put_back_asked)
        self.hide_button.clicked.connect(self.hiding_asked)
        self.exercise_button.clicked.connect(self.exercise_asked)
        above, below = QHBoxLayout(), QHBoxLayout()
        above.addWidget(self.note_button, 1)
        above.addWidget(self.hide_button, 1)
        below.addWidget(self.reword_button)
        below.addWidget(self.delete_button)
        below.addWidget(self.exercise_button, 1)
        told = QHBoxLayout()
        told.addWidget(self.said, 1)
        told.addWidget(self.back_button)
        column = QVBoxLayout(self)
        column.setContentsMargins(4, 0, 4, 4)
        column.setSpacing(6)
        for row in (above, below, told):
            row.setSpacing(6)
        column.addLayout(above)
        column.addWidget(self.nothing)
        column.addWidget(self.list, 1)
        column.addLayout(told)
        column.addLayout(below)
        self._fit_buttons()

    def set_theme(self, theme: Theme) -> None:
        """Take another theme's colours."""
        super().set_theme(theme)
        self.list.set_theme(theme)

    # -- showing -------------------------------------------------------------------------------------------

    def begin(self, lesson: Lesson, start_s: float) -> None:
        """Show another replay's contents."""
        self._lesson, self._start_s = lesson, start_s
        self._shown = ()
        self._come = -1
        self.say("")

    def say(self, text: str, look: str = "quiet", *, may_put_back: bool = False) -> None:
        """Say what came of the last wish."""
        self.said.say(text, look)
        self.back_button.setVisible(may_put_back)

    def show_moment(self, now_s: float) -> None:
        """Mark how far the replay has come; cheap enough for every tick."""
        lesson = self._lesson
        come = lesson.come(now_s)
        key = (lesson.entries, lesson.hidden, come if lesson.hidden else -1)
        if key != self._shown:
            self._shown = key
            self._fill(come)
            self._come = -1
        if come != self._come:
            self._come = come
            if not self.list.hasFocus() and self.list.count():
                self.list.setCurrentRow(come - 1)
            self._fit_buttons()
        text = "Show results (H)" if lesson.hidden else "Hide results (H)"
        if self.hide_button.text() != text:
            self.hide_button.setText(text)

    def _fill(self, come: int) -> None:
        kept = self.chosen
        self.list.blockSignals(True)  # noqa: FBT003 - Qt's own signature
        self.list.clear()
        for index, entry in enumerate(self._lesson.entries):
            title = entry_title(entry, covered=self._lesson.hidden and index >= come)
            detail = clock_text(entry.mark.t_s - self._start_s)
            if entry.mark.kind is MarkKind.NOTE:
                detail += ", your note" if entry.own else ", note in the recording"
            item = self.list.add(title, detail, title)
            item.setData(_ENTRY, index)
            if entry == kept:
                self.list.setCurrentItem(item)
        self.list.blockSignals(False)  # noqa: FBT003 - Qt's own signature
        self.list.setVisible(bool(self._lesson.entries))
        self.nothing.setVisible(not self._lesson.entries)
        self._fit_buttons()

    @property
    def chosen(self) -> Entry | None:
        """Return the entry that is chosen in the list."""
        item = self.list.currentItem()
        index = None if item is None else item.data(_ENTRY)
        entries = self._lesson.entries
        return entries[index] if isinstance(index, int) and index < len(entries) else None

    @Slot()
    def _fit_buttons(self) -> None:
        entry = self.chosen
        own = entry is not None and entry.own
        for widget in (self.reword_button, self.delete_button):
            widget.setEnabled(own)

    # -- what the teacher does -----------------------------------------------------------------------------

    @Slot(QListWidgetItem)
    def _go(self, _item: QListWidgetItem) -> None:
        entry = self.chosen
        if entry is not None:
            self.seek_asked.emit(entry.mark.t_s)

    @property
    def _own_chosen(self) -> Mark | None:
        entry = self.chosen
        return entry.mark if entry is not None and entry.own else None

    @Slot()
    def _reword(self) -> None:
        if self._own_chosen is not None:
            self.rewording_asked.emit(self._own_chosen)

    @Slot()
    def _delete(self) -> None:
        if self._own_chosen is not None:
            self.deletion_asked.emit(self._own_chosen)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Edit with F2 and delete with Del in the list."""
        if watched is self.list and event.type() is QEvent.Type.KeyPress and isinstance(event, QKeyEvent):
            if event.key() == Qt.Key.Key_F2:
                self._reword()
                return True
            if event.key() == Qt.Key.Key_Delete:
                self._delete()
                return True
        return super().eventFilter(watched, event)


def entry_title(entry: Entry, *, covered: bool = False) -> str:
    """Return what a list calls a mark; a note that is still to come may be covered."""
    if entry.mark.kind is MarkKind.NOTE:
        return NOT_YET if covered else entry.mark.text
    title = _KINDS.get(entry.mark.kind, str(entry.mark.kind))
    return f"{title}: {entry.mark.text}" if entry.mark.text else title
