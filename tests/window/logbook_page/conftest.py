"""A logbook of a few shots, made quickly, and the page that shows it."""

from __future__ import annotations

import os

import numpy as np
import pytest

from benchtemp.logbook.folder import Logbook
from benchtemp.logbook.shot_file import write_shot
from benchtemp.readings.reading import Mark, MarkKind, Stream
from benchtemp.window.logbook_page import LogbookPage
from benchtemp.window.theme import LIGHT


def stream_of(number, *, machine="Kestrel Two", tags=None, notes="", pulled="", kind="shot", brew_degc=93.0):
    t_s = np.arange(18.0, 52.0, 0.5)
    pulled = pulled or f"2025-11-{1 + number % 28:02d}T10:{number % 60:02d}:00+01:00"
    result = {
        "kind": kind, "rise_s": 20.0, "pump_on_s": 20.0, "pump_on_source": "marked", "pump_off_s": 46.0,
        "pump_off_source": "marked", "plateau_start_s": 26.0, "plateau_end_s": 46.0,
        "brew_temp_degc": brew_degc, "brew_temp_uncertainty_k": 0.01, "sd_k": 0.1,
        "highest_degc": brew_degc + 0.2, "lowest_degc": brew_degc - 0.2, "drift_k_per_s": -0.01,
        "time_to_plateau_s": 6.0, "in_band_share": 1.0, "readings": 40,
    }  # fmt: skip
    return Stream(
        channels=("T1",),
        t_s=t_s,
        temps_degc=np.where((t_s > 24) & (t_s < 46), brew_degc, 60.0).reshape(-1, 1),
        marks=(Mark(20.0, MarkKind.PUMP_ON), Mark(46.0, MarkKind.PUMP_OFF)),
        mark_rows=(4, 56),
        meta={
            "machine": machine,
            "channels": [{"name": "T1", "probe": "basket 1"}],
            "recipe": {"dose_g": 18.0},
            "tags": {"machine": machine, "coffee": "house blend"} if tags is None else tags,
            **({"notes": notes} if notes else {}),
            "shot": {
                "number": number,
                "recording": "sitting.ecsv",
                "pulled": pulled,
                "yield_g": 36.0,
                "verdict": "within",
                "counts": kind == "shot",
                "reasons": [],
                "set_aside": "",
                "result": result,
            },
        },
    )


@pytest.fixture
def book(tmp_path):
    """Return an empty logbook."""
    return Logbook(tmp_path / "book")


@pytest.fixture
def make_shot(book):
    """Return what writes a shot's file, whose last change is some seconds old, and gives its path."""

    def make(number=1, **more):
        stream = stream_of(number, **more)
        pulled = stream.meta["shot"]["pulled"]
        folder = book.shots_dir / pulled[:7]
        folder.mkdir(parents=True, exist_ok=True)
        path = write_shot(folder / f"{pulled[:10].replace('-', '')}-1000{number:02d}_x.ecsv", stream)
        status = path.stat()
        os.utime(path, ns=(status.st_atime_ns, status.st_mtime_ns - 10_000_000_000))
        return path

    return make


@pytest.fixture
def shots(make_shot):
    """Return the files of four shots and a flush, newest first."""
    return [
        make_shot(5, kind="flush"),
        make_shot(4, machine="Umber Lever", tags={"machine": "Umber Lever", "coffee": "low tide"}),
        make_shot(3, brew_degc=91.5),
        make_shot(2, notes="wet puck"),
        make_shot(1),
    ]


@pytest.fixture
def make_page(qtbot):
    """Return what makes a page of a logbook, read and at rest."""
    made = []

    def make(logbook):
        page = LogbookPage(logbook)
        qtbot.addWidget(page)
        page.set_theme(LIGHT)
        page.resize(1000, 660)
        page.show()
        page.read()
        made.append(page)
        settle(qtbot, page)
        return page

    yield make
    for page in made:
        page.close_down()


@pytest.fixture
def page(book, shots, make_page):  # noqa: ARG001 - they must be there before the page
    """Return the page of the five files."""
    return make_page(book)


def settle(qtbot, page):
    """Wait until nothing is being done any more."""
    qtbot.waitUntil(lambda: not page.busy, timeout=15000)


@pytest.fixture
def at_rest(qtbot):
    """Return what waits until a page does nothing any more."""
    return lambda page: settle(qtbot, page)
