"""What is said of an answer is true of the trace."""

import re

import numpy as np
import pytest

from benchtemp.logbook.ecsv import read_stream
from benchtemp.places import demo_streams_dir
from benchtemp.teaching.cutting import item_from, pulls_in
from benchtemp.teaching.endless import Level, practice_item
from benchtemp.teaching.feedback import Feedback
from benchtemp.units import TempUnit


@pytest.fixture(scope="module")
def unfelt():
    """A shot whose probe feels the water only two seconds after pump on."""
    item = practice_item(Level.HARD, 21, 3)
    assert Feedback(item).felt_s - item.reference.pump_on_s > 1.5
    return item


def numbers(sentence):
    return [float(found.replace("−", "-")) for found in re.findall(r"[−-]?\d+(?:\.\d+)?", sentence)]


def test_early_and_still_climbing_says_how_fast(steady):
    says, start_s = Feedback(steady), steady.reference.plateau_start_s
    sentence = says.plateau_start(start_s - 2.1)
    assert sentence.startswith("You marked the plateau 2.1 s early: the probe was still climbing")
    t_s, temp_degc = steady.trace
    low, high = np.searchsorted(t_s, (start_s - 3.1, start_s - 1.1))
    slope = np.polyfit(t_s[low:high], temp_degc[low:high], 1)[0]
    assert numbers(sentence)[1] == pytest.approx(slope, abs=0.1)
    assert "°F/s" in Feedback(steady, TempUnit.DEGF).plateau_start(start_s - 2.1)


def test_late_says_that_the_seconds_belong_to_the_plateau(steady):
    sentence = Feedback(steady).plateau_start(steady.reference.plateau_start_s + 4.0)
    assert sentence.startswith("You marked the plateau 4.0 s late")
    assert "belong to the plateau" in sentence
    after = Feedback(steady).plateau_start(steady.reference.plateau_end_s + 2.0)
    assert "the pump was off by then" in after
    assert "not even on" in Feedback(steady).plateau_start(1.0)


def test_a_pause_in_the_climb_is_told_from_its_end(exercise):
    item = exercise.item(2)  # a pump with pre-infusion
    says = Feedback(item)
    moments = np.arange(item.reference.pump_on_s, item.reference.plateau_start_s - 3.0, 0.2)
    slowest = min(moments, key=says.slope_k_per_s)
    told = says.plateau_start(float(slowest))
    assert "early" in told
    assert ("only paused" in told) == (says.slope_k_per_s(float(slowest)) <= 0.25)


def test_pump_on_says_when_the_probe_felt_the_water(steady, unfelt):
    says, on_s = Feedback(steady), steady.reference.pump_on_s
    felt_s = says.felt_s
    assert felt_s is not None
    assert on_s < felt_s < on_s + 3.0
    assert f"{felt_s - on_s:.1f} s later" in says.pump_on(on_s)
    assert "already climbing" in says.pump_on(on_s + 2.0)
    assert "early" in says.pump_on(on_s - 4.0)
    assert "runs before the trace moves" in Feedback(unfelt).pump_on(unfelt.reference.pump_on_s + 0.9)
    assert "climb was over" in says.pump_on(steady.reference.plateau_end_s - 1.0)
    assert "not named" in says.pump_on(None)


def test_brew_temperature_says_which_figure_was_taken_for_it(exercise):
    item = exercise.item(2)
    says, reference = Feedback(item), item.reference
    t_s, temp_degc = item.trace
    since_on = (t_s >= reference.pump_on_s) & (t_s <= reference.plateau_end_s)
    assert "since pump on" in says.brew_temp(float(np.mean(temp_degc[since_on])))
    early_s = reference.plateau_start_s - 6.0
    own = (t_s >= early_s) & (t_s <= reference.plateau_end_s)
    assert "where you let the plateau start" in says.brew_temp(float(np.mean(temp_degc[own])), early_s)
    assert "all readings of the plateau lie between" in says.brew_temp(99.0)
    assert "is right" in says.brew_temp(reference.brew_temp_degc)


def test_the_highest_reading_is_told_as_such():
    stream = read_stream(demo_streams_dir() / "heat_exchanger_long_idle.ecsv")
    item = item_from(stream, pulls_in(stream)[0])
    t_s, temp_degc = item.trace
    inside = (t_s >= item.reference.plateau_start_s) & (t_s <= item.reference.plateau_end_s)
    assert "near the highest reading" in Feedback(item).brew_temp(float(temp_degc[inside].max()))


def test_why_it_counts_or_not(steady, flush):
    assert Feedback(steady).counts(given=True).startswith("Right, it counts: a plateau of")
    assert Feedback(steady).counts(given=False).startswith("Wrong: it counts")
    assert Feedback(flush).counts(given=False).startswith("Right, it does not count:")
    assert "not said" in Feedback(flush).counts(given=None)
    assert "no plateau" in Feedback(flush).plateau_start(15.0)
