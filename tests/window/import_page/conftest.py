"""Text files as a meter with a memory card leaves them, with real shots in them."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import numpy as np
import pytest

from benchtemp.logbook.ecsv import read_stream
from benchtemp.logbook.folder import Logbook

STREAMS = Path(__file__).parents[3] / "demo_streams"


@pytest.fixture
def card(tmp_path):
    """Return a maker of text files on a card: a reading a second of a demo stream."""

    def make(name, stream="thermoblock", *, day=3, date="%d/%m/%Y", rows=None):
        shown = read_stream(STREAMS / f"{stream}.ecsv")
        t_s = np.arange(shown.t_s[0], shown.t_s[-1])[:rows]
        temps = np.interp(t_s, shown.t_s, shown.temps_degc[:, 0])
        began = dt.datetime(2026, 4, day, 9, 59, 50, tzinfo=dt.UTC)
        lines = ["Bench recorder;12", "Datum;Zeit;Fühler 1 (°C);Bemerkung"]
        for at_s, temp in zip(t_s.tolist(), temps.tolist(), strict=True):
            moment = (began + dt.timedelta(seconds=at_s)).strftime(f"{date};%H:%M:%S")
            lines.append(f"{moment};{temp:.1f};ok".replace(".", ","))
        path = tmp_path / name
        path.write_bytes("\r\n".join([*lines, ""]).encode("utf-16"))
        return path

    return make


@pytest.fixture
def page(qtbot, tmp_path):
    """Return the import page on a logbook of its own."""
    from benchtemp.window.import_page.page import ImportPage  # noqa: PLC0415 - other tests here need no app
    from benchtemp.window.theme import LIGHT  # noqa: PLC0415

    made = ImportPage(Logbook(tmp_path / "logbook"))
    qtbot.addWidget(made)
    made.set_theme(LIGHT)
    made.resize(912, 660)
    made.show()
    qtbot.waitExposed(made)
    yield made
    made.close_down()


@pytest.fixture
def take(qtbot, page):
    """Return what gives the page files and waits until it has looked at them."""

    def do(*files):
        page.take_files(files)
        qtbot.waitUntil(lambda: not page.preview.looking, timeout=10_000)

    return do


@pytest.fixture
def choose(qtbot, page):
    """Return what chooses a value as a hand does, and waits for the look that follows."""

    def do(choice, value):
        index = choice.findData(value)
        assert index >= 0, value
        choice.setCurrentIndex(index)
        choice.activated.emit(index)
        qtbot.waitUntil(lambda: not page.preview.looking, timeout=10_000)

    return do
