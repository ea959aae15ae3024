"""A logbook with a few shots of demo streams, made once."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from benchtemp.bench.recovery import keep_shots_of
from benchtemp.logbook.folder import Logbook

STREAMS = Path(__file__).parents[3] / "demo_streams"


@pytest.fixture(scope="session")
def made_once(tmp_path_factory):
    """Return a logbook's folder with the shots of one series of six."""
    book = Logbook(tmp_path_factory.mktemp("handing over"))
    for folder in (book.recordings_dir, book.shots_dir):
        folder.mkdir(parents=True)
    recording = book.recordings_dir / "20310304-150000_series.ecsv"
    shutil.copy(STREAMS / "series_three_minutes.ecsv", recording)
    keep_shots_of(book, recording, is_new=True)
    return book.root


@pytest.fixture
def book(made_once, tmp_path):
    """Return a logbook of a test's own with six shots."""
    shutil.copytree(made_once, tmp_path / "book")
    return Logbook(tmp_path / "book")


@pytest.fixture
def out(tmp_path):
    """Return a folder to write into."""
    folder = tmp_path / "out"
    folder.mkdir()
    return folder
