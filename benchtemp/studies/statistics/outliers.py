"""Values that stand apart: pointed out, never left out."""

from __future__ import annotations

from math import sqrt

import numpy as np

from benchtemp.readings.reading import FloatArray

FEWEST = 6
"""Below this many values nothing is called an outlier: two of five may well lie apart."""


def outliers(values: FloatArray, chance: float = 0.05) -> tuple[int, ...]:
    """Return the indices of values too far from the rest for a normal sample, most extreme first.

    Up to a fifth of the values can be found, so that two do not hide each other.

    Args:
        values: Any order.
        chance: How often a sample without outliers may show one all the same.

    Source: generalised extreme studentised deviate test (Rosner 1983), NIST/SEMATECH e-Handbook 1.3.5.17.3.
    """
    from scipy.special import stdtrit  # noqa: PLC0415  (start-up time)

    count = len(values)
    if count < FEWEST:
        return ()
    left = list(range(count))
    removed: list[int] = []
    found = 0
    for step in range(1, max(1, count // 5) + 1):
        rest = values[left]
        sd = float(rest.std(ddof=1))
        if not sd > 0:
            break
        apart = np.abs(rest - rest.mean())
        at = int(apart.argmax())
        n = count - step + 1
        t = float(stdtrit(n - 2, 1.0 - chance / (2 * n)))
        limit = t * (n - 1) / sqrt((n - 2 + t * t) * n)
        removed.append(left.pop(at))
        if float(apart[at]) / sd > limit:
            found = step
    return tuple(removed[:found])
