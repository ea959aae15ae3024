"""Putting rows into the index, and taking them out."""

from __future__ import annotations

import datetime as dt
import hashlib
import re
import time
import zlib
from math import isfinite
from typing import TYPE_CHECKING

import msgspec

from benchtemp.logbook.index.folding import folded
from benchtemp.logbook.index.row import Kind
from benchtemp.shots.recipe import RecipeVerdict

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Iterable

    from benchtemp.logbook.index.file_row import FileRow
    from benchtemp.logbook.index.row import Row

TEXTS_MAX = 32_000
"""Characters of one file's texts that can be searched."""

_RECIPE = {RecipeVerdict.WITHIN: "recipe kept", RecipeVerdict.OUTSIDE: "outside the recipe"}
_NUMBER = re.compile(r"\s*([+-]?\d+(?:[.,]\d+)?)")
_FILES = "path, size, mtime_ns, read_ns, name, shown_machine, recording"
_LOOKS = (
    "id, utc_s, tie, day, kind, machine, probe, number,"
    " brew_temp_degc, sd_k, drift_k_per_s, time_to_plateau_s, plateau_s, shot_time_s, dose_g, yield_g,"
    " brew_ratio, in_band_share, verdict, counts, aside"
)


def _insert(table: str, columns: str) -> str:
    return f"INSERT INTO {table} ({columns}) VALUES ({', '.join('?' * (columns.count(',') + 1))})"  # noqa: S608


_INSERT_FILE, _INSERT_LOOK = _insert("files", _FILES), _insert("looks", _LOOKS)


def put(db: sqlite3.Connection, read: Iterable[FileRow], read_ns: int) -> int:
    """Put rows in, each in place of an earlier one of the same path; within the caller's transaction.

    A row that another thread or process read later than this one is left as it is.

    Args:
        db: The index.
        read: What was read.
        read_ns: When reading began, by this computer's clock.

    Returns: how many rows are new or other than before.
    """
    now_ns = time.time_ns()
    changed = 0
    for file in read:
        row, encoded = file.row, msgspec.json.encode(file.row)
        before = db.execute(
            "SELECT id, read_ns, row FROM files JOIN rows USING (id) WHERE path = ?", (row.path,)
        ).fetchone()
        if before is not None:
            number, before_ns, before_row = before
            if read_ns < before_ns <= now_ns:
                continue
            if before_row == encoded:
                db.execute("UPDATE files SET read_ns = ? WHERE id = ?", (_kept_ns(row, read_ns), number))
                db.execute(
                    "UPDATE headers SET header = ? WHERE id = ?", (zlib.compress(file.header, 1), number)
                )
                continue
            take_out(db, [row.path])
        _put_one(db, file, encoded, read_ns)
        changed += 1
    return changed


def _put_one(db: sqlite3.Connection, file: FileRow, encoded: bytes, read_ns: int) -> None:
    row = file.row
    number = db.execute(_INSERT_FILE, _file_values(row, read_ns)).lastrowid
    db.execute(_INSERT_LOOK, (number, *_look_values(row)))
    db.execute("INSERT INTO rows VALUES (?, ?)", (number, encoded))
    db.execute("INSERT INTO headers VALUES (?, ?)", (number, zlib.compress(file.header, 1)))
    db.execute("INSERT INTO texts VALUES (?, ?)", (number, searchable(row)))
    db.executemany(
        # Two names that differ in case only are one tag here; the first of them is found.
        "INSERT OR IGNORE INTO tags VALUES (?, ?, ?, ?, ?, ?)",
        [
            (number, folded(name), folded(value), _leading_number(value), name, value)
            for name, value in row.tags.items()
        ],
    )
    db.executemany(
        "INSERT INTO probes VALUES (?, ?, ?)", [(number, folded(probe), probe) for probe in row.probes]
    )


def take_out(db: sqlite3.Connection, paths: Iterable[str]) -> int:
    """Take rows out; within the caller's transaction. Returns how many there were."""
    taken = 0
    for path in paths:
        found = db.execute("SELECT id FROM files WHERE path = ?", (path,)).fetchone()
        if found is None:
            continue
        taken += 1
        for table in ("rows", "headers", "texts", "looks"):
            db.execute(f"DELETE FROM {table} WHERE id = ?", found)  # noqa: S608
        for table in ("tags", "probes"):
            db.execute(f"DELETE FROM {table} WHERE file = ?", found)  # noqa: S608
        db.execute("DELETE FROM files WHERE id = ?", found)
    return taken


def searchable(row: Row) -> str:
    """Return all that a free search looks through, folded; lines keep one text from running into the next."""
    texts = (
        _what(row),
        row.moment[:16].replace("T", " "),
        row.notes,
        *row.remarks,
        *(f"{name} {value}" for name, value in row.tags.items()),
        row.machine,
        *row.probes,
        row.set_aside,
        *row.reasons,
        row.name,
        row.complaint,
    )
    return "\n".join(folded(text) for text in texts if text)[:TEXTS_MAX]


def _what(row: Row) -> str:
    """Return in a word or two what a file is and came to, to be found by."""
    what = f"shot {row.number}" if row.kind is Kind.SHOT else str(row.kind)
    if row.counts is None or row.kind is not Kind.SHOT:
        return what
    recipe = _RECIPE.get(row.verdict or RecipeVerdict.NOT_GIVEN, "")
    return f"{what}, {'counts' if row.counts else 'does not count'}, {recipe}"


def _kept_ns(row: Row, read_ns: int) -> int:
    """Return when a row was read; a file that could not be read may be there to read next time."""
    return 0 if row.kind is Kind.UNREADABLE else read_ns


def _file_values(row: Row, read_ns: int) -> tuple[object, ...]:
    return (
        row.path,
        row.size,
        row.mtime_ns,
        _kept_ns(row, read_ns),
        folded(row.name),
        row.machine or None,
        row.recording or None,
    )


def _look_values(row: Row) -> tuple[object, ...]:
    return (
        utc_s(row.moment),
        tie(row.path),
        row.day or None,
        str(row.kind),
        folded(row.machine) or None,
        folded(row.probe) or None,
        row.number or None,
        row.brew_temp_degc,
        row.sd_k,
        row.drift_k_per_s,
        row.time_to_plateau_s,
        row.plateau_s,
        row.shot_time_s,
        row.dose_g,
        row.yield_g,
        row.brew_ratio,
        row.in_band_share,
        None if row.verdict is None else str(row.verdict),
        None if row.counts is None else int(row.counts),
        int(bool(row.set_aside)),
    )


def tie(path: str) -> int:
    """Return what orders files of which all else is equal: always the same, and quicker than their paths."""
    digest = hashlib.blake2b(path.encode("utf-8", "replace"), digest_size=8).digest()
    return int.from_bytes(digest, signed=True)


def utc_s(moment: str) -> float | None:
    """Return an ISO 8601 moment in s since 1970, None if it is none; without an offset UTC is meant.

    The computer's own time zone must not matter, or the same files would give other rows elsewhere.
    """
    try:
        found = dt.datetime.fromisoformat(moment)
        if found.tzinfo is None:
            found = found.replace(tzinfo=dt.UTC)
        return found.timestamp()
    except (ValueError, OverflowError):
        return None


def _leading_number(text: str) -> float | None:
    found = _NUMBER.match(text)
    number = float(found[1].replace(",", ".")) if found else None
    return number if number is not None and isfinite(number) else None
