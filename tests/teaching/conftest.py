"""Exercises made once of demo streams; nobody changes them."""

import functools

import pytest

from benchtemp.logbook.ecsv import read_stream
from benchtemp.places import demo_streams_dir
from benchtemp.teaching.cutting import item_from, pulls_in
from benchtemp.teaching.exercise import Exercise, TeacherNote


@functools.cache
def _items():
    found = []
    for name in ("dual_boiler_steady", "slow_pump_preinfusion", "coarse_unmarked"):
        stream = read_stream(demo_streams_dir() / f"{name}.ecsv")
        found.append(item_from(stream, pulls_in(stream)[0], title=f"Shot {len(found) + 1}"))
    return tuple(found)


@pytest.fixture
def steady():
    """A marked shot of a steady machine, with a scale."""
    return _items()[0]


@pytest.fixture
def unmarked():
    """A shot nobody marked."""
    return _items()[2]


@pytest.fixture
def flush():
    """A marked flush through an empty basket."""
    stream = read_stream(demo_streams_dir() / "flush_in_basket.ecsv")
    return item_from(stream, pulls_in(stream)[0])


@pytest.fixture
def exercise():
    """Three shots, the first with notes."""
    first, *others = _items()
    first = first.with_note(TeacherNote(t_s=20.0, text="Still climbing?"))
    first = first.with_note(TeacherNote(t_s=5.0, text="Nothing moves yet."))
    return Exercise(
        title="First shots", teacher="Ines", words="Look twice.\nThen press.", items=(first, *others)
    )
