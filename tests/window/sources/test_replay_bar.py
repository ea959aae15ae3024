from __future__ import annotations

from math import inf

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtWidgets import QLineEdit

from benchtemp.readings.replay import SPEED_MAX, SPEED_MIN, ReplaySource
from benchtemp.window.sources.replay_bar import (
    SPEEDS,
    ReplayBar,
    ReplaySteering,
    clock_text,
    key_help,
    speed_text,
)
from benchtemp.window.theme import DARK


@pytest.fixture
def source(stream):
    clock = [100.0]
    made = ReplaySource(stream, "morning", paused=True, clock=lambda: clock[0])
    made.open()
    made.advance = lambda seconds: clock.__setitem__(0, clock[0] + seconds)
    yield made
    made.close()


@pytest.fixture
def bar(show):
    made = show(ReplayBar())
    made.add_keys_to(made.window())
    return made


@pytest.fixture
def steering(bar, source):
    return ReplaySteering(bar, source)


def press(qtbot, bar, key, modifier=Qt.KeyboardModifier.NoModifier, on=None):
    qtbot.keyClick(on or bar.play_button, key, modifier)


def test_every_speed_offered_is_one_the_replay_takes():
    assert SPEEDS[0] == SPEED_MIN
    assert SPEEDS[-2:] == (SPEED_MAX, inf)
    assert [speed_text(speed) for speed in (0.25, 1.0, inf)] == ["0.25×", "1×", "max"]


@pytest.mark.parametrize(
    ("seconds", "text"), [(0.0, "0:00.0"), (65.34, "1:05.3"), (59.96, "1:00.0"), (3725.0, "1:02:05.0")]
)
def test_times_are_written_as_people_write_them(seconds, text):
    assert clock_text(seconds) == text


def test_it_shows_length_position_and_marks(bar, source, steering):
    source.seek(72.3)
    steering.show_snapshot(None)
    assert bar.position.text() == "1:12.3 of 3:19.9"
    assert [mark.t_s for mark in bar.slider.marks] == [20.0, 45.2, 60.0, 100.0, 127.0]
    x = bar.slider.x_of(100.0)
    assert bar.slider.x_of(20.0) < x < bar.slider.x_of(127.0)


def test_k_plays_and_pauses_wherever_the_focus_is(qtbot, bar, source, steering):
    other = bar.window().findChildren(type(bar.play_button))[-1]
    other.setFocus()
    press(qtbot, bar, Qt.Key.Key_K, on=other)
    assert not source.paused
    assert "Pause" in bar.play_button.text()
    source.advance(3.0)
    steering.show_snapshot(None)
    assert bar.position.text().startswith("0:03.0")
    press(qtbot, bar, Qt.Key.Key_K, on=other)
    assert source.paused
    assert "Play" in bar.play_button.text()


def test_keys_type_letters_where_words_are_typed(qtbot, bar, source, steering):
    field = QLineEdit(bar.window())
    bar.window().layout().addWidget(field)
    field.setFocus()
    qtbot.keyClicks(field, "k.")
    assert field.text() == "k."
    assert source.paused
    del steering


def test_stepping_pauses_and_goes_on_by_one_reading(qtbot, bar, source, steering):
    source.play()
    press(qtbot, bar, Qt.Key.Key_Period)
    assert source.paused
    assert source.now_s() == pytest.approx(0.1)
    qtbot.mouseClick(bar.step_button, Qt.MouseButton.LeftButton)
    assert source.now_s() == pytest.approx(0.2)
    del steering


def test_skipping_and_jumping_from_mark_to_mark(qtbot, bar, source, steering):
    ctrl, shift = Qt.KeyboardModifier.ControlModifier, Qt.KeyboardModifier.ShiftModifier
    source.seek(30.0)
    steering.show_snapshot(None)
    press(qtbot, bar, Qt.Key.Key_Right, ctrl)
    assert source.now_s() == pytest.approx(35.0)
    press(qtbot, bar, Qt.Key.Key_Left, ctrl)
    assert source.now_s() == pytest.approx(30.0)
    places = []
    for key in (Qt.Key.Key_Right, Qt.Key.Key_Right, Qt.Key.Key_Right, Qt.Key.Key_Left, Qt.Key.Key_Left):
        press(qtbot, bar, key, ctrl | shift)
        places.append(source.now_s())
    assert places == pytest.approx([45.2, 60.0, 100.0, 60.0, 45.2])
    press(qtbot, bar, Qt.Key.Key_Home, ctrl)
    assert source.now_s() == 0.0


def test_speed_by_keys_and_by_choice(qtbot, bar, source, steering):
    ctrl = Qt.KeyboardModifier.ControlModifier
    press(qtbot, bar, Qt.Key.Key_Up, ctrl)
    assert source.speed == 2.0
    press(qtbot, bar, Qt.Key.Key_Minus)
    press(qtbot, bar, Qt.Key.Key_Minus)
    assert source.speed == 0.5
    for _ in SPEEDS:
        press(qtbot, bar, Qt.Key.Key_Plus)
    assert source.speed == inf
    assert bar.speed_choice.currentText() == "max"
    bar.speed_choice.setFocus()
    qtbot.keyClick(bar.speed_choice, Qt.Key.Key_Home)
    assert source.speed == 0.25
    del steering


def test_the_slider_goes_where_it_is_clicked_and_by_its_own_keys(qtbot, bar, source, steering):
    slider = bar.slider
    x = round(slider.x_of(100.0))
    qtbot.mouseClick(slider, Qt.MouseButton.LeftButton, pos=QPoint(x, 20))
    assert source.now_s() == pytest.approx(100.0, abs=200 / slider.width())
    at_s = source.now_s()
    slider.setFocus()
    qtbot.keyClick(slider, Qt.Key.Key_Right)
    assert source.now_s() == pytest.approx(at_s + 1.0, abs=0.06)
    qtbot.keyClick(slider, Qt.Key.Key_PageUp)
    assert source.now_s() == pytest.approx(at_s + 11.0, abs=0.06)
    del steering


def test_a_drag_seeks_once_at_its_end(qtbot, bar, source, steering):
    seeks = []
    bar.seek_asked.connect(seeks.append)
    slider = bar.slider
    places = [QPoint(round(slider.x_of(t_s)), 20) for t_s in (10.0, 50.0, 90.0)]
    qtbot.mousePress(slider, Qt.MouseButton.LeftButton, pos=places[0])
    for place in places[1:]:
        qtbot.mouseMove(slider, place)
        steering.show_snapshot(None)  # the replay's own position must not pull the handle away
    assert seeks == []
    assert bar.position.text().startswith("1:")
    qtbot.mouseRelease(slider, Qt.MouseButton.LeftButton, pos=places[-1])
    assert seeks == pytest.approx([90.0], abs=0.6)
    assert source.now_s() == pytest.approx(seeks[0])


def test_play_at_the_end_begins_again(qtbot, bar, source, steering):
    source.seek(source.end_s)
    steering.show_snapshot(None)
    press(qtbot, bar, Qt.Key.Key_K)
    assert not source.paused
    assert source.now_s() == 0.0


def test_let_go_leaves_the_replay_alone(qtbot, bar, source, steering):
    steering.let_go()
    press(qtbot, bar, Qt.Key.Key_K)
    assert source.paused


def test_the_marks_are_drawn(bar, steering):
    bar.set_theme(DARK)
    image = bar.slider.grab().toImage()
    ratio = image.width() / bar.slider.width()
    y = round(bar.slider.height() * 0.26 * ratio)
    x = round(bar.slider.x_of(45.2) * ratio)
    assert image.pixelColor(x, y).name() == DARK.mark
    assert image.pixelColor(round(bar.slider.x_of(75.0) * ratio), y).name() != DARK.mark
    del steering


def test_every_key_is_told():
    told = " ".join(keys for keys, _ in key_help())
    for key in ("K", ".", "Ctrl+Left", "Ctrl+Shift+Right", "Ctrl+Up", "Ctrl+Home"):
        assert key in told
