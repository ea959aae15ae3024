from fractions import Fraction
from math import inf, nan

import pytest

from benchtemp.errors import BadInput
from benchtemp.reports.film.rate import frame_rate


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        (25, Fraction(25)),
        (29.97, Fraction(30000, 1001)),
        (23.976, Fraction(24000, 1001)),
        (59.94, Fraction(60000, 1001)),
        (12.5, Fraction(25, 2)),
    ],
)
def test_rates_are_exact(written, meant):
    assert frame_rate(written) == meant


@pytest.mark.parametrize("written", [0, -25, 1000, inf, nan])
def test_rates_that_cannot_be_are_told(written):
    with pytest.raises(BadInput, match="pictures a second"):
        frame_rate(written)
