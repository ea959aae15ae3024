from __future__ import annotations

from math import inf, nan

import pytest

from benchtemp.probes.calibration import CheckPoint, judge
from benchtemp.probes.correction import Correction
from benchtemp.probes.settle import BathState, BathStatus
from benchtemp.units import TempUnit
from benchtemp.window.probes_page.texts import (
    correction_text,
    error_with,
    plus_minus,
    signed,
    state_text,
    temp_with,
    verdict_text,
)

C, F = TempUnit.DEGC, TempUnit.DEGF


def test_signs_stand_before_differences_and_none_before_nothing():
    assert signed(0.314, C) == "+0.31 °C"
    assert signed(-0.314, C) == "−0.31 °C"
    assert signed(-0.001, C) == "0.00 °C"
    assert signed(1.0, F) == "+1.80 °F"


def test_value_and_uncertainty_end_at_the_same_digit():
    assert error_with(-0.3, 0.121, C) == "−0.30 ± 0.12 °C"
    assert error_with(0.0168, 0.0196, C) == "+0.017 ± 0.020 °C"
    assert temp_with(99.9037, 0.2, C) == "99.90 ± 0.20 °C"
    assert temp_with(99.9037, 0.2, F) == "211.83 ± 0.36 °F"
    assert temp_with(-0.03, 0.0581, C) == "−0.030 ± 0.058 °C"
    assert temp_with(92.848, 3.126, C) == "92.85 ± 3.13 °C"  # as the bench and a report have it


@pytest.mark.parametrize("unknown", [None, nan, inf])
def test_an_unknown_uncertainty_is_said_to_be_unknown(unknown):
    assert plus_minus(unknown, C) == "± ? °C"
    assert correction_text(Correction(offset_k=0.2), C) == "+0.20 ± ? °C"


def point(error_k, u_k=0.05):
    return CheckPoint(reported_degc=100.0 + error_k, reference_degc=100.0, reference_uncertainty_k=u_k)


@pytest.mark.parametrize(
    ("error_k", "look", "begins", "certain"),
    [
        (0.2, "good", "✓ passes", True),
        (0.45, "caution", "✓ passes", False),
        (0.55, "bad", "✕ fails", False),
        (-0.9, "bad", "✕ fails", True),
    ],
)
def test_a_verdict_has_a_sign_words_and_says_where_it_is_not_certain(error_k, look, begins, certain):
    said = verdict_text(judge([point(error_k)], 0.5), C)
    assert said.look == look
    assert said.text.startswith(begins)
    assert ("not certain" in said.text) is not certain
    assert "limit ± 0.50 °C" in said.text


@pytest.mark.parametrize("state", BathState)
def test_every_state_of_a_bath_is_said_in_words(state):
    said = state_text(BathStatus(state, -2.345, None), F)
    assert len(said.text) > 8
    if state in {BathState.CLIMBING, BathState.FALLING}:
        assert "4.2 °F/min" in said.text
