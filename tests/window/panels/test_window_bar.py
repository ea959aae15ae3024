from __future__ import annotations

import pytest
from PySide6.QtGui import QColor

from benchtemp.window.panels.window_bar import WindowBar
from benchtemp.window.theme import LIGHT


@pytest.fixture
def bar(qtbot):
    made = WindowBar(name="Time", unit="s")
    qtbot.addWidget(made)
    made.resize(202, 16)
    return made


def test_the_window_lies_where_its_share_of_the_scale_is(bar):
    bar.show_progress(14.0, 22.0, 28.0)
    assert bar.full_scale == 35.0
    assert bar.x_of(0.0) == 1.0
    assert bar.x_of(35.0) == 201.0
    assert bar.x_of(22.0) == pytest.approx(1 + 200 * 22 / 35)
    assert bar.x_of(900.0) == 201.0


def test_the_fill_ends_at_the_value(bar):
    bar.show_progress(14.0, 22.0, 28.0)
    image = bar.grab().toImage()
    ratio = image.width() / bar.width()
    y = round(8 * ratio)
    assert image.pixelColor(round(20 * ratio), y) == QColor(LIGHT.accent)
    assert image.pixelColor(round((bar.x_of(14.0) + 10) * ratio), y) == QColor(LIGHT.grid)


def test_what_is_drawn_can_be_heard(bar):
    bar.show_progress(None, None, None)
    assert bar.summary() == "none yet"
    bar.show_progress(25.04, 22.0, 28.0)
    assert bar.accessibleDescription() == "25.0 s, window 22–28 s"


def test_without_a_window_a_value_does_not_fill_the_track(bar):
    bar.show_progress(20.0, None, None)
    assert bar.x_of(20.0) == pytest.approx(1 + 200 * 0.4)
    bar.show_progress(80.0, None, None)
    assert bar.x_of(80.0) == pytest.approx(1 + 200 * 0.8)
