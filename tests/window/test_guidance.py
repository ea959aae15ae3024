from __future__ import annotations

import numpy as np
import pytest

from benchtemp.bench.trace import TraceView
from benchtemp.readings.reading import NoticeKind
from benchtemp.shots.recipe import Recipe
from benchtemp.shots.stages import Stage
from benchtemp.window.guidance import guidance, only_warms

EMPTY = TraceView(np.empty(0), np.empty((0, 1)), np.empty(0))


def test_it_begins_with_the_source(make_snapshot):
    assert "opened" in guidance(None)
    assert "first reading" in guidance(make_snapshot(trace=EMPTY))


def test_at_rest_it_says_which_key_to_press(make_snapshot):
    assert guidance(make_snapshot()).startswith("Press Space the moment the pump starts")
    assert "virtual machine's pump" in guidance(make_snapshot(), virtual=True)


@pytest.mark.parametrize(
    ("pump_s", "said"),
    [(10.0, "between 22–28 s"), (24.0, "at 36 g"), (31.0, "Past the recipe's window")],
)
def test_on_the_plateau_it_follows_the_recipe(make_snapshot, pump_s, said):
    snapshot = make_snapshot(
        now_s=100.0 + pump_s,
        stage=Stage.PLATEAU,
        pump_on_s=100.0,
        pump_marked=True,
        pump_running=True,
        recipe=Recipe(dose_g=18.0),
    )
    text = guidance(snapshot)
    assert said in text
    assert "Space" in text


def test_an_unmarked_rise_asks_for_the_mark(make_snapshot):
    assert "press Space now" in guidance(make_snapshot(stage=Stage.RISING, rise_s=1.0, pump_on_s=1.0))


@pytest.mark.parametrize(
    ("since_s", "temp_degc", "marked", "warms"),
    [
        (5.0, 60.0, False, False),
        (15.0, 60.0, False, True),
        (15.0, 90.0, False, False),
        (15.0, 60.0, True, False),
    ],
)
def test_a_rise_too_slow_for_water_is_a_probe_that_warms(make_snapshot, since_s, temp_degc, marked, warms):
    rising = make_snapshot(
        now_s=100.0 + since_s,
        stage=Stage.RISING,
        pump_on_s=100.0,
        pump_marked=marked,
        temps_degc=(temp_degc,),
    )
    assert only_warms(rising) is warms
    assert ("warming up" in guidance(rising)) is warms


def test_a_rise_of_a_virtual_machine_that_nobody_marked_is_its_fresh_basket(make_snapshot):
    said = guidance(make_snapshot(stage=Stage.RISING), virtual=True)
    assert "fresh basket" in said
    assert "Space" in said


def test_after_a_shot_without_yield_it_asks_for_it(make_snapshot, make_shot):
    assert "Enter its yield" in guidance(make_snapshot(shots=(make_shot(yield_g=None),)))
    assert "Shot 1 is kept" in guidance(make_snapshot(shots=(make_shot(),)))


def test_a_lost_interface_and_a_replay_are_said(make_snapshot):
    assert "return by themselves" in guidance(make_snapshot(status=NoticeKind.LOST))
    assert "replay" in guidance(make_snapshot(), replay=True)
