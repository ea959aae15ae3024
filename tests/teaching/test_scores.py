"""Scores as files: one a trainee, only ever appended to, readable by anything."""

import json
import sys

import pytest

from benchtemp.errors import BadInput, StorageError
from benchtemp.logbook.folder import Logbook
from benchtemp.teaching.cases.diagnosis import CaseMarking, Evidence
from benchtemp.teaching.cases.fault import Diagnosis, Fault
from benchtemp.teaching.marking import Answer
from benchtemp.teaching.practice import ItemResult, RoundResult
from benchtemp.teaching.scores import (
    FOLDER,
    cases_sentence,
    history,
    keep_case,
    keep_round,
    progress,
    trainees,
)

WHEN = "2031-03-04T10:00:00+01:00"


def a_round(score, *, aborted=False, off_s=1.0, title="First shots"):
    """Return a round in which pump on earned all of its points and the rest share `score`'s remainder."""
    points = {"pump on": 20.0, "plateau start": score - 40.0, "brew temperature": 0.0, "counts": 20.0}
    item = ItemResult(
        title="Shot 1", answer=Answer(pump_on_s=12.0), points=points, differences={"plateau start": off_s}
    )
    return RoundResult(title=title, exercise="abc", count=1, items=(item,), aborted=aborted)


@pytest.fixture
def logbook(tmp_path):
    return Logbook(tmp_path / "book")


def test_rounds_come_back_in_order(logbook):
    kept = [a_round(50.0), a_round(60.0, aborted=True), a_round(70.0)]
    for one in kept:
        path = keep_round(logbook, "Ada Brook", one, ended=WHEN)
    assert path == logbook.root / FOLDER / "Ada-Brook.jsonl"
    found = history(logbook, "ada  brook")
    assert [one.round for one in found.rounds] == kept
    assert [one.score for one in found.rounds] == [50.0, 60.0, 70.0]
    assert [one.score for one in found.whole] == [50.0, 70.0]
    assert found.trainee == "Ada Brook"
    assert found.warnings == ()


def test_a_line_is_plain_json_with_the_score_in_it(logbook):
    path = keep_round(logbook, "Ada", a_round(50.0), ended=WHEN)
    line = json.loads(path.read_text(encoding="utf-8"))
    assert line["trainee"] == "Ada"
    assert line["score"] == 50.0
    assert line["ended"] == WHEN
    assert line["round"]["items"][0]["differences"] == {"plateau start": 1.0}


def test_what_was_written_is_never_touched_again(logbook):
    path = keep_round(logbook, "Ada", a_round(50.0), ended=WHEN)
    before = path.read_bytes()
    keep_round(logbook, "Ada", a_round(60.0), ended=WHEN)
    assert path.read_bytes().startswith(before)


def test_names_that_look_alike_in_files_stay_apart(logbook):
    first = keep_round(logbook, "A/B", a_round(50.0))
    second = keep_round(logbook, "A-B", a_round(60.0))
    assert first != second
    assert [one.score for one in history(logbook, "A/B").rounds] == [50.0]
    assert [one.score for one in history(logbook, "A-B").rounds] == [60.0]
    assert trainees(logbook) == ("A-B", "A/B")


@pytest.mark.parametrize("name", ["../../x", "/etc/passwd", "CON", "..", "жук", "x" * 80])
def test_a_name_cannot_leave_the_folder(logbook, name):
    path = keep_round(logbook, name, a_round(50.0))
    assert path.parent == logbook.root / FOLDER
    assert path.is_file()
    assert history(logbook, name).rounds


@pytest.mark.parametrize("name", ["", "  ", "x" * 81, "a\x00b"])
def test_a_name_that_is_none_is_refused(logbook, name):
    with pytest.raises(BadInput):
        keep_round(logbook, name, a_round(50.0))


def test_a_line_cut_by_a_power_loss_is_told_and_swallows_nothing(logbook):
    path = keep_round(logbook, "Ada", a_round(50.0))
    keep_round(logbook, "Ada", a_round(60.0))
    path.write_bytes(path.read_bytes()[:-30])
    keep_round(logbook, "Ada", a_round(70.0))
    found = history(logbook, "Ada")
    assert [one.score for one in found.rounds] == [50.0, 70.0]
    assert "1 line" in found.warnings[0]


def test_nobody_yet(logbook):
    assert trainees(logbook) == ()
    empty = history(logbook, "Ada")
    assert empty.rounds == ()
    assert progress(empty).sentence == "No whole round yet."
    assert not logbook.root.exists()


@pytest.mark.skipif(sys.platform == "win32", reason="links need rights there")
def test_links_are_neither_read_nor_written_through(logbook, tmp_path):
    target = tmp_path / "target.txt"
    target.write_text("mine", encoding="utf-8")
    (logbook.root / FOLDER).mkdir(parents=True)
    (logbook.root / FOLDER / "Ada.jsonl").symlink_to(target)
    assert trainees(logbook) == ()
    path = keep_round(logbook, "Ada", a_round(50.0))
    assert path.name == "Ada-2.jsonl"
    assert target.read_text(encoding="utf-8") == "mine"


def test_a_folder_that_cannot_be_made_is_one_sentence(tmp_path):
    (tmp_path / "book").write_text("a file", encoding="utf-8")
    with pytest.raises(StorageError):
        keep_round(Logbook(tmp_path / "book"), "Ada", a_round(50.0))


def test_progress_over_rounds(logbook):
    for score, off_s in ((45.0, 3.0), (50.0, 2.5), (55.0, 2.0), (60.0, 1.0), (65.0, 0.5), (70.0, 0.25)):
        keep_round(logbook, "Ada", a_round(score, off_s=off_s))
    keep_round(logbook, "Ada", a_round(40.0, aborted=True))
    told = progress(history(logbook, "Ada"))
    assert told.scores == (45.0, 50.0, 55.0, 60.0, 65.0, 70.0)
    assert told.median_off["plateau start"] == (3.0, 2.5, 2.0, 1.0, 0.5, 0.25)
    assert told.median_off["pump on"] == (None,) * 6
    assert told.part_points["pump on"] == (1.0,) * 6
    assert told.sentence == (
        "6 rounds: 50 of 100 points in the first 3, 65 in the last 3; most is to be gained in brew "
        "temperature (0 % of its points)."
    )


def a_case(*, right, shots):
    return CaseMarking(
        right=right,
        fault=Fault.OFFSET,
        size_k=-1.0,
        size_right=None,
        points=100.0 if right else 0.0,
        verdict="",
        pointers=(),
        separating=(),
        evidence=Evidence(shots=shots, checks=1, findings=(), candidates=()),
        shots=shots,
        checks=1,
    )


def test_cases_stand_beside_rounds(logbook):
    offset, none = Diagnosis(fault=Fault.OFFSET), Diagnosis(fault=Fault.NONE)
    keep_round(logbook, "Ada", a_round(50.0), ended=WHEN)
    path = keep_case(logbook, "ada", 7, none, a_case(right=False, shots=4), ended=WHEN)
    keep_case(logbook, "Ada", 7, offset, a_case(right=True, shots=8), ended=WHEN)
    keep_case(logbook, "Ada", 8, offset, a_case(right=True, shots=6), ended=WHEN)
    found = history(logbook, "Ada")
    assert path == found.path
    assert len(found.rounds) == 1
    assert [(one.case, one.named, one.fault, one.right, one.score) for one in found.cases] == [
        (7, "none", "offset", False, 0.0),
        (7, "offset", "offset", True, 100.0),
        (8, "offset", "offset", True, 100.0),
    ]
    assert cases_sentence(found) == "1 of 2 cases named right at the first go, with 5 shots each."
    assert progress(found).scores == (50.0,)


def test_cases_alone_make_a_history(logbook):
    keep_case(logbook, "Ben", 9, Diagnosis(fault=Fault.OFFSET), a_case(right=True, shots=6))
    assert trainees(logbook) == ("Ben",)
    found = history(logbook, "Ben")
    assert found.rounds == ()
    assert len(found.cases) == 1
    assert cases_sentence(history(logbook, "Cleo")) == ""
