"""What is chosen in the list, beside it: trace, figures, tags, notes, history, and where the file lies."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import (
    QFrame,
    QGridLayout,
    QLabel,
    QScrollArea,
    QSizePolicy,
    QVBoxLayout,
    QWidget,
)

from benchtemp.logbook.index.editing import NOTES_MAX
from benchtemp.window.fields import TextField
from benchtemp.window.logbook_page.columns import verdict_colour, verdict_text
from benchtemp.window.logbook_page.deeds import Change
from benchtemp.window.logbook_page.elided import Elided
from benchtemp.window.logbook_page.figures import brew_text, edit_text, figures_of, subtitle_of, title_of
from benchtemp.window.logbook_page.looked import Chosen, Looked
from benchtemp.window.logbook_page.notes_field import NotesField
from benchtemp.window.logbook_page.tag_editor import TagEditor
from benchtemp.window.logbook_page.trace_view import TraceView
from benchtemp.window.panel import Panel
from benchtemp.window.panels.labels import Sentence, button, quiet
from benchtemp.window.theme import scaled_font

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from PySide6.QtGui import QKeyEvent

    from benchtemp.logbook.index import Row
    from benchtemp.units import TempUnit
    from benchtemp.window.theme import Theme

EDITS_SHOWN = 40
NOTHING = "Choose a shot in the list to see its trace, figures, tags and notes."


class Detail(Panel):
    """Shows what is chosen and tells what shall be changed.

    Signals:
        changed: Carries the `Change` that is wanted for all that is chosen.
    """

    changed = Signal(object)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setProperty("look", "surface")
        self.setAccessibleName("Details of what is chosen")
        self.chosen = Chosen()
        self._places: tuple[str, ...] = ()
        self._wanted: tuple[str, ...] = ()
        self._editable = True
        self.title, self.subtitle = QLabel(), quiet(wrap=True)
        self.brew = QLabel()
        self.verdict = Sentence(name="Verdict")
        self.trace = TraceView()
        self._facts = QGridLayout()
        self._facts.setHorizontalSpacing(10)
        self._facts.setVerticalSpacing(1)
        self._facts.setColumnStretch(1, 1)
        self._fact_labels: list[tuple[QLabel, QLabel]] = []
        self.tags = TagEditor()
        self.tags.given.connect(self._change_tag)
        self.notes = NotesField()
        self.notes.given.connect(self._change_notes)
        self.more_notes = TextField(name="Line to add to all notes", hint="a line to add to the notes of all")
        self.more_notes.setMaxLength(NOTES_MAX)
        self.more_notes.returnPressed.connect(self._add_notes)
        self.remarks = Sentence(name="Notes made during the shot")
        self.history_button = button("", look="flat")
        self.history_button.setCheckable(True)
        self.history_button.toggled.connect(self._show_history)
        self.history = Sentence(name="History")
        self.file, self.recording = Elided(), Elided()
        self.file.setProperty("look", "quiet")
        self.recording.setProperty("look", "quiet")
        self._lay_out()
        self._show_nothing(NOTHING)

    def _lay_out(self) -> None:
        body = QWidget()
        column = QVBoxLayout(body)
        column.setContentsMargins(12, 8, 10, 10)
        column.setSpacing(5)
        self._tags_heading, self._notes_heading = _small_heading("Tags"), _small_heading("Notes")
        for above in (self.title, self.subtitle, self.brew, self.verdict, self.trace):
            column.addWidget(above)
        column.addLayout(self._facts)
        below: tuple[QWidget, ...] = (
            self._tags_heading, self.tags, self._notes_heading, self.notes, self.more_notes, self.remarks,
            self.history_button, self.history, self.file, self.recording,
        )  # fmt: skip
        for widget in below:
            if widget is self.history_button:
                column.addWidget(widget, 0, Qt.AlignmentFlag.AlignLeft)
            else:
                column.addWidget(widget)
        column.addStretch(1)
        for label in (self.title, self.brew):
            label.setTextFormat(Qt.TextFormat.PlainText)
            label.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.room = QScrollArea()
        self.room.setWidgetResizable(True)
        self.room.setFrameShape(QFrame.Shape.NoFrame)
        self.room.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.room.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.room.setWidget(body)
        self._body = body
        layout = QVBoxLayout(self)
        layout.setContentsMargins(1, 1, 1, 1)
        layout.addWidget(self.room)
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Expanding)
        add_button = self.tags.fields.add_button
        for before, after in pairwise((add_button, self.notes, self.more_notes, self.history_button)):
            QWidget.setTabOrder(before, after)

    # -- look ----------------------------------------------------------------------------------------------

    def set_theme(self, theme: Theme) -> None:
        """Take colours and fonts anew."""
        super().set_theme(theme)
        self.title.setFont(theme.font(1.2, bold=True))
        self.brew.setFont(theme.font(1.5, bold=True, figures=True))
        self.trace.set_theme(theme)
        self.tags.set_theme(theme)
        self._show_verdict()

    def set_unit(self, unit: TempUnit) -> None:
        """Show temperatures in another unit."""
        super().set_unit(unit)
        self.trace.set_unit(unit)
        self.tags.set_unit(unit)
        if self.chosen.rows:
            self._show_figures(self.chosen.rows)
            self._show_tags()

    def set_known(self, values: Mapping[str, Sequence[str]]) -> None:
        """Offer tags that occur."""
        self.tags.set_known(values)

    # -- showing -------------------------------------------------------------------------------------------

    def await_chosen(self, places: tuple[str, ...]) -> None:
        """Take what was typed for the files shown before others are."""
        if places != self._wanted:
            self.commit()
            self._wanted = places

    def commit(self) -> None:
        """Take what is being typed as if its field were left."""
        self.notes.take()
        self.tags.commit()

    def show_chosen(self, chosen: Chosen, *, editable: bool) -> None:
        """Show files; what is being typed about the same files stays."""
        anew = chosen.places != self._places
        self.chosen, self._places = chosen, chosen.places
        if not chosen.looked:
            self._show_nothing(NOTHING)
            return
        if anew:
            self.tags.start_over()
            self.more_notes.clear()
            self.room.verticalScrollBar().setValue(0)
        one = chosen.looked[0] if len(chosen.looked) == 1 else None
        self.title.show()
        self.title.setText(title_of(chosen.rows) if chosen.rows else "Not in the list any more")
        self.subtitle.setText(subtitle_of(chosen.rows))
        self._show_figures(chosen.rows)
        self._show_verdict()
        self._show_traces(chosen.looked)
        readable = chosen.readable
        for widget in (self._tags_heading, self.tags, self._notes_heading):
            widget.setVisible(readable)
        self._editable = editable
        self._show_tags()
        self.notes.setVisible(readable and one is not None)
        self.notes.setReadOnly(not editable)
        self.more_notes.setVisible(readable and one is None and editable)
        self.notes.show_notes(one.notes if one else "", anew=anew)
        self._show_texts(one, chosen.rows[0] if one and chosen.rows else None)

    def _show_tags(self) -> None:
        values = self.chosen.tag_values
        self.tags.show_tags(values, editable=self._editable)
        self._tags_heading.setVisible(self.chosen.readable and (self._editable or bool(values)))

    def _show_nothing(self, words: str) -> None:
        self.subtitle.setText(words)
        self.trace.show_traces(())
        for widget in (
            self.title, self.brew, self.verdict, self.trace, self._tags_heading, self.tags,
            self._notes_heading, self.notes, self.more_notes, self.remarks, self.history_button, self.history,
            self.file, self.recording,
        ):  # fmt: skip
            widget.hide()
        self._show_facts([])

    def _show_figures(self, rows: Sequence[Row]) -> None:
        brew = brew_text(rows[0], self.unit) if len(rows) == 1 else ""
        self.brew.setText(brew)
        self.brew.setVisible(bool(brew))
        self._show_facts(figures_of(rows, self.unit) if rows else [])

    def _show_facts(self, facts: Sequence[tuple[str, str]]) -> None:
        while len(self._fact_labels) < len(facts):
            name, value = quiet(), QLabel()
            value.setTextFormat(Qt.TextFormat.PlainText)
            value.setWordWrap(True)
            value.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)
            value.setFont(scaled_font(figures=True))
            value.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
            line = len(self._fact_labels)
            self._facts.addWidget(name, line, 0, Qt.AlignmentFlag.AlignTop)
            self._facts.addWidget(value, line, 1)
            self._fact_labels.append((name, value))
        for number, (name, value) in enumerate(self._fact_labels):
            there = number < len(facts)
            name.setVisible(there)
            value.setVisible(there)
            if there:
                name.setText(facts[number][0])
                value.setText(facts[number][1])

    def _show_verdict(self) -> None:
        rows = self.chosen.rows
        if len(rows) != 1:
            self.verdict.say("")
            return
        looks = {self.theme.good: "good", self.theme.bad: "bad", self.theme.caution: "caution"}
        self.verdict.say(verdict_text(rows[0]), looks.get(verdict_colour(rows[0], self.theme), "quiet"))

    def _show_traces(self, looked: Sequence[Looked]) -> None:
        traces = [one.trace for one in looked if one.trace is not None]
        said = looked[0].no_trace if len(looked) == 1 else ""
        summary = ", ".join(trace.name for trace in traces)
        self.trace.setVisible(bool(traces or said))
        self.trace.show_traces(traces, said, f"Trace of {summary}" if summary else "")

    def _show_texts(self, one: Looked | None, row: Row | None) -> None:
        remarks = row.remarks if row is not None else ()
        self.remarks.say("During the shot: " + " · ".join(remarks) if remarks else "")
        edits = one.edits if one is not None else ()
        self.history_button.setVisible(bool(edits))
        self.history_button.setText(f"Changed {'once' if len(edits) == 1 else f'{len(edits)} times'} ▾")
        self._show_history()
        self.file.say(f"File: {one.place}" if one is not None else "")
        self.recording.say(f"Cut from: {row.recording}" if row is not None and row.recording else "")

    @Slot()
    def _show_history(self) -> None:
        looked = self.chosen.looked
        edits = looked[0].edits if len(looked) == 1 else ()
        lines = [edit_text(edit) for edit in reversed(edits[-EDITS_SHOWN:])]
        self.history.say("\n".join(lines) if self.history_button.isChecked() else "")

    # -- what the user does --------------------------------------------------------------------------------

    @Slot()
    def take_focus(self) -> None:
        """Go to the first field."""
        if self.tags.isVisible() and self._editable:
            self.tags.fields.take_focus()
            self.room.ensureWidgetVisible(self.tags)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Bring back with Esc what stood in a tag's field; with the next the page leaves the details."""
        if event.key() == Qt.Key.Key_Escape and self.tags.typing:
            self.tags.start_over()
            self._show_tags()
        else:
            super().keyPressEvent(event)

    @Slot(str, str)
    def _change_tag(self, name: str, value: str) -> None:
        self.changed.emit(Change({name: value}))

    @Slot(str)
    def _change_notes(self, notes: str) -> None:
        self.changed.emit(Change({}, notes=notes))

    @Slot()
    def _add_notes(self) -> None:
        words = self.more_notes.text().strip()
        if words:
            self.more_notes.clear()
            self.changed.emit(Change({}, more_notes=words))


def _small_heading(text: str) -> QLabel:
    label = QLabel(text)
    label.setFont(scaled_font(1.0, bold=True))
    return label
