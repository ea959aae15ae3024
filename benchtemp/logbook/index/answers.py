"""What the index answers, from an open connection."""

from __future__ import annotations

import zlib
from typing import TYPE_CHECKING, Any

import msgspec

from benchtemp.logbook.index.query import HITS, Page, Query, Sql
from benchtemp.logbook.index.row import Row

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Iterable


class Choices(msgspec.Struct, frozen=True):
    """What can be chosen from, most used first, as written.

    Attributes:
        machines, probes: Names.
        tags: Tag names with their values.
    """

    machines: tuple[str, ...]
    probes: tuple[str, ...]
    tags: dict[str, tuple[str, ...]]


def page(db: sqlite3.Connection, sql: Sql, query: Query) -> Page:
    """Return the rows of a query's page."""
    ids, total = _ids(db, sql, query)
    found = _each(db, ids, "SELECT row FROM rows WHERE id = ?")
    return Page(tuple(msgspec.json.decode(row, type=Row) for (row,) in found), total)


def headers(db: sqlite3.Connection, sql: Sql, query: Query) -> list[tuple[bytes, bytes]]:
    """Return the rows of a query's page with their files' headers, packed; see `unpacked`."""
    ids, _ = _ids(db, sql, query)
    return _each(db, ids, "SELECT row, header FROM rows JOIN headers USING (id) WHERE id = ?")


def unpacked(row: bytes, header: bytes) -> tuple[Row, dict[str, Any]]:
    """Return a row and its file's header."""
    return msgspec.json.decode(row, type=Row), msgspec.json.decode(zlib.decompress(header)) or {}


def paths(db: sqlite3.Connection, sql: Sql, query: Query) -> list[str]:
    """Return the files of a query's page."""
    _look_up(db, sql)
    limit = -1 if query.limit is None else query.limit
    ordered = f"SELECT f.id FROM looks f{sql.joins}{sql.where}{sql.order} LIMIT ? OFFSET ?"  # noqa: S608
    # Sorted first, so that paths are not carried about: there may be very many.
    select = f"SELECT (SELECT path FROM files WHERE files.id = o.id) FROM ({ordered}) AS o"  # noqa: S608
    return [path for (path,) in db.execute(select, [*sql.values, limit, query.offset])]


def rows_of(db: sqlite3.Connection, paths: Iterable[str]) -> dict[str, Row]:
    """Return the rows of these files, without those that are not known."""
    select = "SELECT row FROM rows WHERE id = (SELECT id FROM files WHERE path = ?)"
    return {
        path: msgspec.json.decode(row, type=Row) for path in paths for (row,) in db.execute(select, (path,))
    }


def headers_of(db: sqlite3.Connection, paths: Iterable[str]) -> list[tuple[bytes, bytes]]:
    """Return the rows of these files with their headers, packed; without those that are not known."""
    select = (
        "SELECT row, header FROM rows JOIN headers USING (id)"
        " WHERE id = (SELECT id FROM files WHERE path = ?)"
    )
    return [found for path in paths for found in db.execute(select, (path,))]


def choices(db: sqlite3.Connection) -> Choices:
    """Return the machines, probes and tags that occur."""
    tags: dict[str, list[str]] = {}
    shown_name: dict[str, str] = {}
    for folded_name, name, value in db.execute(
        "SELECT name, min(shown_name), min(shown_value) FROM tags GROUP BY name, value"
        " ORDER BY count(*) DESC, value"
    ):
        tags.setdefault(shown_name.setdefault(folded_name, name), []).append(value)
    machines = db.execute(
        "SELECT min(shown_machine) FROM files JOIN looks USING (id) WHERE machine IS NOT NULL"
        " GROUP BY machine ORDER BY count(*) DESC, machine"
    )
    probes = db.execute("SELECT min(shown) FROM probes GROUP BY name ORDER BY count(*) DESC, name")
    return Choices(
        tuple(machine for (machine,) in machines),
        tuple(probe for (probe,) in probes),
        {name: tuple(values) for name, values in tags.items()},
    )


def known_files(db: sqlite3.Connection) -> dict[str, tuple[int, int, int]]:
    """Return each file's size, time of change and time of reading; 0 for one to be read again anyway."""
    known = db.execute("SELECT path, size, mtime_ns, read_ns FROM files")
    return {path: (size, mtime_ns, read_ns) for path, size, mtime_ns, read_ns in known}


def _ids(db: sqlite3.Connection, sql: Sql, query: Query) -> tuple[list[int], int]:
    """Return the files of a query's page in order, and how many there are on all pages.

    The caller's transaction keeps what others change in between out of it.
    """
    _look_up(db, sql)
    found = f"FROM looks f{sql.joins}{sql.where}"
    # Counting them all and keeping the first few is far less work than sorting them all.
    (total,) = db.execute(f"SELECT count(*) {found}", sql.values).fetchone()
    limit = total if query.limit is None else query.limit
    chosen = db.execute(
        f"SELECT f.id {found}{sql.order} LIMIT ? OFFSET ?",
        [*sql.values, limit, query.offset],
    )
    return [number for (number,) in chosen], total


def _look_up(db: sqlite3.Connection, sql: Sql) -> None:
    """Begin a transaction, and find once what holds the words."""
    if sql.hits is not None:
        db.execute(f"CREATE TEMP TABLE {HITS.partition('.')[2]} (id INTEGER PRIMARY KEY)")
    db.execute("BEGIN")
    if sql.hits is not None:
        select, values = sql.hits
        db.execute(f"INSERT INTO {HITS} {select}", values)


def _each(db: sqlite3.Connection, ids: list[int], select: str) -> list[Any]:
    """Return what a SELECT gives for each file; only these are read whole, not all that were sorted."""
    return [found for number in ids for found in db.execute(select, (number,))]
