"""The recipe a shot is held to, and the verdict on a shot.

The defaults are common practice without a published source: one part of dry coffee to two parts of drink,
within 10 %, in 22 to 28 s (for instance 52 g out of a 26 g dose). The target band, 90.5 to 96.0 °C
(195 to 205 °F), is trade guidance from memory. All of it can be edited.
"""

from __future__ import annotations

from enum import StrEnum

import msgspec

from benchtemp.errors import BadInput


class RecipeVerdict(StrEnum):
    """Whether a shot kept to its recipe."""

    WITHIN = "within"
    OUTSIDE = "outside"
    NOT_GIVEN = "not given"


class Recipe(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What a shot must meet to count.

    Attributes:
        dose_g: Dry coffee in the basket, None where it is not weighed.
        brew_ratio: Target of yield divided by dose.
        brew_ratio_tolerance: How far the ratio may be off, as a share of the target.
        time_low_s, time_high_s: The window for the time from pump on to pump off.
        band_low_degc, band_high_degc: The target band of the brew temperature.
        plateau_min_s: The shortest plateau that counts.
    """

    dose_g: float | None = None
    brew_ratio: float = 2.0
    brew_ratio_tolerance: float = 0.10
    time_low_s: float = 22.0
    time_high_s: float = 28.0
    band_low_degc: float = 90.5
    band_high_degc: float = 96.0
    plateau_min_s: float = 8.0

    def __post_init__(self) -> None:
        if self.dose_g is not None and not 0 < self.dose_g < 1000:
            raise BadInput(f"A dose of {self.dose_g:g} g cannot be; give grams of dry coffee, such as 18.")
        if not 0 < self.brew_ratio < 100 or not 0 <= self.brew_ratio_tolerance < 1:
            raise BadInput(
                "The brew ratio must be above 0 and its tolerance a share below 1, such as 2 and 0.1."
            )
        if not 0 <= self.time_low_s < self.time_high_s:
            raise BadInput("The time window must begin before it ends, such as 22 to 28 s.")
        if not self.band_low_degc < self.band_high_degc:
            raise BadInput("The target band must begin below its end, such as 90.5 to 96.0 °C.")
        if not self.plateau_min_s > 0:
            raise BadInput("The shortest plateau that counts must be longer than 0 s.")

    @property
    def target_yield_g(self) -> float | None:
        """Return the yield the recipe asks for in g, None without a dose."""
        return None if self.dose_g is None else self.dose_g * self.brew_ratio

    def judge(
        self, dose_g: float | None, yield_g: float | None, shot_time_s: float | None
    ) -> tuple[RecipeVerdict, tuple[str, ...]]:
        """Hold a shot to the recipe.

        Returns: the verdict and one sentence for each thing that was outside. Not given: unless dose,
        yield and time are all known there is nothing to hold the shot to.
        """
        if dose_g is None or yield_g is None or shot_time_s is None:
            return RecipeVerdict.NOT_GIVEN, ()
        reasons = []
        ratio = yield_g / dose_g
        low = self.brew_ratio * (1 - self.brew_ratio_tolerance)
        high = self.brew_ratio * (1 + self.brew_ratio_tolerance)
        if not low - 1e-9 <= ratio <= high + 1e-9:
            reasons.append(f"brew ratio 1:{ratio:.2f}, window 1:{low:.2f}–1:{high:.2f}")
        if not self.time_low_s - 1e-9 <= shot_time_s <= self.time_high_s + 1e-9:
            reasons.append(f"ran {shot_time_s:.1f} s, window {self.time_low_s:g}–{self.time_high_s:g} s")
        return (RecipeVerdict.OUTSIDE if reasons else RecipeVerdict.WITHIN), tuple(reasons)
