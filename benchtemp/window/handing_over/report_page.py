"""Making a report: which document, for whom, what it shall answer, and where it goes."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import Qt, Slot
from PySide6.QtWidgets import (
    QFrame,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QPlainTextEdit,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from benchtemp.errors import BadInput
from benchtemp.reports.answering import Asked
from benchtemp.studies.outcome import plural
from benchtemp.window.fields import TextField
from benchtemp.window.handing_over.documents import (
    ReportWish,
    check_target,
    free_name,
    name_for,
    write_report,
)
from benchtemp.window.handing_over.first_words import FirstWords
from benchtemp.window.handing_over.saving import PlaceToSave, open_with_system, remember, remembered
from benchtemp.window.handing_over.writing_page import WritingPage
from benchtemp.window.logbook_page.running import Running
from benchtemp.window.panels.choice import Choice
from benchtemp.window.panels.labelled_form import LabelledForm
from benchtemp.window.panels.labels import Sentence, button, heading, quiet
from benchtemp.window.probes_page.tick import Tick

if TYPE_CHECKING:
    from pathlib import Path

    from benchtemp.reports.tested import Tested
    from benchtemp.units import TempUnit
    from benchtemp.window.handing_over.matter import Matter
    from benchtemp.window.theme import Theme

HTML, PDF, BOTH = "html", "pdf", "both"
_FORMATS = ((PDF, "PDF"), (HTML, "HTML page"), (BOTH, "both"))
_PAPERS = (("a4", "A4"), ("letter", "Letter"))
_WIDEST_CHARS = 84
_NOTES_LINES = 4
_LONGEST = 120


class ReportPage(WritingPage):
    """Makes a report of the shots it is given; reading and writing are done in a thread."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setProperty("look", "page")
        self.setAccessibleName("Report")
        self._matter: Matter | None = None
        self._tested: Tested | None = None
        self.written: tuple[Path, ...] = ()
        self._running = Running(self, name="report")
        self._build()
        self._lay_out()
        self._connect()

    def _build(self) -> None:
        self.title = QLabel("Report")
        self.about = quiet(wrap=True)
        self.back_button = button("Back (Esc)")
        self.format = Choice("Format", _FORMATS, least_chars=10)
        self.paper = Choice("Paper", _PAPERS, least_chars=6)
        self.heading = self._field("Title", "named after the machine if left empty")
        self.tester = self._field("Tested by", "who tested")
        self.customer = self._field("Customer", "for whom")
        self.notes = QPlainTextEdit()
        self.notes.setAccessibleName("Notes")
        self.notes.setPlaceholderText("what else is to be said: water, gaskets, what was asked for")
        self.notes.setTabChangesFocus(True)
        self.studies = {asked: Tick(asked.heading) for asked in Asked}
        for asked, tick in self.studies.items():
            tick.setToolTip(asked.question)
            tick.setAccessibleDescription(asked.question)
        self.first_words = FirstWords()
        self.place = PlaceToSave()
        self.open_after = Tick("Open it afterwards")
        self.open_after.setChecked(True)
        self.status = Sentence(look="quiet", name="Report")
        self.make_button = button("Make the report", look="primary")
        self.cancel_button = button("Cancel")
        self.open_button = button("Open it")
        self.folder_button = button("Open its folder")

    def _field(self, name: str, hint: str) -> TextField:
        field = TextField(name=name, hint=hint)
        field.setMaxLength(_LONGEST)
        return field

    def _lay_out(self) -> None:
        head = QHBoxLayout()
        head.addWidget(self.title)
        head.addStretch(1)
        head.addWidget(self.back_button)
        form = LabelledForm(gap_px=6)
        kind = QHBoxLayout()
        kind.setSpacing(6)
        kind.addWidget(self.format)
        kind.addWidget(self.paper)
        kind.addStretch(1)
        form.add_field("Format", kind)
        form.add_field("Title", self.heading)
        form.add_field("Tested by", self.tester)
        form.add_field("Customer", self.customer)
        form.add_field("Notes", self.notes)
        ticks = QGridLayout()
        ticks.setContentsMargins(0, 3, 0, 0)
        ticks.setHorizontalSpacing(10)
        for place, tick in enumerate(self.studies.values()):
            ticks.addWidget(tick, place // 3, place % 3)
        ticks.setColumnStretch(3, 1)
        form.add_field("Studies", ticks)
        form.add_field("Save in", self.place)
        form.addRow("", self.open_after)
        holder = QFrame()
        holder.setProperty("look", "surface")
        inside = QVBoxLayout(holder)
        inside.setContentsMargins(14, 12, 14, 12)
        inside.setSpacing(8)
        inside.addWidget(heading("What goes into it"))
        inside.addLayout(form)
        inside.addStretch(1)
        self._holder = holder
        scroll = QScrollArea()
        scroll.setWidgetResizable(True)
        scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        across = QWidget()
        row = QHBoxLayout(across)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(12)
        row.addWidget(holder, 3)
        row.addWidget(self.first_words, 2)
        scroll.setWidget(across)
        foot = QHBoxLayout()
        foot.setSpacing(8)
        foot.addWidget(self.status, 3)
        foot.addStretch(1)
        for one in (self.folder_button, self.open_button, self.cancel_button, self.make_button):
            foot.addWidget(one)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(16, 12, 16, 12)
        layout.setSpacing(8)
        layout.addLayout(head)
        layout.addWidget(self.about)
        layout.addWidget(scroll, 1)
        layout.addLayout(foot)

    def _connect(self) -> None:
        for tick in self.studies.values():
            tick.toggled.connect(self._show_words)
        self.back_button.clicked.connect(self.leave)
        self.format.activated.connect(self._show_format)
        self.make_button.clicked.connect(self.make)
        self.cancel_button.clicked.connect(self._running.cancel)
        self.open_button.clicked.connect(self.open)
        self.folder_button.clicked.connect(self.open_folder)
        self._running.told.connect(self._tell)
        self._running.failed.connect(self._fail)

    def set_unit(self, unit: TempUnit) -> None:
        """Say it in another unit."""
        super().set_unit(unit)
        self.first_words.set_unit(unit)

    def set_theme(self, theme: Theme) -> None:
        """Take fonts anew."""
        super().set_theme(theme)
        self.title.setFont(theme.font(1.5, bold=True))
        self.first_words.set_theme(theme)
        metrics = self.fontMetrics()
        self._holder.setMaximumWidth(metrics.averageCharWidth() * _WIDEST_CHARS)
        self.notes.setFixedHeight(metrics.lineSpacing() * _NOTES_LINES + 16)

    # -- what it is about ----------------------------------------------------------------------------------

    def take(self, matter: Matter) -> None:
        """Make a report of these shots; they are read at once, in the background."""
        self._matter, self._tested = matter, None
        self.written = ()
        self.about.setText("")
        self.status.say("")
        self.heading.clear()
        self.notes.clear()
        self.customer.clear()
        self.tester.setText(remembered("tester"))
        self.format.select(remembered("format") or PDF)
        self.paper.select(remembered("paper") or "a4")
        for asked, tick in self.studies.items():
            tick.setChecked(asked is matter.asked)
        self.place.overwrite.setChecked(False)
        self._show_format()
        self.first_words.forget()
        self._running.cancel()
        self._running.start("Reading the shots", matter.read, partial(self._take_tested, matter))
        self._show_buttons()

    def _take_tested(self, matter: Matter, tested: Tested) -> None:
        if matter is not self._matter:
            return
        self._tested = tested
        self.about.setText("; ".join([_told(tested), *tested.complaints[:2]]) + ".")
        folder = self.place.path.parent
        self.place.propose(free_name(folder, name_for(tested, "report"), (".html", ".pdf")))
        self._show_words()
        self._show_buttons()

    @property
    def _asked(self) -> tuple[Asked, ...]:
        return tuple(asked for asked, tick in self.studies.items() if tick.isChecked())

    @Slot()
    def _show_words(self) -> None:
        """Show what the report will say first."""
        if self._matter is not None and self._tested is not None:
            self.first_words.show_words(self._matter, self._tested, self._asked)

    @Slot()
    def _show_format(self) -> None:
        kind = self.format.currentData()
        self.paper.setEnabled(kind != HTML)
        self.place.show_endings({HTML: ".html", PDF: ".pdf", BOTH: ".html, .pdf"}[kind])

    # -- making it -----------------------------------------------------------------------------------------

    @property
    def busy(self) -> bool:
        """Tell whether shots are read or a report is written."""
        return self._running.busy

    @property
    def ready(self) -> bool:
        """Tell whether a report can be made."""
        return self._tested is not None and not self.busy

    @Slot()
    def make(self) -> None:
        """Make the report as it is described."""
        if self._matter is None or self._tested is None or self.busy:
            return
        kind = self.format.currentData()
        wish = ReportWish(
            matter=self._matter,
            tested=self._tested,
            studies=self._asked,
            title=self.heading.text().strip(),
            tester=self.tester.text().strip(),
            customer=self.customer.text().strip(),
            notes=self.notes.toPlainText(),
            unit=self.unit,
            target=self.place.path,
            html=kind in (HTML, BOTH),
            pdf=kind in (PDF, BOTH),
            letter=self.paper.currentData() == "letter",
            overwrite=self.place.overwrite.isChecked(),
        )
        try:
            check_target(wish.files, overwrite=wish.overwrite)
        except BadInput as error:
            self._fail(str(error))
            self.place.name.setFocus()
            return
        for name, value in (("tester", wish.tester), ("format", kind), ("paper", self.paper.currentData())):
            remember(name, value)
        self.place.keep()
        self.written = ()
        self._running.start("Making the report", partial(write_report, wish), self._finish)
        self._show_buttons()
        self.cancel_button.setFocus()

    def _finish(self, files: Any) -> None:
        self.written = tuple(files)
        self.status.say(f"Written: {', '.join(file.name for file in self.written)}.", "good")
        self._show_buttons()
        self.open_button.setFocus()
        if self.open_after.isChecked():
            self.open()

    def _show_buttons(self) -> None:
        self.make_button.setEnabled(self.ready)
        self.cancel_button.setVisible(self.busy)
        for one in (self.open_button, self.folder_button):
            one.setVisible(bool(self.written) and not self.busy)

    @Slot()
    def open(self) -> None:
        """Open what was written."""
        if self.written:
            open_with_system(self.written[-1])

    @Slot()
    def open_folder(self) -> None:
        """Open the folder of what was written."""
        if self.written:
            open_with_system(self.written[-1].parent)

    # -- the page ------------------------------------------------------------------------------------------

    @Slot()
    def take_focus(self) -> None:
        """Put the focus on the first field."""
        self.heading.setFocus()

    def close_down(self) -> None:
        """Stop what is being done."""
        self.first_words.close_down()
        self._running.finish()


def _told(tested: Tested) -> str:
    """Return what shots the report is about."""
    told = (
        f"{plural(len(tested.shots), 'shot')} on {', '.join(tested.machines) or 'a machine without a name'}"
    )
    left = len(tested.shots) - len(tested.used)
    if left:
        told += f", of which {left} {'does' if left == 1 else 'do'} not count and will be shown as such"
    return told
