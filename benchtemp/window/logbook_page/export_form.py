"""Handing shots on to other programs: which, in which form, and where to."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QStandardPaths, Signal, Slot
from PySide6.QtWidgets import QFileDialog, QHBoxLayout, QVBoxLayout, QWidget

from benchtemp.errors import BadInput
from benchtemp.window.fields import TextField
from benchtemp.window.logbook_page.deeds import files
from benchtemp.window.logbook_page.slip import Slip
from benchtemp.window.panels.choice import Choice
from benchtemp.window.panels.labels import Sentence, button, quiet

if TYPE_CHECKING:
    from collections.abc import Sequence

    from benchtemp.logbook.index import LogbookIndex
    from benchtemp.window.logbook_page.deeds import Cancelled, Progress

_FORMS: tuple[tuple[object, str], ...] = (
    ("csv", "CSV, for spreadsheets"),
    ("json", "JSON"),
    ("parquet", "Parquet dataset, in a folder"),
)
_CHOSEN, _FOUND = "chosen", "found"


@dataclass(frozen=True)
class Wish:
    """What shall be exported.

    Attributes:
        places: Files, as rows name them; only shots and flushes among them are given.
        form: `csv`, `json` or `parquet`.
        to: The file, or the dataset's folder.
        overwrite: Whether a file of that name may be replaced.
    """

    places: tuple[str, ...]
    form: str
    to: Path
    overwrite: bool = False


def export(index: LogbookIndex, wish: Wish, _progress: Progress, _cancelled: Cancelled) -> str:
    """Export shots; return what was written, as a sentence.

    Raises:
        BadInput: There is such a file already, no such folder, nothing to export, or no Parquet.
        StorageError: The disk does not take it.
    """
    from benchtemp.logbook.export.parquet import require_parquet, write_dataset  # noqa: PLC0415 - rarely
    from benchtemp.logbook.export.record import records_of  # noqa: PLC0415
    from benchtemp.logbook.export.text import csv_text, json_text, write_text  # noqa: PLC0415

    bench = index.logbook.root.resolve().name
    if wish.form == "parquet":
        require_parquet()
    found = list(records_of(index, wish.places, bench=bench))
    if not found:
        raise BadInput("There are no shots among these files, so there is nothing to export.")
    if wish.form == "parquet":
        written = write_dataset(wish.to, found, bench=bench, logbook=index.logbook)
        return f"{files(written.shots, 'shot')} in {files(written.files)} below {wish.to}."
    parts = csv_text(found) if wish.form == "csv" else json_text(found)
    write_text(wish.to, parts, overwrite=wish.overwrite)
    return f"{files(len(found), 'shot')} in {wish.to}."


class ExportForm(Slip):
    """Asks what to export where; stands in the page.

    Signals:
        wanted: Carries the `Wish`.
    """

    wanted = Signal(object)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAccessibleName("Export")
        self._chosen: tuple[str, ...] = ()
        self._found: tuple[str, ...] = ()
        self._last: Wish | None = None
        self.which = Choice("Which shots", least_chars=16)
        self.form = Choice("Form", _FORMS, least_chars=20)
        self.form.activated.connect(self._fit_name)
        self.to = TextField(name="File or folder to export to")
        self.to.returnPressed.connect(self._ask)
        self.browse_button = button("Choose…", name="Choose a file or folder")
        self.browse_button.clicked.connect(self._browse)
        self.go_button = button("Export", look="primary")
        self.go_button.clicked.connect(self._ask)
        self.replace_button = button("Replace it")
        self.replace_button.clicked.connect(self._ask_again)
        self.away_button = button("Close (Esc)", look="flat")
        self.away_button.clicked.connect(self.put_away)
        self.said = Sentence(name="Export")
        top = QHBoxLayout()
        top.setSpacing(8)
        for above in (quiet("Export"), self.which, quiet("as"), self.form):
            top.addWidget(above)
        top.addStretch(1)
        top.addWidget(self.away_button)
        below = QHBoxLayout()
        below.setSpacing(8)
        below.addWidget(quiet("to"))
        below.addWidget(self.to, 1)
        for widget in (self.browse_button, self.replace_button, self.go_button):
            below.addWidget(widget)
        column = QVBoxLayout(self)
        column.setContentsMargins(10, 6, 8, 6)
        column.setSpacing(6)
        column.addLayout(top)
        column.addLayout(below)
        column.addWidget(self.said)

    def ask(self, chosen: Sequence[str], found: Sequence[str]) -> None:
        """Ask what to do with the files chosen, or all that were found."""
        self.show_files(chosen, found)
        self.which.setCurrentIndex(self.which.findData(_CHOSEN if len(chosen) > 1 else _FOUND))
        if not self.to.text():
            documents = QStandardPaths.writableLocation(QStandardPaths.StandardLocation.DocumentsLocation)
            self.to.setText(str(Path(documents or Path.home()) / "shots.csv"))
        self.said.say("")
        self.replace_button.hide()
        self.show()
        self.which.setFocus()

    def show_files(self, chosen: Sequence[str], found: Sequence[str]) -> None:
        """Take other files to export."""
        self._chosen, self._found = tuple(chosen), tuple(found)
        kept = self.which.currentData()
        self.which.clear()
        if self._chosen:
            self.which.addItem(f"{len(self._chosen):,} chosen", _CHOSEN)
        self.which.addItem(f"all {len(self._found):,} found", _FOUND)
        self.which.setCurrentIndex(max(0, self.which.findData(kept)))

    def tell(self, sentence: str, *, bad: bool) -> None:
        """Show what came of it."""
        self.said.say(sentence, "bad" if bad else "good")
        self.replace_button.setVisible(bad and self._last is not None and self._last.to.is_file())

    @Slot()
    def _fit_name(self) -> None:
        path = Path(self.to.text().strip() or "shots")
        form = str(self.form.currentData())
        self.to.setText(str(path.with_suffix("" if form == "parquet" else f".{form}")))

    @Slot()
    def _browse(self) -> None:
        if self.form.currentData() == "parquet":
            name = QFileDialog.getExistingDirectory(self, "Folder of the dataset", self.to.text())
        else:
            name, _ = QFileDialog.getSaveFileName(self, "Export to", self.to.text())
        if name:
            self.to.setText(name)

    @Slot()
    def _ask(self) -> None:
        name = self.to.text().strip()
        if not name:
            self.to.setFocus()
            return
        places = self._chosen if self.which.currentData() == _CHOSEN else self._found
        self._last = Wish(places, str(self.form.currentData()), Path(name).expanduser())
        self.said.say("Writing.", "quiet")
        self.wanted.emit(self._last)

    @Slot()
    def _ask_again(self) -> None:
        if self._last is not None:
            wish = self._last
            self.wanted.emit(Wish(wish.places, wish.form, wish.to, overwrite=True))
