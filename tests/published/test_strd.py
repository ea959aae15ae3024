"""The statistics results rest on, against NIST's certified values (Statistical Reference Datasets, StRD).

Data and certified values: nist_strd.json, from https://www.itl.nist.gov/div898/strd/.
"""

import json
from pathlib import Path

import numpy as np
import pytest

from benchtemp.shots.statistics import lag1_autocorrelation, mean, standard_deviation, straight_line

STRD = json.loads((Path(__file__).parent / "nist_strd.json").read_text(encoding="utf-8"))
# NumAcc3 and NumAcc4 cannot be written in binary to more than 16 digits: 1000000.1 itself is off by some
# 1e-10, which leaves 9 and 8 digits of a standard deviation of 0.1.
SD_TOLERANCE = {"NumAcc3": 1e-9, "NumAcc4": 1e-8}
LAG1_TOLERANCE = {"NumAcc3": 1e-9, "NumAcc4": 1e-8}


def univariate(name: str) -> np.ndarray:
    entry = STRD["univariate"][name]
    if "data" in entry:
        return np.array(entry["data"], dtype=float)
    rule = entry["rule"]
    return np.array([rule["first"], *rule["then_repeat_500_times"] * 500], dtype=float)


@pytest.mark.parametrize("name", STRD["univariate"])
def test_mean_to_the_certified_digits(name):
    assert mean(univariate(name)) == pytest.approx(STRD["univariate"][name]["certified"]["mean"], rel=1e-15)


@pytest.mark.parametrize("name", STRD["univariate"])
def test_standard_deviation_to_the_certified_digits(name):
    certified = STRD["univariate"][name]["certified"]["sd"]
    assert standard_deviation(univariate(name)) == pytest.approx(certified, rel=SD_TOLERANCE.get(name, 1e-13))


@pytest.mark.parametrize("name", STRD["univariate"])
def test_lag1_autocorrelation_to_the_certified_digits(name):
    certified = STRD["univariate"][name]["certified"]["lag1_autocorrelation"]
    assert lag1_autocorrelation(univariate(name)) == pytest.approx(
        certified, rel=LAG1_TOLERANCE.get(name, 1e-13)
    )


def test_straight_line_to_the_certified_digits():
    norris = STRD["linear_regression"]["Norris"]
    fitted = straight_line(np.array(norris["x"], dtype=float), np.array(norris["y"], dtype=float))
    certified = norris["certified"]
    assert fitted.at_zero == pytest.approx(certified["b0"], rel=1e-12)
    assert fitted.slope == pytest.approx(certified["b1"], rel=1e-14)
    assert fitted.at_zero_uncertainty == pytest.approx(certified["sd_b0"], rel=1e-12)
    assert fitted.slope_uncertainty == pytest.approx(certified["sd_b1"], rel=1e-12)
    assert fitted.residual_sd == pytest.approx(certified["residual_sd"], rel=1e-12)
