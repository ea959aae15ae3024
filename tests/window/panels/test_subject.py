from __future__ import annotations

import numpy as np
import pytest

from benchtemp.bench.trace import TraceView
from benchtemp.readings.reading import Mark, MarkKind
from benchtemp.shots.recipe import Recipe
from benchtemp.shots.result import PullKind
from benchtemp.shots.stages import Stage
from benchtemp.window.panels.subject import cup_g, last_shot, subject_of, verdict_text


def test_before_the_first_shot_it_is_about_the_next(make_snapshot):
    subject = subject_of(make_snapshot(recipe=Recipe(dose_g=18)))
    assert (subject.title, subject.number, subject.running, subject.time_s) == (
        "Next shot",
        None,
        False,
        None,
    )
    assert subject.entered("dose_g", 18.25) == "dose_g=18.25"
    assert verdict_text(subject) == ("Target 36.0 g in 22–28 s.", "quiet")


def test_without_a_dose_there_is_no_target(make_snapshot):
    subject = subject_of(make_snapshot())
    assert subject.yield_window_g is None
    assert verdict_text(subject)[0].startswith("Enter the dose")


def test_under_way_it_is_about_the_present_shot_even_when_others_have_ended(make_snapshot, make_shot):
    subject = subject_of(
        make_snapshot(
            stage=Stage.RISING, pump_on_s=100.0, now_s=104.5, pump_marked=True, shots=(make_shot(),)
        ),
        next_asked=True,
    )
    assert (subject.title, subject.number, subject.running) == ("Shot under way", None, True)
    assert subject.time_s == pytest.approx(4.5)
    assert subject.entered("dose_g", 17.5) == "dose_g=17.5"


def test_the_timer_stands_once_the_pump_is_off(make_snapshot):
    snapshot = make_snapshot(
        stage=Stage.PLATEAU, pump_on_s=100.0, pump_off_s=125.0, now_s=131.0, pump_marked=True
    )
    assert subject_of(snapshot).time_s == pytest.approx(25.0)


def test_after_its_end_it_is_about_the_shot_that_ended_and_addresses_it(make_snapshot, make_shot):
    subject = subject_of(make_snapshot(shots=(make_shot(2), make_shot(3)), stage=Stage.ENDED))
    assert (subject.title, subject.number) == ("Shot 3", 3)
    assert subject.entered("yield_g", 36.4) == "shot 3 yield_g=36.4"
    assert subject.entered("yield_g", None) == "shot 3 yield_g="
    assert subject.brew_ratio == pytest.approx(36.4 / 18)


def test_a_flush_after_a_shot_does_not_take_the_shot_away(make_snapshot, make_shot):
    flush = make_shot(9, kind=PullKind.FLUSH)
    snapshot = make_snapshot(shots=(make_shot(3), flush))
    assert last_shot(snapshot).number == 3
    assert subject_of(snapshot).title == "Shot 3"


@pytest.mark.parametrize(
    ("time_s", "yield_g", "verdict"),
    [
        (25.0, 36.0, ("✓ within the recipe: 1:2.00 in 25.0 s", "good")),
        (19.4, 36.0, ("✕ outside: ran 19.4 s, window 22–28 s", "bad")),
        (
            19.4,
            45.0,
            ("✕ outside: brew ratio 1:2.50, window 1:1.80–1:2.20; ran 19.4 s, window 22–28 s", "bad"),
        ),
        (25.0, None, ("No verdict yet: yield missing.", "quiet")),
    ],
)
def test_verdict_in_words(make_snapshot, make_shot, time_s, yield_g, verdict):
    shot = make_shot(shot_time_s=time_s, yield_g=yield_g)
    assert verdict_text(subject_of(make_snapshot(shots=(shot,)))) == verdict


@pytest.mark.parametrize(
    ("now_s", "text"),
    [
        (110.0, "12 s to the time window"),
        (124.0, "✓ inside the time window, 4 s left"),
        (129.0, "✕ past the time window, 22–28 s"),
    ],
)
def test_words_while_the_pump_runs(make_snapshot, now_s, text):
    snapshot = make_snapshot(stage=Stage.PLATEAU, pump_on_s=100.0, now_s=now_s, pump_marked=True)
    assert verdict_text(subject_of(snapshot))[0] == text


def _trace(t_s, weight_g):
    return TraceView(np.array(t_s), np.full((len(t_s), 1), 93.0), np.array(weight_g))


def test_the_cup_counts_from_pump_on(make_snapshot):
    # 210 g of cup at pump on, 228.5 g now; rows without a weight lie between
    trace = _trace([99.0, 100.0, 101.0, 110.0, 110.5], [210.0, np.nan, np.nan, 228.5, np.nan])
    assert cup_g(make_snapshot(trace=trace, has_weight=True), 100.0) == pytest.approx(18.5)


def test_the_cup_counts_from_a_tare_after_pump_on(make_snapshot):
    trace = _trace([99.0, 102.0, 110.0], [0.0, 205.0, 215.0])
    marks = (Mark(102.5, MarkKind.TARE),)
    assert cup_g(make_snapshot(trace=trace, has_weight=True, marks=marks), 100.0) == pytest.approx(10.0)


def test_no_weight_no_yield(make_snapshot):
    trace = _trace([99.0, 102.0], [np.nan, np.nan])
    assert cup_g(make_snapshot(trace=trace, has_weight=True), 100.0) is None
    assert cup_g(make_snapshot(), 100.0) is None
