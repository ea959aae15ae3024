"""The user's own layouts: TOML files in a folder beside the preferences. No widgets."""

from __future__ import annotations

from typing import TYPE_CHECKING

from benchtemp.errors import BadInput
from benchtemp.logbook.names import free_paths, safe_part
from benchtemp.places import preferences_dir
from benchtemp.readings.layout import Layout, load_layout, save_layout

if TYPE_CHECKING:
    from pathlib import Path


def own_layouts_dir() -> Path:
    """Return the folder of the user's own layouts, which may not exist yet."""
    return preferences_dir() / "layouts"


def own_layouts() -> tuple[tuple[Layout, ...], str]:
    """Return the user's own layouts by name, and a sentence about files that cannot be used."""
    found: list[Layout] = []
    complaint = ""
    for path in sorted(own_layouts_dir().glob("*.toml")):
        try:
            found.append(load_layout(path))
        except BadInput as error:
            complaint = complaint or str(error)
    return tuple(sorted(found, key=lambda layout: layout.name.casefold())), complaint


def keep_own_layout(layout: Layout) -> Path:
    """Keep a layout under its name; one of the same name that was kept before is replaced.

    Raises:
        StorageError: The disk does not take it.
    """
    wanted = own_layouts_dir() / f"{safe_part(layout.name, 'layout')}.toml"
    for path in free_paths(wanted):
        if not path.exists():
            break
        try:
            if load_layout(path).name == layout.name:
                break
        except BadInput:
            continue
    save_layout(layout, path)
    return path
