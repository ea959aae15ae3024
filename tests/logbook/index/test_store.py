"""Whatever happens to the index's own file, the list comes back by itself."""

from __future__ import annotations

import contextlib
import os
import sqlite3
import sys
from typing import TYPE_CHECKING

import pytest

from benchtemp.errors import StorageError
from benchtemp.logbook.folder import Logbook
from benchtemp.logbook.index import LogbookIndex, Query, schema
from benchtemp.logbook.index import store as store_module

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path


def overwrite(path: Path, start: int, content: bytes) -> None:
    with path.open("r+b") as file:
        file.seek(start)
        file.write(content)


def run_sql(path: Path, script: str) -> None:
    with contextlib.closing(sqlite3.connect(path)) as db:
        db.executescript(script)


OTHER_ROWS = """UPDATE rows SET row = '{"path": "not ours"}';"""
HARM: dict[str, Callable[[Path], object]] = {
    "garbage": lambda path: path.write_bytes(b"not a database " * 500),
    "empty": lambda path: path.write_bytes(b""),
    "cut": lambda path: path.write_bytes(path.read_bytes()[:5000]),
    "overwritten inside": lambda path: overwrite(path, 4096, b"\xff" * 40000),
    "another program's": lambda path: run_sql(path, f"{OTHER_ROWS} PRAGMA application_id = 7;"),
    "an older version": lambda path: run_sql(path, f"{OTHER_ROWS} PRAGMA user_version = 0;"),
    "a newer version": lambda path: run_sql(
        path, f"{OTHER_ROWS} PRAGMA user_version = {schema.VERSION + 1};"
    ),
    "a table is missing": lambda path: run_sql(path, "DROP TABLE rows;"),
    "an old shape": lambda path: run_sql(path, "ALTER TABLE looks RENAME COLUMN utc_s TO began;"),
    "gone": lambda path: path.unlink(),
}


@pytest.mark.parametrize("harm", HARM)
def test_a_damaged_index_is_made_again_without_a_word(
    index: LogbookIndex, make_shot: Callable[..., Path], harm: str
) -> None:
    for number in range(30):
        make_shot(number, notes=f"note {number}")
    index.update()
    before = index.search(Query(limit=None)).rows
    HARM[harm](index.path)
    index.search(Query(text="note"))
    index.update()
    assert index.search(Query(limit=None)).rows == before
    assert index.search(Query(text='"note 17"')).total == 1


def test_the_index_lies_with_the_programs_own_data(
    index: LogbookIndex, make_shot: Callable[..., Path]
) -> None:
    make_shot(1)
    before = sorted(index.logbook.root.rglob("*"))
    index.update()
    assert os.environ["BENCHTEMP_CACHE"] in str(index.path)
    assert sorted(index.logbook.root.rglob("*")) == before
    with contextlib.closing(sqlite3.connect(index.path)) as db:
        assert db.execute("PRAGMA journal_mode").fetchone() == ("delete",)
        assert db.execute("PRAGMA application_id").fetchone() == (schema.APPLICATION_ID,)
        assert db.execute("PRAGMA integrity_check").fetchone() == ("ok",)


def test_two_logbooks_have_two_indexes(index: LogbookIndex, tmp_path: Path) -> None:
    assert LogbookIndex(Logbook(tmp_path / "other")).path != index.path
    assert LogbookIndex(Logbook(tmp_path / "logbook")).path == index.path


def test_without_a_cache_folder_the_list_works_all_the_same(
    make_shot: Callable[..., Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    blocked = tmp_path / "blocked"
    blocked.write_text("a file where the folder should be")
    monkeypatch.setenv("BENCHTEMP_CACHE", str(blocked / "cache"))
    make_shot(1)
    index = LogbookIndex(Logbook(tmp_path / "logbook"))
    index.update()
    assert index.search().total == 1
    stand_in = index.path
    assert stand_in.exists()
    del index
    assert not stand_in.exists()


@pytest.mark.skipif(sys.platform == "win32" or os.geteuid() == 0, reason="needs a user who can be refused")
def test_an_index_that_may_not_be_written_is_stood_in_for(
    index: LogbookIndex, make_shot: Callable[..., Path]
) -> None:
    index.update()
    index.path.chmod(0o400)
    index.path.parent.chmod(0o500)
    try:
        make_shot(1)
        index.update()
        assert index.search().total == 1
    finally:
        index.path.parent.chmod(0o700)


def test_a_locked_index_is_told_and_not_thrown_away(
    index: LogbookIndex, make_shot: Callable[..., Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    make_shot(1)
    index.update()
    monkeypatch.setattr(schema, "WAIT_S", 0.02)
    with contextlib.closing(sqlite3.connect(index.path, isolation_level=None)) as db:
        db.execute("BEGIN EXCLUSIVE")
        with pytest.raises(StorageError, match="being written by another window"):
            index.search()
        db.execute("ROLLBACK")
    assert index.search().total == 1


def test_a_full_disk_is_told(index: LogbookIndex, make_shot: Callable[..., Path]) -> None:
    for number in range(20):
        make_shot(number, notes="x" * 4000)
    index.update()
    connect = schema.connect

    def small(path: Path, *, full_text: bool, wait_s: float | None) -> sqlite3.Connection:
        db = connect(path, full_text=full_text, wait_s=wait_s)
        db.execute("PRAGMA max_page_count = 1")  # SQLite's own way to say that there is no more room
        return db

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(store_module.schema, "connect", small)
        for number in range(20, 40):
            make_shot(number, notes="y" * 4000)
        with pytest.raises(StorageError, match="make room on that disk"):
            index.update()
    assert index.search().total == 20
    index.update()
    assert index.search().total == 40


def test_a_fault_of_ours_is_not_taken_for_damage_for_ever(index: LogbookIndex) -> None:
    with pytest.raises(sqlite3.OperationalError, match="no such table"):
        index._store.ask(lambda db: db.execute("SELECT * FROM no_such"))
