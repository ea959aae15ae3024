"""The user's choices, kept as TOML; a damaged file costs the choices in it, never the start."""

from __future__ import annotations

import contextlib
from enum import StrEnum
from typing import TYPE_CHECKING, Any

import msgspec
import tomli_w

from benchtemp.errors import BadInput, StorageError
from benchtemp.logbook.atomic import replace, write_whole
from benchtemp.logbook.header_text import plain
from benchtemp.logbook.names import free_paths
from benchtemp.logbook.regular_file import read_regular, shown
from benchtemp.places import preferences_dir
from benchtemp.shots.budget import Estimates
from benchtemp.shots.recipe import Recipe
from benchtemp.toml_text import parse_toml
from benchtemp.units import TempUnit

if TYPE_CHECKING:
    from pathlib import Path

SIZE_LIMIT = 1024 * 1024
RECENT_KEPT = 20
USUAL_CHECK_DAYS = 90.0
"""As `probes.probe.DEFAULT_CHECK_DAYS`, which takes too long to load for the start of the window."""


class Appearance(StrEnum):
    """Light or dark."""

    SYSTEM = "system"
    LIGHT = "light"
    DARK = "dark"


class Preferences(msgspec.Struct, frozen=True, kw_only=True):
    """What the user chose; change it with `msgspec.structs.replace`. Window geometry is kept elsewhere.

    Attributes:
        logbook: Folder of the logbook, empty for the usual one.
        unit: In which temperatures are shown; files always hold °C.
        theme: Light, dark, or as the system.
        last_source: What was measured with last; plain values, for the source picker.
        layouts: Confirmed layout of serial lines, by identity of the adapter; plain values.
        recipe: Last recipe.
        tags: Last tags.
        sound_muted: No sounds.
        recent_recordings: Files opened last, latest first.
        probes: Names of the probes plugged in, by interface (`shots.budget.interface_of`) and channel.
        check_days: After how many days a probe's check is called old.
        uncertainty: Estimates that uncertainties of brew temperatures rest on.
    """

    logbook: str = ""
    unit: TempUnit = TempUnit.DEGC
    theme: Appearance = Appearance.SYSTEM
    last_source: dict[str, Any] = {}
    layouts: dict[str, dict[str, Any]] = {}
    recipe: Recipe = Recipe()
    tags: dict[str, str] = {}
    sound_muted: bool = False
    recent_recordings: tuple[str, ...] = ()
    probes: dict[str, dict[str, str]] = {}
    check_days: float = USUAL_CHECK_DAYS
    uncertainty: Estimates = Estimates()

    def with_recent(self, path: Path) -> Preferences:
        """Return the preferences with this file first among the recent ones."""
        others = [other for other in self.recent_recordings if other != str(path)]
        return msgspec.structs.replace(self, recent_recordings=(str(path), *others)[:RECENT_KEPT])

    def with_probe(self, interface: str, channel: str, name: str) -> Preferences:
        """Return the preferences with a probe plugged into a channel; an empty name unplugs it."""
        plugged = {**self.probes.get(interface, {}), channel: name}
        kept = {channel: name for channel, name in plugged.items() if name}
        others = {key: probes for key, probes in self.probes.items() if key != interface}
        return msgspec.structs.replace(self, probes={**others, interface: kept} if kept else others)


def preferences_path() -> Path:
    """Return the file the choices are kept in."""
    return preferences_dir() / "preferences.toml"


def load_preferences() -> tuple[Preferences, str | None]:
    """Return the user's choices, and a sentence where some of them could not be read.

    A file that is no TOML is set aside under another name; a choice that makes no sense falls back to the
    default, and a copy of the file is kept.
    """
    path = preferences_path()
    if not path.exists():
        return Preferences(), None
    try:
        content = read_regular(path, SIZE_LIMIT)
        written = parse_toml(content)
    except (BadInput, ValueError) as error:
        aside = _set_aside(path)
        where = f"; it is kept as {shown(aside)}" if aside else ""
        reason = error if isinstance(error, BadInput) else "it is damaged"
        return (
            Preferences(),
            f"Your preferences could not be read ({reason}){where}, and the usual ones are used.",
        )
    chosen: dict[str, Any] = {}
    refused = []
    for name in Preferences.__struct_fields__:
        if name not in written:
            continue
        try:
            chosen[name] = getattr(msgspec.convert({name: _fit(name, written[name])}, Preferences), name)
        except (msgspec.ValidationError, BadInput, ValueError):
            refused.append(name)
    if not refused:
        return Preferences(**chosen), None
    copy = _copy_aside(path, content)
    where = f"; the file is kept as {shown(copy)}" if copy else ""
    return Preferences(
        **chosen
    ), f"In your preferences, {', '.join(refused)} made no sense and was reset{where}."


def save_preferences(preferences: Preferences) -> None:
    """Keep the user's choices; names in the file that this version does not know stay in it.

    Raises:
        StorageError: The disk does not take them.
    """
    path = preferences_path()
    unknown: dict[str, Any] = {}
    with contextlib.suppress(BadInput, ValueError):
        found = parse_toml(read_regular(path, SIZE_LIMIT))
        unknown = {name: value for name, value in found.items() if name not in Preferences.__struct_fields__}
    kept = {**without_none(plain(preferences)), **unknown}
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise StorageError(
            f"Your preferences cannot be kept: {shown(path.parent)} cannot be made."
        ) from error
    write_whole(path, [tomli_w.dumps(kept).encode()], overwrite=True)


def _fit(name: str, value: Any) -> Any:
    if name == "recipe" and isinstance(value, dict):
        return {key: entry for key, entry in value.items() if key in Recipe.__struct_fields__}
    return value


def without_none(value: Any) -> Any:
    """Return plain values without those that are None, which TOML does not have."""
    if isinstance(value, dict):
        return {key: without_none(entry) for key, entry in value.items() if entry is not None}
    if isinstance(value, list | tuple):
        return [without_none(entry) for entry in value if entry is not None]
    return value


def _set_aside(path: Path) -> Path | None:
    for candidate in free_paths(path.with_name(f"{path.stem}-damaged{path.suffix}")):
        if not candidate.exists():
            try:
                replace(path, candidate)
            except OSError:
                return None
            return candidate
    return None


def _copy_aside(path: Path, content: bytes) -> Path | None:
    for candidate in free_paths(path.with_name(f"{path.stem}-damaged{path.suffix}")):
        try:
            write_whole(candidate, [content], overwrite=False)
        except FileExistsError:
            if candidate.is_file() and candidate.read_bytes() == content:
                return candidate
        except StorageError:
            return None
        else:
            return candidate
    return None
