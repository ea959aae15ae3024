"""The index's tables, and opening the file they lie in.

Nothing in it is precious: whatever is wrong with the file, it is deleted and made again.
"""

from __future__ import annotations

import contextlib
import sqlite3
from functools import cache
from typing import TYPE_CHECKING

from benchtemp.errors import StorageError
from benchtemp.logbook.lock import edit_turn
from benchtemp.logbook.regular_file import shown

if TYPE_CHECKING:
    from pathlib import Path

APPLICATION_ID = 0x6274_6978
VERSION = 3
"""Raise it whenever the tables or what is put into them changes."""
WAIT_S = 10.0
PAGE_BYTES = 16_384
"""A search reads whole tables: fewer and larger pages are read faster."""

_TABLES = """
CREATE TABLE files (
    id INTEGER PRIMARY KEY,
    path TEXT NOT NULL UNIQUE,
    size INTEGER NOT NULL,
    mtime_ns INTEGER NOT NULL,
    read_ns INTEGER NOT NULL,  -- when it was read, by this computer's clock; 0 to read it again anyway
    name TEXT NOT NULL, shown_machine TEXT, recording TEXT
);
CREATE INDEX files_by_recording ON files (recording);
-- What rows are narrowed down and sorted by, and nothing else: every search goes through all of it.
CREATE TABLE looks (
    id INTEGER PRIMARY KEY,
    utc_s REAL, tie INTEGER NOT NULL, day TEXT, kind TEXT NOT NULL, machine TEXT, probe TEXT, number INTEGER,
    brew_temp_degc REAL, sd_k REAL, drift_k_per_s REAL, time_to_plateau_s REAL,
    plateau_s REAL, shot_time_s REAL, dose_g REAL, yield_g REAL, brew_ratio REAL,
    in_band_share REAL, verdict TEXT, counts INTEGER, aside INTEGER NOT NULL
);
CREATE INDEX looks_by_moment ON looks (utc_s, tie);
-- Names and values are folded for comparing; what is shown comes from the rows.
CREATE TABLE tags (file INTEGER NOT NULL, name TEXT NOT NULL, value TEXT NOT NULL, number REAL,
    shown_name TEXT NOT NULL, shown_value TEXT NOT NULL, PRIMARY KEY (name, file)) WITHOUT ROWID;
CREATE INDEX tags_by_file ON tags (file);
CREATE INDEX tags_by_name ON tags (name, value);
CREATE TABLE probes (file INTEGER NOT NULL, name TEXT NOT NULL, shown TEXT NOT NULL);
CREATE INDEX probes_by_file ON probes (file);
CREATE INDEX probes_by_name ON probes (name, file);
CREATE TABLE rows (id INTEGER PRIMARY KEY, row BLOB NOT NULL);
CREATE TABLE headers (id INTEGER PRIMARY KEY, header BLOB NOT NULL);
CREATE TABLE texts (id INTEGER PRIMARY KEY, folded TEXT NOT NULL);
"""
_FULL_TEXT = """
CREATE VIRTUAL TABLE trigrams USING fts5(folded, content='texts', content_rowid='id', tokenize='trigram');
CREATE TRIGGER texts_added AFTER INSERT ON texts BEGIN
    INSERT INTO trigrams (rowid, folded) VALUES (new.id, new.folded);
END;
CREATE TRIGGER texts_removed AFTER DELETE ON texts BEGIN
    INSERT INTO trigrams (trigrams, rowid, folded) VALUES ('delete', old.id, old.folded);
END;
"""
_NAMES = ("trigrams", "texts", "headers", "rows", "probes", "tags", "looks", "files")
# A lock held by others, a full disk or a folder that may not be written: the file itself is sound.
_NOT_DAMAGED = {
    sqlite3.SQLITE_BUSY,
    sqlite3.SQLITE_LOCKED,
    sqlite3.SQLITE_FULL,
    sqlite3.SQLITE_READONLY,
    sqlite3.SQLITE_IOERR,
    sqlite3.SQLITE_CANTOPEN,
    sqlite3.SQLITE_NOMEM,
    sqlite3.SQLITE_PERM,
    sqlite3.SQLITE_AUTH,
    sqlite3.SQLITE_INTERRUPT,
    sqlite3.SQLITE_TOOBIG,
}


@cache
def has_full_text() -> bool:
    """Return whether this computer's SQLite can search texts by trigrams; it is an option of its build."""
    with contextlib.closing(sqlite3.connect(":memory:")) as db:
        try:
            db.execute("CREATE VIRTUAL TABLE probe USING fts5(folded, tokenize='trigram')")
        except sqlite3.OperationalError:
            return False
    return True


def code_of(error: Exception) -> int | None:
    """Return SQLite's own primary code of an error, None for any other error."""
    code = getattr(error, "sqlite_errorcode", None)
    return code & 0xFF if isinstance(code, int) else None


def is_damage(error: Exception) -> bool:
    """Return whether an error says that the file is no sound index, rather than out of reach for now."""
    return isinstance(error, sqlite3.DatabaseError) and code_of(error) not in _NOT_DAMAGED


def connect(path: Path, *, full_text: bool, wait_s: float | None = None) -> sqlite3.Connection:
    """Open the index at `path`, made anew where it is missing, of another kind, or damaged.

    Args:
        path: The index's file.
        full_text: Whether it shall hold an index of trigrams.
        wait_s: How long questions wait for one who writes; the usual time where None.

    Raises:
        sqlite3.Error: It can neither be read nor made.
        OSError: Its folder cannot be made, or the damaged file not be removed.
    """
    with contextlib.suppress(sqlite3.DatabaseError):
        db = _opened(path, wait_s)
        if _is_ours(db):
            return db
        db.close()
    with edit_turn(path, WAIT_S):
        return _made(path, full_text=full_text)


def _opened(path: Path, wait_s: float | None = None) -> sqlite3.Connection:
    db = sqlite3.connect(path, timeout=WAIT_S if wait_s is None else wait_s, isolation_level=None)
    try:
        # Spilling a large change before it is complete would lock readers out for as long.
        db.execute("PRAGMA synchronous = NORMAL")
        db.execute("PRAGMA cache_size = -65536")
        db.execute("PRAGMA cache_spill = OFF")
        db.execute("PRAGMA temp_store = MEMORY")
    except sqlite3.Error:
        db.close()
        raise
    return db


def _is_ours(db: sqlite3.Connection) -> bool:
    try:
        (application,) = db.execute("PRAGMA application_id").fetchone()
        (version,) = db.execute("PRAGMA user_version").fetchone()
    except sqlite3.Error:
        db.close()
        raise
    return bool(application == APPLICATION_ID and version == VERSION)


def _made(path: Path, *, full_text: bool) -> sqlite3.Connection:
    """Make the index anew, unless another process has done so meanwhile."""
    path.parent.mkdir(parents=True, exist_ok=True)
    try:
        db = _opened(path)
        if _is_ours(db):
            return db
        db.close()
    except sqlite3.DatabaseError as error:
        if not is_damage(error):
            raise
    remove(path)
    db = _opened(path)
    try:
        db.execute(f"PRAGMA page_size = {PAGE_BYTES}")
        db.execute("PRAGMA journal_mode = DELETE")
        empty(db, full_text=full_text)
    except sqlite3.Error:
        db.close()
        raise
    return db


def empty(db: sqlite3.Connection, *, full_text: bool) -> None:
    """Make all tables anew, in one transaction.

    Raises:
        sqlite3.DatabaseError: The file is damaged.
    """
    old = "".join(f"DROP TABLE IF EXISTS {name};" for name in _NAMES)
    tables = _TABLES + (_FULL_TEXT if full_text else "")
    try:
        db.executescript(
            f"BEGIN IMMEDIATE; {old} {tables} PRAGMA application_id = {APPLICATION_ID};"
            f"PRAGMA user_version = {VERSION}; COMMIT;"
        )
    except sqlite3.Error:
        if db.in_transaction:
            db.execute("ROLLBACK")
        raise


def remove(path: Path) -> None:
    """Delete an index and its journal."""
    for name in (path.name, f"{path.name}-journal"):
        path.with_name(name).unlink(missing_ok=True)


def trouble(error: Exception, path: Path) -> StorageError:
    """Return the sentence for an index that cannot be used for a reason outside it."""
    code = code_of(error)
    if code == sqlite3.SQLITE_BUSY:
        return StorageError("The logbook's list is being written by another window; try again in a moment.")
    cure = "make room on that disk" if code == sqlite3.SQLITE_FULL else "look at that folder and its disk"
    return StorageError(f"The logbook's list at {shown(path)} cannot be kept ({error}); {cure}.")
