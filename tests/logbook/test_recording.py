from __future__ import annotations

import errno
import os
import signal
import subprocess
import sys
import threading
import time
from typing import TYPE_CHECKING

import numpy as np
import pytest
from astropy.table import Table

from benchtemp.errors import BadInput, StorageError
from benchtemp.logbook import recording
from benchtemp.logbook.ecsv import read_stream
from benchtemp.logbook.interrupted import close_interrupted, find_interrupted
from benchtemp.logbook.lock import Locked, locked_elsewhere
from benchtemp.logbook.recording import RecordingWriter
from benchtemp.logbook.row_file import RowFile
from benchtemp.logbook.shot_file import Condition, verify
from benchtemp.readings.reading import Mark, MarkKind, Reading

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from pytest import MonkeyPatch  # noqa: PT013 - the type only

posix_only = pytest.mark.skipif(os.name == "nt", reason="an open file cannot be removed or moved there")
META = {"machine": "Kestrel Two", "started": "2025-11-25T10:00:00+01:00"}


def wait_for(condition: Callable[[], bool], deadline_s: float = 5.0) -> None:
    end_s = time.monotonic() + deadline_s
    while not condition():
        assert time.monotonic() < end_s, "waited in vain"
        time.sleep(0.002)


def readings(first: int, last: int) -> list[Reading]:
    return [Reading(n / 10, (90.0 + n / 100, 20.5)) for n in range(first, last)]


@pytest.fixture
def start(tmp_path: Path) -> Iterator[Callable[..., RecordingWriter]]:
    """Return a function that begins a recording that is tended very often, and closed after the test."""
    writers: list[RecordingWriter] = []

    def begin(path: Path | None = None, **more: object) -> RecordingWriter:
        options = {"sync_every_s": 0.005, "rescue_folders": (tmp_path / "rescued",), **more}
        writer = RecordingWriter(path or tmp_path / "r.ecsv", ("T1", "T2"), False, META, **options)  # type: ignore[arg-type]  # noqa: FBT003
        writers.append(writer)
        return writer

    yield begin
    for writer in writers:
        writer.close()


def assert_whole(path: Path, count: int) -> None:
    stream = read_stream(path)
    assert stream.warnings == ()
    assert stream.t_s.tolist() == [n / 10 for n in range(count)]
    assert stream.temps_degc.tolist() == [[90.0 + n / 100, 20.5] for n in range(count)]
    assert verify(path).condition is Condition.WHOLE


def test_rows_are_in_the_file_when_append_returns(start: Callable[..., RecordingWriter]) -> None:
    writer = start(sync_every_s=60)
    for count, reading in enumerate(readings(0, 20), 1):
        writer.append(reading)
        assert len(read_stream(writer.path).t_s) == count
    writer.append(Mark(2.05, MarkKind.PUMP_ON))
    assert read_stream(writer.path).marks == (Mark(2.05, MarkKind.PUMP_ON),)
    assert "never closed" in read_stream(writer.path).warnings[0]


def test_a_closed_recording_is_whole_for_us_and_for_astropy(start: Callable[..., RecordingWriter]) -> None:
    writer = start()
    for reading in readings(0, 20):
        writer.append(reading)
    writer.close()
    writer.close()
    assert writer.trouble is None
    assert_whole(writer.path, 20)
    assert len(Table.read(writer.path, format="ascii.ecsv")) == 20
    assert read_stream(writer.path).meta["machine"] == "Kestrel Two"
    with pytest.raises(ValueError, match="after close"):
        writer.append(readings(0, 1)[0])


def test_weights_and_missing_values_keep_their_places(tmp_path: Path) -> None:
    writer = RecordingWriter(tmp_path / "r.ecsv", ("T1", "T2"), True, {})  # noqa: FBT003
    nan = float("nan")
    for reading in [Reading(0.0, (91.0, nan), 1.5), Reading(0.1, (), 2.5), Reading(0.2, (nan, nan))]:
        writer.append(reading)
    writer.close()
    stream = read_stream(writer.path)
    np.testing.assert_array_equal(stream.temps_degc, [[91.0, nan], [nan, nan], [nan, nan]])
    np.testing.assert_array_equal(stream.weight_g, [1.5, 2.5, nan])
    assert [type(item) for item in stream.items()] == [Reading] * 3
    assert stream.meta["started"]


def test_a_name_that_is_taken_is_left_alone(start: Callable[..., RecordingWriter], tmp_path: Path) -> None:
    (tmp_path / "r.ecsv").write_text("precious", encoding="utf-8")
    first, second = start(), start()
    assert [first.path.name, second.path.name] == ["r-2.ecsv", "r-3.ecsv"]
    assert (tmp_path / "r.ecsv").read_text(encoding="utf-8") == "precious"


def test_two_writers_begun_at_once_get_files_of_their_own(start: Callable[..., RecordingWriter]) -> None:
    barrier, writers = threading.Barrier(4), []

    def begin() -> None:
        barrier.wait()
        writers.append(start())

    threads = [threading.Thread(target=begin) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len({writer.path for writer in writers}) == 4
    for writer in writers:
        for reading in readings(0, 5):
            writer.append(reading)
        writer.close()
        assert_whole(writer.path, 5)


def test_a_folder_that_is_missing_is_told_at_the_start(tmp_path: Path) -> None:
    with pytest.raises(StorageError, match="cannot be begun"):
        RecordingWriter(tmp_path / "gone" / "r.ecsv", ("T1",), False, {})  # noqa: FBT003


def test_a_fault_of_the_caller_is_told(start: Callable[..., RecordingWriter]) -> None:
    with pytest.raises(ValueError, match="3 temperatures for 2 channels"):
        start().append(Reading(0.0, (1.0, 2.0, 3.0)))


# On the disk itself


def test_rows_and_marks_reach_the_disk_by_themselves(
    start: Callable[..., RecordingWriter], monkeypatch: MonkeyPatch
) -> None:
    synced: list[int] = []
    real = RowFile.sync

    def sync(self: RowFile, *, thorough: bool = False) -> None:
        size = self.size()
        real(self, thorough=thorough)
        synced.append(size)

    monkeypatch.setattr(RowFile, "sync", sync)
    writer = start(sync_every_s=0.02)
    writer.append(readings(0, 1)[0])
    wait_for(lambda: writer.path.stat().st_size in synced)
    lazy = start(sync_every_s=60)
    lazy.append(readings(0, 1)[0])
    lazy.append(Mark(0.0, MarkKind.PUMP_ON))
    wait_for(lambda: lazy.path.stat().st_size in synced)
    assert recording.SYNC_EVERY_S <= 1.0


def test_a_slow_disk_does_not_hold_up_append(
    start: Callable[..., RecordingWriter], monkeypatch: MonkeyPatch
) -> None:
    asked, release = threading.Event(), threading.Event()

    def sync(_self: RowFile, *, thorough: bool = False) -> None:
        del thorough
        asked.set()
        release.wait(10)

    writer = start()
    monkeypatch.setattr(RowFile, "sync", sync)
    for reading in readings(0, 10):
        writer.append(reading)
    assert asked.wait(5)
    for reading in readings(10, 500):
        writer.append(reading)
    assert not release.is_set()
    release.set()
    writer.close()
    assert_whole(writer.path, 500)


# A disk that refuses


class FullDisk:
    """Lets a number of bytes through, then is full until it is given room."""

    def __init__(self, monkeypatch: MonkeyPatch, room: int, error: int = errno.ENOSPC) -> None:
        self.room = room
        self.error = error
        write = RowFile.write

        def limited(file: RowFile, content: bytes) -> int:
            return write(file, content[: self.take(len(content))])

        def limited_from(file: RowFile, offset: int, content: bytes) -> None:
            done = self.take(len(content))
            real_from(file, offset, content[:done])
            if done < len(content):
                raise OSError(self.error, os.strerror(self.error))

        real_from = RowFile.write_from
        monkeypatch.setattr(RowFile, "write", limited)
        monkeypatch.setattr(RowFile, "write_from", limited_from)

    def take(self, wanted: int) -> int:
        taken = min(wanted, self.room)
        self.room -= taken
        if wanted and not taken:
            raise OSError(self.error, os.strerror(self.error))
        return taken


@pytest.mark.parametrize("error", [errno.ENOSPC, errno.EIO])
def test_a_full_disk_warns_keeps_and_goes_on(
    start: Callable[..., RecordingWriter], monkeypatch: MonkeyPatch, error: int
) -> None:
    writer = start()
    disk = FullDisk(monkeypatch, 250, error)
    for reading in readings(0, 100):
        writer.append(reading)
    assert writer.trouble is not None
    assert ("is full" in writer.trouble) == (error == errno.ENOSPC)
    assert "in memory" in writer.trouble
    disk.room = 10**9
    wait_for(lambda: writer.trouble is None)
    for reading in readings(100, 120):
        writer.append(reading)
    writer.close()
    assert_whole(writer.path, 120)


def test_what_the_disk_refuses_to_the_end_is_put_elsewhere(
    start: Callable[..., RecordingWriter], monkeypatch: MonkeyPatch, tmp_path: Path
) -> None:
    writer = start()
    disk = FullDisk(monkeypatch, 250)
    for reading in readings(0, 100):
        writer.append(reading)
    monkeypatch.setattr(writer, "_recover", lambda **_: disk.take(1))
    monkeypatch.setattr(type(writer), "_begin_anew", _with_room(disk, RecordingWriter._begin_anew))
    writer.close()
    assert writer.path.parent == tmp_path / "rescued"
    assert_whole(writer.path, 100)
    assert writer.trouble is not None
    assert "kept in" in writer.trouble


def _with_room(disk: FullDisk, begin: Callable[[RecordingWriter, Path], None]) -> Callable[..., None]:
    def begin_with_room(writer: RecordingWriter, path: Path) -> None:
        disk.room = 10**9
        begin(writer, path)

    return begin_with_room


def test_nothing_anywhere_takes_the_rest_and_that_is_said(
    start: Callable[..., RecordingWriter], monkeypatch: MonkeyPatch
) -> None:
    writer = start()
    FullDisk(monkeypatch, 250)
    for reading in readings(0, 100):
        writer.append(reading)
    writer.close()
    assert writer.trouble is not None
    assert "lost" in writer.trouble
    stream = read_stream(writer.path)
    assert stream.t_s.tolist() == [n / 10 for n in range(len(stream.t_s))]


@posix_only
@pytest.mark.parametrize("how", ["moved away and back", "removed and made again", "file removed"])
def test_a_folder_taken_away_loses_nothing(
    start: Callable[..., RecordingWriter], tmp_path: Path, how: str
) -> None:
    folder, away = tmp_path / "stick", tmp_path / "away"
    folder.mkdir()
    writer = start(folder / "r.ecsv")
    for reading in readings(0, 30):
        writer.append(reading)
    if how == "file removed":
        writer.path.unlink()
    else:
        folder.rename(away)
        wait_for(lambda: writer.trouble is not None)
        assert "folder" in str(writer.trouble)
    for reading in readings(30, 60):
        writer.append(reading)
    if how == "moved away and back":
        away.rename(folder)
    elif how == "removed and made again":
        (away / "r.ecsv").unlink()
        away.rmdir()
        folder.mkdir()
    wait_for(lambda: writer.trouble is None and writer.path.exists())
    for reading in readings(60, 90):
        writer.append(reading)
    writer.close()
    assert writer.trouble is None
    assert_whole(folder / "r.ecsv", 90)


@posix_only
def test_a_folder_that_never_comes_back_means_a_copy_elsewhere(
    start: Callable[..., RecordingWriter], tmp_path: Path
) -> None:
    folder = tmp_path / "stick"
    folder.mkdir()
    writer = start(folder / "r.ecsv")
    for reading in readings(0, 30):
        writer.append(reading)
    writer.path.unlink()
    folder.rmdir()
    wait_for(lambda: writer.trouble is not None)
    for reading in readings(30, 60):
        writer.append(reading)
    writer.close()
    assert_whole(tmp_path / "rescued" / "r.ecsv", 60)
    assert not folder.exists()


def test_a_medium_that_takes_the_beginning_with_it_is_continued_and_says_so(
    start: Callable[..., RecordingWriter], tmp_path: Path, monkeypatch: MonkeyPatch
) -> None:
    folder = tmp_path / "stick"
    folder.mkdir()
    writer = start(folder / "r.ecsv")
    for reading in readings(0, 30):
        writer.append(reading)
    wait_for(lambda: not writer._held)

    def unreadable(_self: RowFile, _length: int) -> bytes:
        raise OSError(errno.EIO, "gone")

    monkeypatch.setattr(RowFile, "head", unreadable)
    if os.name != "nt":
        writer.path.unlink()
    for reading in readings(30, 60):
        writer.append(reading)
    writer.close()
    stream = read_stream(writer.path)
    assert stream.t_s.tolist()[-30:] == [n / 10 for n in range(30, 60)]
    assert os.name == "nt" or stream.meta["continues"] == "r.ecsv"
    assert verify(writer.path).condition is Condition.WHOLE


@pytest.mark.skipif(sys.platform != "linux", reason="mounts a small disk")
def test_a_truly_full_disk(start: Callable[..., RecordingWriter], tmp_path: Path) -> None:
    disk = tmp_path / "disk"
    disk.mkdir()
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=64k", "tmpfs", str(disk)], check=False, capture_output=True
    )
    if mounted.returncode:
        pytest.skip("mounting a small disk is not allowed here")
    try:
        ballast = disk / "ballast"
        ballast.write_bytes(b"x" * 40_000)
        writer = start(disk / "r.ecsv")
        for reading in readings(0, 3000):
            writer.append(reading)
        assert "is full; free some space" in str(writer.trouble)
        ballast.unlink()
        wait_for(lambda: writer.trouble is None)
        writer.close()
        assert_whole(writer.path, 3000)
    finally:
        writer.close()
        subprocess.run(["umount", "-l", str(disk)], check=False)


@pytest.mark.skipif(os.name == "nt", reason="has no file size limit to set")
def test_a_file_size_limit_of_the_system_is_survived(start: Callable[..., RecordingWriter]) -> None:
    import resource  # noqa: PLC0415 - POSIX only

    writer = start()
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (2000, hard))
    try:
        for reading in readings(0, 300):
            writer.append(reading)
        trouble = writer.trouble
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
    assert "larger than the disk allows" in str(trouble)
    wait_for(lambda: writer.trouble is None)
    writer.close()
    assert_whole(writer.path, 300)


# Killed


CHILD = """
import sys
from pathlib import Path
from benchtemp.logbook.recording import RecordingWriter
from benchtemp.readings.reading import Reading
writer = RecordingWriter(Path(sys.argv[1]), ("T1", "T2"), False, {})
out = sys.stdout
for n in range(10**9):
    writer.append(Reading(n / 10, (90.0 + n / 100, 20.5)))
    out.write(f"{n}\\n")
    out.flush()
"""


@pytest.mark.skipif(os.name == "nt", reason="has no SIGKILL")
@pytest.mark.parametrize("rows", [1, 200, 4000])
def test_a_killed_program_loses_nothing_it_had_taken(tmp_path: Path, rows: int) -> None:
    path = tmp_path / "r.ecsv"
    with subprocess.Popen(
        [sys.executable, "-c", CHILD, str(path)], stdout=subprocess.PIPE, text=True
    ) as child:
        assert child.stdout is not None
        for _ in range(rows):
            taken = int(child.stdout.readline())
        assert find_interrupted(tmp_path) == (), "a living program's recording is not interrupted"
        with pytest.raises(BadInput, match="still being recorded"):
            close_interrupted(path)
        child.send_signal(signal.SIGKILL)
        for line in child.stdout:
            taken = int(line) if line.endswith("\n") else taken
    (found,) = find_interrupted(tmp_path)
    assert found.path == path
    assert found.readable
    assert close_interrupted(path).path == path
    stream = read_stream(path)
    assert len(stream.t_s) >= taken + 1
    assert_whole(path, len(stream.t_s))
    assert find_interrupted(tmp_path) == ()


def test_a_recording_is_locked_while_it_is_written(
    start: Callable[..., RecordingWriter], tmp_path: Path
) -> None:
    writer = start()
    assert locked_elsewhere(writer.path) is Locked.BY_ANOTHER
    assert find_interrupted(tmp_path) == ()
    writer.close()
    assert locked_elsewhere(writer.path) is Locked.BY_US
    assert find_interrupted(tmp_path) == ()
