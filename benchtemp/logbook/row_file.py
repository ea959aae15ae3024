"""One file on the disk that rows are appended to; all calls that may fail raise OSError."""

from __future__ import annotations

import contextlib
import os
from typing import TYPE_CHECKING

from benchtemp.logbook.atomic import sync, sync_folder
from benchtemp.logbook.lock import try_lock

if TYPE_CHECKING:
    from pathlib import Path

_BINARY = getattr(os, "O_BINARY", 0)


class RowFile:
    """A file that is locked while it is open.

    It is brought to the disk through a second descriptor: on Windows writing would otherwise wait for it.

    Attributes:
        path: Its name when it was opened.
    """

    def __init__(self, path: Path, *, create: bool) -> None:
        """Create a file that must not exist yet, or open one that does."""
        self.path = path
        flags = os.O_RDWR | _BINARY | ((os.O_CREAT | os.O_EXCL) if create else 0)
        self._descriptor = os.open(path, flags, 0o666)
        try:
            self._second = os.open(path, os.O_RDWR | _BINARY)
        except OSError:
            os.close(self._descriptor)
            raise
        try_lock(self._descriptor)

    def write(self, content: bytes) -> int:
        """Append; return how many bytes were taken."""
        return os.write(self._descriptor, content)

    def write_from(self, offset: int, content: bytes) -> None:
        """Write all of `content` at `offset` and end the file there."""
        os.lseek(self._descriptor, offset, os.SEEK_SET)
        done = 0
        while done < len(content):
            done += os.write(self._descriptor, content[done:])
        os.ftruncate(self._descriptor, offset + len(content))

    def sync(self, *, thorough: bool = False) -> None:
        """Bring what was written to the disk."""
        sync(self._second, thorough=thorough)

    def sync_name(self) -> None:
        """Bring the file's name to the disk."""
        sync_folder(self.path.parent)

    def size(self) -> int:
        """Return the file's length in bytes."""
        return os.fstat(self._descriptor).st_size

    def head(self, length: int) -> bytes:
        """Return the first `length` bytes, which works after the file was removed, too."""
        os.lseek(self._second, 0, os.SEEK_SET)
        parts = []
        while length > 0 and (part := os.read(self._second, min(length, 1024 * 1024))):
            parts.append(part)
            length -= len(part)
        return b"".join(parts)

    def in_place(self) -> bool:
        """Return whether the file still lies under its name."""
        try:
            there = self.path.stat()
            here = os.fstat(self._descriptor)
        except OSError:
            return False
        return (there.st_ino, there.st_dev) == (here.st_ino, here.st_dev)

    def close(self) -> None:
        """Let go of the file and its lock; closing twice is harmless."""
        for descriptor in (self._second, self._descriptor):
            if descriptor >= 0:
                with contextlib.suppress(OSError):
                    os.close(descriptor)
        # The numbers may belong to another file by now.
        self._second = self._descriptor = -1
