"""The correction a probe's calibration asks for: stored with the shot, applied when it is read."""

from __future__ import annotations

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
    """

    probe: str = ""
    checked: str = ""
    offset_k: float = 0.0
    slope_k_per_k: float = 0.0
    reference_degc: float = 93.0
    uncertainty_k: float | None = None

    def apply(self, reported_degc: Temps) -> Temps:
        """Return corrected °C for reported °C (a number or an array; NaN stays NaN)."""
        if not self.offset_k and not self.slope_k_per_k:
            return reported_degc
        return reported_degc + self.offset_k + self.slope_k_per_k * (reported_degc - self.reference_degc)


UNCORRECTED = Correction()
