from __future__ import annotations

import os
import stat
import subprocess
import sys
import threading
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from astropy.table import Table
from hypothesis import given
from hypothesis import strategies as st

from benchtemp.errors import BadInput, StorageError
from benchtemp.logbook import lock, shot_file
from benchtemp.logbook.ecsv import read_meta, read_stream, write_stream
from benchtemp.logbook.recording import RecordingWriter
from benchtemp.logbook.shot_file import Condition, replace_shot, rewrite_header, verify, write_shot
from benchtemp.readings.reading import Reading, Stream

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path


@pytest.fixture(autouse=True)
def _own_cache(tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("BENCHTEMP_CACHE", str(tmp_path_factory.mktemp("cache")))


@pytest.fixture
def shot(tmp_path: Path, small_stream: Stream) -> Path:
    """Return the file of a shot."""
    return write_shot(tmp_path / "shot.ecsv", small_stream)


def rows_of(path: Path) -> bytes:
    content = path.read_bytes()
    return content[content.index(b"\nt,") :]


def tagged(name: str, value: Any) -> Callable[[dict[str, Any]], dict[str, Any]]:
    return lambda meta: {**meta, "tags": {**meta["tags"], name: value}}


def test_a_shot_is_written_whole_and_reads_back(
    shot: Path, small_stream: Stream, assert_same_stream: Callable[[Stream, Stream], None]
) -> None:
    found = read_stream(shot)
    digest = found.meta.pop("digest")
    assert_same_stream(found, small_stream)
    assert set(digest) == {"rows", "header"}
    assert verify(shot).condition is Condition.WHOLE
    assert [entry.name for entry in shot.parent.iterdir()] == ["shot.ecsv"]


def test_a_second_shot_never_overwrites_the_first(shot: Path, small_stream: Stream) -> None:
    before = shot.read_bytes()
    assert write_shot(shot, small_stream).name == "shot-2.ecsv"
    assert write_shot(shot, small_stream).name == "shot-3.ecsv"
    assert shot.read_bytes() == before


def test_many_at_once_get_names_of_their_own(tmp_path: Path, small_stream: Stream) -> None:
    paths: list[Path] = []
    barrier = threading.Barrier(6)

    def write() -> None:
        barrier.wait()
        paths.append(write_shot(tmp_path / "s.ecsv", small_stream))

    threads = [threading.Thread(target=write) for _ in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(set(paths)) == 6
    assert {verify(path).condition for path in paths} == {Condition.WHOLE}
    assert len(list(tmp_path.iterdir())) == 6


@pytest.mark.parametrize("fails", ["fsync", "link", "replace"])
def test_a_shot_that_cannot_be_written_leaves_nothing_half(
    shot: Path, small_stream: Stream, monkeypatch: pytest.MonkeyPatch, fails: str
) -> None:
    before = shot.read_bytes()

    def refuse(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, fails, refuse)
    write = write_shot if fails == "link" else replace_shot
    with pytest.raises(StorageError, match="cannot be written"):
        write(shot, small_stream)
    monkeypatch.undo()
    assert shot.read_bytes() == before
    assert [entry.name for entry in shot.parent.iterdir() if entry.name[0] != "."] == ["shot.ecsv"]
    parts = [entry for entry in shot.parent.iterdir() if entry.name[0] == "."]
    assert len(parts) == (0 if fails == "fsync" else 1), "what was whole is kept, what was not is gone"
    assert all(verify(part).condition is Condition.WHOLE for part in parts)


@pytest.mark.skipif(os.name == "nt", reason="renames instead")
def test_a_disk_without_hard_links_still_never_overwrites(
    shot: Path, small_stream: Stream, monkeypatch: pytest.MonkeyPatch
) -> None:
    def no_links(*_: object) -> None:
        raise PermissionError(1, "Operation not permitted")

    monkeypatch.setattr(os, "link", no_links)
    second = write_shot(shot, small_stream)
    assert second.name == "shot-2.ecsv"
    assert verify(second).condition is Condition.WHOLE


CHILD = """
import sys
from pathlib import Path
import numpy as np
from benchtemp.logbook.shot_file import write_shot
from benchtemp.readings.reading import Stream
stream = Stream(("T1",), np.arange(3000.0), np.full((3000, 1), 93.25))
while True:
    print(write_shot(Path(sys.argv[1]) / "s.ecsv", stream).name, flush=True)
"""


@pytest.mark.skipif(os.name == "nt", reason="has no SIGKILL")
@pytest.mark.parametrize("after", [1, 3, 6])
def test_a_program_killed_while_it_writes_leaves_only_whole_shots(tmp_path: Path, after: int) -> None:
    with subprocess.Popen(
        [sys.executable, "-c", CHILD, str(tmp_path)], stdout=subprocess.PIPE, text=True
    ) as child:
        assert child.stdout is not None
        for _ in range(after):
            child.stdout.readline()
        child.kill()
    shots = list(tmp_path.glob("s*.ecsv"))
    assert len(shots) >= after
    assert {verify(path).condition for path in shots} == {Condition.WHOLE}


# Changing a header


def test_a_tag_changed_later_leaves_the_rows_and_a_history(shot: Path) -> None:
    rows = rows_of(shot)
    rewrite_header(shot, tagged("coffee", "no. 9"), at="2025-12-01T08:00:00+01:00")
    meta = rewrite_header(shot, tagged("barista", "M."), at="2025-12-02T08:00:00+01:00")
    assert rows_of(shot) == rows
    assert meta == read_meta(shot)
    assert meta["tags"]["coffee"] == "no. 9"
    assert meta["edits"] == [
        {"at": "2025-12-01T08:00:00+01:00", "changes": {"tags.coffee": ["no. 7", "no. 9"]}},
        {"at": "2025-12-02T08:00:00+01:00", "changes": {"tags.barista": [None, "M."]}},
    ]
    assert verify(shot).condition is Condition.WHOLE
    assert len(Table.read(shot, format="ascii.ecsv")) == 7


def test_nothing_changed_writes_nothing(shot: Path) -> None:
    before = shot.stat()
    rewrite_header(shot, lambda meta: meta)
    assert shot.stat().st_mtime_ns == before.st_mtime_ns
    assert shot.stat().st_ino == before.st_ino


def test_the_history_cannot_be_taken_away_and_stays_bounded(shot: Path) -> None:
    rewrite_header(shot, tagged("note", "first"))
    rewrite_header(shot, lambda meta: {**tagged("note", "second")(meta), "edits": [], "digest": {}})
    assert len(read_meta(shot)["edits"]) == 2
    for number in range(30):
        rewrite_header(shot, tagged("note", f"{number}" + "x" * 2000))
    meta = read_meta(shot)
    assert meta["edits_dropped"] > 0
    assert len(meta["edits"]) + meta["edits_dropped"] == 32
    assert verify(shot).condition is Condition.WHOLE


def test_any_change_of_meta_is_kept_and_verifies(shot: Path) -> None:
    plain = st.recursive(
        st.none() | st.booleans() | st.integers(-9, 9) | st.floats() | st.text(max_size=5),
        lambda inner: st.lists(inner, max_size=2) | st.dictionaries(st.text(max_size=3), inner, max_size=2),
        max_leaves=4,
    )
    rows = rows_of(shot)

    @given(st.dictionaries(st.sampled_from(["a", "tags", "shot", "recipe"]), plain, max_size=3))
    def check(values: dict[str, Any]) -> None:
        rewrite_header(shot, lambda meta: {**meta, **values})
        meta = read_meta(shot)
        np.testing.assert_equal({key: meta[key] for key in values}, values)
        assert rows_of(shot) == rows
        assert verify(shot).condition is Condition.WHOLE

    check()


def test_a_closed_recording_can_be_changed_and_one_being_written_cannot(tmp_path: Path) -> None:
    writer = RecordingWriter(tmp_path / "r.ecsv", ("T1",), False, {"machine": "A"})  # noqa: FBT003
    writer.append(Reading(0.0, (93.0,)))
    with pytest.raises(StorageError, match="still being recorded"):
        rewrite_header(writer.path, lambda meta: {**meta, "machine": "B"})
    writer.close()
    rewrite_header(writer.path, lambda meta: {**meta, "machine": "B"})
    assert read_meta(writer.path)["machine"] == "B"
    assert verify(writer.path).condition is Condition.WHOLE


def test_other_peoples_files_are_not_rewritten(tmp_path: Path) -> None:
    path = tmp_path / "theirs.ecsv"
    Table({"t": [1.0]}).write(path, format="ascii.ecsv")
    before = path.read_bytes()
    with pytest.raises(BadInput, match="left alone"):
        rewrite_header(path, lambda meta: {**meta, "x": 1})
    assert path.read_bytes() == before


def test_two_windows_editing_at_once_lose_no_edit(shot: Path) -> None:
    barrier = threading.Barrier(4)

    def edit(name: str) -> None:
        barrier.wait()
        for number in range(5):
            rewrite_header(shot, tagged(name, str(number)))

    threads = [threading.Thread(target=edit, args=(f"tag{n}",)) for n in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    meta = read_meta(shot)
    assert len(meta["edits"]) == 20
    assert [meta["tags"][f"tag{n}"] for n in range(4)] == ["4"] * 4


def test_a_turn_another_window_keeps_is_told(shot: Path) -> None:
    with (
        lock.edit_turn(shot),
        pytest.raises(StorageError, match="another window"),
        lock.edit_turn(shot, wait_s=0.0),
    ):
        pass


def test_a_change_by_another_program_meanwhile_is_not_overwritten(shot: Path) -> None:
    def change(meta: dict[str, Any]) -> dict[str, Any]:
        shot.write_bytes(shot.read_bytes() + b"1.0,,,,\n")
        return tagged("coffee", "other")(meta)

    with pytest.raises(StorageError, match="meanwhile"):
        rewrite_header(shot, change)
    assert shot.read_bytes().endswith(b"1.0,,,,\n")
    assert read_meta(shot)["tags"]["coffee"] == "no. 7"
    assert len(list(shot.parent.iterdir())) == 1


@pytest.mark.skipif(os.name == "nt", reason="POSIX permissions and links")
def test_permissions_stay_and_a_link_stays_a_link(shot: Path, tmp_path: Path) -> None:
    shot.chmod(0o640)
    link = tmp_path / "link.ecsv"
    link.symlink_to(shot)
    rewrite_header(link, tagged("coffee", "other"))
    assert link.is_symlink()
    assert stat.S_IMODE(shot.stat().st_mode) == 0o640
    assert read_meta(shot)["tags"]["coffee"] == "other"


def test_a_replaced_shot_keeps_the_history_of_edits(shot: Path, small_stream: Stream) -> None:
    rewrite_header(shot, tagged("coffee", "other"))
    replace_shot(shot, small_stream)
    meta = read_meta(shot)
    assert meta["tags"]["coffee"] == "no. 7"
    assert len(meta["edits"]) == 1
    assert verify(shot).condition is Condition.WHOLE


# Damage


def test_any_changed_byte_is_noticed(shot: Path) -> None:
    content = bytearray(shot.read_bytes())
    names_at = content.index(b"\nt,") + 1
    for at in range(names_at, len(content)):
        damaged = bytearray(content)
        damaged[at] ^= 0x01
        shot.write_bytes(damaged)
        assert verify(shot).condition in (Condition.ROWS_DAMAGED, Condition.UNREADABLE)
    shot.write_bytes(content[:-1])
    assert verify(shot).condition is Condition.ROWS_DAMAGED


def test_a_header_changed_by_hand_is_told_apart_and_remembered(shot: Path) -> None:
    shot.write_bytes(shot.read_bytes().replace(b"no. 7", b"no. 8"))
    assert verify(shot).condition is Condition.HEADER_CHANGED
    meta = rewrite_header(shot, tagged("barista", "M."))
    assert "another program" in meta["edits"][0]["found"]
    assert verify(shot).condition is Condition.WHOLE


def test_damaged_rows_are_not_signed_for_by_an_edit(shot: Path) -> None:
    shot.write_bytes(shot.read_bytes().replace(b"93.25", b"98.25"))
    rewrite_header(shot, tagged("coffee", "other"))
    assert verify(shot).condition is Condition.ROWS_DAMAGED


def test_what_carries_no_digest_or_is_no_file_is_said(tmp_path: Path, small_stream: Stream) -> None:
    plain = tmp_path / "plain.ecsv"
    write_stream(plain, small_stream)
    assert verify(plain).condition is Condition.NO_DIGEST
    assert verify(tmp_path / "missing.ecsv").condition is Condition.UNREADABLE
    assert verify(tmp_path).condition is Condition.UNREADABLE
    writer = RecordingWriter(tmp_path / "r.ecsv", ("T1",), False, {})  # noqa: FBT003
    assert verify(writer.path).condition is Condition.NOT_CLOSED
    writer.close()
    assert verify(writer.path).condition is Condition.WHOLE


def test_the_history_limit_leaves_room_in_the_header() -> None:
    assert shot_file.HISTORY_LIMIT * 2 < 64 * 1024
