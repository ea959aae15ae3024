"""A shot: the figures of a pull together with what the operator entered for it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import isfinite
from typing import Any

import msgspec
import numpy as np

from benchtemp.errors import BenchtempError
from benchtemp.probes.correction import UNCORRECTED, Correction
from benchtemp.readings.reading import FloatArray, Mark, MarkKind, Stream, moment_text
from benchtemp.shots.budget import Grounds, brew_budget, stored_grounds
from benchtemp.shots.entries import Entries, ShotEntries, entries_until
from benchtemp.shots.plateau import find_pulls
from benchtemp.shots.recipe import Recipe, RecipeVerdict
from benchtemp.shots.result import PullKind, Result

TARE_SETTLES_S = 1.0
"""A scale told to tare needs a moment to do so; what it shows then is zero (our estimate)."""
YIELD_SETTLES_S = 5.0
"""How long after pump off the cup is still watched: what drips in belongs to the yield (common practice)."""
STEEPEST_SLOPE = 0.5
"""K per K: a correction steeper than this is no probe's."""


class Shot(msgspec.Struct, frozen=True, kw_only=True):
    """One extraction, or one flush, with its recipe, tags and result.

    Attributes:
        number: Counts the shots of a recording from 1; a flush has 0.
        key: Tells the pulls of one sitting apart, whatever their kind.
        filling: Whether the pump is off but the cup on the scale still fills: too early to judge the yield.
        started: ISO 8601 wall-clock time of pump on, empty when unknown.
        recording: Name of the recording it was cut from.
        path: Where its file lies, empty while it has none.
        set_aside: The operator's reason to leave it out of studies, empty when there is none.
        correction: Carried by its temperatures.
        grounds: What its uncertainty rests on besides.
        brew_temp_expanded_uncertainty_k: From the whole budget (`shots.budget.budget_of`), None without one.
        coverage_factor: Of that.
    """

    number: int
    result: Result
    recipe: Recipe
    key: int = 0
    dose_g: float | None = None
    yield_g: float | None = None
    filling: bool = False
    tags: dict[str, str] = {}
    correction: Correction = UNCORRECTED
    started: str = ""
    recording: str = ""
    path: str = ""
    set_aside: str = ""
    grounds: Grounds = Grounds()
    brew_temp_expanded_uncertainty_k: float | None = None
    coverage_factor: float | None = None

    @property
    def is_flush(self) -> bool:
        """Tell whether this was a flush."""
        return self.result.kind is PullKind.FLUSH

    @property
    def brew_ratio(self) -> float | None:
        """Return yield divided by dose, None unless both are known."""
        return None if self.dose_g is None or self.yield_g is None else self.yield_g / self.dose_g

    @property
    def verdict(self) -> RecipeVerdict:
        """Return whether the recipe was kept."""
        return self._judged()[0]

    def _judged(self) -> tuple[RecipeVerdict, tuple[str, ...]]:
        return self.recipe.judge(self.dose_g, self.yield_g, self.result.shot_time_s)

    @property
    def reasons(self) -> tuple[str, ...]:
        """Return why this shot does not count, most basic reason first; empty when it counts."""
        found = list(self.result.reasons)
        if self.is_flush and not found:
            found.append("a flush, not an extraction")
        plateau_s = self.result.plateau_s
        if not self.is_flush and 0 < plateau_s < self.recipe.plateau_min_s and not found:
            found.append(f"plateau of {plateau_s:.1f} s, at least {self.recipe.plateau_min_s:g} s are needed")
        found.extend(self._judged()[1])
        if self.set_aside:
            found.append(f"set aside: {self.set_aside}")
        return tuple(found)

    @property
    def counts(self) -> bool:
        """Tell whether a plateau long enough was found and the recipe, where given, was kept."""
        return (
            not self.is_flush
            and self.result.brew_temp_degc is not None
            and self.result.plateau_s >= self.recipe.plateau_min_s
            and not self.reasons
        )

    def as_json(self) -> dict[str, Any]:
        """Return the shot as the plain object that `analyse --json` and `replay --json` print."""
        result = self.result
        return {
            "number": self.number,
            "pump_on_s": result.pump_on_s,
            "pump_on_source": str(result.pump_on_source),
            "pump_off_s": result.pump_off_s,
            "pump_off_source": str(result.pump_off_source),
            "rise_s": result.rise_s,
            "plateau_start_s": result.plateau_start_s,
            "plateau_end_s": result.plateau_end_s,
            "plateau_start_uncertainty_s": result.plateau_start_uncertainty_s,
            "plateau_end_uncertainty_s": result.plateau_end_uncertainty_s,
            "brew_temp_degc": result.brew_temp_degc,
            "brew_temp_expanded_uncertainty_k": self.brew_temp_expanded_uncertainty_k,
            "coverage_factor": self.coverage_factor,
            "sd_k": result.sd_k,
            "highest_degc": result.highest_degc,
            "lowest_degc": result.lowest_degc,
            "drift_k_per_s": result.drift_k_per_s,
            "time_to_plateau_s": result.time_to_plateau_s,
            "in_band_share": result.in_band_share,
            "readings": result.readings,
            "independent_readings": result.independent_readings,
            "spikes_excluded": result.spikes_excluded,
            "readings_missing": result.readings_missing,
            "longest_gap_s": result.longest_gap_s,
            "dose_g": self.dose_g,
            "yield_g": self.yield_g,
            "brew_ratio": self.brew_ratio,
            "shot_time_s": result.shot_time_s,
            "recipe": str(self.verdict),
            "counts": self.counts,
            "reasons": list(self.reasons),
            "tags": dict(self.tags),
            "started": self.started,
            "correction": self._correction_used(),
        }

    def _correction_used(self) -> dict[str, Any]:
        """Return which correction the temperatures carry, and what it does at the brew temperature."""
        used, brew_degc = self.correction, self.result.brew_temp_degc
        return {
            "probe": used.probe,
            "checked": used.checked or None,
            "offset_k": used.offset_k,
            "slope_k_per_k": used.slope_k_per_k,
            "reference_degc": used.reference_degc,
            "uncertainty_k": used.uncertainty_k,
            "at_brew_temp_k": None if brew_degc is None else brew_degc - used.reported(brew_degc),
        }


def scale_yield_g(
    t_s: FloatArray, weight_g: FloatArray, marks: Sequence[Mark], pump_on_s: float, pump_off_s: float | None
) -> float | None:
    """Return the yield the scale saw for a pull in g, None where it saw none.

    It is the highest weight (median of three, so that a knock does not count) until `YIELD_SETTLES_S` after
    pump off, less the weight at pump on or, if it came later, at the last tare: a cup may be put
    under the spout after the pump was started.
    """
    known = np.isfinite(weight_g)
    t_s, weight_g = t_s[known], weight_g[known]
    if pump_off_s is None or len(t_s) < 3:
        return None
    tares_s = [
        mark.t_s + TARE_SETTLES_S for mark in marks if mark.kind is MarkKind.TARE and mark.t_s <= pump_off_s
    ]
    zero_s = max([pump_on_s, *tares_s])
    before = np.flatnonzero(t_s <= zero_s)
    zero_g = float(weight_g[before[-1]]) if len(before) else 0.0
    during = weight_g[(t_s > zero_s) & (t_s <= pump_off_s + YIELD_SETTLES_S)]
    if len(during) < 3:
        return None
    smooth = np.median(np.stack([during[:-2], during[1:-1], during[2:]]), axis=0)
    yield_g = round(float(smooth.max()) - zero_g, 2)
    return yield_g if yield_g > 0.5 else None


def make_shot(
    result: Result,
    entries: ShotEntries,
    *,
    number: int,
    scale_g: float | None = None,
    correction: Correction = UNCORRECTED,
    grounds: Grounds | None = None,
) -> Shot:
    """Join a pull's figures with what was entered; a typed yield goes before the scale's."""
    grounds = grounds or Grounds()
    budget = brew_budget(result, correction, grounds, probe=entries.tags.get("probe", ""))
    return Shot(
        number=number,
        result=result,
        recipe=entries.recipe,
        dose_g=entries.dose_g,
        yield_g=entries.yield_g if entries.yield_g is not None else scale_g,
        tags=entries.tags,
        correction=correction,
        grounds=grounds,
        brew_temp_expanded_uncertainty_k=None if budget is None else budget.expanded_k(),
        coverage_factor=None if budget is None else budget.coverage_factor(),
    )


class Analysis(msgspec.Struct, frozen=True, kw_only=True):
    """What a whole stream holds.

    Attributes:
        shots: Numbered from 1 in the order they were pulled.
        flushes: Pulls too short or unsettled to be extractions.
        reasons: Why nothing, or less than might be expected, was found.
        warnings: What could not be read or was passed over.
    """

    shots: tuple[Shot, ...] = ()
    flushes: tuple[Shot, ...] = ()
    reasons: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()


def header_entries(meta: Mapping[str, Any]) -> tuple[Entries, tuple[str, ...]]:
    """Return recipe and tags from a header, and complaints about what in it cannot be used."""
    complaints: list[str] = []
    recipe = Recipe()
    if isinstance(written := meta.get("recipe"), dict):
        known = {name: value for name, value in written.items() if name in Recipe.__struct_fields__}
        try:
            recipe = msgspec.convert(known, Recipe)
        except (BenchtempError, msgspec.ValidationError) as error:
            complaints.append(f"The recipe in the header was passed over, the usual one is used: {error}")
    tags: dict[str, str] = {}
    if isinstance(written := meta.get("tags"), dict):
        tags = {str(name): str(value) for name, value in written.items() if value is not None}
    return Entries(recipe=recipe, tags=tags), tuple(complaints)


def stored_correction(meta: Mapping[str, Any], channel: str) -> Correction:
    """Return the correction stored for a channel, or none at all."""
    channels = meta.get("channels")
    for described in channels if isinstance(channels, list) else []:
        if isinstance(described, dict) and described.get("name") == channel:
            named = Correction(probe=str(described.get("probe") or ""))
            written = described.get("correction")
            if not isinstance(written, dict):
                return named
            known = {name: value for name, value in written.items() if name in Correction.__struct_fields__}
            try:
                found = msgspec.convert(known, Correction)
            except msgspec.ValidationError:
                return named
            numbers = [value for value in msgspec.structs.astuple(found) if isinstance(value, float)]
            meant = all(map(isfinite, numbers)) and abs(found.slope_k_per_k) < STEEPEST_SLOPE
            return found if meant else named
    return UNCORRECTED


def analyse_stream(
    stream: Stream,
    *,
    recipe: Recipe | None = None,
    correction: Correction | None = None,
    grounds: Grounds | None = None,
) -> Analysis:
    """Find and read every shot of a recording, a shot file or any stream of temperatures.

    Args:
        stream: Readings and marks; which channel is the basket's stands in `meta["basket_channel"]`, else it
            is the first.
        recipe: Held to instead of the one in the header.
        correction: Applied instead of the one in the header.
        grounds: What uncertainties rest on, instead of what the header says.
    """
    entries, complaints = header_entries(stream.meta)
    if recipe is not None:
        entries = msgspec.structs.replace(entries, recipe=recipe)
    named = str(stream.meta.get("basket_channel", stream.channels[0]))
    basket = stream.channels.index(named) if named in stream.channels else 0
    used = stored_correction(stream.meta, stream.channels[basket]) if correction is None else correction
    rests_on = stored_grounds(stream.meta, stream.channels[basket]) if grounds is None else grounds
    reported = stream.temps_degc[:, basket]
    if stream.weight_g is not None:
        # An instant that belongs to the scale alone is no reading missed by the probe.
        scale_alone = np.isfinite(stream.weight_g) & ~np.isfinite(stream.temps_degc).any(axis=1)
        t_s, reported = stream.t_s[~scale_alone], reported[~scale_alone]
    else:
        t_s = stream.t_s
    band = (entries.recipe.band_low_degc, entries.recipe.band_high_degc)
    found = find_pulls(
        t_s,
        used.apply(reported),
        stream.marks,
        band_degc=band,
        plateau_min_s=entries.recipe.plateau_min_s,
    )
    shots: list[Shot] = []
    flushes: list[Shot] = []
    header_shot = stream.meta.get("shot")
    first_number = 1
    if isinstance(header_shot, dict) and isinstance(header_shot.get("number"), int):
        first_number = header_shot["number"]
    for result in found.pulls:
        number = 0 if result.kind is PullKind.FLUSH else first_number + len(shots)
        in_force, passed_over = entries_until(entries, stream.marks, result.pump_off_s)
        complaints = (*complaints, *(text for text in passed_over if text not in complaints))
        scale_g = None
        if stream.weight_g is not None:
            scale_g = scale_yield_g(
                stream.t_s, stream.weight_g, stream.marks, result.pump_on_s, result.pump_off_s
            )
        entered = in_force.for_shot(number)
        if isinstance(header_shot, dict) and entered.yield_g is None:
            entered = msgspec.structs.replace(entered, yield_g=_stored_grams(header_shot.get("yield_g")))
        shot = msgspec.structs.replace(
            make_shot(result, entered, number=number, scale_g=scale_g, correction=used, grounds=rests_on),
            started=moment_text(stream.started, result.pump_on_s),
        )
        (flushes if shot.is_flush else shots).append(shot)
    return Analysis(
        shots=tuple(shots),
        flushes=tuple(flushes),
        reasons=found.reasons,
        warnings=(*stream.warnings, *complaints),
    )


def _stored_grams(value: object) -> float | None:
    return (
        float(value) if isinstance(value, int | float) and not isinstance(value, bool) and value > 0 else None
    )
