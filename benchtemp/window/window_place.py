"""Where the window stood and how large it was; apart from the preferences, which know no Qt."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QByteArray, QSettings

from benchtemp.places import preferences_dir

if TYPE_CHECKING:
    from PySide6.QtWidgets import QMainWindow

_KEPT_REFERENCES = {"none", "last"}


def _settings() -> QSettings:
    return QSettings(str(preferences_dir() / "window.ini"), QSettings.Format.IniFormat)


def restore_place(window: QMainWindow) -> None:
    """Give a window the place and size it had, or a good part of the screen."""
    saved = _settings().value("geometry")
    if isinstance(saved, QByteArray) and window.restoreGeometry(saved):
        return
    room = window.screen().availableGeometry()
    window.resize(min(1280, int(room.width() * 0.9)), min(840, int(room.height() * 0.9)))


def keep_place(window: QMainWindow) -> None:
    """Remember a window's place and size."""
    _settings().setValue("geometry", window.saveGeometry())


def kept_reference() -> str:
    """Return which reference trace was chosen last."""
    return str(_settings().value("reference", "none"))


def keep_reference(reference: str) -> None:
    """Remember the choice of a reference trace; a certain shot is gone with its sitting."""
    _settings().setValue("reference", reference if reference in _KEPT_REFERENCES else "none")
