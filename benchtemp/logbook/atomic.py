"""Files that appear whole or not at all."""

from __future__ import annotations

import contextlib
import errno
import os
import shutil
import sys
import time
import uuid
from typing import TYPE_CHECKING

from benchtemp.errors import StorageError
from benchtemp.logbook.regular_file import shown, why

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable
    from pathlib import Path

PART_PREFIX = ".benchtemp-"
PART_SUFFIX = ".part"

# Scanners, indexers and sync clients hold a fresh file open for a moment; only Windows minds.
_PAUSES_S: tuple[float, ...] = (0.05, 0.1, 0.2, 0.4, 0.8, 0.8) if sys.platform == "win32" else ()
_TRANSIENT_WINDOWS_ERRORS = (5, 32, 33)
_NO_LINKS = {
    errno.EPERM,
    errno.ENOSYS,
    errno.EOPNOTSUPP,
    errno.ENOTSUP,
    errno.EINVAL,
    errno.EMLINK,
    errno.EXDEV,
}


def write_whole(
    path: Path,
    parts: Iterable[bytes],
    *,
    overwrite: bool,
    mode_from: Path | None = None,
    still_wanted: Callable[[], None] = lambda: None,
) -> None:
    """Write a file that appears under its name only when it is whole and safely on the disk.

    Args:
        path: Where it shall appear; its folder must exist.
        parts: Its content, in order.
        overwrite: Whether a file of that name may be replaced.
        mode_from: A file whose permissions the new one takes over.
        still_wanted: Called just before the file appears; what it raises stops it.

    Raises:
        FileExistsError: There is one already and `overwrite` is False.
        StorageError: The disk does not take it; nothing has changed under `path`.
    """
    part = path.parent / f"{PART_PREFIX}{uuid.uuid4().hex[:12]}{PART_SUFFIX}"
    kept = False
    try:
        try:
            with part.open("xb") as file:
                file.writelines(parts)
                file.flush()
                sync(file.fileno(), thorough=True)
            if mode_from is not None:
                with contextlib.suppress(OSError):
                    shutil.copymode(mode_from, part)
        except OSError as error:
            raise StorageError(f"{shown(path)} cannot be written ({why(error)}); {_cure(error)}.") from error
        still_wanted()
        try:
            if overwrite:
                replace(part, path)
            else:
                _appear(part, path)
        except FileExistsError:
            raise
        except OSError as error:
            kept = True
            raise StorageError(
                f"{shown(path)} cannot be written ({why(error)}); its content is kept in {shown(part)}."
            ) from error
    finally:
        if not kept:
            with contextlib.suppress(OSError):
                part.unlink(missing_ok=True)
    sync_folder(path.parent)


def replace(source: Path, target: Path, pauses_s: tuple[float, ...] = _PAUSES_S) -> None:
    """Give `source` the name `target`, replacing what had it; on Windows wait out those who hold it open.

    Raises:
        OSError: It cannot be done, even after waiting.
    """
    for pause_s in pauses_s:
        try:
            os.replace(source, target)  # noqa: PTH105 - the one place that may
        except OSError as error:
            if getattr(error, "winerror", None) not in _TRANSIENT_WINDOWS_ERRORS:
                raise
            time.sleep(pause_s)
        else:
            return
    os.replace(source, target)  # noqa: PTH105


def _appear(part: Path, path: Path) -> None:
    """Give a finished part its name; raise FileExistsError where the name is taken."""
    if sys.platform == "win32":
        os.rename(part, path)  # noqa: PTH104 - refuses to replace there
        return
    try:
        os.link(part, path)  # refuses to replace
    except FileExistsError:
        raise
    except OSError as error:
        if error.errno not in _NO_LINKS:
            raise
        # File systems without hard links (memory cards): hold the name with an empty file first.
        os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o666))
        replace(part, path)


def sync(descriptor: int, *, thorough: bool = False) -> None:
    """Bring a file's content to the disk; `thorough` past the drive's own cache where that needs asking."""
    if thorough and sys.platform == "darwin":
        import fcntl  # noqa: PLC0415 - exists only there

        with contextlib.suppress(OSError):
            fcntl.fcntl(descriptor, fcntl.F_FULLFSYNC)
            return
    os.fsync(descriptor)


def sync_folder(folder: Path) -> None:
    """Bring a folder's list of names to the disk, where the system knows such a thing."""
    if sys.platform == "win32":
        return
    with contextlib.suppress(OSError):
        descriptor = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)


def _cure(error: OSError) -> str:
    if error.errno in (errno.ENOSPC, errno.EDQUOT):
        return "free some space on that disk"
    if error.errno == errno.ENOENT:
        return "its folder is gone, so bring it back or choose another"
    if error.errno in (errno.EACCES, errno.EPERM, errno.EROFS):
        return "choose a folder you may write to"
    return "choose another folder or look at the disk"
