"""Recordings whose program was stopped before it closed them: found, and closed without losing a byte."""

from __future__ import annotations

import hashlib
import os
import time
from dataclasses import dataclass
from typing import TYPE_CHECKING

from benchtemp.errors import BadInput, DamagedFile, StorageError
from benchtemp.logbook.atomic import sync, write_whole
from benchtemp.logbook.ecsv import CLOSED, closing_line
from benchtemp.logbook.header_text import HEADER_LIMIT, MAGIC, HeaderText, parse_header
from benchtemp.logbook.lock import Locked, locked_elsewhere, this_computer, try_lock
from benchtemp.logbook.names import free_paths
from benchtemp.logbook.regular_file import SIZE_LIMIT, read_regular, shown, why

if TYPE_CHECKING:
    from pathlib import Path

REST_S = 24 * 3600.0
"""How long a recording made by another computer must have been left alone to count as interrupted."""

TORN = ".torn"
"""What is added to the name of a file that takes torn bytes."""

_TAIL = 400


@dataclass(frozen=True, slots=True)
class Interrupted:
    """A recording that was never closed.

    Attributes:
        path: The file.
        readable: Whether its header is whole; if not, there are no readings in it.
    """

    path: Path
    readable: bool


@dataclass(frozen=True, slots=True)
class ClosedRecording:
    """What closing an interrupted recording came to.

    Attributes:
        path: The recording, complete now; None where there was nothing to keep as one.
        torn: The file that holds the bytes of a row that was cut; None where none was.
    """

    path: Path | None
    torn: Path | None


def find_interrupted(folder: Path) -> tuple[Interrupted, ...]:
    """Return the interrupted recordings in a folder, oldest name first; cheap for many files.

    Only files this program began and never closed count; one that a living program is writing does not, nor
    one that came from another computer (a synced folder) within the last day.
    """
    try:
        paths = sorted(path for path in folder.iterdir() if path.suffix == ".ecsv" and path.name[0] != ".")
    except OSError:
        return ()
    found = []
    for path in paths:
        state = _state(path)
        if state is not None:
            found.append(state)
    return tuple(found)


def _state(path: Path) -> Interrupted | None:
    try:
        status = path.stat()
        if _closing_line_of(path, status.st_size):
            return None
        head = read_regular(path, first=HEADER_LIMIT + 1)
    except (OSError, BadInput):
        return None
    try:
        header = parse_header(head, path.name)
    except DamagedFile:
        header = None
    except BadInput:
        if not _is_beginning(head):
            return None
        header = None
    if header is not None and not isinstance(header.meta.get("writer"), dict):
        return None
    lock = locked_elsewhere(path)
    if lock is Locked.BY_ANOTHER:
        return None
    ours = header is not None and header.meta["writer"].get("computer") == this_computer()
    if (not ours or lock is Locked.UNKNOWN) and time.time() - status.st_mtime < REST_S:
        return None
    return Interrupted(path, readable=header is not None and _has_names(head, header))


def _is_beginning(content: bytes) -> bool:
    """Return whether a file is so short that it is cut before it says what it is."""
    return MAGIC.encode().startswith(content.rstrip(b"\0"))


def _has_names(head: bytes, header: HeaderText) -> bool:
    return b"\n" in head[header.rows_at :]


def _closing_line_of(path: Path, size: int) -> bytes | None:
    """Return a file's last line if it is a whole closing line."""
    with path.open("rb") as file:
        file.seek(max(size - _TAIL, 0))
        tail = file.read(_TAIL)
    if not tail.endswith(b"\n"):
        return None
    line = tail.rstrip().rpartition(b"\n")[2]
    return line if line.startswith(CLOSED.encode()) else None


def close_interrupted(path: Path) -> ClosedRecording:
    """Close an interrupted recording: its whole rows stay, torn bytes after them move to a file beside it.

    Closing one that is closed already changes nothing, and being stopped in here leaves it to be done again.

    Raises:
        BadInput: It is still being recorded, or it is not a file of ours.
        StorageError: The disk does not take the change; the recording is as it was.
    """
    name = shown(path)
    read_regular(path, first=1)
    try:
        descriptor = os.open(path, os.O_RDWR | getattr(os, "O_BINARY", 0))
    except OSError as error:
        raise StorageError(f"{name} cannot be closed ({why(error)}); check its permissions.") from error
    try:
        if try_lock(descriptor) is Locked.BY_ANOTHER:
            raise BadInput(f"{name} is still being recorded; stop that first.")
        if _closing_line_of(path, path.stat().st_size):
            return ClosedRecording(path, None)
        content = read_regular(path, SIZE_LIMIT)
        try:
            header = parse_header(content.rstrip(b"\0"), name)
            readable = _has_names(content, header)
        except DamagedFile:
            readable = False
        except BadInput:
            if not _is_beginning(content):
                raise
            readable = False
        if readable:
            return _close(path, descriptor, content, header.rows_at)
    except OSError as error:
        raise StorageError(f"{name} cannot be closed ({why(error)}); look at the disk.") from error
    finally:
        os.close(descriptor)
    return _put_aside(path)


def _close(path: Path, descriptor: int, content: bytes, rows_at: int) -> ClosedRecording:
    kept = content.rstrip(b"\0")
    end = kept.rfind(b"\n") + 1
    torn = _write_torn(path, kept[end:]) if kept[end:] else None
    rows = content[rows_at:end]
    last = closing_line(hashlib.sha256(rows).hexdigest(), after_interruption=True)
    os.ftruncate(descriptor, end)
    os.lseek(descriptor, end, os.SEEK_SET)
    while last:
        last = last[os.write(descriptor, last) :]
    sync(descriptor, thorough=True)
    return ClosedRecording(path, torn)


def _write_torn(path: Path, content: bytes) -> Path:
    for candidate in free_paths(path.with_name(path.name + TORN)):
        try:
            write_whole(candidate, [content], overwrite=False)
        except FileExistsError:
            continue
        return candidate
    raise AssertionError("there is always another free name")


def _put_aside(path: Path) -> ClosedRecording:
    """Rename a file that broke off within its header: there is nothing in it to keep as a recording."""
    for candidate in free_paths(path.with_name(path.name + TORN)):
        if not os.path.lexists(candidate):
            try:
                path.rename(candidate)
            except OSError as error:
                raise StorageError(
                    f"{shown(path)} cannot be set aside ({why(error)}); check its folder."
                ) from error
            return ClosedRecording(None, candidate)
    raise AssertionError("there is always another free name")
