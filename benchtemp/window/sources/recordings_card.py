"""Recordings and demo streams to replay; any other file by choosing or dropping it."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import QFileDialog, QHBoxLayout, QListWidgetItem, QVBoxLayout, QWidget

from benchtemp.window.panel import Panel
from benchtemp.window.panels.labels import Sentence, button, heading, quiet
from benchtemp.window.sources.two_lines import TwoLineList

if TYPE_CHECKING:
    from benchtemp.window.sources.recordings import RecordingOffer
    from benchtemp.window.theme import Theme

_PATH = Qt.ItemDataRole.UserRole
FILE_FILTER = "Recordings (*.ecsv *.csv);;All files (*)"


class RecordingsCard(Panel):
    """Offers files for replay.

    Signals:
        picked: Path of a file.
    """

    picked = Signal(object)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setProperty("look", "surface")
        self.setAccessibleName("Recordings")
        self.list = TwoLineList("Recordings to replay")
        self.list.setMinimumHeight(150)
        self.list.itemActivated.connect(self._pick_item)
        self.list.itemDoubleClicked.connect(self._pick_item)
        self.list.currentItemChanged.connect(self._show_choice)
        self.replay_button = button("Replay", tip="Replay the chosen recording; nothing is written")
        self.replay_button.clicked.connect(self._pick_current)
        self.open_button = button("Open file…", tip="Choose any ECSV file")
        self.open_button.clicked.connect(self._choose_file)
        self.complaint = Sentence(look="bad", name="Recordings")
        row = QHBoxLayout()
        row.setSpacing(6)
        row.addWidget(self.replay_button)
        row.addWidget(self.open_button)
        row.addStretch(1)
        column = QVBoxLayout(self)
        column.setContentsMargins(14, 12, 14, 12)
        column.setSpacing(6)
        column.addWidget(heading("Replay a recording"))
        column.addWidget(quiet("Choose one, or drop any ECSV file on this page.", wrap=True))
        column.addWidget(self.list, 1)
        column.addLayout(row)
        column.addWidget(self.complaint)
        self._show_choice()

    def set_theme(self, theme: Theme) -> None:
        """Take another theme's colours."""
        super().set_theme(theme)
        self.list.set_theme(theme)

    def show_offers(self, offers: Iterable[RecordingOffer]) -> None:
        """Show what can be replayed, under a heading for each group."""
        current = self.chosen_path
        self.list.clear()
        group = ""
        for offer in offers:
            if offer.group != group:
                group = offer.group
                self.list.add_heading(group)
            item = self.list.add(offer.title, offer.detail, f"{offer.title}\n{offer.detail}\n{offer.path}")
            item.setData(_PATH, str(offer.path))
            if current is not None and offer.path == current:
                self.list.setCurrentItem(item)
        self._show_choice()

    @property
    def chosen_path(self) -> Path | None:
        """Return the file chosen in the list."""
        item = self.list.currentItem()
        path = None if item is None else item.data(_PATH)
        return None if path is None else Path(str(path))

    @Slot()
    def _show_choice(self) -> None:
        self.replay_button.setEnabled(self.chosen_path is not None)

    @Slot(QListWidgetItem)
    def _pick_item(self, item: QListWidgetItem) -> None:
        if item.data(_PATH) is not None:
            self.picked.emit(Path(str(item.data(_PATH))))

    @Slot()
    def _pick_current(self) -> None:
        path = self.chosen_path
        if path is not None:
            self.picked.emit(path)

    @Slot()
    def _choose_file(self) -> None:
        name, _ = QFileDialog.getOpenFileName(self, "Open a recording", "", FILE_FILTER)
        if name:
            self.picked.emit(Path(name))
