from __future__ import annotations

import pytest
from PySide6.QtCore import Qt

from benchtemp.window.panels.note import NoteEntry


@pytest.fixture
def entry(show, make_snapshot):
    made = show(NoteEntry())
    made.show_snapshot(make_snapshot())
    return made


def test_enter_notes_and_clears(qtbot, entry):
    happened = []
    entry.noted.connect(happened.append)
    entry.left.connect(lambda: happened.append("left"))
    entry.field.setFocus()
    qtbot.keyClicks(entry.field, "  cup   changed ")
    qtbot.keyClick(entry.field, Qt.Key.Key_Return)
    assert happened == ["cup changed", "left"]
    assert entry.field.text() == ""


def test_nothing_written_is_no_note(qtbot, entry):
    noted = []
    entry.noted.connect(noted.append)
    entry.field.setFocus()
    qtbot.keyClicks(entry.field, "   ")
    qtbot.keyClick(entry.field, Qt.Key.Key_Return)
    assert noted == []


def test_no_notes_without_a_source(entry):
    entry.show_snapshot(None)
    assert not entry.field.isEnabled()
