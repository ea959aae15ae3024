from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication

from benchtemp.readings.serial_source import RawLine
from benchtemp.window.sources.raw_lines import RawLinesView, visible_text


@pytest.fixture
def view(show):
    return show(RawLinesView(), height_px=200)


@pytest.mark.parametrize(
    ("line", "text"),
    [
        (b"T1=93.25;T2=OPEN", "T1=93.25;T2=OPEN"),
        ("93.2 °C".encode(), "93.2 °C"),
        (b"93.2 \xb0C", "93.2 °C"),
        (b"\x00a\tb\x1b[2J", "\\x00a\\tb\\x1b[2J"),
    ],
)
def test_what_cannot_be_seen_is_written_out(line, text):
    assert visible_text(line) == text


def test_lines_come_by_themselves_and_can_be_held(qtbot, view):
    lines = [RawLine(1.5, b"93.1")]
    view.set_supply(lambda: tuple(lines))
    assert view.text.toPlainText() == "     1.50  93.1"
    lines.append(RawLine(1.6, b"93.2"))
    qtbot.waitUntil(lambda: "93.2" in view.text.toPlainText(), timeout=3000)

    view.pause_button.setFocus()
    qtbot.keyClick(view.pause_button, Qt.Key.Key_Return)
    assert view.paused
    lines.append(RawLine(1.7, b"93.3"))
    view._refresh()
    assert "93.3" not in view.text.toPlainText()
    qtbot.keyClick(view.pause_button, Qt.Key.Key_Return)
    assert "93.3" in view.text.toPlainText()


def test_copy_takes_everything_or_what_is_marked(qtbot, view):
    view.set_supply(lambda: (RawLine(0.1, b"one"), RawLine(0.2, b"two")))
    view.copy_button.setFocus()
    qtbot.keyClick(view.copy_button, Qt.Key.Key_Return)
    assert QGuiApplication.clipboard().text().split() == ["0.10", "one", "0.20", "two"]
    assert view.text.find("two")
    view._refresh()  # what is marked stays
    qtbot.keyClick(view.copy_button, Qt.Key.Key_Return)
    assert QGuiApplication.clipboard().text() == "two"


def test_a_source_without_lines_says_so(view):
    view.set_supply(None)
    assert view.note.isVisible()
    assert not view.text.isVisible()
    view.set_supply(lambda: ())
    assert view.note.text() == "No line has come yet."


def test_nothing_is_asked_for_while_it_cannot_be_seen(view):
    asked = []
    view.set_supply(lambda: asked.append(1) or ())
    before = len(asked)
    view.hide()
    view._refresh()
    assert len(asked) == before
    assert not view._timer.isActive()
