"""What is in the folder is what is in the index, however it came there."""

from __future__ import annotations

import contextlib
import os
import subprocess
import sys
import threading
import time
from pathlib import Path
from typing import TYPE_CHECKING, Any

import msgspec
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchtemp.errors import BenchtempError, StorageError
from benchtemp.logbook.ecsv import write_stream
from benchtemp.logbook.folder import Logbook
from benchtemp.logbook.index import Kind, LogbookIndex, Query, Row, file_row
from benchtemp.logbook.index import index as index_module
from benchtemp.logbook.index.editing import edit
from benchtemp.logbook.index.file_row import FileRow
from benchtemp.logbook.index.scan import scan
from benchtemp.logbook.index.writing import put
from benchtemp.readings.reading import Mark, MarkKind, Stream
from benchtemp.shots.recipe import RecipeVerdict

if TYPE_CHECKING:
    from collections.abc import Callable

ALL = Query(limit=None)


def rows(index: LogbookIndex) -> tuple[Row, ...]:
    return index.search(ALL).rows


def settle(path: Path, seconds: float = 10.0) -> None:
    status = path.stat()
    os.utime(path, ns=(status.st_atime_ns, status.st_mtime_ns - int(seconds * 1e9)))


def recording(logbook: Logbook, name: str = "20251125-090000_Kestrel.ecsv", **meta: Any) -> Path:
    logbook.recordings_dir.mkdir(parents=True, exist_ok=True)
    path = logbook.recordings_dir / name
    stream = Stream(
        channels=("T1",),
        t_s=np.array([0.0, 1.0]),
        temps_degc=np.array([[20.0], [21.0]]),
        marks=(Mark(0.5, MarkKind.NOTE, 'cup "two", 20 °C'), Mark(0.6, MarkKind.GAP, "note this")),
        mark_rows=(1, 1),
        meta={"kind": "recording", "started": "2025-11-25T09:00:00+01:00", "machine": "Kestrel", **meta},
    )
    write_stream(path, stream)
    settle(path)
    return path


def test_an_empty_logbook_has_no_rows_and_is_not_made(index: LogbookIndex) -> None:
    assert index.update().files == 0
    assert index.search().total == 0
    assert not index.logbook.root.exists()


def test_a_shot_is_told_by_its_header(index: LogbookIndex, make_shot: Callable[..., Path]) -> None:
    path = make_shot(3, notes="slow start", remarks=('cup "two"',), set_aside="channelled", counts=False)
    index.update()
    row = index.row(path)
    assert row == Row(
        path="shots/2025-11/20251104-100003_x.ecsv",
        size=path.stat().st_size,
        mtime_ns=path.stat().st_mtime_ns,
        kind=Kind.SHOT,
        moment="2025-11-04T10:03:00+01:00",
        machine="Kestrel Two",
        number=3,
        recording="sitting.ecsv",
        probe="basket 0",
        probes=("basket 0",),
        dose_g=18.0,
        yield_g=36.0,
        brew_ratio=2.0,
        brew_temp_degc=93.0,
        sd_k=0.1,
        highest_degc=93.2,
        lowest_degc=92.8,
        drift_k_per_s=-0.01,
        time_to_plateau_s=6.0,
        plateau_s=20.0,
        shot_time_s=26.0,
        in_band_share=1.0,
        verdict=RecipeVerdict.WITHIN,
        counts=False,
        set_aside="channelled",
        tags={"coffee": "house blend"},
        notes="slow start",
        remarks=('cup "two"',),
    )
    assert row.day == "2025-11-04"
    ((found, header),) = index.headers()
    assert found == row
    assert header["shot"]["result"]["readings"] == 200


def test_recordings_flushes_and_damaged_files_have_rows_too(
    index: LogbookIndex, make_shot: Callable[..., Path]
) -> None:
    recording(index.logbook)
    make_shot(1, result={"kind": "flush"})
    broken = make_shot(2)
    broken.write_bytes(broken.read_bytes()[:200])
    index.update()
    by_kind = {row.kind: row for row in rows(index)}
    assert by_kind.keys() == {Kind.RECORDING, Kind.FLUSH, Kind.UNREADABLE}
    assert by_kind[Kind.RECORDING].remarks == ('cup "two", 20 °C',)
    assert by_kind[Kind.RECORDING].counts is None
    assert "breaks off" in by_kind[Kind.UNREADABLE].complaint
    assert by_kind[Kind.UNREADABLE].moment == "2025-11-03T10:00:02"


def test_added_changed_and_removed_files_are_noticed(
    index: LogbookIndex, make_shot: Callable[..., Path]
) -> None:
    first, second = make_shot(1), make_shot(2)
    assert index.update().changed == 2
    third = make_shot(3)
    edit(first, tags={"coffee": "low tide"})
    second.unlink()
    done = index.update()
    assert (done.files, done.changed, done.removed, done.complete) == (2, 2, 1, True)
    assert {row.path: row.tags["coffee"] for row in rows(index)} == {
        index.place_of(first): "low tide",
        index.place_of(third): "house blend",
    }


def test_files_that_did_not_change_are_not_read_again(
    index: LogbookIndex, make_shot: Callable[..., Path]
) -> None:
    for number in range(5):
        make_shot(number)
    assert index.update().read == 5
    done = index.update()
    assert (done.read, done.changed) == (0, 0)


def test_a_second_change_within_the_same_tick_of_time_is_noticed(
    index: LogbookIndex, make_shot: Callable[..., Path]
) -> None:
    path = make_shot(1, old=False)
    index.update()
    before = path.stat()
    path.write_bytes(path.read_bytes().replace(b"house blend", b"other blend"))
    os.utime(path, ns=(before.st_atime_ns, before.st_mtime_ns))
    assert path.stat().st_size == before.st_size
    done = index.update()
    assert done.changed == 1
    assert rows(index)[0].tags["coffee"] == "other blend"


def test_reading_once_more_in_doubt_is_no_change(index: LogbookIndex, make_shot: Callable[..., Path]) -> None:
    make_shot(1, old=False)
    index.update()
    done = index.update()
    assert (done.read, done.changed) == (1, 0)


def test_a_file_that_could_not_be_read_is_tried_again(
    index: LogbookIndex, make_shot: Callable[..., Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    path = make_shot(1)

    def refuse(*_arguments: Any, **_named: Any) -> bytes:
        raise PermissionError(13, "Permission denied")

    with monkeypatch.context() as patch:
        patch.setattr(file_row, "read_regular", refuse)
        index.update()
    assert rows(index)[0].kind is Kind.UNREADABLE
    index.update()
    assert index.row(path).kind is Kind.SHOT  # type: ignore[union-attr]


OPERATIONS = st.lists(
    st.tuples(
        st.sampled_from(["add", "edit", "remove", "bin", "break", "move", "update"]), st.integers(0, 7)
    ),
    max_size=14,
)


@settings(max_examples=25)
@given(operations=OPERATIONS)
def test_keeping_up_gives_the_same_rows_as_reading_everything_anew(
    operations: list[tuple[str, int]],
    tmp_path_factory: pytest.TempPathFactory,
    make_shot: Callable[..., Path],
) -> None:
    template = make_shot(1, remarks=("slow",)).read_bytes()
    logbook = Logbook(tmp_path_factory.mktemp("logbook"))
    kept, anew = LogbookIndex(logbook), LogbookIndex(logbook, full_text=False)
    for step, (what, which) in enumerate(operations):
        files = [*logbook.shots()]
        path = files[which % len(files)] if files else None
        if what == "add":
            month = logbook.shots_dir / f"2025-{1 + which:02d}"
            month.mkdir(parents=True, exist_ok=True)
            (month / f"2025{1 + which:02d}01-1000{step:02d}_x.ecsv").write_bytes(template)
        elif what == "update":
            kept.update()
        elif path is None:
            continue
        elif what == "edit":
            with_errors(
                lambda path=path, step=step: edit(path, tags={"coffee": f"no. {step}"}, notes="é" * step)
            )
        elif what == "remove":
            path.unlink()
        elif what == "bin":
            logbook.to_bin(path)
        elif what == "break":
            path.write_bytes(path.read_bytes()[: 100 * which])
        elif what == "move":
            path.rename(path.with_name(f"moved-{step}.ecsv"))
    kept.update()
    anew.rebuild()
    assert rows(kept) == rows(anew)
    assert [header for _, header in kept.headers()] == [header for _, header in anew.headers()]
    assert kept.choices() == anew.choices()
    kept.rebuild()
    assert rows(kept) == rows(anew)


def with_errors(work: Callable[[], Any]) -> None:
    with contextlib.suppress(BenchtempError):  # the file was broken by an earlier step
        work()


def test_a_row_read_earlier_never_replaces_one_read_later(
    index: LogbookIndex, make_shot: Callable[..., Path]
) -> None:
    path = make_shot(1)
    index.update()
    new = index.row(path)
    assert new is not None
    stale = FileRow(msgspec.structs.replace(new, notes="stale"), b"{}")
    index._store.write(lambda db: put(db, [stale], 1))
    assert index.row(path) == new
    index._store.write(lambda db: put(db, [stale], time.time_ns()))
    assert rows(index)[0].notes == "stale"


def test_a_clock_set_back_does_not_keep_new_rows_out(
    index: LogbookIndex, make_shot: Callable[..., Path]
) -> None:
    path = make_shot(1)
    index.update()
    row = index.row(path)
    assert row is not None
    index._store.write(lambda db: db.execute("UPDATE files SET read_ns = ?", (2**62,)))
    edit(path, notes="after the clock was set back")
    index.update()
    assert rows(index)[0].notes == "after the clock was set back"


def test_refreshing_looks_at_just_the_files_named(
    index: LogbookIndex, make_shot: Callable[..., Path]
) -> None:
    first, second, third = (make_shot(number) for number in range(3))
    index.update()
    edit(first, notes="one")
    edit(second, notes="two")
    index.logbook.to_bin(third)
    index.refresh([first, third, index.logbook.root / "no such.ecsv", index.logbook.root.parent / "x"])
    assert {row.path: row.notes for row in rows(index)} == {
        index.place_of(first): "one",
        index.place_of(second): "",
    }


def test_a_path_is_named_the_same_however_it_is_written(
    index: LogbookIndex, make_shot: Callable[..., Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = make_shot(1)
    place = "shots/2025-11/20251102-100001_x.ecsv"
    assert index.place_of(path) == place
    assert index.place_of(path.parent / ".." / "2025-11" / path.name) == place
    monkeypatch.chdir(tmp_path)
    assert index.place_of(Path("logbook") / place) == place
    assert index.place_of(tmp_path / "elsewhere.ecsv") is None
    assert index.place_of(index.logbook.root / ".." / ".." / "x.ecsv") is None


# Progress, cancelling, processes


def test_progress_is_told_and_cancelling_keeps_what_was_read(
    index: LogbookIndex, make_shot: Callable[..., Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    for number in range(12):
        make_shot(number)
    monkeypatch.setattr(index_module, "FILES_PER_JOB", 2)
    monkeypatch.setattr(index_module, "FIRST_FILES", 0)
    monkeypatch.setattr(index_module, "COMMIT_S", 0.0)
    told: list[tuple[int, int]] = []
    done = index.update(lambda *now: told.append(now), lambda: bool(told) and told[-1][0] >= 4)
    assert (done.complete, done.read) == (False, 4)
    assert told[0] == (0, 12)
    assert told[-1] == (4, 12)
    newest_first = sorted((path.name for path in index.logbook.shots()), reverse=True)
    assert [row.name for row in rows(index)] == newest_first[:4]
    told.clear()
    assert index.update(lambda *now: told.append(now)).complete
    assert told[-1] == (8, 8)
    assert index.search().total == 12


def test_the_newest_files_are_there_before_the_rest_is_read(
    index: LogbookIndex, make_shot: Callable[..., Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    for number in range(9):
        make_shot(number)
    recording(index.logbook)
    monkeypatch.setattr(index_module, "FIRST_FILES", 3)
    seen: list[str] = []

    def look() -> bool:
        seen[:] = [row.name for row in rows(index)]
        return bool(seen)

    index.update(cancelled=look)
    assert seen == ["20251125-090000_Kestrel.ecsv", "20251109-100008_x.ecsv", "20251108-100007_x.ecsv"]


def test_several_processes_read_the_same_as_one(
    logbook: Logbook, make_shot: Callable[..., Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    for number in range(8):
        make_shot(number, remarks=(f"remark {number}",))
    monkeypatch.setattr(index_module, "FILES_PER_JOB", 2)
    monkeypatch.setattr(index_module, "FIRST_FILES", 0)
    one, two = LogbookIndex(logbook), LogbookIndex(logbook, full_text=False)
    one.update(processes=1)
    two.update(processes=2)
    assert rows(one) == rows(two)
    assert len(rows(two)) == 8
    assert not two.rebuild(cancelled=lambda: True, processes=2).complete


def test_searching_goes_on_while_another_thread_updates(
    index: LogbookIndex, make_shot: Callable[..., Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    for number in range(20):
        make_shot(number)
    monkeypatch.setattr(index_module, "FILES_PER_JOB", 1)
    monkeypatch.setattr(index_module, "COMMIT_S", 0.0)
    failures: list[BaseException] = []
    stop = threading.Event()

    def search() -> None:
        while not stop.is_set():
            try:
                page = index.search(Query(text="house", limit=5))
                assert len(page.rows) == min(page.total, 5)
            except BaseException as error:  # noqa: BLE001 - told in the main thread
                failures.append(error)
                return

    threads = [threading.Thread(target=search) for _ in range(2)]
    for thread in threads:
        thread.start()
    for _ in range(3):
        index.rebuild()
    stop.set()
    for thread in threads:
        thread.join()
    assert failures == []
    assert index.search(Query(text="house")).total == 20


def test_two_programs_make_the_same_index_at_once(
    index: LogbookIndex, make_shot: Callable[..., Path]
) -> None:
    for number in range(20):
        make_shot(number)
    code = (
        "import sys; from pathlib import Path\n"
        "from benchtemp.logbook.folder import Logbook\n"
        "from benchtemp.logbook.index import LogbookIndex\n"
        "index = LogbookIndex(Logbook(Path(sys.argv[1])))\n"
        "for _ in range(5): index.rebuild()\n"
        "index.update()\n"
        "print(index.search().total)"
    )
    running = [
        subprocess.Popen(
            [sys.executable, "-c", code, str(index.logbook.root)],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        for _ in range(2)
    ]
    outcomes = [one.communicate(timeout=60) for one in running]
    assert [error for _, error in outcomes] == ["", ""]
    index.update()
    assert index.search().total == 20


# The folder


def test_a_logbook_whose_disk_is_gone_is_not_forgotten(
    index: LogbookIndex, make_shot: Callable[..., Path]
) -> None:
    make_shot(1)
    index.update()
    away = index.logbook.root.rename(index.logbook.root.with_name("away"))
    with pytest.raises(StorageError, match="is not there; plug in its disk"):
        index.update()
    assert index.search().total == 1
    away.rename(index.logbook.root)
    assert index.update().read == 0


def test_the_same_files_are_found_as_the_logbook_gives(
    logbook: Logbook, make_shot: Callable[..., Path]
) -> None:
    recording(logbook)
    make_shot(1)
    make_shot(2, pulled="2024-02-03T10:00:00")
    (logbook.shots_dir / "2024-02" / ".hidden.ecsv").write_text("")
    (logbook.shots_dir / "2024-02" / "other.txt").write_text("")
    (logbook.shots_dir / "loose.ecsv").write_text("")
    (logbook.shots_dir / ".hidden").mkdir()
    (logbook.shots_dir / ".hidden" / "x.ecsv").write_text("")
    found = {logbook.root / file.path for file in scan(logbook)}
    assert found == {*logbook.shots(), *logbook.recordings()}
    assert len(found) == 3


@pytest.mark.skipif(sys.platform == "win32", reason="links and pipes need POSIX")
def test_links_and_pipes_neither_hang_nor_lead_astray(
    index: LogbookIndex, make_shot: Callable[..., Path], tmp_path: Path
) -> None:
    path = make_shot(1)
    folder = path.parent
    elsewhere = tmp_path / "elsewhere.ecsv"
    elsewhere.write_bytes(path.read_bytes())
    settle(elsewhere)
    os.mkfifo(folder / "pipe.ecsv")
    (folder / "endless.ecsv").symlink_to("/dev/zero")
    (folder / "loop.ecsv").symlink_to("loop.ecsv")
    (folder / "nowhere.ecsv").symlink_to("nothing.ecsv")
    (folder / "linked.ecsv").symlink_to(elsewhere)
    (index.logbook.shots_dir / "2025-12").symlink_to(folder, target_is_directory=True)
    (folder / "folder.ecsv").mkdir()
    index.update()
    assert sorted(row.name for row in rows(index)) == [path.name, "linked.ecsv"]
    assert [found.name for found in index.logbook.shots()] == [path.name, "linked.ecsv"]
    for name in ("pipe", "endless", "loop", "nowhere", "folder"):
        index.refresh([folder / f"{name}.ecsv"])
    index.refresh([index.logbook.shots_dir / "2025-12" / path.name])
    assert index.search().total == 2


def test_a_huge_file_takes_no_time(index: LogbookIndex, make_shot: Callable[..., Path]) -> None:
    path = make_shot(1)
    with path.open("r+b") as file:
        file.truncate(8 * 1024**3)
    settle(path)
    since_s = time.perf_counter()
    index.update()
    assert time.perf_counter() - since_s < 5.0
    assert (rows(index)[0].size, rows(index)[0].kind) == (8 * 1024**3, Kind.SHOT)


@pytest.mark.skipif(sys.platform in {"win32", "darwin"}, reason="names there are always text")
def test_a_name_that_is_no_text_is_listed_as_unreadable(
    index: LogbookIndex, make_shot: Callable[..., Path]
) -> None:
    path = make_shot(1)
    path.rename(os.fsdecode(os.fsencode(path.parent) + b"/\xff\xfe.ecsv"))
    index.update()
    (row,) = rows(index)
    assert (row.kind, row.name) == (Kind.UNREADABLE, "??.ecsv")


def test_a_folder_that_cannot_be_read_is_told_and_nothing_forgotten(
    index: LogbookIndex, make_shot: Callable[..., Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    make_shot(1)
    index.update()

    def refuse(_path: Any) -> Any:
        raise PermissionError(13, "Permission denied")

    with monkeypatch.context() as patch:
        patch.setattr(os, "scandir", refuse)
        with pytest.raises(StorageError, match="cannot be read"):
            index.update()
        with pytest.raises(StorageError, match="cannot be read"):
            index.rebuild()
    assert index.search().total == 1
