import math

import pytest

from benchtemp.studies.outcome import About, Concern, plural
from benchtemp.studies.statistics.intervals import Interval
from benchtemp.studies.wording import (
    chance,
    decimals_for,
    delta,
    delta_span,
    listed,
    minutes,
    number,
    span,
    temp,
    temp_span,
)
from benchtemp.units import TempUnit


def test_numbers_carry_a_proper_minus_and_no_negative_nought():
    assert number(-0.004) == "0.00"
    assert number(-1.5, 1) == "−1.5"
    assert number(None) == number(math.nan) == "—"


def test_temperatures_shift_and_differences_do_not():
    assert temp(93.0, TempUnit.DEGF) == "199.4 °F"
    assert delta(0.5, TempUnit.DEGF) == "0.90 °F"
    assert delta(0.5, TempUnit.DEGC, sign=True) == "+0.50 °C"
    assert temp_span(Interval(low=92.0, high=94.0), TempUnit.DEGF) == "197.6 to 201.2 °F"
    assert delta_span(Interval(low=-0.5, high=0.5), TempUnit.DEGF) == "−0.90 to 0.90 °F"


def test_open_ends_are_said():
    assert span(-math.inf, 3.0, 1, "s") == "at most 3.0 s"
    assert span(3.0, math.inf, 1, "s") == "at least 3.0 s"
    assert span(-math.inf, math.inf, 1) == "anything"


@pytest.mark.parametrize(
    ("p", "text"), [(0.0001, "< 0.001"), (0.0234, "0.023"), (0.4, "0.40"), (math.nan, "—")]
)
def test_chances(p, text):
    assert chance(p) == text


def test_figures_deserve_two_digits_of_their_uncertainty():
    assert [decimals_for(value) for value in (12.0, 1.2, 0.12, 0.012, math.inf)] == [0, 1, 2, 2, 2]


def test_lists_and_counts():
    assert listed(["a", "b"]) == "a and b"
    assert listed([]) == ""
    assert plural(0, "shot") == "0 shots"
    assert minutes(0.5) == "30 s"
    assert minutes(12.0) == "12 min"


def test_concerns_speak_the_readers_unit_and_leave_names_alone():
    concern = Concern(
        about=About.OUTLIER, text="{x} is off by {s0} at {t0}", deltas_k=(0.5,), temps_degc=(93.0,)
    )
    assert concern.said() == "{x} is off by +0.50 °C at 93.00 °C"
    assert concern.said(TempUnit.DEGF) == "{x} is off by +0.90 °F at 199.40 °F"
