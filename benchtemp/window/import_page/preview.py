"""How the chosen files read: first lines, the trace that would come out, and every point open to change."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import QFrame, QHBoxLayout, QScrollArea, QSplitter, QVBoxLayout, QWidget

from benchtemp.errors import BadInput, BenchtempError
from benchtemp.logbook.importing import (
    for_other_files,
    forget_table_layout,
    keep_table_layout,
    named_table_layout,
    table_layouts,
)
from benchtemp.window.import_page.form import GUESS, TableForm
from benchtemp.window.import_page.looking import Look, ReadText, look, named
from benchtemp.window.import_page.preview_table import PreviewTable
from benchtemp.window.import_page.roles import Use, layout_from, uses_of, with_role, with_unit
from benchtemp.window.import_page.telling import what_would_come
from benchtemp.window.import_page.trace_view import TraceView
from benchtemp.window.panel import Panel
from benchtemp.window.panels.labels import Sentence
from benchtemp.window.sources.background import Background

if TYPE_CHECKING:
    from collections.abc import Sequence

    from benchtemp.logbook.importing import TableLayout, Trial
    from benchtemp.units import TempUnit
    from benchtemp.window.theme import Theme

_TABLE_LINES, _TRACE_LINES = 17, 12
"""Heights to begin with, in lines of text."""


class PreviewView(Panel):
    """Guesses how a file reads, shows it, and lets every point be changed; reading is done in a thread.

    Signals:
        looked: A look at a file began or ended: `ready` and `looking` may have changed.
    """

    looked = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.files: tuple[Path, ...] = ()
        self.shown: Path | None = None
        self.layout_now: TableLayout | None = None
        self.trial: Trial | None = None
        self._settled = False
        self._read: ReadText | None = None
        self._looking = Background(self, name="file to import")
        self.table = PreviewTable()
        self.trace = TraceView()
        self.complaint = Sentence(look="bad", name="Import")
        self.open_points = Sentence(look="caution", name="To be checked")
        self.outcome = Sentence(look="", name="What would be imported")
        self.remarks = Sentence(look="quiet", name="How it was read")
        self.form = TableForm()
        self._split = QSplitter(Qt.Orientation.Vertical)
        self._scroll = QScrollArea()
        self._lay_out()
        self._connect()
        self.offer_layouts()

    def _lay_out(self) -> None:
        self._split.setChildrenCollapsible(False)
        self._split.addWidget(self.table)
        self._split.addWidget(self.trace)
        left = QVBoxLayout()
        left.setContentsMargins(0, 0, 0, 0)
        left.setSpacing(6)
        left.addWidget(self.complaint)
        left.addWidget(self.open_points)
        left.addWidget(self._split, 1)
        left.addWidget(self.outcome)
        left.addWidget(self.remarks)
        holder = QFrame()
        holder.setProperty("look", "surface")
        inside = QVBoxLayout(holder)
        inside.setContentsMargins(0, 0, 0, 0)
        inside.addWidget(self.form)
        self._scroll.setWidgetResizable(True)
        self._scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self._scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self._scroll.setWidget(holder)
        both = QHBoxLayout(self)
        both.setContentsMargins(0, 0, 0, 0)
        both.setSpacing(10)
        both.addLayout(left, 1)
        both.addWidget(self._scroll)

    def _connect(self) -> None:
        self.table.role_chosen.connect(self._take_role)
        self.table.unit_chosen.connect(self._take_unit)
        self.form.restated.connect(self._guess_anew)
        self.form.changed.connect(self._take_points)
        self.form.layout_chosen.connect(self._take_kept)
        self.form.keep_asked.connect(self.keep_layout)
        self.form.forget_asked.connect(self.forget_layout)
        self._looking.done.connect(self._take_look)
        self._looking.failed.connect(self._refuse)

    def set_theme(self, theme: Theme) -> None:
        """Hand the theme on."""
        super().set_theme(theme)
        self.table.set_theme(theme)
        self.trace.set_theme(theme)
        bar_px = self._scroll.verticalScrollBar().sizeHint().width()
        self._scroll.setFixedWidth(self.form.minimumSizeHint().width() + bar_px + 6)
        line_px = self.fontMetrics().lineSpacing()
        self.trace.setMinimumHeight(8 * line_px)
        self._split.setSizes([_TABLE_LINES * line_px, _TRACE_LINES * line_px])

    def set_unit(self, unit: TempUnit) -> None:
        """Hand the unit on."""
        super().set_unit(unit)
        self.table.set_unit(unit)
        self.trace.set_unit(unit)
        self._tell()

    # -- looking -------------------------------------------------------------------------------------------

    @property
    def looking(self) -> bool:
        """Tell whether a file is being looked at."""
        return self._looking.busy

    @property
    def ready(self) -> bool:
        """Tell whether the files can be imported as things stand."""
        trial = self.trial
        return not self.looking and trial is not None and trial.stream is not None and not trial.complaint

    def take_files(self, files: Sequence[Path]) -> None:
        """Look at other files: how they read is guessed from the first, unless a kept layout is chosen."""
        self.files = tuple(files)
        self.form.forget()
        self._read = None
        if self.form.kept.currentData() == GUESS:
            self.layout_now, self._settled = None, False
        self.show_file(self.files[0])

    def show_file(self, file: Path) -> None:
        """Show how one of the files reads by the layout there is, or by a guess."""
        self.shown = file
        if self.layout_now is not None:
            self._settled = True
        self._look()

    def _look(self) -> None:
        if self.shown is None:
            return
        self._looking.start(
            partial(
                look,
                self.shown,
                [other for other in self.files if other != self.shown],
                given=self.form.given,
                layout=self.layout_now if self._settled else None,
                read=self._read,
            )
        )
        self.looked.emit()

    @Slot(object)
    def _take_look(self, found: Look) -> None:
        self._read, self.trial = found.read, found.trial
        if found.trial.layout is not None:
            settled = self._settled
            self.layout_now = (
                found.trial.layout if settled else for_other_files(found.trial.layout, self.form.given)
            )
            self.form.show_layout(self.layout_now)
        self.form.show_encoding(found.read.text.encoding)
        self._show_table()
        self.trace.show_trial(found.trial)
        self.trace.setVisible(found.trial.stream is not None)
        self._tell()
        self.looked.emit()

    @Slot(str)
    def _refuse(self, sentence: str) -> None:
        """Say that a file is no text file at all."""
        self._read = self.trial = None
        self._show_table()
        self.trace.hide()
        self._tell()
        self.complaint.say(sentence, "bad")
        self.looked.emit()

    def _show_table(self) -> None:
        rows = () if self.trial is None else self.trial.rows
        layout = None if self.trial is None else self.trial.layout
        names = () if layout is None else layout.heading
        self.table.show_rows(rows, self._uses if rows else (), names, usable=layout is not None)

    def _tell(self) -> None:
        told = what_would_come(self.trial, self.unit, cut=self.table.columns_cut)
        self.complaint.say(told.complaint, "caution" if told.is_question else "bad")
        self.open_points.say(told.to_check)
        self.outcome.say(told.outcome)
        self.remarks.say(told.remarks)

    # -- changes -------------------------------------------------------------------------------------------

    @property
    def _uses(self) -> list[Use]:
        rows = () if self.trial is None else self.trial.rows
        return uses_of(self.layout_now, max((len(row.cells) for row in rows), default=0))

    @Slot(int, str)
    def _take_role(self, place: int, role: str) -> None:
        self._take_uses(with_role(self._uses, place, role, self.table.cells_of(place)))

    @Slot(int, str)
    def _take_unit(self, place: int, unit: str) -> None:
        self._take_uses(with_unit(self._uses, place, unit))

    def _take_uses(self, uses: list[Use]) -> None:
        if self.layout_now is None:
            return
        try:
            self._take_layout(layout_from(self.layout_now, uses))
        except BadInput as error:
            self.complaint.say(str(error), "bad")
            self._show_table()

    @Slot()
    def _take_points(self) -> None:
        if self.layout_now is None:
            self._look()
            return
        try:
            self._take_layout(self.form.applied(self.layout_now))
        except BadInput as error:
            self.complaint.say(str(error), "bad")

    def _take_layout(self, layout: TableLayout) -> None:
        changed = layout != self.layout_now
        self.layout_now, self._settled = layout, True
        if changed:
            self._look()

    @Slot()
    def _guess_anew(self) -> None:
        """Guess again with what was stated; a kept layout is one no more."""
        self.layout_now, self._settled = None, False
        self.form.kept.select(GUESS)
        self.form.show_forget()
        self._look()

    @Slot(str)
    def _take_kept(self, name: str) -> None:
        self.form.said.say("")
        self.form.forget()
        if name == GUESS:
            self._guess_anew()
            return
        try:
            self._take_layout(named_table_layout(name))
        except BenchtempError as error:
            self.complaint.say(str(error), "bad")

    # -- layouts kept --------------------------------------------------------------------------------------

    @Slot()
    def keep_layout(self) -> None:
        """Keep the layout under the name in the field."""
        if self.layout_now is None or not self.ready:
            self.form.said.say("There is nothing to remember yet: this layout does not read the file.", "bad")
            return
        layout = named(self.layout_now, self.form.name.text())
        try:
            keep_table_layout(layout)
        except BenchtempError as error:
            self.form.said.say(str(error), "bad")
            return
        self.layout_now, self._settled = layout, True
        self.offer_layouts(layout.name)
        self.form.said.say(f"Remembered as “{layout.name}”.", "good")

    @Slot()
    def forget_layout(self) -> None:
        """Forget the kept layout that is chosen; the files go on being read by it."""
        name = self.form.kept.currentData()
        if name == GUESS:
            return
        try:
            forget_table_layout(name)
        except BenchtempError as error:
            self.form.said.say(str(error), "bad")
            return
        self.offer_layouts(GUESS)
        self.form.said.say(f"“{name}” is offered no more.", "quiet")

    def offer_layouts(self, chosen: str | None = None) -> None:
        """Offer the layouts there are; the one chosen now stays chosen unless another is named."""
        layouts, complaint = table_layouts()
        self.form.offer_kept(layouts, (self.form.kept.currentData() or GUESS) if chosen is None else chosen)
        if complaint:
            self.form.said.say(complaint, "bad")

    def close_down(self) -> None:
        """Wait for what is being read."""
        self._looking.join()
