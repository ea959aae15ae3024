from __future__ import annotations

import os
import time
from typing import TYPE_CHECKING

import pytest
from astropy.table import Table

from benchtemp.errors import BadInput
from benchtemp.logbook.ecsv import read_stream, write_stream
from benchtemp.logbook.header_text import MAGIC
from benchtemp.logbook.interrupted import REST_S, close_interrupted, find_interrupted
from benchtemp.logbook.recording import RecordingWriter
from benchtemp.logbook.shot_file import Condition, verify
from benchtemp.readings.reading import Reading, Stream

if TYPE_CHECKING:
    from pathlib import Path


@pytest.fixture
def content(tmp_path: Path) -> bytes:
    """Return the bytes of a recording of three rows, up to its closing line."""
    (tmp_path / "made").mkdir()
    writer = RecordingWriter(tmp_path / "made" / "r.ecsv", ("T1",), False, {})  # noqa: FBT003
    for number in range(3):
        writer.append(Reading(float(number), (90.0 + number,)))
    writer.close()
    whole = writer.path.read_bytes()
    return whole[: whole.rindex(b"# closed")]


def test_a_torn_row_moves_to_a_file_beside(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "r.ecsv"
    path.write_bytes(content + b"3.0,9" + b"\0" * 700)
    (found,) = find_interrupted(tmp_path)
    assert found.path == path
    closed = close_interrupted(path)
    assert closed.torn == tmp_path / "r.ecsv.torn"
    assert closed.torn.read_bytes() == b"3.0,9"
    assert path.read_bytes().startswith(content + b"# closed after an interruption sha256:")
    assert read_stream(path).t_s.tolist() == [0.0, 1.0, 2.0]
    assert read_stream(path).warnings == ()
    assert verify(path).condition is Condition.WHOLE
    assert len(Table.read(path, format="ascii.ecsv")) == 3


def test_cut_at_any_byte_it_is_closed_and_nothing_is_lost(tmp_path: Path, content: bytes) -> None:
    folder = tmp_path / "cut"
    folder.mkdir()
    rows_at = content.index(b"t,")
    for cut in [0, 5, rows_at - 1, *range(rows_at, len(content) + 1)]:
        path = folder / "r.ecsv"
        path.write_bytes(content[:cut])
        os.utime(path, (0, 0))
        (found,) = find_interrupted(folder)
        closed = close_interrupted(path)
        assert found.readable == (closed.path is not None)
        kept = b""
        if closed.path is not None:
            whole = path.read_bytes()
            kept = whole[: whole.rindex(b"# closed")]
            assert find_interrupted(folder) == ()
            before = path.read_bytes()
            assert close_interrupted(path).torn is None
            assert path.read_bytes() == before
        torn = closed.torn.read_bytes() if closed.torn else b""
        assert kept + torn == content[:cut]
        for entry in folder.iterdir():
            entry.unlink()


def test_a_second_torn_file_does_not_overwrite_the_first(tmp_path: Path, content: bytes) -> None:
    (tmp_path / "r.ecsv.torn").write_bytes(b"earlier")
    (tmp_path / "r.ecsv").write_bytes(content + b"3.0,9")
    torn = close_interrupted(tmp_path / "r.ecsv").torn
    assert torn is not None
    assert torn.read_bytes() == b"3.0,9"
    assert (tmp_path / "r.ecsv.torn").read_bytes() == b"earlier"


def test_other_peoples_files_are_left_alone(tmp_path: Path, small_stream: Stream) -> None:
    write_stream(tmp_path / "shot.ecsv", small_stream)
    Table({"t": [1.0]}).write(tmp_path / "theirs.ecsv", format="ascii.ecsv")
    (tmp_path / "text.ecsv").write_text("hello", encoding="utf-8")
    (tmp_path / "folder.ecsv").mkdir()
    (tmp_path / "notes.txt").write_text(MAGIC, encoding="utf-8")
    for path in tmp_path.iterdir():
        os.utime(path, (0, 0))
    assert find_interrupted(tmp_path) == ()
    with pytest.raises(BadInput):
        close_interrupted(tmp_path / "text.ecsv")
    assert find_interrupted(tmp_path / "missing") == ()


def test_a_recording_from_another_computer_is_given_a_day(
    tmp_path: Path, content: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "r.ecsv"
    path.write_bytes(content)
    monkeypatch.setattr("benchtemp.logbook.interrupted.this_computer", lambda: "another")
    assert find_interrupted(tmp_path) == ()
    old = time.time() - REST_S - 60
    os.utime(path, (old, old))
    assert [found.path for found in find_interrupted(tmp_path)] == [path]
