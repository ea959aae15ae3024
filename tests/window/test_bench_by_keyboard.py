"""A shot pulled with nothing but keys, on a virtual machine, down to its file."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QEvent, Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from benchtemp.logbook.ecsv import read_meta, read_stream
from benchtemp.logbook.folder import Logbook
from benchtemp.places import default_logbook_dir
from benchtemp.readings.reading import MarkKind
from benchtemp.shots.shot import analyse_stream
from benchtemp.shots.stages import Stage
from benchtemp.window.fields import NumberField


def focused(window):
    return QApplication.focusWidget() or window


def press(qtbot, window, key=Qt.Key.Key_Space, modifier=Qt.KeyboardModifier.NoModifier):
    qtbot.keyClick(focused(window), key, modifier)


def marks(stand, kind):
    return [mark for mark in stand.snapshot.marks if mark.kind is kind]


@pytest.fixture
def pull(qtbot, window):
    """Return a function that pulls a shot by the pump key."""

    def run(stand, seconds=25.0):
        press(qtbot, window)
        stand.wait(lambda: stand.snapshot.pump_running)
        stand.go_on(seconds)
        press(qtbot, window)
        stand.wait(lambda: not stand.snapshot.pump_running)

    return run


def test_a_first_start_leads_to_a_saved_shot_by_keys_alone(qtbot, window, make_stand, pull, monkeypatch):
    stand = make_stand()
    monkeypatch.setattr("benchtemp.window.sources.choices.VirtualSource", lambda *_args, **_how: stand.source)
    window.activateWindow()
    window.start.take_focus()
    press(qtbot, window, Qt.Key.Key_Return)
    stand.wait(lambda: window.session.running)
    stand.go_on(12.0)
    assert window.bench.isVisible()
    assert "Space" in window.bench.guide.text()
    press(qtbot, window, Qt.Key.Key_D)
    assert window.bench.scale.dose_field.hasFocus()
    qtbot.keyClicks(focused(window), "18")
    pull(stand)  # Space is the pump even here, in a field for numbers
    stand.go_on(10.0)
    stand.wait(lambda: len(stand.snapshot.shots) == 1)
    assert not stand.snapshot.shots[0].is_flush, stand.snapshot.shots[0].reasons
    press(qtbot, window, Qt.Key.Key_Y)
    assert window.bench.scale.yield_field.hasFocus()
    qtbot.keyClicks(focused(window), "36.4")
    press(qtbot, window, Qt.Key.Key_Return)
    stand.wait(lambda: stand.snapshot.shots[0].yield_g == 36.4)
    window.close()

    (path,) = Logbook(default_logbook_dir()).shots()
    stream = read_stream(path)
    (shot,) = analyse_stream(stream).shots
    assert shot.dose_g == 18
    assert shot.yield_g == 36.4
    assert shot.result.shot_time_s == pytest.approx(25.0, abs=0.3)
    assert shot.result.brew_temp_degc == pytest.approx(93.0, abs=1.5)
    assert read_meta(path)["tags"]["machine"] == stand.source.name
    (recording,) = Logbook(default_logbook_dir()).recordings()
    assert [str(mark) for mark in read_stream(recording).marks] == [
        "set dose_g=18",
        "pump on",
        "pump off",
        "set shot 1 yield_g=36.4",
    ]


def test_a_key_held_down_counts_once(qtbot, window, stand):
    stand.go_on(3.0)
    press(qtbot, window)
    for _ in range(5):
        repeat = QKeyEvent(
            QEvent.Type.KeyPress, Qt.Key.Key_Space, Qt.KeyboardModifier.NoModifier, " ", autorep=True
        )
        QApplication.sendEvent(focused(window), repeat)
    stand.go_on(2.0)
    assert len(marks(stand, MarkKind.PUMP_ON)) == 1
    assert not marks(stand, MarkKind.PUMP_OFF)


def test_a_key_held_down_counts_once_where_the_system_sends_releases_too(qtbot, window, stand):
    stand.go_on(3.0)
    handle = window.windowHandle()
    window.activateWindow()
    QTest.keyPress(handle, Qt.Key.Key_Space)
    for _ in range(5):
        QTest.keyRelease(handle, Qt.Key.Key_Space)
        QTest.keyPress(handle, Qt.Key.Key_Space)
    stand.go_on(1.0)
    assert len(marks(stand, MarkKind.PUMP_ON)) == 1
    assert not marks(stand, MarkKind.PUMP_OFF)
    QTest.keyRelease(handle, Qt.Key.Key_Space)
    qtbot.wait(40)
    QTest.keyPress(handle, Qt.Key.Key_Space)
    stand.go_on(1.0)
    assert len(marks(stand, MarkKind.PUMP_OFF)) == 1


@pytest.mark.parametrize("where", ["plot", "button", "card", "number", "choice", "tab"])
def test_space_is_the_pump_wherever_the_focus_is(qtbot, window, stand, where):
    bench = window.bench
    place = {
        "plot": bench.plot.canvas,
        "button": bench.strip.change_button,
        "card": window.rail.pages[1],
        "number": bench.scale.dose_field,
        "choice": bench.plot._reference_box,
        "tab": bench.drawer_buttons[1],
    }[where]
    stand.go_on(2.0)
    window.activateWindow()
    place.setFocus()
    qtbot.waitUntil(place.hasFocus)
    press(qtbot, window)
    stand.wait(lambda: stand.snapshot.pump_running)
    assert bench.isVisible()
    assert window.session.running


def test_words_keep_their_spaces_and_ctrl_space_is_the_pump_there(qtbot, window, stand):
    stand.go_on(2.0)
    press(qtbot, window, Qt.Key.Key_N)
    field = window.bench.note.field
    assert field.hasFocus()
    qtbot.keyClicks(field, "new cup f t")
    assert field.text() == "new cup f t"
    press(qtbot, window, Qt.Key.Key_Space, Qt.KeyboardModifier.ControlModifier)
    stand.wait(lambda: stand.snapshot.pump_running)
    assert field.text() == "new cup f t"
    press(qtbot, window, Qt.Key.Key_Return)
    stand.wait(lambda: bool(marks(stand, MarkKind.NOTE)))
    assert marks(stand, MarkKind.NOTE)[0].text == "new cup f t"
    assert window.bench.plot.canvas.hasFocus()


def test_esc_leaves_a_note_without_making_one(qtbot, window, stand):
    stand.go_on(2.0)
    press(qtbot, window, Qt.Key.Key_N)
    qtbot.keyClicks(window.bench.note.field, "no")
    press(qtbot, window, Qt.Key.Key_Escape)
    assert window.bench.guide.isVisible()
    assert window.bench.plot.canvas.hasFocus()
    stand.go_on(1.0)
    assert not marks(stand, MarkKind.NOTE)


@pytest.mark.parametrize(
    ("key", "modifier"),
    [(Qt.Key.Key_U, Qt.KeyboardModifier.NoModifier), (Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)],
)
def test_a_wrong_press_is_taken_back(qtbot, window, stand, key, modifier):
    stand.go_on(3.0)
    press(qtbot, window)
    stand.wait(lambda: stand.snapshot.pump_running)
    press(qtbot, window, key, modifier)
    stand.wait(lambda: not stand.snapshot.pump_running)
    assert window.bench.plot.mark_lines.shown == ()


def test_an_undo_without_a_mark_says_so_in_the_page(qtbot, window, stand):
    stand.go_on(3.0)
    press(qtbot, window, Qt.Key.Key_U)
    stand.wait(lambda: bool(window.board.text_of("refused")))
    assert "no pump mark" in window.board.text_of("refused")


def test_a_wrong_second_press_lets_the_shot_go_on(qtbot, window, stand, pull):
    stand.go_on(10.0)
    pull(stand, 15.0)
    stand.wait(lambda: len(stand.snapshot.shots) == 1)
    assert len(window.bench.cards.cards) == 1
    press(qtbot, window, Qt.Key.Key_U)
    stand.wait(lambda: not stand.snapshot.shots)
    assert stand.snapshot.stage in {Stage.RISING, Stage.PLATEAU}
    assert not window.bench.cards.cards


def test_tare_by_key(qtbot, window, stand):
    stand.go_on(5.0)
    press(qtbot, window)
    stand.go_on(18.0)
    before_g = stand.snapshot.weight_g
    assert before_g > 5.0
    press(qtbot, window, Qt.Key.Key_T)
    stand.go_on(2.0)
    assert stand.snapshot.weight_g < before_g / 2


def test_the_trace_and_the_headline_follow(window, stand, pull):
    stand.go_on(12.0)
    assert window.bench.headline.stage.figure.text() in {"Standby", "Rising", "Warming"}
    pull(stand)
    stand.go_on(8.0)
    bench = window.bench
    assert bench.headline.pump.figure.text() == "25.0 s"
    assert bench.headline.pump.detail.text() == "shot 1"
    assert bench.headline.brew.figure.text().startswith("9")
    assert bench.plot.span.since_pump
    assert [text for _, text in bench.plot.mark_lines.shown] == ["pump on", "pump off"]
    assert bench.plot.shading.plateau.isVisible()


@pytest.mark.usefixtures("stand")
def test_pages_and_lists_by_keys(qtbot, window):
    press(qtbot, window, Qt.Key.Key_2, Qt.KeyboardModifier.ControlModifier)
    assert window.page == 1
    press(qtbot, window, Qt.Key.Key_1, Qt.KeyboardModifier.ControlModifier)
    assert window.page == 0
    press(qtbot, window, Qt.Key.Key_F1)
    assert window.key_list.isVisible()
    press(qtbot, window, Qt.Key.Key_Escape)
    assert not window.key_list.isVisible()
    assert window.bench.plot.canvas.hasFocus()


@pytest.mark.usefixtures("stand")
def test_enter_presses_the_button_with_the_focus(qtbot, window):
    window.rail.pages[1].setFocus()
    press(qtbot, window, Qt.Key.Key_Return)
    assert window.page == 1


def test_every_control_of_the_bench_is_reached_by_tab(qtbot, window, stand):
    stand.go_on(2.0)
    window.activateWindow()
    window.bench.plot.canvas.setFocus()
    seen = []
    for _ in range(60):
        press(qtbot, window, Qt.Key.Key_Tab)
        seen.append(QApplication.focusWidget())
        if seen[-1] is window.bench.plot.canvas:
            break
    bench = window.bench
    for control in (
        bench.strip.change_button,
        bench.plot._reference_box,
        bench.plot.band_button,
        bench.scale.dose_field,
        bench.scale.tare_button,
        *bench.drawer_buttons[:2],  # the third belongs to replays
        *window.rail.pages,
        window.rail.unit,
        window.rail.look,
        window.rail.keys,
    ):
        assert control in seen, (
            type(control).__name__,
            control.accessibleName(),
            getattr(control, "text", str)(),
        )
    assert seen[-1] is bench.plot.canvas, "Tab does not come round"
    tags = bench.tags.fields
    order = [*(tags.row(name).field for name in tags.names()), tags.new_name, tags.new_value]
    assert [control for control in seen if control in order] == order  # as they stand below each other


@pytest.mark.usefixtures("stand")
def test_letters_are_commands_in_a_number_field_and_figures_are_typed(qtbot, window):
    field = window.bench.scale.dose_field
    field.setFocus()
    qtbot.keyClicks(field, "1")
    press(qtbot, window, Qt.Key.Key_N)
    assert window.bench.note.field.hasFocus()
    assert field.text() == "1"
    assert isinstance(field, NumberField)
