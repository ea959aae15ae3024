"""Damage is told and nothing else; mending is done when asked, and keeps the original."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from benchtemp.errors import BadInput
from benchtemp.logbook.ecsv import read_meta, read_stream
from benchtemp.logbook.index import checking
from benchtemp.logbook.index.checking import check, mend
from benchtemp.logbook.index.editing import edit, history
from benchtemp.logbook.shot_file import Condition, verify
from benchtemp.readings.reading import Reading

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from benchtemp.logbook.folder import Logbook


def flip(path: Path, before: bytes, after: bytes) -> None:
    content = path.read_bytes()
    assert before in content
    path.write_bytes(content.replace(before, after, 1))


def conditions(logbook: Logbook) -> dict[str, Condition]:
    return {found.path.rpartition("/")[2]: found.condition for found in check(logbook)}


@pytest.fixture
def damaged(make_shot: Callable[..., Path], logbook: Logbook) -> dict[Condition, Path]:
    """Return one file in every condition."""
    digit, header, cut, whole = (make_shot(number) for number in range(1, 5))
    flip(digit, b"\n30.0,93.0,", b"\n30.0,94.0,")
    flip(header, b"house blend", b"other blend")
    cut.write_bytes(cut.read_bytes()[:300])
    recorder = logbook.new_recording(channels=("T1",), has_weight=False, meta={})
    recorder.append(Reading(0.5, (20.0,)))
    recorder.close()
    unclosed = logbook.recordings_dir / "interrupted.ecsv"
    unclosed.write_bytes(recorder.path.read_bytes().rpartition(b"# closed")[0])
    foreign = logbook.shots_dir / "2025-11" / "foreign.ecsv"
    foreign.write_text(
        "# %ECSV 1.0\n# ---\n# datatype:\n# - {name: t, unit: s, datatype: float64}\n"
        "# - {name: T1, unit: deg_C, datatype: float64}\nt T1\n0 20\n"
    )
    return {
        Condition.ROWS_DAMAGED: digit,
        Condition.HEADER_CHANGED: header,
        Condition.UNREADABLE: cut,
        Condition.WHOLE: whole,
        Condition.NOT_CLOSED: unclosed,
        Condition.NO_DIGEST: foreign,
    }


def test_every_condition_is_told_and_nothing_changed(
    logbook: Logbook, damaged: dict[Condition, Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    before = {path: path.read_bytes() for path in [*logbook.shots(), *logbook.recordings()]}
    told: list[tuple[int, int]] = []
    monkeypatch.setattr(checking, "FILES_PER_JOB", 2)
    found = list(check(logbook, lambda *now: told.append(now)))
    assert {path.name: condition for condition, path in damaged.items()}.items() <= conditions(
        logbook
    ).items()
    assert {one.condition for one in found if one.is_damaged} == {
        Condition.ROWS_DAMAGED,
        Condition.UNREADABLE,
    }
    assert told[-1] == (7, 7)
    assert {path: path.read_bytes() for path in [*logbook.shots(), *logbook.recordings()]} == before
    assert not logbook.bin_dir.exists()


def test_checking_can_be_cancelled_and_shared_out(
    logbook: Logbook, make_shot: Callable[..., Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    for number in range(6):
        make_shot(number)
    monkeypatch.setattr(checking, "FILES_PER_JOB", 2)
    asked = iter([False, False, True])
    assert len(list(check(logbook, cancelled=lambda: next(asked)))) == 4
    assert list(check(logbook, processes=2)) == list(check(logbook, processes=1))


def test_damaged_rows_are_written_anew_and_the_original_kept(
    logbook: Logbook, damaged: dict[Condition, Path]
) -> None:
    path = damaged[Condition.ROWS_DAMAGED]
    flip(path, b"\n31.0,93.0,", b"\n31.0,9\xff3.0,")
    original = path.read_bytes()
    done = mend(logbook, path)
    assert done.original is not None
    assert done.original.read_bytes() == original
    assert logbook.bin_dir in done.original.parents
    assert verify(path).condition is Condition.WHOLE
    assert len(read_stream(path).t_s) == 25
    note = read_meta(path)["mended"]
    assert note["original"] == done.original.name
    assert "1 row was damaged" in note["warnings"][0]
    assert "25 rows" in done.text


def test_mending_keeps_the_history_of_edits(logbook: Logbook, make_shot: Callable[..., Path]) -> None:
    path = make_shot(1)
    edit(path, notes="before")
    path.write_bytes(path.read_bytes()[:-30])
    mend(logbook, path)
    assert [one.changes for one in history(read_meta(path))] == [{"notes": (None, "before")}]
    assert read_meta(path)["notes"] == "before"


def test_a_damaged_recording_is_mended_as_a_recording(
    logbook: Logbook, damaged: dict[Condition, Path]
) -> None:
    (path,) = (one for one in logbook.recordings() if one != damaged[Condition.NOT_CLOSED])
    flip(path, b"\n0.5,20.0,", b"\n0.5,21.0,")
    assert verify(path).condition is Condition.ROWS_DAMAGED
    mend(logbook, path)
    assert verify(path).condition is Condition.WHOLE
    assert read_meta(path)["kind"] == "recording"


def test_a_recording_that_was_never_closed_is_closed(
    logbook: Logbook, damaged: dict[Condition, Path]
) -> None:
    path = damaged[Condition.NOT_CLOSED]
    before = path.read_bytes()
    mend(logbook, path)
    assert verify(path).condition is Condition.WHOLE
    assert path.read_bytes().startswith(before)


def test_a_recording_under_way_is_left_alone(logbook: Logbook) -> None:
    recorder = logbook.new_recording(channels=("T1",), has_weight=False, meta={})
    try:
        with pytest.raises(BadInput, match="still being recorded"):
            mend(logbook, recorder.path)
    finally:
        recorder.close()


def test_what_cannot_or_need_not_be_mended_stays(logbook: Logbook, damaged: dict[Condition, Path]) -> None:
    sentences = {
        Condition.UNREADABLE: "cannot be mended",
        Condition.WHOLE: "needs no mending",
        Condition.HEADER_CHANGED: "needs no mending",
        Condition.NO_DIGEST: "needs no mending",
    }
    for condition, sentence in sentences.items():
        before = damaged[condition].read_bytes()
        with pytest.raises(BadInput, match=sentence):
            mend(logbook, damaged[condition])
        assert damaged[condition].read_bytes() == before
    assert not logbook.bin_dir.exists()
