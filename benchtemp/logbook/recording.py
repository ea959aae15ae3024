"""Recordings: every reading and mark on the disk as it comes.

A row is handed to the system before `append` returns, so nothing is lost when the program dies; a thread
brings it to the disk itself at least once a second and after every mark, so that a power cut costs no more
than the last second. What is not yet there stays in memory: when the disk is full, or the folder was taken
away, readings wait in order and are written once there is a way.
"""

from __future__ import annotations

import contextlib
import datetime as dt
import errno
import hashlib
import os
import tempfile
import threading
from pathlib import Path
from typing import TYPE_CHECKING, Any

from benchtemp.errors import StorageError
from benchtemp.logbook.ecsv import closing_line, names_line, row_text, stream_columns
from benchtemp.logbook.header_text import header_bytes, plain
from benchtemp.logbook.lock import this_computer
from benchtemp.logbook.names import free_paths
from benchtemp.logbook.regular_file import shown, why
from benchtemp.logbook.row_file import RowFile
from benchtemp.places import cache_dir
from benchtemp.readings.reading import Mark, Reading

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping

SYNC_EVERY_S = 0.5
CLOSE_WAIT_S = 10.0
_HANDLE_IS_DEAD = {errno.EIO, errno.EBADF, errno.ENODEV, errno.ENXIO, getattr(errno, "ESTALE", errno.EIO)}


def _now() -> dt.datetime:
    return dt.datetime.now().astimezone()


class RecordingWriter:
    """Writes one recording; `append` may be called by any one thread at a time.

    The finished file ends with a `# closed` line; one without it was interrupted.

    Attributes:
        path: The file. It was created for this recording, under the next free name.
        meta: The header as it was written.
    """

    def __init__(
        self,
        path: Path,
        channels: Iterable[str],
        has_weight: bool,  # noqa: FBT001 - a fact about the recording, beside its channels
        meta: Mapping[str, Any],
        *,
        clock: Callable[[], dt.datetime] = _now,
        sync_every_s: float = SYNC_EVERY_S,
        rescue_folders: tuple[Path, ...] | None = None,
    ) -> None:
        """Create the file and write its header.

        Args:
            path: Wished for; where it is taken, `name-2` and so on.
            channels: Names of the temperature channels.
            has_weight: Whether there is a scale.
            meta: The header's `meta`; `kind`, `started` and `writer` are added where missing.
            clock: Gives the time of day, for `started`.
            sync_every_s: Longest time a row waits to be brought to the disk.
            rescue_folders: Where to put what could not be written by the end, first choice first.

        Raises:
            BadInput: A channel name or the meta cannot be written.
            StorageError: The file cannot be created.
        """
        names = tuple(channels)
        self._channel_count = len(names)
        self._has_weight = has_weight
        self._columns = stream_columns(names, has_weight=has_weight)
        self._names = names_line(self._columns)
        self.meta: dict[str, Any] = {"kind": "recording", **plain(meta)}
        self.meta.setdefault("started", clock().isoformat(timespec="milliseconds"))
        self.meta["writer"] = {"computer": this_computer(), "pid": os.getpid()}
        self._header = header_bytes(self._columns, self.meta)
        if rescue_folders is None:
            rescue_folders = (cache_dir() / "rescued", Path(tempfile.gettempdir()) / "benchtemp-rescued")
        self._rescue_folders = rescue_folders
        self._digest = hashlib.sha256(self._names)
        self._file = self._create(path)
        self.path = self._file.path
        # `_held` begins at byte `_safe` of the file: what may not have reached the disk yet, or not even
        # the system: `_handed` of its bytes have been taken by it. `_safe` always lies between two rows.
        self._safe = len(self._header) + len(self._names)
        self._held = bytearray()
        self._handed = 0
        self._stalled = False
        self._closing = False
        self._last_line = b""
        self._trouble: str | None = None
        self._lock = threading.Lock()
        self._wake = threading.Event()
        self._sync_every_s = sync_every_s
        self._thread = threading.Thread(target=self._tend_until_closed, name="recording", daemon=True)
        self._thread.start()

    @property
    def trouble(self) -> str | None:
        """Return the standing warning while the disk does not take readings, None when all is well."""
        return self._trouble

    @property
    def closed(self) -> bool:
        """Return whether `close` was called."""
        return self._closing

    def append(self, item: Reading | Mark) -> None:
        """Keep a reading or a mark; returns once the system has it, or memory while the disk refuses.

        Raises:
            ValueError: A fault of the caller: after `close`, or more temperatures than channels.
        """
        row = row_text(item, self._channel_count, has_weight=self._has_weight).encode()
        with self._lock:
            if self._closing:
                raise ValueError("append after close")
            self._digest.update(row)
            self._keep(row)
        if isinstance(item, Mark):
            self._wake.set()

    def close(self) -> None:
        """Write the closing line and bring all to the disk; never raises, closing twice is harmless.

        What the disk still refuses is put elsewhere; `trouble` says where.
        """
        with self._lock:
            if not self._closing:
                self._last_line = closing_line(self._digest.hexdigest())
                self._keep(self._last_line)
                self._closing = True
        self._wake.set()
        self._thread.join(CLOSE_WAIT_S)
        if self._thread.is_alive():
            self._trouble = f"The disk with {shown(self.path)} does not answer; look at it before you go on."

    # All below: `_keep` and `_hand_over` run under the lock; the rest runs in the thread.

    def _create(self, path: Path) -> RowFile:
        for candidate in free_paths(path):
            try:
                file = RowFile(candidate, create=True)
            except FileExistsError:
                continue
            except OSError as error:
                raise StorageError(
                    f"The recording {shown(candidate)} cannot be begun ({why(error)}); choose another folder."
                ) from error
            try:
                file.write_from(0, self._header + self._names)
                file.sync()
            except OSError as error:
                file.close()
                with contextlib.suppress(OSError):
                    candidate.unlink()
                raise StorageError(
                    f"The recording {shown(candidate)} cannot be begun ({why(error)}); "
                    "free some space on that disk or choose another folder."
                ) from error
            file.sync_name()
            return file
        raise AssertionError("there is always another free name")

    def _keep(self, line: bytes) -> None:
        self._held += line
        if not self._stalled:
            self._hand_over()

    def _hand_over(self) -> None:
        try:
            while self._handed < len(self._held):
                self._handed += self._file.write(bytes(self._held[self._handed :]))
        except OSError as error:
            self._stall(error)

    def _stall(self, error: OSError) -> None:
        if not self._stalled:
            self._wake.set()
        self._stalled = True
        self._trouble = (
            f"{_complaint(self.path, error)} Readings stay in memory and are written once it works."
        )

    def _tend_until_closed(self) -> None:
        while True:
            self._wake.wait(self._sync_every_s)
            self._wake.clear()
            closing = self._closing
            self._tend(thorough=closing)
            if closing:
                break
        if self._held:
            self._rescue()
        self._file.close()

    def _tend(self, *, thorough: bool) -> None:
        if not self._stalled:
            if not self._file.in_place():
                with self._lock:
                    self._stall(OSError(errno.ENOENT, os.strerror(errno.ENOENT)))
            else:
                with self._lock:
                    count = 0 if self._stalled else self._handed
                if not count:
                    return
                try:
                    self._file.sync(thorough=thorough)
                except OSError as error:
                    with self._lock:
                        self._stall(error)
                else:
                    with self._lock:
                        self._let_go(count)
        if self._stalled:
            try:
                self._recover(thorough=thorough)
            except OSError as error:
                with self._lock:
                    self._stall(error)

    def _let_go(self, count: int) -> None:
        """Forget the first `count` held bytes: they are on the disk."""
        del self._held[:count]
        self._handed = max(self._handed - count, 0)
        self._safe += count

    def _recover(self, *, thorough: bool) -> None:
        """Write again all that may not have reached the disk, where necessary into another file."""
        if not self._file.in_place():
            self._take_up()
        with self._lock:
            waiting = bytes(self._held)
        try:
            self._file.write_from(self._safe, waiting)
            self._file.sync(thorough=thorough)
        except OSError as error:
            if error.errno in _HANDLE_IS_DEAD:
                self._take_up()
            raise
        with self._lock:
            self._handed = len(waiting)
            self._let_go(len(waiting))
            self._stalled = False
            self._trouble = None
            self._hand_over()

    def _take_up(self) -> None:
        """Get a working file under the old name: the same one opened anew, or a new one."""
        try:
            again = RowFile(self.path, create=False)
        except FileNotFoundError:
            self._begin_anew(self.path)
            return
        try:
            own = again.head(len(self._header)) == self._header and again.size() >= self._safe
        except OSError:
            again.close()
            raise
        if own:
            again, self._file = self._file, again
        again.close()
        if not own:
            self._begin_anew(self.path)

    def _begin_anew(self, path: Path) -> None:
        """Move to a new file: with all rows so far where the old one can be read, else from here on."""
        for candidate in free_paths(path):
            try:
                fresh = RowFile(candidate, create=True)
            except FileExistsError:
                continue
            break
        try:
            begun = self._file.head(self._safe)
        except OSError:
            begun = b""
        header = self._header
        continues = len(begun) < self._safe
        if continues:
            header = header_bytes(self._columns, {**self.meta, "continues": self.path.name})
            begun = header + self._names
        try:
            fresh.write_from(0, begun)
            fresh.sync()
        except OSError:
            fresh.close()
            with contextlib.suppress(OSError):
                candidate.unlink()
            raise
        fresh.sync_name()
        self._file.close()
        with self._lock:
            self._file = fresh
            self.path = fresh.path
            self._header = header
            self._safe = len(begun)
            if continues:
                rows = bytes(self._held).removesuffix(self._last_line)
                self._digest = hashlib.sha256(self._names + rows)
                if self._last_line:
                    self._last_line = closing_line(self._digest.hexdigest())
                    self._held[:] = rows + self._last_line

    def _rescue(self) -> None:
        """Put what the disk refused to the end into another folder."""
        where = shown(self.path)
        for folder in self._rescue_folders:
            try:
                folder.mkdir(parents=True, exist_ok=True)
                self._begin_anew(folder / self.path.name)
                self._file.write_from(self._safe, bytes(self._held))
                self._file.sync(thorough=True)
            except OSError:
                continue
            self._trouble = (
                f"{where} could not be written to the end; the recording is kept in {shown(self.path)}."
            )
            return
        self._trouble = (
            f"{where} could not be written to the end, nor kept elsewhere; its last readings are lost."
        )


def _complaint(path: Path, error: OSError) -> str:
    name = shown(path)
    if error.errno in (errno.ENOSPC, errno.EDQUOT):
        return f"The disk with {name} is full; free some space."
    if error.errno == errno.EFBIG:
        return f"The recording {name} has become larger than the disk allows; begin a new one."
    if error.errno == errno.ENOENT:
        return f"The recording {name} was removed or its folder is gone; bring the folder back."
    return f"The recording {name} cannot be written ({why(error)}); look at the disk."
