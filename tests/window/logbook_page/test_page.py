from __future__ import annotations

import pytest
from PySide6.QtCore import Qt

from benchtemp.logbook.folder import Logbook
from benchtemp.places import default_logbook_dir
from benchtemp.readings.replay import ReplaySource
from benchtemp.units import TempUnit
from benchtemp.window.logbook_page.page import COLUMNS, LogbookPage, read_entries


@pytest.fixture
def kept(window, stand):
    """Return the logbook after one sitting with one shot."""
    stand.go_on(8.0)
    window.session.enter("dose_g=18")
    window.press()
    stand.go_on(25.0)
    window.press()
    stand.go_on(8.0)
    window.session.end()
    return Logbook(default_logbook_dir())


@pytest.fixture
def page(qtbot, kept):
    made = LogbookPage(kept)
    qtbot.addWidget(made)
    made.show()
    made.read()
    qtbot.waitUntil(lambda: bool(made.entries), timeout=5000)
    yield made
    made.close_down()


def test_recordings_and_shots_are_listed(kept):
    entries = read_entries(kept)
    assert sorted(entry.what for entry in entries) == ["Recording", "Shot 1"]
    shot = next(entry for entry in entries if entry.what == "Shot 1")
    assert shot.machine == "Ferrowick Two"
    assert shot.brew_temp_degc == pytest.approx(93.0, abs=1.5)
    assert shot.verdict.startswith(("✓", "✕"))
    assert [entry.began for entry in entries] == sorted((entry.began for entry in entries), reverse=True)


def test_a_file_that_cannot_be_read_is_listed_as_such(kept):
    (kept.recordings_dir / "spoiled.ecsv").write_text("not a recording", encoding="utf-8")
    assert "Cannot be read" in [entry.what for entry in read_entries(kept)]


def test_enter_replays_the_chosen_file(qtbot, page):
    asked = []
    page.replay_asked.connect(asked.append)
    page.list.setFocus()
    qtbot.keyClick(page, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: bool(asked), timeout=5000)
    assert isinstance(asked[0].source, ReplaySource)
    assert not asked[0].keep


def test_the_search_narrows_the_list(page):
    assert page._filter.rowCount() == 2
    page.search.setText("shot 1")
    assert page._filter.rowCount() == 1
    page.search.setText("nothing of the kind")
    assert page._filter.rowCount() == 0


def test_the_unit_is_the_one_shown(page):
    column = COLUMNS.index("Brew temperature")
    page.set_unit(TempUnit.DEGF)
    texts = [page._table.index(row, column).data() for row in range(2)]
    assert any(text and text.endswith("°F") and text.startswith("19") for text in texts)


def test_an_empty_logbook_says_so(qtbot, tmp_path):
    page = LogbookPage(Logbook(tmp_path / "nowhere"))
    qtbot.addWidget(page)
    page.read()
    qtbot.waitUntil(lambda: page.note.text().startswith("Nothing is kept here yet"), timeout=5000)
    assert not page.replay_button.isEnabled()
    page.close_down()
