from math import sin

import pytest

from benchtemp.errors import StorageError
from benchtemp.logbook.ecsv import read_stream
from benchtemp.logbook.folder import Logbook
from benchtemp.logbook.importing import guess_table, import_files, imported_before


@pytest.fixture
def book(tmp_path):
    return Logbook(tmp_path / "book")


def climbing(rows=30, offset=0.0):
    return [[60 + offset + 3 * sin(row / 9)] for row in range(rows)]


@pytest.fixture
def cards(meter, tmp_path):
    """Three files of one meter."""
    files = []
    for number in range(3):
        path = tmp_path / f"log {number}.csv"
        path.write_bytes(meter(heading=("Time", "T1 (°C)")).file(range(30), climbing(offset=number)))
        files.append(path)
    return files


def layout_of(path):
    return guess_table(path).layout


def test_each_file_becomes_a_recording(book, cards):
    told = []
    done = import_files(
        cards,
        layout_of(cards[0]),
        book,
        progress=lambda *seen: told.append(seen),
        machine="bench two",
        tags={"coffee": "house"},
    )
    assert [outcome.file for outcome in done] == cards
    assert told == [(0, 3, "log 0.csv"), (1, 3, "log 1.csv"), (2, 3, "log 2.csv")]
    assert sorted(outcome.recording for outcome in done) == list(book.recordings())
    assert done[0].recording.name == "20260314-095950_bench-two.ecsv"
    for number, outcome in enumerate(done):
        stream = read_stream(outcome.recording)
        assert stream.warnings == ()
        assert stream.temps_degc[0, 0] == 60 + number
        assert stream.meta["machine"] == "bench two"
        assert stream.meta["tags"] == {"coffee": "house"}
        assert outcome.rows == 30
        assert outcome.analysis.shots == ()
        assert outcome.analysis.reasons


def test_importing_again_is_noticed_whatever_the_file_is_called(book, cards, tmp_path):
    layout = layout_of(cards[0])
    (first,) = import_files(cards[:1], layout, book)
    copy = tmp_path / "copy of it.txt"
    copy.write_bytes(cards[0].read_bytes())
    done = import_files([copy, cards[1], cards[1]], layout, book)
    assert done[0].already == first.recording
    assert done[0].recording is None
    assert done[2].already == done[1].recording
    assert len(list(book.recordings())) == 2
    assert set(imported_before(book)) == {first.sha256, done[1].sha256}


def test_it_may_be_imported_again_on_purpose_and_never_overwrites(book, cards):
    layout = layout_of(cards[0])
    (first,) = import_files(cards[:1], layout, book)
    before = first.recording.read_bytes()
    (again,) = import_files(cards[:1], layout, book, again=True)
    assert again.recording != first.recording
    assert first.recording.read_bytes() == before


def test_a_recording_in_the_bin_does_not_stand_in_the_way(book, cards):
    layout = layout_of(cards[0])
    (first,) = import_files(cards[:1], layout, book)
    book.to_bin(first.recording)
    (again,) = import_files(cards[:1], layout, book)
    assert again.recording is not None


def test_one_bad_file_does_not_stop_the_others(book, cards, tmp_path):
    bad = tmp_path / "bad.csv"
    bad.write_bytes(b"\x00\x01\x02" * 500)
    done = import_files([bad, tmp_path / "missing.csv", tmp_path, cards[0]], layout_of(cards[0]), book)
    assert [bool(outcome.complaint) for outcome in done] == [True, True, True, False]
    assert all("\n" not in outcome.complaint for outcome in done)


def test_it_can_be_cancelled_between_files(book, cards):
    asked = iter([False, False, True])
    done = import_files(cards, layout_of(cards[0]), book, cancelled=lambda: next(asked))
    assert len(done) == 2
    assert len(list(book.recordings())) == 2


def test_each_outcome_is_told_at_once(book, cards):
    told = []

    def stop(outcome):
        told.append(outcome)
        if len(told) == 2:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        import_files(cards, layout_of(cards[0]), book, done=stop)
    assert [outcome.recording for outcome in told] == list(book.recordings())


def test_a_file_without_a_date_takes_its_own_name(book, meter, tmp_path):
    path = tmp_path / "=cmd ..-CON.csv"
    path.write_bytes(meter(heading=("Time (s)", "T1 (°C)"), elapsed=1.0).file(range(30), climbing()))
    done = import_files([path], layout_of(path), book)
    assert done[0].recording.name == "cmd.CON.ecsv"
    assert done[0].started == ""


def test_a_machine_cannot_lead_out_of_the_folder(book, cards):
    (done,) = import_files(cards[:1], layout_of(cards[0]), book, machine="../../x")
    assert done.recording.parent == book.recordings_dir
    assert read_stream(done.recording).meta["machine"] == "../../x"


def test_a_disk_that_refuses_is_told(cards, tmp_path):
    (tmp_path / "book").write_text("a file where the folder should be")
    with pytest.raises(StorageError):
        import_files(cards, layout_of(cards[0]), Logbook(tmp_path / "book"))
