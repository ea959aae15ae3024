"""Where a file goes: its folder and its name, remembered; and what can be done with it once it is there."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QSettings, QStandardPaths, QUrl, Signal, Slot
from PySide6.QtGui import QDesktopServices
from PySide6.QtWidgets import QFileDialog, QHBoxLayout, QVBoxLayout, QWidget

from benchtemp.places import preferences_dir
from benchtemp.window.fields import TextField
from benchtemp.window.panels.labels import button, quiet
from benchtemp.window.probes_page.tick import Tick


def _settings() -> QSettings:
    return QSettings(str(preferences_dir() / "window.ini"), QSettings.Format.IniFormat)


def remembered(name: str) -> str:
    """Return what was entered under a name the last time."""
    return str(_settings().value(f"handing_over/{name}", ""))


def remember(name: str, value: str) -> None:
    """Keep what was entered for the next time."""
    _settings().setValue(f"handing_over/{name}", value)


def usual_folder() -> Path:
    """Return the folder used last, or the user's documents."""
    named = remembered("folder")
    if named and Path(named).is_dir():
        return Path(named)
    place = QStandardPaths.writableLocation(QStandardPaths.StandardLocation.DocumentsLocation)
    return Path(place) if place and Path(place).is_dir() else Path.home()


class PlaceToSave(QWidget):
    """Folder and name of a file to be written.

    Signals:
        changed: Either was changed.
    """

    changed = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.folder = TextField(name="Folder")
        self.folder.setText(str(usual_folder()))
        self.choose_button = button("Choose…", name="Choose the folder")
        self.name = TextField(name="File name", hint="a name")
        self.endings = quiet()
        self.overwrite = Tick("Replace files of that name")
        self.folder.textEdited.connect(self.changed)
        self.name.textEdited.connect(self.changed)
        self.choose_button.clicked.connect(self.choose)
        first = QHBoxLayout()
        first.setSpacing(6)
        first.addWidget(self.folder, 1)
        first.addWidget(self.choose_button)
        second = QHBoxLayout()
        second.setSpacing(6)
        second.addWidget(self.name, 1)
        second.addWidget(self.endings)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(4)
        layout.addLayout(first)
        layout.addLayout(second)
        layout.addWidget(self.overwrite)

    @property
    def path(self) -> Path:
        """Return folder and name, without an ending."""
        return Path(self.folder.text().strip() or ".").expanduser() / (self.name.text().strip() or "unnamed")

    def show_endings(self, text: str) -> None:
        """Show how the name goes on."""
        self.endings.setText(text)

    def propose(self, name: str) -> None:
        """Write a name, to be seen from its beginning."""
        self.name.setText(name)
        self.name.setCursorPosition(0)

    @Slot()
    def choose(self) -> None:
        """Ask for the folder."""
        found = QFileDialog.getExistingDirectory(self, "Folder to save in", self.folder.text())
        if found:
            self.folder.setText(found)
            self.changed.emit()

    def keep(self) -> None:
        """Remember the folder for the next time."""
        remember("folder", str(self.path.parent))


def open_with_system(path: Path) -> None:
    """Open a file or a folder in the system's own program for it."""
    QDesktopServices.openUrl(QUrl.fromLocalFile(str(path)))
