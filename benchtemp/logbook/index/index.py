"""The list of a logbook's files, kept up to date and searched."""

from __future__ import annotations

import contextlib
import os
import time
from pathlib import Path
from typing import TYPE_CHECKING, Any

import msgspec

from benchtemp.errors import StorageError
from benchtemp.logbook.index import answers
from benchtemp.logbook.index.answers import Choices
from benchtemp.logbook.index.file_row import FileRow, read_row
from benchtemp.logbook.index.pooled import outcomes, processes_for
from benchtemp.logbook.index.query import Page, Query, Sql
from benchtemp.logbook.index.scan import Found, look_at, newest, scan
from benchtemp.logbook.index.store import Store
from benchtemp.logbook.index.writing import put, take_out
from benchtemp.logbook.regular_file import shown

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator

    from benchtemp.logbook.folder import Logbook
    from benchtemp.logbook.index.row import Row

DOUBT_NS = 2_000_000_000
"""A file read so soon after its last change may have changed again within the same tick of its time."""
FILES_PER_JOB = 40
FIRST_FILES = 60
"""A screenful, read before all else where there is no index yet."""
COMMIT_S = 1.0
"""How often what was read is put in, so that others see it."""
MANY_FILES = 1500
"""From here on a second process pays for being started."""


class Updated(msgspec.Struct, frozen=True):
    """What bringing the index up to date came to.

    Attributes:
        files: In the logbook now.
        read: Read because they were new or changed, or might have.
        changed: Of these, whose rows are new or other than before.
        removed: No longer there.
        complete: False where it was cancelled.
    """

    files: int
    read: int
    changed: int
    removed: int
    complete: bool


class LogbookIndex:
    """Finds files of one logbook by what their headers and notes say.

    The index lies with the program's own data, never in the logbook, and whatever is wrong with it, it is
    made again from the files. All methods may be called from any thread, also while another one updates,
    and by several processes at once; each call opens the index anew and keeps nothing open. `search` shows
    what the last `update` (of any process) saw: call `update` in the background when a page opens and when
    the window comes to the front, and `refresh` after changing files.

    Attributes:
        logbook: Whose files these are.
    """

    def __init__(self, logbook: Logbook, *, full_text: bool | None = None) -> None:
        """Name the index; nothing is opened yet.

        Args:
            logbook: Whose files are indexed.
            full_text: Use SQLite's index of trigrams; where None, if this computer's SQLite has it.
        """
        self.logbook = logbook
        self._store = Store(logbook.root, full_text=full_text)

    @property
    def path(self) -> Path:
        """Return the index's own file."""
        return self._store.path

    # -- bringing it up to date ----------------------------------------------------------------------------

    def update(
        self,
        progress: Callable[[int, int], None] | None = None,
        cancelled: Callable[[], bool] | None = None,
        *,
        processes: int | None = None,
    ) -> Updated:
        """Read what was added or changed in the folder, and take out what is gone; newest first.

        Both callables are called in the calling thread.

        Args:
            progress: Told (files done, files to read), about once a second.
            cancelled: Asked often; True stops, and what was read so far stays in the index.
            processes: How many read; where None, one for few files and one per core for many.

        Raises:
            StorageError: A folder of the logbook cannot be read, or the index not be kept.
        """
        told = progress or _tell_nobody
        stop = cancelled or _never
        known = self._store.ask(answers.known_files)
        first = changed_first = 0
        if not known:
            # Someone looks at an empty list: the newest files come before all others are even named.
            latest = newest(self.logbook, FIRST_FILES)
            first, changed_first = self._read(latest, _tell_nobody, stop, 1)
            known = self._store.ask(answers.known_files)
        found = scan(self.logbook)
        if not found and known and not self.logbook.root.is_dir():
            raise StorageError(
                f"The logbook {shown(self.logbook.root)} is not there; plug in its disk or choose another."
            )
        here = {file.path for file in found}
        gone = [path for path in known if path not in here and look_at(self.logbook, path) is None]
        removed = self._store.write(lambda db: take_out(db, gone)) if gone else 0
        unread = [file for file in found if not _is_current(file, known.get(file.path))]
        done, changed = self._read(unread, told, stop, processes)
        complete = done == len(unread)
        return Updated(len(found), first + done, changed_first + changed, removed, complete)

    def rebuild(
        self,
        progress: Callable[[int, int], None] | None = None,
        cancelled: Callable[[], bool] | None = None,
        *,
        processes: int | None = None,
    ) -> Updated:
        """Forget everything and read all files again; see `update`."""
        scan(self.logbook)  # a logbook that cannot be read is no reason to forget it
        self._store.empty()
        return self.update(progress, cancelled, processes=processes)

    def refresh(self, paths: Iterable[Path]) -> None:
        """Look at just these files again, right after they were changed, made or moved away.

        Raises:
            StorageError: The index cannot be kept.
        """
        read: list[FileRow] = []
        gone: list[str] = []
        now_ns = time.time_ns()
        for path in paths:
            place = self.place_of(path)
            if place is None:
                continue
            found = look_at(self.logbook, place)
            if found is None:
                gone.append(place)
            else:
                read.append(read_row(self.logbook.root, found))
        if read or gone:
            self._store.write(lambda db: take_out(db, gone) + put(db, read, now_ns))

    def place_of(self, path: Path) -> str | None:
        """Return a path as rows name it, None if it is not in the logbook."""
        for root, wanted in (
            (self.logbook.root.absolute(), Path(os.path.normpath(path.absolute()))),
            (self.logbook.root.resolve(), path.parent.resolve() / path.name),
        ):
            with contextlib.suppress(ValueError):
                return wanted.relative_to(root).as_posix()
        return None

    def _read(
        self,
        unread: list[Found],
        told: Callable[[int, int], None],
        stop: Callable[[], bool],
        processes: int | None,
    ) -> tuple[int, int]:
        """Read files and put them in; return how many were read, and how many rows are other than before."""
        total, done, changed = len(unread), 0, 0
        told(0, total)
        jobs = [
            (str(self.logbook.root), unread[start : start + FILES_PER_JOB])
            for start in range(0, total, FILES_PER_JOB)
        ]
        used = processes_for(total, processes, at_least=MANY_FILES)
        waiting: list[_JobDone] = []
        since_s = time.monotonic()
        with contextlib.closing(outcomes(_read_job, jobs, processes=used, cancelled=stop)) as batches:
            for batch in batches:
                waiting.append(batch)
                done += len(batch[1])
                if time.monotonic() - since_s >= COMMIT_S:
                    changed += self._put(waiting)
                    told(done, total)
                    waiting, since_s = [], time.monotonic()
        changed += self._put(waiting)
        told(done, total)
        return done, changed

    def _put(self, jobs: list[_JobDone]) -> int:
        if not jobs:
            return 0
        return self._store.write(lambda db: sum(put(db, read, read_ns) for read_ns, read in jobs))

    # -- asking --------------------------------------------------------------------------------------------

    def search(self, query: Query | None = None) -> Page:
        """Return the rows that a query asks for; all of them, newest first, a hundred to a page, without one.

        Raises:
            StorageError: The index can neither be read nor made.
        """
        asked = query or Query()
        sql = Sql(asked, full_text=self._store.full_text)
        return self._store.ask(lambda db: answers.page(db, sql, asked))

    def headers(self, query: Query | None = None) -> Iterator[tuple[Row, dict[str, Any]]]:
        """Give the rows of a query, each with the whole header of its file as it was when last read.

        Far faster than reading the files. NaN has become None; an unreadable file's header is empty.

        Raises:
            StorageError: The index can neither be read nor made.
        """
        asked = query or Query(limit=None)
        sql = Sql(asked, full_text=self._store.full_text)
        for row, header in self._store.ask(lambda db: answers.headers(db, sql, asked)):
            yield answers.unpacked(row, header)

    def headers_of(self, places: Iterable[str]) -> Iterator[tuple[Row, dict[str, Any]]]:
        """Give the same as `headers` for files named as rows name them; unknown ones are passed over.

        Raises:
            StorageError: The index can neither be read nor made.
        """
        wanted = tuple(places)
        for row, header in self._store.ask(lambda db: answers.headers_of(db, wanted)):
            yield answers.unpacked(row, header)

    def places(self, query: Query | None = None) -> tuple[str, ...]:
        """Return the files that a query asks for as rows name them, in its order; cheaper than their rows.

        Raises:
            StorageError: The index can neither be read nor made.
        """
        asked = query or Query(limit=None)
        sql = Sql(asked, full_text=self._store.full_text)
        return tuple(self._store.ask(lambda db: answers.paths(db, sql, asked)))

    def paths(self, query: Query | None = None) -> tuple[Path, ...]:
        """Return the files that a query asks for, in its order.

        Raises:
            StorageError: The index can neither be read nor made.
        """
        return tuple(self.logbook.root / place for place in self.places(query))

    def rows(self, places: Iterable[str], *, wait_s: float | None = None) -> dict[str, Row]:
        """Return the rows of these files by place, without those that the index does not know.

        Args:
            places: Files as rows name them.
            wait_s: How long to wait for another who writes; the usual time where None.

        Raises:
            StorageError: The index can neither be read nor made, or others still write to it.
        """
        wanted = tuple(places)
        return self._store.ask(lambda db: answers.rows_of(db, wanted), wait_s=wait_s)

    def row(self, path: Path) -> Row | None:
        """Return the row of one file, None if the index does not know it.

        Raises:
            StorageError: The index can neither be read nor made.
        """
        place = self.place_of(path)
        return None if place is None else self.rows([place]).get(place)

    def choices(self) -> Choices:
        """Return the machines, probes and tags that occur.

        Raises:
            StorageError: The index can neither be read nor made.
        """
        return self._store.ask(answers.choices)


_JobDone = tuple[int, list[FileRow]]


def _tell_nobody(_done: int, _total: int) -> None:
    pass


def _never() -> bool:
    return False


def _read_job(job: tuple[str, list[Found]]) -> _JobDone:
    root, found = job
    now_ns = time.time_ns()
    return now_ns, [read_row(Path(root), file) for file in found]


def _is_current(file: Found, known: tuple[int, int, int] | None) -> bool:
    if known is None:
        return False
    size, mtime_ns, read_ns = known
    return (file.size, file.mtime_ns) == (size, mtime_ns) and mtime_ns < read_ns - DOUBT_NS
