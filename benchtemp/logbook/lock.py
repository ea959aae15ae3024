"""Telling whether a file is in use by a living program, by the system's own file locks.

The lock hangs on the file itself and goes with the program that holds it, however it ends. Libraries for
this lock a second file (which would litter a synced folder) or, on Windows, the first bytes of the file
(which would keep others from reading it); here it is one byte far beyond any end.
"""

from __future__ import annotations

import contextlib
import errno
import hashlib
import os
import platform
import sys
import time
from enum import Enum, auto
from pathlib import Path
from typing import TYPE_CHECKING

from benchtemp.errors import StorageError
from benchtemp.logbook.regular_file import shown
from benchtemp.places import cache_dir

if TYPE_CHECKING:
    from collections.abc import Iterator

_FAR_AWAY = 2**40
_HELD = {errno.EACCES, errno.EAGAIN, errno.EDEADLK}


class Locked(Enum):
    """What came of trying to lock a file."""

    BY_US = auto()
    BY_ANOTHER = auto()
    UNKNOWN = auto()
    """The file system has no locks."""


def try_lock(descriptor: int) -> Locked:
    """Lock an open file until it is closed; never waits."""
    try:
        if sys.platform == "win32":
            import msvcrt  # noqa: PLC0415 - exists only there

            at = os.lseek(descriptor, 0, os.SEEK_CUR)
            os.lseek(descriptor, _FAR_AWAY, os.SEEK_SET)
            try:
                msvcrt.locking(descriptor, msvcrt.LK_NBLCK, 1)
            finally:
                os.lseek(descriptor, at, os.SEEK_SET)
        else:
            import fcntl  # noqa: PLC0415 - exists only there

            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError as error:
        return Locked.BY_ANOTHER if error.errno in _HELD else Locked.UNKNOWN
    return Locked.BY_US


def locked_elsewhere(path: Path) -> Locked:
    """Return who holds a file's lock; `BY_US` means it was free."""
    for access in (os.O_RDWR, os.O_RDONLY):
        try:
            descriptor = os.open(path, access | getattr(os, "O_NONBLOCK", 0))
        except OSError:
            continue
        try:
            return try_lock(descriptor)
        finally:
            os.close(descriptor)
    return Locked.UNKNOWN


def this_computer() -> str:
    """Return a short name for this computer that does not give its real one away."""
    return hashlib.sha256(platform.node().encode("utf-8", "replace")).hexdigest()[:12]


@contextlib.contextmanager
def edit_turn(path: Path, wait_s: float = 5.0) -> Iterator[None]:
    """Have the only turn on this computer to change a file that is replaced whole.

    Raises:
        StorageError: Another window kept its turn for `wait_s`.
    """
    key = hashlib.sha256(os.path.normcase(path.resolve()).encode("utf-8", "replace")).hexdigest()[:24]
    folder = cache_dir() / "turns"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        # One of 256 files that stay: removing them would race with another who is about to lock one.
        descriptor = os.open(folder / key[:2], os.O_RDWR | os.O_CREAT, 0o666)
    except OSError:  # without a cache folder there is no taking turns, yet files can be changed
        yield
        return
    try:
        deadline_s = time.monotonic() + wait_s
        while try_lock(descriptor) is Locked.BY_ANOTHER:
            if time.monotonic() > deadline_s:
                raise StorageError(
                    f"{shown(path)} is being changed by another window; try again in a moment."
                )
            time.sleep(0.01)
        yield
    finally:
        os.close(descriptor)
