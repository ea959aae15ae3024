from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QWheelEvent
from PySide6.QtWidgets import QApplication

from benchtemp.bench.trace import TraceView
from benchtemp.readings.reading import Mark, MarkKind
from benchtemp.shots.stages import Stage
from benchtemp.units import TempUnit
from benchtemp.window.plot.canvas import minutes_text
from benchtemp.window.plot.curves import spread
from benchtemp.window.plot.reference import LAST_SHOT, NO_REFERENCE
from benchtemp.window.plot.shading import worth_a_line
from benchtemp.window.theme import DARK, LIGHT
from benchtemp.window.trace_plot import Mode, TracePlot

PULL = {
    "stage": Stage.PLATEAU,
    "pump_on_s": 2.0,
    "pump_marked": True,
    "pump_running": True,
    "plateau_start_s": 9.0,
}


@pytest.fixture
def plot(qtbot):
    made = TracePlot()
    qtbot.addWidget(made)
    made.set_theme(LIGHT)
    made.resize(640, 360)
    made.show()
    qtbot.waitExposed(made)
    return made


def drawn(plot, channel=0):
    return plot.curves.curve(channel).getOriginalDataset()


def view(plot):
    return plot.canvas.view.viewRange()


def has_reference(plot):
    x_s, _ = plot.curves.reference.getOriginalDataset()
    return x_s is not None and len(x_s) > 0


def test_a_pull_is_drawn_from_pump_on(plot, make_snapshot):
    snapshot = make_snapshot(**PULL)
    plot.show_snapshot(snapshot)
    x_s, temps = drawn(plot)
    assert x_s[0] == pytest.approx(-2.0)
    assert temps[-1] == pytest.approx(93.0, abs=0.1)
    assert view(plot)[0] == [-5.0, 35.0]
    assert plot.canvas.getPlotItem().getAxis("bottom").labelText == "Time since pump on, s"


def test_before_pump_on_the_running_time_is_on_the_axis(plot, make_snapshot):
    plot.show_snapshot(make_snapshot())
    assert plot.canvas.getPlotItem().getAxis("bottom").labelText == "Running time, min:s"
    assert drawn(plot)[0][-1] == pytest.approx(29.9)


@pytest.mark.parametrize(("t_s", "text"), [(5, "0:05"), (65, "1:05"), (3700, "1:01:40"), (-5, "−0:05")])
def test_running_time_is_written_in_minutes(t_s, text):
    assert minutes_text(t_s) == text


def test_the_range_rests_between_steps(plot, make_snapshot, make_trace):
    changes = []
    plot.canvas.view.sigRangeChanged.connect(lambda *_: changes.append(1))
    for seconds in np.arange(10.0, 30.0, 0.1):
        plot.show_snapshot(make_snapshot(trace=make_trace(seconds), **PULL))
    assert len(changes) <= 4


def test_nothing_is_drawn_again_without_anything_new(plot, make_snapshot, monkeypatch):
    snapshot = make_snapshot(**PULL)
    plot.show_snapshot(snapshot)
    calls = []
    monkeypatch.setattr(plot.curves, "show", lambda *_: calls.append(1))
    for tick in range(10):
        plot.show_snapshot(replace(snapshot, now_s=snapshot.now_s + tick * 0.005))
    assert not calls


def test_no_items_are_made_while_drawing(plot, make_snapshot, make_trace):
    plot.show_snapshot(make_snapshot(trace=make_trace(10.0), **PULL))
    before = len(plot.canvas.scene().items())
    for seconds in np.arange(10.1, 20.0, 0.1):
        plot.show_snapshot(make_snapshot(trace=make_trace(seconds), **PULL))
    assert len(plot.canvas.scene().items()) == before


def test_a_gap_stays_a_gap(plot, make_snapshot, make_trace):
    whole = make_trace(30.0)
    kept = (whole.t_s < 15.0) | (whole.t_s > 20.0)
    trace = TraceView(whole.t_s[kept], whole.temps_degc[kept], whole.weight_g[kept])
    plot.show_snapshot(make_snapshot(trace=trace, **PULL))
    x_s, temps = drawn(plot)
    assert np.isnan(temps).sum() == 1
    assert 13.0 < x_s[np.isnan(temps)][0] < 18.0


def test_fahrenheit_changes_the_curve_and_the_axis(plot, make_snapshot):
    plot.show_snapshot(make_snapshot(**PULL))
    plot.set_unit(TempUnit.DEGF)
    assert drawn(plot)[1][-1] == pytest.approx(199.4, abs=0.2)
    assert plot.canvas.getPlotItem().getAxis("left").labelText == "Temperature, °F"
    assert_allclose(plot.shading.band.getRegion(), (194.9, 204.8))
    low, high = view(plot)[1]
    assert low <= 140.0
    assert high >= 204.8


def test_band_and_plateau_are_shaded(plot, make_snapshot):
    plot.show_snapshot(make_snapshot(**PULL))
    assert_allclose(plot.shading.band.getRegion(), (90.5, 96.0))
    assert plot.shading.plateau.isVisible()
    assert_allclose(plot.shading.plateau.getRegion(), (7.0, 27.9))


def test_a_wild_value_does_not_move_the_axis(plot, make_snapshot, make_trace):
    trace = make_trace(30.0)
    temps = trace.temps_degc.copy()
    temps[200, 0] = 850.0
    plot.show_snapshot(make_snapshot(trace=TraceView(trace.t_s, temps, trace.weight_g), **PULL))
    assert view(plot)[1][1] <= 110.0


MARKS = (
    Mark(1.0, MarkKind.PUMP_ON),
    Mark(1.5, MarkKind.UNDO),
    Mark(2.0, MarkKind.PUMP_ON),
    Mark(3.0, MarkKind.SET, "dose_g=18"),
    Mark(12.0, MarkKind.NOTE, "cup turned"),
    Mark(14.0, MarkKind.GAP, "unplugged"),
)


def test_marks_taken_back_and_values_entered_are_not_lined():
    assert [str(mark) for mark in worth_a_line(MARKS)] == ["pump on", "note cup turned", "gap unplugged"]


def test_marks_are_lined_with_their_text(plot, make_snapshot):
    plot.show_snapshot(make_snapshot(marks=MARKS, **PULL))
    assert plot.mark_lines.shown == ((0.0, "pump on"), (10.0, "cup turned"), (12.0, "gap unplugged"))


def test_a_note_with_braces_does_not_break_the_label(plot, make_snapshot):
    plot.show_snapshot(make_snapshot(marks=(Mark(3.0, MarkKind.NOTE, "{value} {0}"),), **PULL))
    plot.grab()
    assert plot.mark_lines._lines[0].label.toPlainText() == "(value) (0)"


def test_several_channels_have_names_at_their_ends_that_do_not_cover_each_other(
    plot, make_snapshot, make_trace
):
    trace = make_trace(30.0, channels=4)
    close = TraceView(trace.t_s, 93.0 + 0.1 * (trace.temps_degc - trace.temps_degc[:, :1]), trace.weight_g)
    plot.show_snapshot(make_snapshot(trace=close, **PULL))
    names = plot.curves._names
    assert [name.toPlainText() for name in names] == ["T1", "T2", "T3", "T4"]
    heights = sorted(name.pos().y() for name in names)
    low, high = view(plot)[1]
    line = QFontMetricsF(LIGHT.font()).height() * (high - low) / plot.canvas.view.height()
    assert min(np.diff(heights)) >= 0.99 * line
    assert not any(
        curve.opts["pen"].dashPattern() == plot.curves.curve(0).opts["pen"].dashPattern()
        for curve in map(plot.curves.curve, range(1, 4))
    )


def test_the_bands_name_makes_room_for_the_end_of_a_curve(plot, make_snapshot):
    name = plot.shading._band_name
    plot.show_snapshot(make_snapshot())
    (left, right), _ = view(plot)
    assert name.pos().x() == right
    plot.shading.keep_clear_of(right - 0.02 * (right - left))
    assert name.pos().x() == left
    plot.shading.keep_clear_of(right - 0.6 * (right - left))
    assert name.pos().x() == right


@pytest.mark.parametrize(("room_k", "above"), [(0.5, False), (40.0, True)])
def test_the_bands_name_is_never_cut_off_at_the_top(plot, make_snapshot, room_k, above):
    plot.show_snapshot(make_snapshot())
    shading, name = plot.shading, plot.shading._band_name
    low, high = shading._band
    plot.canvas.view.setRange(yRange=(high - 200.0, high + room_k), padding=0.0)
    shading.place_names()
    assert name.pos().y() == (high if above else low)
    assert name.anchor.y() == (1.0 if above else 0.0)  # stands on it, or hangs from it


def test_times_before_pump_on_have_a_minus_sign(plot):
    axis = plot.canvas.getPlotItem().getAxis("bottom")
    axis.since_pump = True
    assert axis.tickStrings([-5.0, 0.0, 2.5], 1.0, 2.5) == ["−5", "0", "2.5"]


def test_one_channel_needs_no_name(plot, make_snapshot):
    plot.show_snapshot(make_snapshot(**PULL))
    assert not plot.curves._names


# -- zooming and the way back ------------------------------------------------------------------------------


def test_zooming_by_keys_leaves_the_live_view_and_f_leads_back(qtbot, plot, make_snapshot):
    plot.show_snapshot(make_snapshot(**PULL))
    live = view(plot)[0]
    assert not plot.follow_button.isEnabled()
    qtbot.keyClick(plot.canvas, Qt.Key.Key_Plus)
    assert plot.mode is Mode.FREE
    left, right = view(plot)[0]
    assert right - left < live[1] - live[0]
    assert plot.follow_button.isEnabled()
    qtbot.mouseClick(plot.follow_button, Qt.MouseButton.LeftButton)
    assert plot.mode is Mode.FOLLOW
    assert view(plot)[0] == live


def test_a_view_put_by_hand_is_left_alone(qtbot, plot, make_snapshot, make_trace):
    plot.show_snapshot(make_snapshot(trace=make_trace(20.0), **PULL))
    qtbot.keyClick(plot.canvas, Qt.Key.Key_Right)
    put = view(plot)
    plot.show_snapshot(make_snapshot(trace=make_trace(45.0), **PULL))
    assert view(plot) == put


def test_the_wheel_zooms_time_and_with_ctrl_temperature(plot, make_snapshot):
    plot.show_snapshot(make_snapshot(**PULL))

    def turn(modifiers):
        where = QPointF(plot.canvas.viewport().rect().center())
        event = QWheelEvent(
            where,
            plot.canvas.mapToGlobal(where),
            QPoint(),
            QPoint(0, 120),
            Qt.MouseButton.NoButton,
            modifiers,
            Qt.ScrollPhase.NoScrollPhase,
            False,  # noqa: FBT003 - Qt takes it by place only
        )
        QApplication.sendEvent(plot.canvas.viewport(), event)

    (left, right), (low, high) = view(plot)
    turn(Qt.KeyboardModifier.NoModifier)
    assert view(plot)[0] != [left, right]
    assert view(plot)[1] == [low, high]
    time_now = view(plot)[0]
    turn(Qt.KeyboardModifier.ControlModifier)
    assert view(plot)[0] == time_now
    assert view(plot)[1] != [low, high]


def test_the_band_can_be_looked_at_closely(plot, make_snapshot):
    plot.show_snapshot(make_snapshot(**PULL))
    plot.band_button.toggle()
    assert_allclose(view(plot)[1], (88.5, 98.0))
    plot.band_button.toggle()
    assert view(plot)[1][0] <= 60.0


def test_a_chosen_shot_is_shown_until_the_pump_starts(plot, make_snapshot, make_shot, make_trace):
    shot = make_shot(pump_on_s=2.0, shot_time_s=20.0)
    resting = make_snapshot(trace=make_trace(200.0), shots=(shot,))
    plot.show_snapshot(resting)
    plot.show_shot(shot)
    assert plot.mode is Mode.SHOT
    assert plot.span.origin_s == 2.0
    assert_allclose(plot.shading.plateau.getRegion(), (6.0, 20.0))
    plot.show_snapshot(
        replace(resting, stage=Stage.RISING, pump_on_s=199.0, pump_marked=True, pump_running=True)
    )
    assert plot.mode is Mode.FOLLOW
    assert plot.span.origin_s == 199.0


# -- reference ---------------------------------------------------------------------------------------------


def test_the_last_shot_lies_behind_the_next(plot, make_snapshot, make_shot, make_trace):
    shot = make_shot(pump_on_s=2.0, shot_time_s=20.0)
    running = make_snapshot(
        trace=make_trace(120.0), shots=(shot,), stage=Stage.RISING, pump_on_s=110.0, pump_marked=True
    )
    plot.show_snapshot(running)
    assert not has_reference(plot)
    plot.set_reference(LAST_SHOT)
    x_s, temps = plot.curves.reference.getOriginalDataset()
    assert x_s[0] <= 0.0
    assert x_s[-1] > 20.0
    assert np.nanmax(temps) == pytest.approx(93.0, abs=0.1)
    plot.set_reference(NO_REFERENCE)
    assert not has_reference(plot)


def test_a_shot_is_not_its_own_reference(plot, make_snapshot, make_shot, make_trace):
    shot = make_shot(pump_on_s=2.0, shot_time_s=20.0)
    plot.set_reference(LAST_SHOT)
    plot.show_snapshot(make_snapshot(trace=make_trace(40.0), shots=(shot,)))
    assert plot.span.since_pump
    assert not has_reference(plot)


def test_references_are_gone_through_with_a_key(plot, make_snapshot, make_shot, make_trace):
    told = []
    plot.reference_chosen.connect(told.append)
    plot.show_snapshot(
        make_snapshot(trace=make_trace(100.0), shots=(make_shot(1, key=1), make_shot(2, key=5)))
    )
    for _ in range(4):
        plot.next_reference()
    assert told == ["last", "1", "5", "none"]


# -- look --------------------------------------------------------------------------------------------------


def test_another_theme_restyles_everything_by_hand(plot, make_snapshot):
    plot.show_snapshot(make_snapshot(marks=MARKS, **PULL))
    plot.set_theme(DARK)
    assert plot.canvas.backgroundBrush().color().name() == DARK.surface
    assert plot.curves.curve(0).opts["pen"].color().name() == DARK.channel(0).colour
    axis = plot.canvas.getPlotItem().getAxis("left")
    assert axis.textPen().color() == QColor(DARK.soft)
    assert plot.mark_lines._lines[0].label.color == QColor(DARK.text)
    shown = plot.grab().toImage()
    corner = shown.pixelColor((plot.canvas.pos() + QPoint(6, 6)) * shown.devicePixelRatio())
    assert corner.name() == DARK.surface


def test_long_stretches_are_drawn_with_thin_lines(plot, make_snapshot):
    plot.show_snapshot(make_snapshot(**PULL))
    assert plot.curves.curve(0).opts["pen"].widthF() == 2.0
    plot.curves.show(np.arange(3000.0), np.full((3000, 1), 90.0))
    assert plot.curves.curve(0).opts["pen"].widthF() == 1.0


def test_the_plot_tells_what_it_shows(plot, make_snapshot):
    plot.show_snapshot(make_snapshot(**PULL))
    assert plot.canvas.accessibleName() == "Temperature trace"
    assert "Stage plateau" in plot.canvas.accessibleDescription()
    plot.show_snapshot(None)
    assert plot.canvas.accessibleDescription() == "The temperature trace is empty."


def test_a_hidden_plot_draws_nothing_and_catches_up(plot, make_snapshot, make_trace):
    plot.show_snapshot(make_snapshot(trace=make_trace(10.0), **PULL))
    plot.hide()
    plot.show_snapshot(make_snapshot(trace=make_trace(20.0), **PULL))
    assert drawn(plot)[0][-1] == pytest.approx(7.9)
    plot.show()
    assert drawn(plot)[0][-1] == pytest.approx(17.9)


def test_several_channels_have_a_legend(plot, make_snapshot, make_trace):
    plot.show_snapshot(make_snapshot(**PULL))
    assert not plot.legend.isVisible()
    plot.show_snapshot(None)
    plot.show_snapshot(make_snapshot(trace=make_trace(channels=3), basket=1, **PULL))
    assert plot.legend.isVisible()
    assert plot.legend.texts == ("T1", "T2 basket", "T3")


@pytest.mark.parametrize(
    ("wanted", "expected"),
    [
        ([10.0, 20.0], [10.0, 20.0]),
        ([10.0, 10.2, 10.4], [10.0, 11.0, 12.0]),
        ([29.5, 29.8, 30.5], [28.0, 29.0, 30.0]),
        ([-5.0, 50.0], [0.0, 30.0]),
        ([], []),
    ],
)
def test_names_are_spread_within_the_plot(wanted, expected):
    assert spread(wanted, 1.0, 0.0, 30.0) == expected


def test_a_mark_near_the_right_edge_has_its_text_to_the_left(plot, make_snapshot):
    marks = (Mark(3.0, MarkKind.NOTE, "early"), Mark(36.5, MarkKind.NOTE, "a rather long note"))
    plot.show_snapshot(make_snapshot(now_s=36.6, last_s=36.6, marks=marks, **PULL))
    early, late = plot.mark_lines._lines
    assert early.label.anchors[0] == (0.0, 0.5)
    assert late.label.anchors[0] == (1.0, 0.5)


def test_a_text_goes_left_where_it_would_run_over_the_next_mark(plot, make_snapshot):
    marks = (Mark(18.0, MarkKind.NOTE, "a rather long note"), Mark(19.0, MarkKind.NOTE, "next"))
    plot.show_snapshot(make_snapshot(now_s=36.6, last_s=36.6, marks=marks, **PULL))
    first, second = plot.mark_lines._lines
    assert first.label.anchors[0] == (1.0, 0.5)
    assert second.label.anchors[0] == (0.0, 0.5)
