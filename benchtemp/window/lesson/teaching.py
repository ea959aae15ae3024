"""Teaching with a replay on the Bench: joins the lesson, its notes on disk and the parts that show them."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal, Slot

from benchtemp.errors import BenchtempError
from benchtemp.window.lesson.lesson import Lesson
from benchtemp.window.sources.replay_bar import clock_text

if TYPE_CHECKING:
    from collections.abc import Callable

    from benchtemp.readings.reading import Mark
    from benchtemp.readings.replay import ReplaySource
    from benchtemp.window.lesson.contents import ReplayContents
    from benchtemp.window.lesson.note_board import NoteBoard
    from benchtemp.window.lesson.notes_kept import NotesKept


class Teaching(QObject):
    """Carries out what a teacher wants of a replay.

    Attributes:
        lesson: The replay's marks and notes, and whether results are hidden.

    Signals:
        changed: Notes or the hiding changed; whoever shows them looks again.
        writing_asked: The field for a note is wanted; carries the text to begin with.
    """

    changed = Signal()
    writing_asked = Signal(str)

    def __init__(self, contents: ReplayContents, board: NoteBoard, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.lesson = Lesson()
        self._contents = contents
        self._board = board
        self._source: ReplaySource | None = None
        self._kept: NotesKept | None = None
        self._finish: Callable[[str], None] | None = None
        self._deleted: Mark | None = None
        contents.note_asked.connect(self.begin_note)
        contents.rewording_asked.connect(self._begin_rewording)
        contents.deletion_asked.connect(self._delete)
        contents.put_back_asked.connect(self._put_back)
        contents.hiding_asked.connect(self.toggle_results)

    @property
    def running(self) -> bool:
        """Tell whether there is a replay to teach with."""
        return self._source is not None

    def begin(self, source: ReplaySource, kept: NotesKept | None) -> None:
        """Take another replay; results stay hidden if they were.

        Args:
            source: The replay.
            kept: Where the teacher's notes on it are kept; None where nothing can be.
        """
        hidden = self.lesson.hidden
        self._source, self._kept, self._finish, self._deleted = source, kept, None, None
        complaint = ""
        notes: tuple[Mark, ...] = ()
        if kept is not None:
            try:
                notes = kept.read()
            except BenchtempError as error:
                complaint, self._kept = str(error), None
        self.lesson = Lesson(source.stream.marks, notes)
        self.lesson.hidden = hidden
        self._contents.begin(self.lesson, source.start_s)
        self._contents.say(complaint, "bad")
        self.show_moment()
        self.changed.emit()

    def end(self) -> None:
        """Let go of the replay."""
        self._source = self._kept = self._finish = self._deleted = None
        self.lesson = Lesson()
        self._board.hide()
        self._board.show_note(None)
        self.changed.emit()

    def show_moment(self) -> None:
        """Show what the replay has reached; cheap enough for every tick."""
        source = self._source
        if source is None:
            return
        now_s = source.now_s()
        self._contents.show_moment(now_s)
        self._board.show_note(self.lesson.latest_note(now_s))
        if self._board.isHidden() == self.lesson.has_notes:
            self._board.setVisible(self.lesson.has_notes)

    def own_come(self) -> tuple[Mark, ...]:
        """Return the teacher's notes that the replay has reached."""
        return () if self._source is None else self.lesson.own_come(self._source.now_s())

    # -- results -------------------------------------------------------------------------------------------

    @Slot()
    def toggle_results(self) -> None:
        """Hide the results, or show them."""
        if self._source is None:
            return
        self.lesson.hidden = not self.lesson.hidden
        self.show_moment()
        self.changed.emit()

    # -- notes ---------------------------------------------------------------------------------------------

    @Slot()
    def begin_note(self) -> None:
        """Ask for the words of a note at the moment the replay has reached."""
        if self._source is None:
            return
        self._finish = partial(self._add, self._source.now_s())
        self.writing_asked.emit("")

    @Slot(object)
    def _begin_rewording(self, note: Mark) -> None:
        self._finish = partial(self._reword, note)
        self.writing_asked.emit(note.text)

    def finish_note(self, text: str) -> None:
        """Take the words that were asked for."""
        finish, self._finish = self._finish, None
        if finish is not None:
            finish(text)

    def _add(self, t_s: float, text: str) -> None:
        if self.lesson.add(t_s, text) is not None and self._source is not None:
            at = clock_text(t_s - self._source.start_s)
            self._keep(f"Your note stands at {at}.")

    def _reword(self, note: Mark, text: str) -> None:
        if self.lesson.reword(note, text) is not None:
            self._keep("The note has its new words.")

    @Slot(object)
    def _delete(self, note: Mark) -> None:
        if self.lesson.take_out(note):
            self._deleted = note
            self._keep("The note is deleted.", may_put_back=True)

    @Slot()
    def _put_back(self) -> None:
        note, self._deleted = self._deleted, None
        if note is not None and self.lesson.add(note.t_s, note.text) is not None:
            self._keep("The note is back.")

    def _keep(self, done: str, *, may_put_back: bool = False) -> None:
        look = "quiet"
        if self._kept is None:
            done += " It is not kept: there is no file to keep notes on this replay in."
            look = "caution"
        else:
            try:
                self._kept.write(self.lesson.notes)
            except BenchtempError as error:
                done, look = f"{done} It could not be kept. {error}", "bad"
        self._contents.say(done, look, may_put_back=may_put_back)
        self.show_moment()
        self.changed.emit()
