from __future__ import annotations

import numpy as np
import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QKeySequence, QShortcut

from benchtemp.bench.trace import TraceView
from benchtemp.shots.entries import Entries
from benchtemp.shots.recipe import Recipe
from benchtemp.shots.stages import Stage
from benchtemp.window.panels.scale_timer import ScaleTimerPanel
from benchtemp.window.theme import DARK


@pytest.fixture
def panel(show):
    return show(ScaleTimerPanel())


def given_by(panel):
    """Collect what the panel emits."""
    given = []
    panel.entered.connect(given.append)
    return given


def type_into(qtbot, field, text, *, key=Qt.Key.Key_Return):
    field.setFocus()
    field.selectAll()
    qtbot.keyClicks(field, text)
    qtbot.keyClick(field, key)


def test_nothing_can_be_entered_without_a_source(panel):
    panel.show_snapshot(None)
    assert not panel.isEnabled()
    assert panel.title.text() == "No source is open"


@pytest.mark.parametrize("written", ["18.2", "18,2"])
@pytest.mark.parametrize("key", [Qt.Key.Key_Return, Qt.Key.Key_Tab])
def test_the_dose_goes_to_the_next_shot(qtbot, panel, make_snapshot, written, key):
    given = given_by(panel)
    panel.show_snapshot(make_snapshot())
    type_into(qtbot, panel.dose_field, written, key=key)
    assert given == ["dose_g=18.2"]
    # what is emitted is what the entries take
    assert Entries().taking(given[0]).recipe.dose_g == 18.2


def test_enter_and_leaving_give_a_value_once(qtbot, panel, make_snapshot):
    given = given_by(panel)
    panel.show_snapshot(make_snapshot())
    type_into(qtbot, panel.dose_field, "18")
    qtbot.keyClick(panel.dose_field, Qt.Key.Key_Tab)
    assert given == ["dose_g=18"]


def test_a_bad_number_gets_a_sentence_beside_it_and_gives_nothing(qtbot, panel, make_snapshot):
    given = given_by(panel)
    panel.show_snapshot(make_snapshot())
    type_into(qtbot, panel.dose_field, "1.8.2")
    assert panel.dose_complaint.isVisible()
    assert "'1.8.2' is no dose" in panel.dose_complaint.text()
    panel.show_snapshot(make_snapshot(now_s=11.0))
    assert panel.dose_field.text() == "1.8.2"  # it stands until mended
    type_into(qtbot, panel.dose_field, "18")
    assert not panel.dose_complaint.isVisible()
    assert given == ["dose_g=18"]


def test_a_bad_number_left_behind_still_stands(qtbot, panel, make_snapshot):
    panel.show_snapshot(make_snapshot(recipe=Recipe(dose_g=18)))
    type_into(qtbot, panel.dose_field, "0", key=Qt.Key.Key_Tab)
    panel.show_snapshot(make_snapshot(now_s=11.0, recipe=Recipe(dose_g=18)))
    assert panel.dose_field.text() == "0"
    assert panel.dose_complaint.isVisible()


def test_space_goes_to_the_pump_and_types_nothing_into_a_number(qtbot, panel, make_snapshot):
    presses = []
    pump_key = QShortcut(QKeySequence(Qt.Key.Key_Space), panel.window())
    pump_key.activated.connect(lambda: presses.append("pump"))
    panel.show_snapshot(make_snapshot())
    panel.dose_field.setFocus()
    qtbot.keyClicks(panel.dose_field, "1 8")
    qtbot.keyClick(panel.tare_button, Qt.Key.Key_Space)
    assert panel.dose_field.text() == "18"
    assert presses == ["pump", "pump"]


def test_after_a_shot_the_fields_belong_to_it_until_the_next_begins(qtbot, panel, make_snapshot, make_shot):
    given = given_by(panel)
    shots = (make_shot(3, yield_g=None),)
    panel.show_snapshot(make_snapshot(shots=shots, stage=Stage.ENDED))
    assert panel.last_button.text() == "Shot 3"
    assert panel.last_button.isChecked()
    type_into(qtbot, panel.yield_field, "36,4")
    type_into(qtbot, panel.dose_field, "18.1")
    assert given == ["shot 3 yield_g=36.4", "shot 3 dose_g=18.1"]

    panel.show_snapshot(
        make_snapshot(shots=shots, stage=Stage.RISING, pump_on_s=200.0, now_s=203.0, pump_marked=True)
    )
    assert panel.title.text() == "Shot under way"
    assert not panel.yield_field.isEnabled()
    type_into(qtbot, panel.dose_field, "17")
    assert given[-1] == "dose_g=17"


def test_the_next_shots_dose_can_be_entered_while_the_last_one_stands(qtbot, panel, make_snapshot, make_shot):
    given = given_by(panel)
    snapshot = make_snapshot(shots=(make_shot(3, dose_g=18.0),), recipe=Recipe(dose_g=17.0))
    panel.show_snapshot(snapshot)
    assert panel.dose_field.text() == "18"
    panel.next_button.setFocus()
    qtbot.keyClick(panel.next_button, Qt.Key.Key_Return)
    assert panel.dose_field.text() == "17"
    type_into(qtbot, panel.dose_field, "16.5")
    assert given == ["dose_g=16.5"]
    # the next shot that ends takes the fields back
    panel.show_snapshot(make_snapshot(shots=(make_shot(3), make_shot(4)), recipe=Recipe(dose_g=16.5)))
    assert panel.last_button.text() == "Shot 4"
    assert panel.last_button.isChecked()


def test_a_figure_being_typed_does_not_slip_to_another_shot(qtbot, panel, make_snapshot, make_shot):
    given = given_by(panel)
    shots = (make_shot(3, yield_g=None),)
    panel.show_snapshot(make_snapshot(shots=shots, stage=Stage.STANDBY))
    panel.yield_field.setFocus()
    qtbot.keyClicks(panel.yield_field, "36.")
    running = make_snapshot(shots=shots, stage=Stage.RISING, pump_on_s=200.0, now_s=203.0, pump_marked=True)
    panel.show_snapshot(running)
    assert panel.timer.text() == "3.0"  # the clock is already the new shot's
    assert panel.title.text() == "Shot 3: its figure is being typed"
    qtbot.keyClicks(panel.yield_field, "4")
    qtbot.keyClick(panel.yield_field, Qt.Key.Key_Return)
    assert given == ["shot 3 yield_g=36.4"]
    panel.show_snapshot(running)
    assert panel.title.text() == "Shot under way"
    assert panel.yield_field.text() == ""


def test_another_shots_end_does_not_take_a_figure_being_typed_over(qtbot, panel, make_snapshot, make_shot):
    given = given_by(panel)
    panel.show_snapshot(make_snapshot(shots=(make_shot(3, yield_g=None),)))
    panel.yield_field.setFocus()
    qtbot.keyClicks(panel.yield_field, "36.4")
    after = make_snapshot(shots=(make_shot(3, yield_g=None), make_shot(4, yield_g=None)))
    panel.show_snapshot(after)
    assert panel.title.isVisible()
    assert panel.title.text().startswith("Shot 3")
    assert not panel.last_button.isVisible()  # "Shot 4" above a figure for shot 3 would be untrue
    qtbot.keyClick(panel.yield_field, Qt.Key.Key_Return)
    panel.show_snapshot(after)
    assert given == ["shot 3 yield_g=36.4"]
    assert panel.last_button.text() == "Shot 4"
    assert panel.yield_field.text() == ""


def test_the_way_to_the_dose_leads_to_the_coming_shots(qtbot, panel, make_snapshot, make_shot):
    given = given_by(panel)
    panel.show_snapshot(make_snapshot(shots=(make_shot(3, dose_g=18.0),), recipe=Recipe(dose_g=18.0)))
    panel.go_to_dose()
    assert panel.next_button.isChecked()
    qtbot.keyClicks(panel.dose_field, "17.8")
    qtbot.keyClick(panel.dose_field, Qt.Key.Key_Return)
    assert given == ["dose_g=17.8"]
    panel.go_to_yield()
    assert panel.last_button.isChecked()
    qtbot.keyClicks(panel.yield_field, "35")
    panel.go_to_dose()  # takes what was typed, for the shot it was typed for
    assert given[1:] == ["shot 3 yield_g=35"]
    assert panel.next_button.isChecked()
    qtbot.keyClicks(panel.dose_field, "17.5")
    panel.go_to_yield()
    assert given[2:] == ["dose_g=17.5"]


def test_a_last_shot_without_a_dose_gets_it_first(qtbot, panel, make_snapshot, make_shot):
    given = given_by(panel)
    panel.show_snapshot(make_snapshot(shots=(make_shot(3, dose_g=None),)))
    panel.go_to_dose()
    qtbot.keyClicks(panel.dose_field, "18")
    qtbot.keyClick(panel.dose_field, Qt.Key.Key_Return)
    assert given == ["shot 3 dose_g=18"]


def test_going_to_a_field_again_lets_the_next_figure_replace_a_bad_one(
    qtbot, panel, make_snapshot, make_shot
):
    given = given_by(panel)
    panel.show_snapshot(make_snapshot(shots=(make_shot(3, yield_g=None),)))
    panel.go_to_yield()
    qtbot.keyClicks(panel.yield_field, "3,6,4")
    qtbot.keyClick(panel.yield_field, Qt.Key.Key_Return)
    assert panel.yield_complaint.isVisible()
    qtbot.keyClicks(panel.yield_field, "3..")
    panel.go_to_yield()
    qtbot.keyClicks(panel.yield_field, "36.4")
    qtbot.keyClick(panel.yield_field, Qt.Key.Key_Return)
    assert given == ["shot 3 yield_g=36.4"]


def test_esc_drops_what_cannot_be_read_and_keeps_what_can(qtbot, panel, make_snapshot):
    given = given_by(panel)
    panel.show_snapshot(make_snapshot(recipe=Recipe(dose_g=18)))
    type_into(qtbot, panel.dose_field, "1.8.2", key=Qt.Key.Key_Escape)
    assert panel.dose_field.text() == "18"
    assert not panel.dose_complaint.isVisible()
    type_into(qtbot, panel.dose_field, "17.6", key=Qt.Key.Key_Escape)
    assert given == ["dose_g=17.6"]


def test_ratio_timer_and_verdict(panel, make_snapshot, make_shot):
    panel.show_snapshot(make_snapshot(shots=(make_shot(3, yield_g=36.5, shot_time_s=19.4),)))
    assert panel.ratio.text() == "1 : 2.03"
    assert panel.timer.text() == "19.4"
    assert panel.verdict.text() == "✕ outside: ran 19.4 s, window 22–28 s"
    assert panel.time_bar.summary() == "19.4 s, window 22–28 s"
    assert panel.yield_bar.summary() == "36.5 g, window 32.4–39.6 g"


def test_an_unmarked_pump_is_said_to_be_unmarked(panel, make_snapshot):
    panel.show_snapshot(make_snapshot(stage=Stage.RISING, pump_on_s=None, rise_s=100.0, now_s=102.0))
    assert panel.timer.text() == "2.0"
    assert "not marked" in panel.timer_note.text()


def test_the_scale_fills_the_yield_while_the_shot_runs(panel, make_snapshot):
    t_s = np.arange(95.0, 120.0, 0.1)
    trace = TraceView(t_s, np.full((len(t_s), 1), 93.0), 5.0 + np.clip(2.0 * (t_s - 105.0), 0.0, None))
    panel.show_snapshot(
        make_snapshot(
            stage=Stage.PLATEAU,
            pump_on_s=100.0,
            now_s=119.9,
            pump_marked=True,
            has_weight=True,
            weight_g=34.8,
            recipe=Recipe(dose_g=18.0),
            trace=trace,
        )
    )
    assert panel.yield_field.text() == "29.8"
    assert panel.ratio.text() == "1 : 1.66"
    assert panel.tare_button.isVisible()
    assert panel.scale_now.text() == "Scale 34.8 g"


def test_tare_only_with_a_scale_and_by_keyboard(qtbot, panel, make_snapshot):
    panel.show_snapshot(make_snapshot())
    assert not panel.tare_button.isVisible()
    panel.show_snapshot(make_snapshot(has_weight=True, weight_g=-0.2))
    assert panel.scale_now.text() == "Scale −0.2 g"
    panel.tare_button.setFocus()
    with qtbot.waitSignal(panel.tare_asked):
        qtbot.keyClick(panel.tare_button, Qt.Key.Key_Return)


def test_a_value_the_bench_refuses_does_not_stay(qtbot, panel, make_snapshot):
    panel.show_snapshot(make_snapshot(recipe=Recipe(dose_g=18)))
    type_into(qtbot, panel.dose_field, "20")
    panel.show_snapshot(make_snapshot(recipe=Recipe(dose_g=18)))
    assert panel.dose_field.text() == "20"  # on its way to the bench
    panel._dose_mirror._settled_at_s = 0.0  # as if a second had passed
    panel.show_snapshot(make_snapshot(recipe=Recipe(dose_g=18)))
    assert panel.dose_field.text() == "18"


def test_tab_goes_from_dose_to_yield(qtbot, panel, make_snapshot, make_shot):
    panel.show_snapshot(make_snapshot(shots=(make_shot(),)))
    panel.dose_field.setFocus()
    qtbot.keyClick(panel.dose_field, Qt.Key.Key_Tab)
    assert panel.yield_field.hasFocus()


def test_no_text_is_cut_in_either_theme(panel, make_snapshot, make_shot):
    for theme in (panel.theme, DARK):
        panel.set_theme(theme)
        panel.show_snapshot(
            make_snapshot(shots=(make_shot(3, yield_g=120.5, shot_time_s=19.4),), has_weight=True)
        )
        for label in (panel.ratio, panel.timer, panel.scale_now, panel.last_button, panel.next_button):
            assert label.width() >= label.sizeHint().width(), label.text()
        verdict = panel.verdict
        assert verdict.height() >= verdict.heightForWidth(verdict.width())


def test_it_fits_a_narrow_column(panel, make_snapshot, make_shot):
    panel.show_snapshot(make_snapshot(shots=(make_shot(123),), has_weight=True, weight_g=-123.4))
    assert panel.minimumSizeHint().width() <= 250
