"""Frame rates: whole numbers, and those of broadcasting, which are off by one part in a thousand."""

from __future__ import annotations

from fractions import Fraction
from math import isfinite

from benchtemp.errors import BadInput

LOWEST, HIGHEST = 1, 120


def frame_rate(frames_per_s: float) -> Fraction:
    """Return the exact rate that a number means: 29.97 is 30000/1001.

    Raises:
        BadInput: It is no rate a film has.

    >>> frame_rate(25), frame_rate(29.97)
    (Fraction(25, 1), Fraction(30000, 1001))
    """
    if not isfinite(frames_per_s) or not LOWEST <= frames_per_s <= HIGHEST:
        raise BadInput(f"A film of {frames_per_s:g} pictures a second cannot be; give 1 to 120, such as 25.")
    whole = round(frames_per_s)
    if frames_per_s == whole:
        return Fraction(whole)
    slower = Fraction(1000 * whole, 1001)
    if abs(float(slower) - frames_per_s) < 0.006:
        return slower
    return Fraction(frames_per_s).limit_denominator(1000)
