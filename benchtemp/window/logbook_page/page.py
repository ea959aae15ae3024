"""The recordings and shots of the logbook folder: to replay one, or to find its file."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import (
    QAbstractTableModel,
    QModelIndex,
    QPersistentModelIndex,
    QSortFilterProxyModel,
    Qt,
    QUrl,
    Signal,
    Slot,
)
from PySide6.QtGui import QDesktopServices
from PySide6.QtWidgets import (
    QAbstractItemView,
    QHBoxLayout,
    QHeaderView,
    QLabel,
    QPushButton,
    QTableView,
    QVBoxLayout,
)

from benchtemp.errors import BenchtempError
from benchtemp.logbook.ecsv import read_meta
from benchtemp.units import TempUnit, temp_text
from benchtemp.window.fields import TextField
from benchtemp.window.panel import Panel, SourceChoice
from benchtemp.window.sources.background import Background

if TYPE_CHECKING:
    from PySide6.QtGui import QKeyEvent
    from PySide6.QtWidgets import QWidget

    from benchtemp.logbook.folder import Logbook
    from benchtemp.window.theme import Theme

FILES_MAX = 500
COLUMNS = ("Began", "What", "Machine", "Brew temperature", "Verdict", "File")
_Index = QModelIndex | QPersistentModelIndex


@dataclass(frozen=True, slots=True)
class Entry:
    """One file of the logbook.

    Attributes:
        began: Local time as written in the file.
        what: Recording, shot with its number, or flush.
        verdict: Whether a shot counts, or why not, in words with a sign.
    """

    path: Path
    began: str
    what: str
    machine: str = ""
    brew_temp_degc: float | None = None
    verdict: str = ""


def read_entries(logbook: Logbook) -> list[Entry]:
    """Return the newest recordings and shots, newest first; reads every header: do it in the background.

    Raises:
        StorageError: The folder cannot be read.
    """
    recordings = sorted(logbook.recordings(), reverse=True)
    shots = sorted(logbook.shots(), reverse=True)
    found = [entry_of(path) for paths in (recordings, shots) for path in islice(paths, FILES_MAX)]
    return sorted(found, key=lambda entry: (entry.began, entry.what), reverse=True)


def entry_of(path: Path) -> Entry:
    """Return what a file's header says; one that cannot be read is listed as such."""
    try:
        meta = read_meta(path)
    except (BenchtempError, OSError):
        return Entry(path, "", "Cannot be read")
    machine = str(meta.get("machine", ""))
    shot = meta.get("shot")
    if meta.get("kind") != "shot" or not isinstance(shot, dict):
        return Entry(path, _moment(meta.get("started")), "Recording", machine)
    result = shot.get("result")
    result = result if isinstance(result, dict) else {}
    flush = result.get("kind") == "flush"
    brew = result.get("brew_temp_degc")
    reasons = shot.get("reasons")
    why = "; ".join(map(str, reasons)) if isinstance(reasons, list) else ""
    verdict = "✓ counts" if shot.get("counts") else f"✕ {why}" if why else "✕ does not count"
    return Entry(
        path,
        _moment(shot.get("pulled") or meta.get("started")),
        "Flush" if flush else f"Shot {shot.get('number', '')}",
        machine,
        float(brew) if isinstance(brew, int | float) and not flush else None,
        "" if flush else verdict,
    )


def _moment(written: object) -> str:
    return str(written or "")[:19].replace("T", " ")


class EntryTable(QAbstractTableModel):
    """The entries as a table."""

    def __init__(self) -> None:
        super().__init__()
        self.entries: list[Entry] = []
        self.unit = TempUnit.DEGC

    def show(self, entries: list[Entry], unit: TempUnit) -> None:
        """Show other entries, or the same in another unit."""
        self.beginResetModel()
        self.entries, self.unit = entries, unit
        self.endResetModel()

    def rowCount(self, parent: _Index = QModelIndex()) -> int:  # noqa: B008 - Qt's own default
        """Return how many entries there are."""
        return 0 if parent.isValid() else len(self.entries)

    def columnCount(self, parent: _Index = QModelIndex()) -> int:  # noqa: B008 - Qt's own default
        """Return how many columns there are."""
        return 0 if parent.isValid() else len(COLUMNS)

    def headerData(self, section: int, orientation: Qt.Orientation, role: int = 0) -> Any:
        """Return a column's name."""
        if orientation is Qt.Orientation.Horizontal and role == Qt.ItemDataRole.DisplayRole:
            return COLUMNS[section]
        return None

    def data(self, index: _Index, role: int = 0) -> Any:
        """Return what stands in a cell; the same as a tip, where it is cut."""
        entry = self.entries[index.row()]
        texts = (
            entry.began,
            entry.what,
            entry.machine,
            "" if entry.brew_temp_degc is None else temp_text(entry.brew_temp_degc, self.unit),
            entry.verdict,
            entry.path.name,
        )
        if role in {Qt.ItemDataRole.DisplayRole, Qt.ItemDataRole.ToolTipRole}:
            return texts[index.column()] or None
        return None


class LogbookPage(Panel):
    """Lists the newest files; Enter replays the chosen one.

    Signals:
        replay_asked: Carries the `SourceChoice` that replays a file.
        import_asked: Files of other meters are to be imported.
        chosen_changed: Other shots are selected; see `chosen`.
    """

    replay_asked = Signal(object)
    import_asked = Signal()
    chosen_changed = Signal()
    # The row of buttons; Qt's own list of actions is not used here.
    actions: QHBoxLayout  # type: ignore[assignment]

    def __init__(self, logbook: Logbook, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setProperty("look", "page")
        self._logbook = logbook
        self._table = EntryTable()
        self._filter = QSortFilterProxyModel(self)
        self._filter.setSourceModel(self._table)
        self._filter.setFilterKeyColumn(-1)
        self._filter.setFilterCaseSensitivity(Qt.CaseSensitivity.CaseInsensitive)
        self.title = QLabel("Logbook")
        self.folder = QLabel()
        self.folder.setProperty("look", "quiet")
        self.folder.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.search = TextField(name="Search", hint="Search: a machine, a date, a word of the verdict")
        self.search.textChanged.connect(self._filter.setFilterFixedString)
        self.list = QTableView()
        self.list.setAccessibleName("Recordings and shots")
        self.list.setModel(self._filter)
        self.list.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.list.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.list.setShowGrid(False)
        self.list.setTabKeyNavigation(False)
        self.list.setWordWrap(False)
        self.list.setTextElideMode(Qt.TextElideMode.ElideMiddle)
        self.list.verticalHeader().hide()
        self.list.horizontalHeader().setHighlightSections(False)
        self.list.horizontalHeader().setDefaultAlignment(
            Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
        )
        self.list.doubleClicked.connect(self.replay)
        self.list.selectionModel().selectionChanged.connect(self.chosen_changed)
        self.note = QLabel()
        self.note.setWordWrap(True)
        self.note.setProperty("look", "quiet")
        self.replay_button = QPushButton("Replay (Enter)")
        self.replay_button.setProperty("look", "primary")
        self.replay_button.clicked.connect(self.replay)
        self.folder_button = QPushButton("Open its folder")
        self.folder_button.clicked.connect(self.open_folder)
        self.again_button = QPushButton("Read again")
        self.again_button.clicked.connect(self.read)
        self.actions = QHBoxLayout()
        self._lay_out()
        self._reading = Background(self, name="logbook")
        self._reading.done.connect(self._take_entries)
        self._reading.failed.connect(self.note.setText)
        self._opening = Background(self, name="recording")
        self._opening.done.connect(self.replay_asked)
        self._opening.failed.connect(self.note.setText)

    def _lay_out(self) -> None:
        head = QHBoxLayout()
        head.setSpacing(12)
        head.addWidget(self.title)
        head.addWidget(self.folder, 1)
        head.addWidget(self.again_button)
        foot = QHBoxLayout()
        foot.setSpacing(8)
        foot.addWidget(self.note, 1)
        self.actions.setSpacing(8)
        foot.addLayout(self.actions)
        foot.addWidget(self.folder_button)
        foot.addWidget(self.replay_button)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(16, 12, 16, 12)
        layout.setSpacing(10)
        layout.addLayout(head)
        layout.addWidget(self.search)
        layout.addWidget(self.list, 1)
        layout.addLayout(foot)

    def set_theme(self, theme: Theme) -> None:
        """Take fonts anew."""
        super().set_theme(theme)
        self.title.setFont(theme.font(1.5, bold=True))
        self.list.setFont(theme.font(figures=True))
        self.list.verticalHeader().setDefaultSectionSize(int(self.fontMetrics().lineSpacing() * 1.8))

    def set_unit(self, unit: TempUnit) -> None:
        """Show temperatures in another unit."""
        super().set_unit(unit)
        row = self.list.currentIndex().row()
        self._table.show(self._table.entries, unit)
        self.list.selectRow(row)

    @property
    def entries(self) -> list[Entry]:
        """Return what is listed, whatever the search hides."""
        return self._table.entries

    @property
    def chosen(self) -> tuple[Path, ...]:
        """Return the files of the shots selected, in the order of the list; recordings are left out."""
        entry = self._chosen()
        return () if entry is None or not entry.what.startswith("Shot") else (entry.path,)

    # -- reading -------------------------------------------------------------------------------------------

    @Slot()
    def read(self) -> None:
        """Read the folder again, in the background."""
        self.folder.setText(str(self._logbook.root))
        if not self._table.entries:
            self.note.setText("Reading the folder.")
        self._reading.start(partial(read_entries, self._logbook))

    @Slot(object)
    def _take_entries(self, entries: list[Entry]) -> None:
        chosen = self._chosen()
        self._table.show(entries, self.unit)
        header = self.list.horizontalHeader()
        self.list.resizeColumnsToContents()
        header.setSectionResizeMode(COLUMNS.index("Verdict"), QHeaderView.ResizeMode.Stretch)
        # The verdict needs the room more than the file's name, which begins with what stands to its left.
        file = COLUMNS.index("File")
        header.resizeSection(file, min(header.sectionSize(file), self.list.width() // 5))
        paths = [entry.path for entry in entries]
        row = paths.index(chosen.path) if chosen is not None and chosen.path in paths else 0
        self.list.selectRow(self._filter.mapFromSource(self._table.index(row, 0)).row())
        if not entries:
            self.note.setText("Nothing is kept here yet. The first sitting makes the first recording.")
        elif len(entries) >= FILES_MAX:
            self.note.setText(f"The newest {FILES_MAX} recordings and {FILES_MAX} shots are listed.")
        else:
            self.note.setText("")
        for button in (self.replay_button, self.folder_button):
            button.setEnabled(bool(entries))

    def _chosen(self) -> Entry | None:
        index = self._filter.mapToSource(self.list.currentIndex())
        return self._table.entries[index.row()] if index.isValid() else None

    # -- what the user wants -------------------------------------------------------------------------------

    @Slot()
    def replay(self) -> None:
        """Read the chosen file in the background and ask for its replay."""
        entry = self._chosen()
        if entry is not None:
            self.note.setText(f"Reading {entry.path.name}.")
            self._opening.start(partial(replay_of, entry.path))

    @Slot()
    def open_folder(self) -> None:
        """Open the folder of the chosen file in the system's own program for files."""
        entry = self._chosen()
        if entry is not None:
            QDesktopServices.openUrl(QUrl.fromLocalFile(str(entry.path.parent)))

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Replay with Enter, wherever on the page."""
        if event.key() in {Qt.Key.Key_Return, Qt.Key.Key_Enter}:
            self.replay()
        else:
            event.ignore()

    @Slot()
    def take_focus(self) -> None:
        """Put the focus on the list."""
        self.list.setFocus()

    def close_down(self) -> None:
        """Wait for what is being read."""
        self._reading.join()
        self._opening.join()


def replay_of(path: Path) -> SourceChoice:
    """Read a file and return the choice that replays it.

    Raises:
        BadInput: It cannot be read as a stream.
    """
    from benchtemp.window.sources.choices import replay_choice  # noqa: PLC0415 - it loads every kind of source

    return replay_choice(path)
