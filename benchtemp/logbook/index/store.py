"""The index's file: opened for every question, closed after it, made again when it is damaged."""

from __future__ import annotations

import contextlib
import hashlib
import os
import shutil
import sqlite3
import tempfile
import threading
import weakref
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from benchtemp.logbook.index import schema
from benchtemp.places import cache_dir

if TYPE_CHECKING:
    from collections.abc import Callable

Answer = TypeVar("Answer")

_OUT_OF_REACH = {sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_READONLY, sqlite3.SQLITE_IOERR, sqlite3.SQLITE_PERM}


class Store:
    """One index file; every method may be called from any thread.

    Where its folder cannot be written, a file for this run alone takes its place.

    Attributes:
        path: The file in use.
        full_text: Whether it holds an index of trigrams.
    """

    def __init__(self, root: Path, *, full_text: bool | None) -> None:
        """Name the file for a logbook; nothing is opened yet.

        Args:
            root: The logbook's folder.
            full_text: None for what this computer's SQLite has.
        """
        self.full_text = schema.has_full_text() if full_text is None else full_text
        key = hashlib.sha256(os.fsencode(os.path.normcase(root.absolute()))).hexdigest()[:24]
        name = f"index-{schema.VERSION}{'' if self.full_text else '-plain'}.sqlite"
        self.path = cache_dir() / "logbooks" / key / name
        self._lock = threading.Lock()
        self._stands_in = False

    def ask(self, question: Callable[[sqlite3.Connection], Answer], *, wait_s: float | None = None) -> Answer:
        """Return what `question` makes of the index; one found damaged is made anew, empty, and asked again.

        Args:
            question: Gets the open index.
            wait_s: How long to wait for another who writes; the usual time where None.

        Raises:
            StorageError: The index can neither be read nor made.
        """
        for tries_left in (2, 1, 0):
            path = self.path
            try:
                opened = schema.connect(path, full_text=self.full_text, wait_s=wait_s)
                with contextlib.closing(opened) as db:
                    return question(db)
            except (sqlite3.Error, OSError) as error:
                if schema.is_damage(error):
                    if not tries_left:
                        raise
                    with contextlib.suppress(OSError):
                        schema.remove(path)
                elif not tries_left or not self._stand_in(error, path):
                    raise schema.trouble(error, path) from error
        raise AssertionError("the last try answers or raises")

    def write(self, change: Callable[[sqlite3.Connection], Answer]) -> Answer:
        """Return what `change` did, all of it or nothing; others wait for it.

        Raises:
            StorageError: The index can neither be written nor made.
        """

        def in_transaction(db: sqlite3.Connection) -> Answer:
            db.execute("BEGIN IMMEDIATE")
            try:
                done = change(db)
                db.execute("COMMIT")
            except BaseException:
                if db.in_transaction:
                    db.execute("ROLLBACK")
                raise
            return done

        return self.ask(in_transaction)

    def empty(self) -> None:
        """Take everything out."""
        self.ask(lambda db: schema.empty(db, full_text=self.full_text))

    def _stand_in(self, error: Exception, tried: Path) -> bool:
        """Use a file for this run alone if the usual place is out of reach; return whether to try again."""
        if isinstance(error, sqlite3.Error) and schema.code_of(error) not in _OUT_OF_REACH:
            return False
        with self._lock:
            if self._stands_in:
                return self.path != tried  # another thread has changed it meanwhile
            try:
                folder = Path(tempfile.mkdtemp(prefix="benchtemp-"))
            except OSError:
                return False
            weakref.finalize(self, shutil.rmtree, folder, ignore_errors=True)
            self.path = folder / tried.name
            self._stands_in = True
        return True
