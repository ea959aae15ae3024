"""Which files the logbook's folder holds, told without opening any."""

from __future__ import annotations

import os
import stat
from dataclasses import dataclass
from typing import TYPE_CHECKING

from benchtemp.errors import StorageError
from benchtemp.logbook.folder import SUFFIX, Logbook
from benchtemp.logbook.regular_file import shown, why

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path


@dataclass(frozen=True, slots=True)
class Found:
    """One file: its path from the logbook's folder with `/` between parts, its size and time of change."""

    path: str
    size: int
    mtime_ns: int


def scan(logbook: Logbook) -> list[Found]:
    """Return all recordings and shots, newest names first; links to folders are not followed.

    Raises:
        StorageError: A folder cannot be read; what lies in it is then not known to be gone.
    """
    found = [*_files(logbook.recordings_dir, logbook.recordings_dir.name)]
    for month in _folders(logbook.shots_dir):
        found.extend(_files(logbook.shots_dir / month, f"{logbook.shots_dir.name}/{month}"))
    found.sort(key=lambda file: file.path.rpartition("/")[2], reverse=True)
    return found


def newest(logbook: Logbook, count: int) -> list[Found]:
    """Return the files with the newest names, without looking at older months; see `scan` for the rest."""
    places = [f"{logbook.recordings_dir.name}/{name}" for name in _names(logbook.recordings_dir)]
    shots: list[str] = []
    for month in sorted(_folders(logbook.shots_dir), reverse=True):
        shots += [f"{logbook.shots_dir.name}/{month}/{name}" for name in _names(logbook.shots_dir / month)]
        if len(shots) >= count:
            break
    latest = sorted(places + shots, key=lambda place: place.rpartition("/")[2], reverse=True)
    return [found for place in latest[:count] if (found := look_at(logbook, place))]


def look_at(logbook: Logbook, path: str) -> Found | None:
    """Return one file as `scan` would find it, None where it would not."""
    folder, _, name = path.rpartition("/")
    parts = folder.split("/")
    in_place = parts == [logbook.recordings_dir.name] or (
        len(parts) == 2 and parts[0] == logbook.shots_dir.name and _is_shown(parts[1])
    )
    if not in_place or not _is_shown(name) or not name.endswith(SUFFIX):
        return None
    if (logbook.root / folder).is_symlink() and len(parts) == 2:
        return None
    try:
        status = (logbook.root / path).stat()
    except (OSError, ValueError):
        return None
    return Found(path, status.st_size, status.st_mtime_ns) if stat.S_ISREG(status.st_mode) else None


def _is_shown(name: str) -> bool:
    return bool(name) and not name.startswith(".")


def _files(folder: Path, place: str) -> Iterator[Found]:
    for entry in _entries(folder):
        if not entry.name.endswith(SUFFIX):
            continue
        try:
            status = entry.stat()
        except OSError:  # gone meanwhile, or a link that leads nowhere
            continue
        if stat.S_ISREG(status.st_mode):
            yield Found(f"{place}/{_as_text(entry.name)}", status.st_size, status.st_mtime_ns)


def _names(folder: Path) -> list[str]:
    return [_as_text(entry.name) for entry in _entries(folder) if entry.name.endswith(SUFFIX)]


def _folders(folder: Path) -> list[str]:
    return [_as_text(entry.name) for entry in _entries(folder) if _is_folder(entry)]


def _is_folder(entry: os.DirEntry[str]) -> bool:
    try:
        return entry.is_dir(follow_symlinks=False)
    except OSError:
        return False


def _entries(folder: Path) -> list[os.DirEntry[str]]:
    try:
        with os.scandir(folder) as entries:
            return [entry for entry in entries if _is_shown(entry.name)]
    except FileNotFoundError:
        return []
    except OSError as error:
        raise StorageError(f"The folder {shown(folder)} cannot be read ({why(error)}).") from error


def _as_text(name: str) -> str:
    # A name that is no text cannot be kept; reading it then fails with a sentence, which is listed.
    return name.encode("utf-8", "replace").decode("utf-8")
