from __future__ import annotations

import threading
from typing import ClassVar

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication, QLabel, QPushButton

from benchtemp.errors import PortBusy
from benchtemp.logbook.ecsv import read_stream
from benchtemp.logbook.folder import Logbook
from benchtemp.logbook.preferences import Appearance, load_preferences
from benchtemp.places import default_logbook_dir, demo_streams_dir
from benchtemp.readings.replay import ReplaySource
from benchtemp.units import TempUnit
from benchtemp.window.app import choice_of, make_window
from benchtemp.window.keys import KEYS
from benchtemp.window.messages import Message, Weight
from benchtemp.window.panel import SourceChoice
from benchtemp.window.theme import DARK


class BusyPort:
    name = "Bench interface"
    channels = ("T1",)
    has_weight = False
    details: ClassVar[dict[str, object]] = {}

    def open(self):
        raise PortBusy("Another program holds the port; close it and choose the port again.")

    def read(self):
        return ()

    def now_s(self):
        return 0.0

    def interrupt(self):
        pass

    def close(self):
        pass


def test_only_pages_that_exist_are_on_the_rail(window):
    names = [button.text() for button in window.rail.pages]
    assert names == ["Bench", "Plan", "Findings", "Probes", "Logbook", "Practice"]


def test_a_source_that_does_not_open_is_told_with_its_cure_in_the_page(qtbot, window):
    window.session.begin(SourceChoice(BusyPort(), hardware=True))
    qtbot.waitUntil(lambda: not window.session.running, timeout=5000)
    told = window.board.text_of("source")
    assert told.startswith("Another program holds the port")
    assert window.start.isVisible()
    assert not [widget for widget in QApplication.topLevelWidgets() if widget.isModal()]


def test_cautions_stand_at_the_start_on_a_real_machine_and_go_when_put_away(window, make_stand):
    stand = make_stand()
    window.session.begin(SourceChoice(stand.source, hardware=True))
    told = window.board.text_of("cautions")
    for word in ("steam", "Mains", "not for drinking"):
        assert word in told
    window.board.withdraw("cautions")
    stand.wait(lambda: True)
    assert not window.board.text_of("cautions")


@pytest.mark.usefixtures("stand")
def test_a_virtual_machine_needs_no_cautions(window):
    assert not window.board.text_of("cautions")


def test_closing_during_a_shot_keeps_everything(window, stand):
    stand.go_on(10.0)
    window.pressing.press()
    stand.go_on(18.0)
    window.close()
    (recording,) = Logbook(default_logbook_dir()).recordings()
    stream = read_stream(recording)
    assert not stream.warnings
    assert stream.t_s[-1] >= 27.5
    assert [str(mark) for mark in stream.marks] == ["pump on"]
    assert not [thread for thread in threading.enumerate() if thread.name.startswith(("bench", "reader"))]


def test_another_source_ends_the_sitting_before(window, stand, make_stand):
    stand.go_on(3.0)
    other = make_stand("single-boiler")
    other.start()
    other.go_on(2.0)
    assert window.bench.strip.name.text() == "Pindlebay One"
    assert len(list(Logbook(default_logbook_dir()).recordings())) == 2
    assert window.bench.plot._drawn.t_s[-1] < 3.0


@pytest.mark.usefixtures("stand")
def test_choosing_a_source_leaves_the_sitting_running_until_one_is_chosen(qtbot, window):
    window.choose_source()
    assert window.start.isVisible()
    assert window.session.running
    qtbot.keyClick(window.start, Qt.Key.Key_Escape)
    assert window.bench.isVisible()


def test_unit_and_look_are_remembered(qtbot, window, qapp):
    window.looks.next_unit()
    window.looks.next_look()
    window.looks.next_look()
    assert window._themes.choice is Appearance.DARK
    assert window.bench.plot.theme is DARK
    window.close()
    preferences, warning = load_preferences()
    assert warning is None
    assert preferences.unit is TempUnit.DEGF
    assert preferences.theme is Appearance.DARK
    again = make_window(qapp)
    qtbot.addWidget(again)
    assert again.bench.unit is TempUnit.DEGF
    assert again.bench.theme is DARK
    again._themes.choose(Appearance.LIGHT)
    again.close()


def test_recipe_tags_and_source_are_remembered(qtbot, window, stand, qapp):
    stand.go_on(1.0)
    window.session.enter("dose_g=17.5")
    window.session.enter("tag.coffee=house blend")
    stand.wait(lambda: stand.snapshot.tags.get("coffee") == "house blend")
    window.close()
    again = make_window(qapp)
    qtbot.addWidget(again)
    assert again._choices.now.recipe.dose_g == 17.5
    assert again._choices.now.tags["coffee"] == "house blend"
    again.close()


def test_size_and_place_are_remembered(qtbot, window, qapp):
    if window.screen().availableGeometry().width() < 1111:
        pytest.skip("a window is kept within the screen, and this one is smaller")
    window.resize(1111, 777)
    window.close()
    again = make_window(qapp)
    qtbot.addWidget(again)
    assert (again.width(), again.height()) == (1111, 777)
    again.close()


def test_damaged_preferences_are_told_and_cost_nothing_else(qtbot, qapp, own_folders):
    folder = own_folders / "preferences"
    folder.mkdir()
    (folder / "preferences.toml").write_text("unit = 'degX'\n", encoding="utf-8")
    window = make_window(qapp)
    qtbot.addWidget(window)
    assert "unit" in window.board.text_of("preferences")
    window.close()


def test_trouble_with_the_disk_stands_until_it_is_over(window, make_snapshot):
    window.reporter.look(make_snapshot(trouble="The disk is full; make room."))
    assert window.board.text_of("disk") == "The disk is full; make room."
    assert not next(message for message in window.board.messages if message.key == "disk").may_go
    window.reporter.look(make_snapshot())
    assert not window.board.text_of("disk")


def test_a_pulled_cable_is_told_and_the_shot_goes_on(window, stand):
    stand.go_on(5.0)
    window.pressing.press()
    stand.go_on(8.0)
    stand.source.unplug(5.0, t_s=stand.source.now_s())
    stand.clock.now_s += 2.0
    stand.source.interrupt()
    stand.wait(lambda: bool(window.board.text_of("status")))
    bench = window.bench
    assert bench.headline.temperature.figure.text() == "— °C"
    assert "lost" in bench.strip.status.text()
    assert bench.headline.pump.figure.text().startswith("10.")
    stand.clock.now_s += 4.0
    stand.source.interrupt()
    stand.wait(lambda: not stand.snapshot.stale)
    stand.wait(lambda: not window.board.text_of("status"))
    assert bench.headline.temperature.figure.text() != "— °C"
    assert any(text.startswith("gap") for _, text in bench.plot.mark_lines.shown)


def test_a_replay_writes_nothing_and_space_plays_and_pauses(qtbot, window):
    path = min(demo_streams_dir().glob("*.ecsv"))
    source = ReplaySource(read_stream(path), path.name, paused=True)
    window.session.begin(choice_of(source))
    qtbot.waitUntil(lambda: window.session.snapshot is not None, timeout=5000)
    assert window.bench.replay_bar.isVisible()
    assert "replay" in window.bench.guide.text()
    qtbot.keyClick(QApplication.focusWidget(), Qt.Key.Key_Space)
    assert not source.paused
    qtbot.keyClick(QApplication.focusWidget(), Qt.Key.Key_Space)
    assert source.paused
    window.close()
    assert not default_logbook_dir().exists()


def test_an_interrupted_recording_is_offered_and_its_shots_kept(qtbot, window, monkeypatch):
    closed = []
    paths = [default_logbook_dir() / "recordings" / "one.ecsv"]
    monkeypatch.setattr(
        "benchtemp.bench.recovery.recover", lambda _book, path: closed.append(path) or (path, path)
    )
    window.reporter._offer(paths)
    assert "one.ecsv was interrupted" in window.board.text_of("interrupted")
    button = next(
        button for button in window.board.findChildren(QPushButton) if button.text() == "Close and keep shots"
    )
    qtbot.mouseClick(button, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: "2 shots were kept" in window.board.text_of("interrupted"), timeout=5000)
    assert closed == paths


def test_a_fault_of_ours_is_told_while_the_sitting_goes_on(window, stand):
    window.tell_fault("benchtemp has a fault (KeyError: 'x'). The recording goes on; more is in faults.log.")
    stand.go_on(1.0)
    assert window.session.running
    assert "has a fault" in window.board.text_of("fault")


def test_space_without_a_source_says_why_nothing_happens(qtbot, window):
    window.start.take_focus()
    qtbot.keyClick(QApplication.focusWidget() or window, Qt.Key.Key_Space)
    assert "No source is open" in window.board.text_of("refused")
    assert not window.session.running


def test_the_large_view_shows_the_bench_and_obeys_its_keys(qtbot, window, stand):
    stand.go_on(5.0)
    window.toggle_presentation()
    large = window.large.page
    assert large.isVisible()
    assert large.headline.temperature.figure.text() == f"{stand.snapshot.temps_degc[0]:.1f} °C"
    qtbot.keyClick(large, Qt.Key.Key_Space)
    stand.wait(lambda: stand.snapshot.pump_running)
    stand.go_on(12.0)
    assert large.plot.span.since_pump
    qtbot.keyClick(large, Qt.Key.Key_Space)
    stand.go_on(7.0)
    assert "Shot 1" in large.verdict.text()
    qtbot.keyClick(large, Qt.Key.Key_Escape)
    assert not large.isVisible()
    assert window.bench.headline.pump.detail.text() == "shot 1"


@pytest.mark.parametrize("unit", list(TempUnit)[:2])
@pytest.mark.parametrize("size", [(1024, 700), (1920, 1080)])
def test_nothing_on_the_bench_is_cut_off(qtbot, window, stand, unit, size):
    window.looks.set_unit(unit)
    window.resize(*size)
    stand.go_on(6.0)
    window.pressing.press()
    stand.go_on(19.0)
    window.pressing.press()
    stand.go_on(8.0)
    qtbot.waitUntil(lambda: (window.width(), window.height()) == size)
    for _ in range(5):  # a layout within a layout settles in the next round of events
        QApplication.processEvents()
    assert window.minimumSizeHint().width() <= 1024
    assert window.minimumSizeHint().height() <= 700
    bench = window.bench
    for label in (*bench.headline.findChildren(QLabel), *bench.strip.findChildren(QLabel), bench.guide):
        if not label.isVisible() or label is bench.strip.kept:
            continue
        if label.wordWrap():
            assert label.heightForWidth(label.width()) <= label.height() + 1, label.text()
        else:
            assert label.sizeHint().width() <= label.width() + 1, label.text()
            assert label.sizeHint().height() <= label.height() + 1, label.text()
    for button in window.findChildren(QPushButton):
        if button.isVisible() and button.text():
            assert button.sizeHint().width() <= button.width() + 1, button.text()
    for card in bench.cards.cards:
        verdict = card._verdict
        assert verdict.heightForWidth(verdict.width()) <= verdict.height() + 1


def test_the_bench_keeps_its_fonts_when_it_is_made_after_the_first_paint(window):
    assert window.bench.guide.font().pointSizeF() == pytest.approx(QApplication.font().pointSizeF() * 1.2)
    window._themes.choose(Appearance.DARK)
    assert window.bench.guide.font().pointSizeF() == pytest.approx(QApplication.font().pointSizeF() * 1.2)
    window._themes.choose(Appearance.LIGHT)


def test_messages_fit_into_the_least_window(window, stand):
    stand.go_on(3.0)
    for key, weight in (("disk", Weight.TROUBLE), ("status", Weight.TROUBLE), ("cautions", Weight.CAUTION)):
        window.board.put(
            Message(key, weight, "Something is not as it should be, and this is how to mend it. " * 3)
        )
    for _ in range(5):
        QApplication.processEvents()
    assert (window.width(), window.height()) == (1024, 700)
    for line in window.board._lines.values():
        assert line._text.heightForWidth(line._text.width()) <= line._text.height() + 1
    assert window.bench.plot.canvas.height() > 100


def test_every_page_has_its_key_and_the_key_list_names_it(qtbot, window):
    names = [button.text() for button in window.rail.pages]
    named = {key.command: key.meaning for key in KEYS}
    for place, name in enumerate(names):
        assert named[f"page_{place + 1}"] == f"{name}."
        digit = Qt.Key(Qt.Key.Key_1.value + place)
        qtbot.keyClick(QApplication.focusWidget() or window, digit, Qt.KeyboardModifier.ControlModifier)
        assert window.page == place
        assert window.rail.pages[place].isChecked()
    assert f"page_{len(names) + 1}" not in named
