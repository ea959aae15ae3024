"""A teacher's notes on a recording: kept beside it, found again, and never in it."""

import os
import sys
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtemp.errors import BadInput, StorageError
from benchtemp.logbook.folder import Logbook
from benchtemp.readings.reading import Mark, MarkKind, Stream
from benchtemp.teaching.replay_notes import COUNT_LIMIT, ReplayNotes, readings_digest


def note(t_s, text):
    return Mark(t_s, MarkKind.NOTE, text)


@pytest.fixture
def logbook(tmp_path):
    return Logbook(tmp_path / "book")


@pytest.fixture
def recording():
    return Stream(("T1",), np.arange(5.0), np.full((5, 1), 93.0))


def test_notes_come_back_in_order_of_time(logbook, recording):
    kept = ReplayNotes(logbook, recording, "morning.ecsv")
    assert kept.read() == ()
    kept.write((note(3.0, "and here?"), note(1.25, 'why "so" steep?')))
    again = ReplayNotes(logbook, recording, "morning.ecsv")
    assert again.read() == (note(1.25, 'why "so" steep?'), note(3.0, "and here?"))
    assert again.path.parent == logbook.root / "notes"
    assert again.path.name.startswith("morning-")


def test_they_are_found_when_the_recording_was_renamed_or_its_tags_edited(logbook, recording):
    ReplayNotes(logbook, recording, "morning.ecsv").write((note(1.0, "look"),))
    edited = replace(recording, meta={"tags": {"coffee": "new blend"}})
    assert ReplayNotes(logbook, edited, "elsewhere.ecsv").read() == (note(1.0, "look"),)


def test_other_readings_have_other_notes(logbook, recording):
    ReplayNotes(logbook, recording, "morning.ecsv").write((note(1.0, "look"),))
    other = replace(recording, temps_degc=recording.temps_degc + 0.1)
    assert readings_digest(other) != readings_digest(recording)
    assert ReplayNotes(logbook, other, "morning.ecsv").read() == ()


def test_without_notes_there_is_no_file(logbook, recording):
    kept = ReplayNotes(logbook, recording, "morning.ecsv")
    kept.write(())
    assert not logbook.root.exists()
    kept.write((note(1.0, "look"),))
    kept.write(())
    assert not kept.path.exists()


def test_a_name_cannot_leave_the_folder(logbook, recording):
    kept = ReplayNotes(logbook, recording, "../../elsewhere/x.ecsv")
    kept.write((note(1.0, "look"),))
    assert kept.path.parent == logbook.root / "notes"


@pytest.mark.parametrize(
    "content",
    [
        "notes = 3",
        "not toml at all",
        "recording = 'x'\nnotes = [{t_s = 'now', text = 'x'}]",
        "\0",
        "notes = " + "[" * 10_000,
        "recording = 'x'\n" + "a." * 20_000 + "a = 1",
    ],
    ids=["a number", "no TOML", "a word", "no text", "nested deeply", "a name of very many parts"],
)
def test_a_damaged_file_is_told_and_left_alone(logbook, recording, content):
    kept = ReplayNotes(logbook, recording, "morning.ecsv")
    kept.path.parent.mkdir(parents=True)
    kept.path.write_text(content)
    with pytest.raises(BadInput, match="holds no notes"):
        kept.read()
    assert kept.path.read_text() == content


@pytest.mark.parametrize("time", ["nan", "inf", "-inf"])
def test_a_note_at_no_time_is_told(logbook, recording, time):
    kept = ReplayNotes(logbook, recording, "morning.ecsv")
    kept.path.parent.mkdir(parents=True)
    kept.path.write_text(f"recording = 'x'\nnotes = [{{t_s = {time}, text = 'x'}}]")
    with pytest.raises(BadInput, match="without a time"):
        kept.read()


@given(
    st.lists(
        st.tuples(st.floats(0.0, 7200.0), st.text(min_size=1) | st.text("'\"\\#. ", min_size=1)), max_size=5
    ),
    st.text(min_size=1),
)
def test_any_notes_on_any_recording_come_back(recording, tmp_path_factory, notes, name):
    logbook = Logbook(tmp_path_factory.mktemp("book"))
    kept = ReplayNotes(logbook, recording, name)
    kept.write(tuple(note(t_s, text) for t_s, text in notes))
    found = ReplayNotes(logbook, recording, name).read()
    letters = [
        "".join(char for char in text if char.isprintable() and not char.isspace()) for _, text in notes
    ]
    written = sorted(
        ((round(t_s, 4), text) for (t_s, _), text in zip(notes, letters, strict=True) if text),
        key=lambda pair: pair[0],
    )
    assert [(mark.t_s, mark.text.replace(" ", "")) for mark in found] == written
    kept.write(found)
    assert ReplayNotes(logbook, recording, name).read() == found


def test_a_recording_whose_name_is_no_text_takes_notes(logbook, recording):
    kept = ReplayNotes(logbook, recording, "caf\udce9.ecsv")
    kept.write((note(1.0, "look"),))
    assert ReplayNotes(logbook, recording, "caf\udce9.ecsv").read() == (note(1.0, "look"),)


def test_a_huge_file_is_refused(logbook, recording):
    kept = ReplayNotes(logbook, recording, "morning.ecsv")
    kept.path.parent.mkdir(parents=True)
    kept.path.write_bytes(b"#" * (2 * 1024 * 1024))
    with pytest.raises(BadInput, match="too large"):
        kept.read()


def test_too_many_are_refused(logbook, recording):
    many = tuple(note(float(number), "x") for number in range(COUNT_LIMIT + 1))
    with pytest.raises(BadInput, match="at most"):
        ReplayNotes(logbook, recording, "morning.ecsv").write(many)


def test_what_cannot_be_shown_is_left_out(logbook, recording):
    kept = ReplayNotes(logbook, recording, "morning.ecsv")
    kept.write((note(1.0, "two\nlines\x07 and a bell"),))
    assert kept.read() == (note(1.0, "two lines and a bell"),)


@pytest.mark.skipif(
    sys.platform == "win32" or getattr(os, "geteuid", lambda: 1)() == 0, reason="everything may be written"
)
def test_a_folder_that_takes_nothing_is_told(logbook, recording):
    logbook.root.mkdir()
    logbook.root.chmod(0o500)
    with pytest.raises(StorageError):
        ReplayNotes(logbook, recording, "morning.ecsv").write((note(1.0, "look"),))
    logbook.root.chmod(0o700)
