import os
import shutil
import sys
from dataclasses import replace

import pytest

from benchtemp.errors import BadInput
from benchtemp.logbook.ecsv import write_stream
from benchtemp.logbook.index.editing import set_aside
from benchtemp.places import demo_streams_dir
from benchtemp.reports.gathering import files_in, read_tested
from benchtemp.reports.stopping import Stopped
from benchtemp.studies.evidence.shot_set import Selection


def test_a_recording_gives_its_shots_with_traces_that_count_from_pump_on(recording, digest_of):
    path = recording(93.0, 91.0)
    tested = read_tested([path])
    assert [one.name for one in tested.shots] == ["2031-03-04 13:00 shot 1", "2031-03-04 13:02 shot 2"]
    assert [one.record.brew_temp_degc for one in tested.shots] == pytest.approx([93.0, 91.0], abs=0.1)
    trace = tested.shots[1].trace
    assert trace.t_s[0] == pytest.approx(-10.0)
    assert trace.degc[trace.t_s == 20.0] == pytest.approx([91.0], abs=0.1)
    (file,) = tested.files
    assert (file.name, file.sha256, file.size) == ("sitting.ecsv", digest_of(path), path.stat().st_size)
    assert file.shots == 2


def test_a_line_is_broken_where_nothing_came(recorded, tmp_path):
    whole = recorded(93.0)
    kept = (whole.t_s < 40) | (whole.t_s > 46)
    rows = [int((whole.t_s[kept] <= mark.t_s).sum()) for mark in whole.marks]
    write_stream(
        tmp_path / "gap.ecsv",
        replace(whole, t_s=whole.t_s[kept], temps_degc=whole.temps_degc[kept], mark_rows=tuple(rows)),
    )
    trace = read_tested([tmp_path / "gap.ecsv"]).shots[0].trace
    (broken,) = trace.t_s[trace.degc != trace.degc]
    assert 10 < broken < 16


def test_a_logbooks_shots_are_read_from_their_own_files_with_their_recordings_digest(logbook, digest_of):
    book = logbook(93.0, 91.0)
    tested = read_tested([book.root])
    assert [file.what for file in tested.files] == ["shot", "shot", "recording"]
    assert [file.shots for file in tested.files] == [1, 1, 0]
    assert tested.files[2].sha256 == digest_of(next(book.recordings()))
    assert tested.logbook.root == book.root
    # Idle times come from the recording's marks.
    assert tested.shots[1].record.idle_min.value == pytest.approx(95 / 60, abs=0.01)


def test_a_recording_beside_its_shot_files_does_not_count_twice(logbook):
    book = logbook(93.0, 91.0)
    tested = read_tested([*book.shots(), *book.recordings()])
    assert len(tested.shots) == len(tested.shot_set.used) == 2
    assert {one.path for one in tested.shots} == set(book.shots())


def test_two_files_of_one_name_are_told_apart(recording):
    first = recording(93.0, name="a/sitting.ecsv")
    second = recording(91.0, name="b/sitting.ecsv", started="2031-03-05T13:00:00+00:00")
    tested = read_tested([first, second])
    assert [file.name for file in tested.files] == ["a/sitting.ecsv", "b/sitting.ecsv"]
    assert [file.shots for file in tested.files] == [1, 1]
    assert len(tested.streams) == 2


def test_a_shot_set_aside_stays_in_sight(logbook):
    book = logbook(93.0, 91.0, 92.0)
    path = sorted(book.shots())[1]
    set_aside(path, "basket not dried")
    tested = read_tested([book.root])
    assert [one.used for one in tested.shots] == [True, False, True]
    assert "set aside: basket not dried" in tested.shots[1].record.reasons
    assert next(file for file in tested.files if file.name == path.name).edits == 1


def test_a_damaged_file_is_told(logbook):
    book = logbook(93.0, 91.0)
    path = min(book.shots())
    content = path.read_bytes()
    at = content.rindex(b",6")
    path.write_bytes(content[: at + 1] + b"7" + content[at + 2 :])
    tested = read_tested([book.root])
    assert [bool(file.remark) for file in tested.files] == [True, False, False]
    assert "not those that were written" in tested.files[0].remark


def test_only_the_shots_meant_are_taken(logbook):
    book = logbook(93.0, 91.0)
    assert len(read_tested([book.root], selection=Selection(machines=("ferrowick two",))).shots) == 2
    with pytest.raises(BadInput, match="None of these shots"):
        read_tested([book.root], selection=Selection(machines=("Other",)))
    with pytest.raises(BadInput, match="None of these shots"):
        read_tested(list(book.recordings()), selection=Selection(since="2031-04-01"))


def test_a_file_that_cannot_be_read_is_a_complaint_and_the_others_are_read(recording, tmp_path):
    good = recording(93.0)
    (tmp_path / "bad.ecsv").write_text("not one of ours\n")
    tested = read_tested([tmp_path / "bad.ecsv", good])
    assert len(tested.shots) == 1
    assert any("bad.ecsv" in complaint for complaint in tested.complaints)


@pytest.mark.parametrize("name", ["missing.ecsv", "empty-folder"])
def test_where_there_is_nothing_a_sentence_says_so(name, tmp_path):
    (tmp_path / "empty-folder").mkdir()
    with pytest.raises(BadInput, match=name):
        read_tested([tmp_path / name])


def test_a_recording_without_a_shot_says_why(recording):
    with pytest.raises(BadInput, match=r"sitting\.ecsv holds no shot"):
        read_tested([recording()])


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no named pipes in folders")
def test_a_pipe_and_a_link_to_itself_do_not_hang(recording):
    folder = recording(93.0, name="folder/sitting.ecsv").parent
    os.mkfifo(folder / "pipe.ecsv")
    (folder / "round").symlink_to(folder)
    (folder / "self.ecsv").symlink_to(folder / "self.ecsv")
    tested = read_tested([folder])
    assert len(tested.shots) == 1
    assert len(tested.complaints) == 2


def test_other_folders_are_searched_without_hidden_files(recording):
    path = recording(93.0, name="folder/deep/sitting.ecsv")
    shutil.copy(path, path.with_name("._sitting.ecsv"))
    assert files_in([path.parents[1]]) == (path,)


def test_reading_tells_how_far_it_is_and_can_be_stopped(logbook):
    book = logbook(93.0, 91.0, 92.0)
    told = []
    read_tested([book.root], progress=lambda done, total: told.append((done, total)))
    assert told == [(1, 3), (2, 3), (3, 3)]
    answers = iter([False, True])
    with pytest.raises(Stopped):
        read_tested([book.root], cancelled=lambda: next(answers))


def test_a_flush_is_counted_and_not_listed():
    tested = read_tested([demo_streams_dir() / "flush_in_basket.ecsv"])
    assert (len(tested.shots), tested.flushes) == (1, 1)


def test_notes_of_a_shot_carry_their_time(recording):
    marked = ((40.0, "cup changed"), (170.0, "channel"))
    tested = read_tested([recording(93.0, 92.0, notes=marked, meta={"notes": "a rainy day"})])
    assert [one.notes for one in tested.shots] == [
        ("a rainy day", "10 s: cup changed"),
        ("20 s: channel",),
    ]
