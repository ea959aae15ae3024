import pytest

from benchtemp.bench.recovery import recover
from benchtemp.bench.sitting import start_sitting
from benchtemp.logbook.ecsv import read_stream
from benchtemp.logbook.folder import Logbook
from benchtemp.logbook.shot_file import verify
from benchtemp.readings.replay import ReplaySource
from benchtemp.shots.shot import analyse_stream


def record(book, items):
    """A recording as a killed program leaves it: every row written, never closed, no shot file."""
    writer = book.new_recording(
        channels=("T1",),
        has_weight=False,
        meta={"started": "2026-03-01T10:00:00+01:00", "machine": "bench two", "recipe": {"dose_g": 18.0}},
    )
    for item in items:
        writer.append(item)
    path = writer.path
    writer.close()
    content = path.read_bytes()
    path.write_bytes(content[: content.rindex(b"# closed")] + b"99.1,9")
    return path


@pytest.fixture
def book(tmp_path):
    return Logbook(tmp_path / "book")


def test_shots_of_an_interrupted_recording_get_their_files(book, marked_shot):
    path = record(book, marked_shot)
    assert [found.path for found in book.interrupted()] == [path]
    (kept,) = recover(book, path)
    assert book.interrupted() == ()
    (shot,) = analyse_stream(read_stream(kept)).shots
    assert shot.result.shot_time_s == 26.0
    assert shot.dose_g == 18.0
    meta = read_stream(kept).meta
    assert meta["shot"]["recording"] == path.name
    assert meta["machine"] == "bench two"
    assert verify(kept).condition == "whole"


def test_recovering_again_keeps_nothing_twice(book, three_shots):
    path = record(book, three_shots)
    assert len(recover(book, path)) == 3
    assert recover(book, path) == ()
    assert len(list(book.shots())) == 3


def test_replaying_a_recovered_recording_keeps_nothing(book, marked_shot):
    path = record(book, marked_shot)
    recover(book, path)
    live = start_sitting(ReplaySource(read_stream(path), "again", speed=float("inf")), logbook=book)
    live.start()
    live.stop()
    assert len(list(book.shots())) == 1
