"""The correction a probe's calibration asks for: stored with the shot, applied when it is read."""

from __future__ import annotations

from math import sqrt
from typing import TypeVar

import msgspec
import numpy as np
import numpy.typing as npt

Temps = TypeVar("Temps", float, npt.NDArray[np.float64])


class Correction(msgspec.Struct, frozen=True, kw_only=True):
    """What is added to a reported temperature: `offset_k + slope_k_per_k * (reported - reference_degc)`.

    Attributes:
        probe: The probe's name; empty where none was named.
        checked: ISO 8601 date and time of the check it comes from; empty for "never checked".
        offset_k: Correction at `reference_degc`, K.
        slope_k_per_k: Change of the correction with the reported temperature.
        reference_degc: Temperature about which the line was fitted, °C.
        uncertainty_k: Standard uncertainty of the correction at `reference_degc`, K; None if unknown.
        slope_uncertainty_k_per_k: Standard uncertainty of the slope.
        offset_slope_correlation: Correlation coefficient of offset and slope.
        dof: Effective degrees of freedom of `uncertainty_k`; None for as good as known exactly.
    """

    probe: str = ""
    checked: str = ""
    offset_k: float = 0.0
    slope_k_per_k: float = 0.0
    reference_degc: float = 93.0
    uncertainty_k: float | None = None
    slope_uncertainty_k_per_k: float = 0.0
    offset_slope_correlation: float = 0.0
    dof: float | None = None

    def apply(self, reported_degc: Temps) -> Temps:
        """Return corrected °C for reported °C (a number or an array; NaN stays NaN)."""
        if not self.offset_k and not self.slope_k_per_k:
            return reported_degc
        return reported_degc + self.offset_k + self.slope_k_per_k * (reported_degc - self.reference_degc)

    def reported(self, corrected_degc: Temps) -> Temps:
        """Return the reported °C that `apply` turns into corrected ones (a number or an array)."""
        if not self.offset_k and not self.slope_k_per_k:
            return corrected_degc
        return (corrected_degc - self.offset_k + self.slope_k_per_k * self.reference_degc) / (
            1.0 + self.slope_k_per_k
        )

    def uncertainty_at(self, reported_degc: float) -> float | None:
        """Return the standard uncertainty of the correction at a reported temperature, K; None if unknown.

        Source: JCGM 100:2008, Eq. (H.15), for a straight line with correlated offset and slope.
        """
        if self.uncertainty_k is None:
            return None
        away_k = reported_degc - self.reference_degc
        slope_share = self.slope_uncertainty_k_per_k * away_k
        variance = self.uncertainty_k**2 + slope_share**2
        variance += 2.0 * self.offset_slope_correlation * self.uncertainty_k * slope_share
        return sqrt(max(variance, 0.0))


UNCORRECTED = Correction()
