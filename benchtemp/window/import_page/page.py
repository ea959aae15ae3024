"""The import page: choose text files, see how they read, mend what was guessed wrongly, take them in."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, QTimer, Signal, Slot
from PySide6.QtWidgets import (
    QFileDialog,
    QFrame,
    QHBoxLayout,
    QLabel,
    QProgressBar,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from benchtemp.studies.outcome import plural
from benchtemp.window.import_page.job import ImportJob
from benchtemp.window.import_page.preview import PreviewView
from benchtemp.window.import_page.results import ResultsView
from benchtemp.window.panel import Panel
from benchtemp.window.panels.choice import Choice
from benchtemp.window.panels.labels import Sentence, button
from benchtemp.window.sources.background import Background
from benchtemp.window.theme import repolish

if TYPE_CHECKING:
    from collections.abc import Sequence

    from PySide6.QtGui import QDragEnterEvent, QDropEvent, QKeyEvent

    from benchtemp.logbook.folder import Logbook
    from benchtemp.units import TempUnit
    from benchtemp.window.theme import Theme

EMPTY = (
    "Many meters and recorders write text files: to a memory card, to a computer, out of a spreadsheet. "
    "Choose one of them, or many of the same kind.\n\n"
    "How they read is guessed and shown before anything is kept, and every point of it can be changed. "
    "Your files are left as they are."
)
_WIDEST_CHARS = 90
_WATCH_MS = 60
_KINDS = "Text files (*.txt *.csv *.tsv *.dat *.log *.asc *.prn);;All files (*)"


class ImportPage(Panel):
    """Takes in text files of other meters; nothing on it waits for a file.

    Signals:
        left: Back to where the user came from.
        imported: Recordings were made: a tuple of their paths.
        logbook_asked: What was imported is to be seen in the logbook: a tuple of paths.
    """

    left = Signal()
    imported = Signal(object)
    logbook_asked = Signal(object)

    def __init__(self, logbook: Logbook, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setProperty("look", "page")
        self.setAccessibleName("Import text files")
        self.setAcceptDrops(True)
        self._logbook = logbook
        self._job: ImportJob | None = None
        self._importing = Background(self, name="import")
        self._asking = Background(self, name="machines known")
        self._watch = QTimer(self)
        self._watch.setInterval(_WATCH_MS)
        self.title = QLabel("Import text files")
        self.choose_button = button("Choose files…")
        self.shown_choice = Choice("File shown", least_chars=14)
        self.back_button = button("Back (Esc)")
        self.empty = QLabel(EMPTY)
        self.empty.setWordWrap(True)
        self.invitation = QLabel("Choose files, or drop them here")
        self.preview = PreviewView()
        self.results = ResultsView()
        self.status = Sentence(look="quiet", name="Import")
        self.bar = QProgressBar()
        self.bar.setAccessibleName("Files imported")
        self.bar.setTextVisible(False)
        self.import_button = button("Import", look="primary")
        self.cancel_button = button("Cancel")
        self.more_button = button("Back to the files")
        self.show_button = button("Show in the logbook", look="primary")
        self._nothing = QFrame()
        self._nothing.setProperty("look", "surface")
        self._stack = QStackedWidget()
        self._lay_out()
        self._connect()
        self._show_files()

    # -- building ------------------------------------------------------------------------------------------

    def _lay_out(self) -> None:
        head = QHBoxLayout()
        head.setSpacing(8)
        head.addWidget(self.title)
        head.addStretch(1)
        for one in (self.shown_choice, self.choose_button, self.back_button):
            head.addWidget(one)
        nothing = QVBoxLayout(self._nothing)
        self._words = QWidget()
        words = QVBoxLayout(self._words)
        words.setSpacing(10)
        for above in (self.invitation, self.empty):
            words.addWidget(above)
        across = QHBoxLayout()
        across.addStretch(1)
        across.addWidget(self._words)
        across.addStretch(1)
        nothing.addStretch(2)
        nothing.addLayout(across)
        nothing.addStretch(3)
        for view in (self._nothing, self.preview, self.results):
            self._stack.addWidget(view)
        foot = QHBoxLayout()
        foot.setSpacing(8)
        foot.addWidget(self.status, 3)
        foot.addStretch(1)
        foot.addWidget(self.bar)
        for button_ in (self.more_button, self.cancel_button, self.show_button, self.import_button):
            foot.addWidget(button_)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(16, 12, 16, 12)
        layout.setSpacing(8)
        layout.addLayout(head)
        layout.addWidget(self._stack, 1)
        layout.addLayout(foot)

    def _connect(self) -> None:
        self.choose_button.clicked.connect(self.choose)
        self.back_button.clicked.connect(self.leave)
        self.shown_choice.activated.connect(self._show_other)
        self.preview.looked.connect(self._show_buttons)
        self.preview.looked.connect(self._lead_on)
        self.import_button.clicked.connect(self.begin)
        self.cancel_button.clicked.connect(self.cancel)
        self.more_button.clicked.connect(self._back_to_files)
        self.show_button.clicked.connect(self._show_in_logbook)
        self._importing.done.connect(self._finish)
        self._importing.failed.connect(self._break_off)
        self._asking.done.connect(self._take_machines)
        self._watch.timeout.connect(self._look_at_job)

    def set_theme(self, theme: Theme) -> None:
        """Hand the theme on."""
        super().set_theme(theme)
        self.title.setFont(theme.font(1.5, bold=True))
        self.invitation.setFont(theme.font(1.3, bold=True))
        self.empty.setFont(theme.font(1.1))
        self._words.setFixedWidth(self.fontMetrics().averageCharWidth() * _WIDEST_CHARS)
        self.preview.set_theme(theme)
        self.results.set_theme(theme)

    def set_unit(self, unit: TempUnit) -> None:
        """Hand the unit on."""
        super().set_unit(unit)
        self.preview.set_unit(unit)
        self.results.set_unit(unit)

    # -- files ---------------------------------------------------------------------------------------------

    @property
    def files(self) -> tuple[Path, ...]:
        """Return the files that were chosen."""
        return self.preview.files

    @Slot()
    def choose(self) -> None:
        """Ask for files."""
        folder = str(self.files[0].parent) if self.files else ""
        names, _ = QFileDialog.getOpenFileNames(self, "Text files to import", folder, _KINDS)
        if names:
            self.take_files([Path(name) for name in names])

    def take_files(self, files: Sequence[Path]) -> None:
        """Look at files: how they read is guessed from the first."""
        if self.busy:
            self.status.say("An import is under way; let it end, or cancel it.", "caution")
            return
        self.status.say("")
        self.preview.take_files(tuple(dict.fromkeys(files)))
        self._show_files()

    def _show_files(self) -> None:
        count = len(self.files)
        self._stack.setCurrentWidget(self.preview if count else self._nothing)
        self.shown_choice.clear()
        for file in self.files:
            self.shown_choice.addItem(file.name, file)
        self.import_button.setText(f"Import {plural(count, 'file')}" if count > 1 else "Import this file")
        self._show_buttons()

    @Slot()
    def _show_other(self) -> None:
        self.preview.show_file(self.shown_choice.currentData())

    # -- importing -----------------------------------------------------------------------------------------

    @property
    def busy(self) -> bool:
        """Tell whether an import is under way."""
        return self._importing.busy

    @Slot()
    def begin(self) -> None:
        """Import all files by the layout shown."""
        layout = self.preview.layout_now
        if self.busy or layout is None or not self.preview.ready:
            return
        form = self.preview.form
        job = ImportJob(
            self.files,
            layout,
            self._logbook,
            machine=form.machine.text().strip(),
            again=form.again.isChecked(),
        )
        self._job = job
        self.results.clear()
        self._stack.setCurrentWidget(self.results)
        self.bar.setRange(0, len(job.files))
        self.bar.setValue(0)
        self._importing.start(job.run)
        self._watch.start()
        self._show_buttons()
        self.cancel_button.setFocus()

    @Slot()
    def _look_at_job(self) -> None:
        job = self._job
        if job is None:
            return
        for done in job.take_done():
            self.results.add(done)
        count = len(self.results.done)
        self.bar.setValue(count)
        if self.busy and not job.cancelled:
            self.status.say(f"{count} of {len(job.files)} done; reading {job.under_way}.", "quiet")

    @Slot()
    def cancel(self) -> None:
        """Stop after the file being read; what was imported stays."""
        if self._job is not None and self.busy:
            self._job.cancel()
            self.status.say("Stopping after this file.", "quiet")

    @Slot(object)
    def _finish(self, _reached: int) -> None:
        self._end_job()
        results = self.results
        cut = self._job is not None and len(results.done) < len(self._job.files)
        stopped = f"Stopped after {plural(len(results.done), 'file')}. " if cut else ""
        well = not cut and not any(done.outcome.complaint for done in results.done)
        self.status.say(stopped + results.summary, "good" if well else "caution")

    @Slot(str)
    def _break_off(self, sentence: str) -> None:
        self._end_job()
        self.status.say(sentence, "bad")

    def _end_job(self) -> None:
        self._watch.stop()
        self._look_at_job()
        self._show_buttons()
        outcomes = [done.outcome for done in self.results.done]
        made = tuple(outcome.recording for outcome in outcomes if outcome.recording is not None)
        (self.show_button if self.show_button.isVisible() else self.more_button).setFocus()
        if made:
            self.imported.emit(made)

    @Slot()
    def _show_in_logbook(self) -> None:
        self.logbook_asked.emit(self.results.kept)

    @Slot()
    def _back_to_files(self) -> None:
        self.status.say("")
        self._stack.setCurrentWidget(self.preview if self.files else self._nothing)
        self._show_buttons()
        self.choose_button.setFocus()

    @Slot()
    def _show_buttons(self) -> None:
        results = self._stack.currentWidget() is self.results
        some = bool(self.files)
        if self.preview.looking and self.preview.shown is not None:
            self.status.say(f"Reading {self.preview.shown.name}.", "quiet")
        elif not results:
            self.status.say("")
        for one, shown in (
            (self.import_button, not results and some),
            (self.choose_button, not results),
            (self.shown_choice, not results and len(self.files) > 1),
            (self.bar, results and self.busy),
            (self.cancel_button, results and self.busy),
            (self.more_button, results and not self.busy),
            (self.show_button, results and not self.busy and bool(self.results.kept)),
        ):
            one.setVisible(shown)
        if self.import_button.hasFocus() and not self.preview.ready:
            self.choose_button.setFocus()
        self.import_button.setEnabled(self.preview.ready)
        look = "" if some else "primary"
        if self.choose_button.property("look") != look:
            self.choose_button.setProperty("look", look)
            repolish(self.choose_button)

    @Slot()
    def _lead_on(self) -> None:
        """Let Enter import once the files that were just chosen read well."""
        if self.choose_button.hasFocus() and self.preview.ready:
            self.import_button.setFocus()

    # -- the page ------------------------------------------------------------------------------------------

    def read(self) -> None:
        """Bring up to date what is offered: machines and layouts known."""
        self._asking.start(self._logbook.tags_used)
        self.preview.offer_layouts()

    @Slot(object)
    def _take_machines(self, used: dict[str, list[str]]) -> None:
        self.preview.form.offer_machines(used.get("machine", []))

    @Slot()
    def take_focus(self) -> None:
        """Put the focus where the keyboard goes on."""
        (
            self.import_button if self.files and self.import_button.isEnabled() else self.choose_button
        ).setFocus()

    @Slot()
    def leave(self) -> None:
        """Go back; an import under way goes on."""
        self.left.emit()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Go back with Esc."""
        if event.key() == Qt.Key.Key_Escape:
            self.leave()
        else:
            event.ignore()

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        """Take files of this computer."""
        if any(url.isLocalFile() for url in event.mimeData().urls()):
            event.acceptProposedAction()

    def dropEvent(self, event: QDropEvent) -> None:
        """Look at the files dropped."""
        files = [Path(url.toLocalFile()) for url in event.mimeData().urls() if url.isLocalFile()]
        if files:
            event.acceptProposedAction()
            self.take_files(files)

    def close_down(self) -> None:
        """Stop after the file being read, and wait for it."""
        if self._job is not None:
            self._job.cancel()
        self._watch.stop()
        self.preview.close_down()
        self._importing.join(30.0)
        self._asking.join()
