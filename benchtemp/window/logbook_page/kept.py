"""How the user likes the list: columns, widths, order and room; kept beside the window's place."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QByteArray, QSettings

from benchtemp.errors import BadInput
from benchtemp.logbook.index import Query, Sort
from benchtemp.places import preferences_dir
from benchtemp.window.logbook_page.columns import USUAL

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

WIDTH_MIN_PX, WIDTH_MAX_PX = 30, 2000
_SEPARATOR = "\n"
_UP, _DOWN = "up", "down"


def _settings() -> QSettings:
    return QSettings(str(preferences_dir() / "window.ini"), QSettings.Format.IniFormat)


def kept_columns() -> tuple[str, ...]:
    """Return the keys of the columns chosen last."""
    written = str(_settings().value("logbook/columns", ""))
    return tuple(written.split(_SEPARATOR)) if written else USUAL


def keep_columns(keys: Sequence[str]) -> None:
    """Remember which columns were chosen."""
    _settings().setValue("logbook/columns", _SEPARATOR.join(keys))


def kept_widths() -> dict[str, int]:
    """Return the widths in pixels that were given to columns, by their keys."""
    found = {}
    for line in str(_settings().value("logbook/widths", "")).split(_SEPARATOR):
        key, _, width = line.rpartition("=")
        if key and width.isdecimal() and WIDTH_MIN_PX <= int(width[:5]) <= WIDTH_MAX_PX:
            found[key] = int(width[:5])
    return found


def keep_widths(widths_px: Mapping[str, int]) -> None:
    """Remember widths in pixels, by the keys of columns."""
    lines = [f"{key}={width}" for key, width in widths_px.items()]
    _settings().setValue("logbook/widths", _SEPARATOR.join(lines))


def kept_order() -> tuple[str, bool]:
    """Return what the list was sorted by last (as `Query.sort`), and whether descending."""
    sort, _, way = str(_settings().value("logbook/order", "")).rpartition(_SEPARATOR)
    try:
        Query(sort=sort)
    except BadInput:
        return str(Sort.MOMENT), True
    return sort, way != _UP


def keep_order(sort: str, *, descending: bool) -> None:
    """Remember what the list is sorted by."""
    _settings().setValue("logbook/order", f"{sort}{_SEPARATOR}{_DOWN if descending else _UP}")


def kept_split() -> QByteArray | None:
    """Return how the room was divided between list and details."""
    found = _settings().value("logbook/split")
    return found if isinstance(found, QByteArray) else None


def keep_split(state: QByteArray) -> None:
    """Remember how the room was divided."""
    _settings().setValue("logbook/split", state)
