"""How the user likes the list: its columns and its room; kept beside the window's place."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QByteArray, QSettings

from benchtemp.places import preferences_dir
from benchtemp.window.logbook_page.columns import USUAL

if TYPE_CHECKING:
    from collections.abc import Sequence

_SEPARATOR = "\n"


def _settings() -> QSettings:
    return QSettings(str(preferences_dir() / "window.ini"), QSettings.Format.IniFormat)


def kept_columns() -> tuple[str, ...]:
    """Return the keys of the columns chosen last."""
    written = str(_settings().value("logbook/columns", ""))
    return tuple(written.split(_SEPARATOR)) if written else USUAL


def keep_columns(keys: Sequence[str]) -> None:
    """Remember which columns were chosen."""
    _settings().setValue("logbook/columns", _SEPARATOR.join(keys))


def kept_split() -> QByteArray | None:
    """Return how the room was divided between list and details."""
    found = _settings().value("logbook/split")
    return found if isinstance(found, QByteArray) else None


def keep_split(state: QByteArray) -> None:
    """Remember how the room was divided."""
    _settings().setValue("logbook/split", state)
