from __future__ import annotations

import os
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from benchtemp.errors import BadInput, StorageError
from benchtemp.logbook.ecsv import read_meta, read_stream
from benchtemp.logbook.folder import TAG_VALUES_KEPT, Logbook
from benchtemp.logbook.shot_file import Condition, verify
from benchtemp.places import cache_dir
from benchtemp.readings.reading import Reading, Stream

if TYPE_CHECKING:
    from pathlib import Path


@pytest.fixture
def logbook(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Logbook:
    """Return a logbook that does not exist yet, with a cache of its own."""
    monkeypatch.setenv("BENCHTEMP_CACHE", str(tmp_path / "cache"))
    return Logbook(tmp_path / "my logbook")


def shot_of(stream: Stream, number: int = 1, **more: object) -> Stream:
    shot = {"number": number, "pulled": f"2025-11-25T10:{number:02d}:00+01:00", "result": {"kind": "shot"}}
    return replace(stream, meta={**stream.meta, "shot": shot, **more})


def test_nothing_is_made_before_something_is_kept(logbook: Logbook) -> None:
    assert list(logbook.shots()) == []
    assert list(logbook.recordings()) == []
    assert logbook.interrupted() == ()
    assert logbook.tags_used() == {}
    assert not logbook.root.exists()


def test_recordings_and_shots_lie_where_they_belong(logbook: Logbook, small_stream: Stream) -> None:
    writer = logbook.new_recording(
        channels=("T1",),
        has_weight=False,
        meta={"started": "2025-11-25T10:00:00+01:00", "machine": "Kestrel Two"},
    )
    writer.append(Reading(0.0, (93.0,)))
    assert logbook.interrupted() == ()
    writer.close()
    first = logbook.save_shot(shot_of(small_stream, 1))
    second = logbook.save_shot(shot_of(small_stream, 2))
    assert writer.path == logbook.root / "recordings" / "20251125-100000_Kestrel-Two.ecsv"
    assert first == logbook.root / "shots" / "2025-11" / "20251125-100100_Kestrel-Two_shot-001.ecsv"
    assert list(logbook.shots()) == [first, second]
    assert list(logbook.recordings()) == [writer.path]
    assert verify(first).condition is Condition.WHOLE


def test_the_same_shot_twice_makes_two_files(logbook: Logbook, small_stream: Stream) -> None:
    first, second = (logbook.save_shot(shot_of(small_stream)) for _ in range(2))
    assert second.name == first.stem + "-2.ecsv"


def test_a_flush_is_named_as_one(logbook: Logbook, small_stream: Stream) -> None:
    stream = shot_of(small_stream, shot={"number": 0, "result": {"kind": "flush"}})
    assert logbook.save_shot(stream).stem.endswith("_flush-000")


@pytest.mark.parametrize("machine", ["../../x", "/etc/x", "..", "CON", "☕", "x" * 300, "a\0b", "..\\..\\x"])
def test_no_machine_leaves_the_folder(logbook: Logbook, small_stream: Stream, machine: str) -> None:
    path = logbook.save_shot(shot_of(small_stream, machine=machine, started="../../../y"))
    writer = logbook.new_recording(
        channels=("T1",), has_weight=False, meta={"machine": machine, "started": "../../z"}
    )
    writer.close()
    assert path.resolve().parent.parent == logbook.shots_dir.resolve()
    assert writer.path.resolve().parent == logbook.recordings_dir.resolve()
    assert read_meta(path)["machine"] == machine


def test_a_recording_goes_where_it_is_told(logbook: Logbook, tmp_path: Path) -> None:
    wished = tmp_path / "elsewhere" / "mine.ecsv"
    for expected in ("mine.ecsv", "mine-2.ecsv"):
        writer = logbook.new_recording(channels=("T1",), has_weight=False, meta={}, path=wished)
        writer.close()
        assert writer.path == wished.with_name(expected)


def test_a_file_where_the_folder_should_be_is_told(logbook: Logbook, small_stream: Stream) -> None:
    logbook.root.write_text("in the way", encoding="utf-8")
    with pytest.raises(StorageError):
        logbook.save_shot(shot_of(small_stream))
    with pytest.raises(StorageError):
        logbook.new_recording(channels=("T1",), has_weight=False, meta={})
    assert logbook.root.read_text(encoding="utf-8") == "in the way"


def test_a_shot_that_cannot_be_written_is_a_storage_error(logbook: Logbook, small_stream: Stream) -> None:
    with pytest.raises(StorageError, match="cannot be kept"):
        logbook.save_shot(shot_of(small_stream, notes="x" * 70_000))


def test_hidden_and_other_files_are_no_shots(logbook: Logbook, small_stream: Stream) -> None:
    path = logbook.save_shot(shot_of(small_stream))
    (path.parent / ".benchtemp-1.part").write_text("", encoding="utf-8")
    (path.parent / ".x.ecsv").write_text("", encoding="utf-8")
    (path.parent / "notes.txt").write_text("", encoding="utf-8")
    (path.parent / "folder.ecsv").mkdir()
    if os.name != "nt":
        (logbook.shots_dir / "2025-12").symlink_to(path.parent)
    assert list(logbook.shots()) == [path]


def test_the_bin_keeps_what_is_thrown_away(logbook: Logbook, small_stream: Stream) -> None:
    binned = []
    for _ in range(2):
        path = logbook.save_shot(shot_of(small_stream))
        content = path.read_bytes()
        binned.append(logbook.to_bin(path))
        assert not path.exists()
        assert binned[-1].read_bytes() == content
    assert binned[0] == logbook.bin_dir / "shots" / "2025-11" / path.name
    assert len(set(binned)) == 2
    assert list(logbook.shots()) == []
    assert read_stream(binned[1]).channels == ("T1", "T2")


def test_only_files_of_the_logbook_go_to_its_bin(
    logbook: Logbook, small_stream: Stream, tmp_path: Path
) -> None:
    path = logbook.save_shot(shot_of(small_stream))
    outside = tmp_path / "outside.ecsv"
    outside.write_text("", encoding="utf-8")
    binned = logbook.to_bin(path)
    for wrong in (outside, logbook.root / ".." / "outside.ecsv", binned, logbook.shots_dir, path):
        with pytest.raises(BadInput):
            logbook.to_bin(wrong)
    assert outside.exists()
    assert binned.exists()


def test_tags_are_offered_latest_first(logbook: Logbook, small_stream: Stream) -> None:
    for number, coffee in enumerate(["a", "b", "a", "c"], 1):
        logbook.save_shot(shot_of(small_stream, number, tags={"coffee": coffee, "empty": ""}))
    assert logbook.tags_used() == {"coffee": ["c", "a", "b"], "machine": ["Kestrel Two"]}
    logbook.remember_tags({"coffee": "d"})
    assert logbook.tags_used()["coffee"][0] == "d"
    for number in range(2 * TAG_VALUES_KEPT):
        logbook.remember_tags({"coffee": str(number)})
    assert len(logbook.tags_used()["coffee"]) == TAG_VALUES_KEPT


def test_tags_are_found_again_when_the_memory_is_lost_or_damaged(
    logbook: Logbook, small_stream: Stream
) -> None:
    for number, coffee in enumerate(["a", "b"], 1):
        logbook.save_shot(shot_of(small_stream, number, tags={"coffee": coffee}))
    (memory,) = cache_dir().rglob("tags.json")
    for damage in (b"{", b'{"coffee": 1}', None):
        if damage is None:
            memory.unlink()
        else:
            memory.write_bytes(damage)
        assert logbook.tags_used()["coffee"] == ["b", "a"]


def test_tags_do_without_a_cache(logbook: Logbook, small_stream: Stream, tmp_path: Path) -> None:
    (tmp_path / "cache").write_text("in the way", encoding="utf-8")
    logbook.save_shot(shot_of(small_stream, tags={"coffee": "a"}))
    assert logbook.tags_used()["coffee"] == ["a"]
