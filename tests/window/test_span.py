from __future__ import annotations

import numpy as np
import pytest

from benchtemp.shots.result import Origin
from benchtemp.shots.stages import Stage
from benchtemp.window.plot.span import AFTER_SHOT_S, live_span, plausible, shot_span, temp_span


def test_before_any_pull_the_running_time_is_shown(make_snapshot):
    span = live_span(make_snapshot(now_s=130.0))
    assert not span.since_pump
    assert span.origin_s == 0.0
    assert span.start_s <= 130.0 - 55.0
    assert span.end_s > 130.0


def test_the_running_view_moves_in_steps(make_snapshot):
    spans = {live_span(make_snapshot(now_s=100.0 + tenth / 10)) for tenth in range(600)}
    assert len(spans) == 5


def test_a_pull_is_shown_since_pump_on(make_snapshot):
    snapshot = make_snapshot(
        now_s=43.0, stage=Stage.RISING, pump_on_s=40.0, pump_marked=True, pump_running=True
    )
    span = live_span(snapshot)
    assert span.since_pump
    assert not span.estimated
    assert span.origin_s == 40.0
    assert span.start_s == -5.0
    assert span.end_s >= snapshot.recipe.time_high_s + 6


def test_a_long_pull_grows_in_steps_and_now_stays_in_view(make_snapshot):
    spans = set()
    for tenth in range(900):
        snapshot = make_snapshot(
            now_s=40.0 + tenth / 10,
            stage=Stage.PLATEAU,
            pump_on_s=40.0,
            pump_marked=True,
            plateau_start_s=46.0,
        )
        span = live_span(snapshot)
        assert span.end_s > snapshot.now_s - span.origin_s
        spans.add(span)
    assert len(spans) <= 8


def test_an_unmarked_pull_says_that_its_beginning_is_estimated(make_snapshot):
    assert live_span(make_snapshot(now_s=43.0, stage=Stage.RISING, rise_s=40.0, pump_on_s=40.0)).estimated


def test_a_pull_that_ended_stays_in_view_for_a_while(make_snapshot, make_shot):
    shot = make_shot(pump_on_s=100.0, shot_time_s=25.0)
    for now_s, since_pump in (
        (126.0, True),
        (125.0 + AFTER_SHOT_S - 1, True),
        (125.0 + AFTER_SHOT_S + 1, False),
    ):
        assert live_span(make_snapshot(now_s=now_s, shots=(shot,))).since_pump is since_pump


def test_a_chosen_shot_is_shown_whole(make_shot):
    span = shot_span(make_shot(pump_on_s=100.0, shot_time_s=25.0))
    assert span.origin_s == 100.0
    assert span.start_s <= -5.0
    assert span.end_s > 25.0
    estimated = shot_span(make_shot(pump_on_source=Origin.ESTIMATED, pump_off_s=None, plateau_end_s=None))
    assert estimated.estimated
    assert estimated.end_s > 25.0


BAND = (90.5, 96.0)


def test_the_temperature_axis_holds_the_band_and_the_trace():
    low, high = temp_span(np.array([63.0, 93.0]), BAND, None, 10.0)
    assert low <= 63.0
    assert high >= 96.0
    assert low % 10 == 0
    assert high % 10 == 0


def test_without_readings_the_band_alone_is_shown():
    low, high = temp_span(np.empty(0), BAND, None, 10.0)
    assert (low, high) == (80.0, 100.0)


def test_the_temperature_axis_rests_while_everything_fits():
    now = temp_span(np.array([63.0, 93.0]), BAND, None, 10.0)
    assert temp_span(np.array([65.0, 94.0]), BAND, now, 10.0) == now
    assert temp_span(np.array([41.0, 94.0]), BAND, now, 10.0) != now


def test_the_temperature_axis_comes_back_when_it_is_far_too_wide():
    assert temp_span(np.array([92.0]), BAND, (0.0, 100.0), 10.0) == (80.0, 100.0)


@pytest.mark.parametrize("wild", [float("nan"), 800.0, -200.0, float("inf")])
def test_a_loose_wire_does_not_move_the_axis(wild):
    assert plausible(np.array([[93.0, wild]])).tolist() == [93.0]
