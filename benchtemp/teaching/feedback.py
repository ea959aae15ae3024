"""What a trainee can learn from an answer: one sentence a part, with the reason from the trace."""

from __future__ import annotations

from math import isfinite

import numpy as np

from benchtemp.readings.virtual.truth import CLIMB_K_PER_S
from benchtemp.shots.statistics import straight_line, time_weights
from benchtemp.shots.trace import clean
from benchtemp.teaching.exercise import Item
from benchtemp.units import MINUS, TempUnit, delta_text, delta_to, temp_text

SLOPE_WINDOW_S = 1.0
"""Slopes are those of a straight line through the readings so far to either side."""
BASELINE_S = 4.0
FELT_K = 0.5
"""The probe has felt the water once it stands so far above what it read before."""
SAME_K = 0.1
"""An answer so near to another figure is taken to be that figure."""
STILL_K_PER_S = 0.25
QUITE_S = 0.05
"""Differences below this are none to speak of."""


class Feedback:
    """Says what was right or wrong about answers to one item."""

    def __init__(self, item: Item, unit: TempUnit = TempUnit.DEGC) -> None:
        self._item = item
        self._reference = item.reference
        self._unit = unit
        self._trace = clean(*item.trace)

    # -- the trace

    def slope_k_per_s(self, t_s: float) -> float:
        """Return how fast the trace climbs about a moment; NaN where there are too few readings."""
        times = self._trace.t_s
        for reach_s in (SLOPE_WINDOW_S, 2.0 * SLOPE_WINDOW_S, 4.0 * SLOPE_WINDOW_S):
            low, high = np.searchsorted(times, (t_s - reach_s, t_s + reach_s + 1e-9))
            if high - low >= 4:
                return straight_line(times[low:high], self._trace.temp_degc[low:high]).slope
        return float("nan")

    @property
    def felt_s(self) -> float | None:
        """Return when the probe first rises out of its readings before pump on, None where it never does."""
        on_s, trace = self._reference.pump_on_s, self._trace
        first, at = np.searchsorted(trace.t_s, (on_s - BASELINE_S, on_s))
        until = int(np.searchsorted(trace.t_s, (self._reference.plateau_start_s or on_s + 30.0) + 1e-9))
        if at - first < 3:
            return None
        before = straight_line(trace.t_s[first:at] - on_s, trace.temp_degc[first:at])
        # A portafilter that warms up climbs by itself; what counts is what goes beyond that.
        times = trace.t_s[at:until]
        beyond_k = trace.temp_degc[at:until] - before.at_zero - max(before.slope, 0.0) * (times - on_s)
        risen = beyond_k > max(FELT_K, 5.0 * trace.noise_k)
        both = np.flatnonzero(risen[:-1] & risen[1:])
        return float(times[both[0]]) if len(both) else None

    def _rate(self, slope_k_per_s: float) -> str:
        return f"{delta_to(slope_k_per_s, self._unit):.2f} {self._unit.symbol}/s".replace("-", MINUS)

    # -- pump on

    def pump_on(self, given_s: float | None) -> str:
        """Say what there is to say of pump on."""
        on_s = self._reference.pump_on_s
        felt_s = self.felt_s
        later = f"the probe felt the water {felt_s - on_s:.1f} s later" if felt_s is not None else ""
        if given_s is None:
            return f"Pump on was not named; it was at {on_s:.1f} s" + (f", and {later}." if later else ".")
        off_s = given_s - on_s
        if abs(off_s) <= max(self._item.tolerance.pump_on_s, 2.0 * self._reference.pump_on_uncertainty_s):
            told = f"Pump on is right, {_off(off_s)}."
            return told[:-1] + f"; {later}." if later else told
        slope = self.slope_k_per_s(given_s)
        if off_s < 0.0:
            why = "nothing in the trace moves there yet"
            if isfinite(slope) and abs(slope) > STILL_K_PER_S:
                why = "what moves there is the portafilter being handled or warming up, not water"
            return f"You marked pump on {-off_s:.1f} s early: {why}; the pump was started at {on_s:.1f} s."
        if felt_s is not None and given_s < felt_s:
            why = "the pump runs before the trace moves"
        elif isfinite(slope) and slope > STILL_K_PER_S:
            why = f"the probe was already climbing {self._rate(slope)} there"
        elif felt_s is not None and given_s > felt_s:
            why = "the climb was over by then"
        else:
            why = "the pump runs before the trace moves"
        tail = f" and {later}" if later else ""
        return f"You marked pump on {off_s:.1f} s late: {why}; the pump was started at {on_s:.1f} s{tail}."

    # -- plateau start

    def plateau_start(self, given_s: float | None) -> str:
        """Say what there is to say of the plateau's start."""
        reference = self._reference
        start_s, end_s = reference.plateau_start_s, reference.plateau_end_s
        if start_s is None or end_s is None:
            reason = f": {reference.reasons[0]}" if reference.reasons else ""
            if given_s is None:
                return f"There is no plateau to name{reason}."
            return f"There is no plateau here{reason}; the trace never settles before the pump goes off."
        rule = f"where it climbs faster than {self._rate(CLIMB_K_PER_S)} for the last time"
        if given_s is None:
            return f"The plateau's start was not named; it is at {start_s:.1f} s, {rule}."
        off_s = given_s - start_s
        within_s = max(self._item.tolerance.plateau_start_s, 2.0 * reference.plateau_start_uncertainty_s)
        if abs(off_s) <= within_s:
            return f"The plateau's start is right, {_off(off_s)}."
        slope = self.slope_k_per_s(given_s)
        if off_s > 0.0:
            if given_s >= end_s:
                return (
                    f"You marked the plateau {off_s:.1f} s late: the pump was off by then; it runs from "
                    f"{start_s:.1f} s to {end_s:.1f} s."
                )
            rate = f" ({self._rate(slope)} where you marked)" if isfinite(slope) else ""
            return (
                f"You marked the plateau {off_s:.1f} s late: from {start_s:.1f} s on the probe climbs no "
                f"faster than {self._rate(CLIMB_K_PER_S)}{rate}, and those seconds belong to the plateau."
            )
        if given_s < reference.pump_on_s:
            why = "the pump was not even on"
        elif isfinite(slope) and slope > CLIMB_K_PER_S:
            why = f"the probe was still climbing {self._rate(slope)} there"
        else:
            why = self._paused(given_s, start_s)
        return f"You marked the plateau {-off_s:.1f} s early: {why}; it starts at {start_s:.1f} s."

    def _paused(self, given_s: float, start_s: float) -> str:
        steepest, at_s = -np.inf, given_s
        for t_s in np.arange(given_s, start_s, 0.1):
            slope = self.slope_k_per_s(float(t_s))
            if isfinite(slope) and slope > steepest:
                steepest, at_s = slope, float(t_s)
        if steepest > CLIMB_K_PER_S:
            return f"the climb only paused there, and at {at_s:.1f} s it went on at {self._rate(steepest)}"
        return "the noise hides it, but the trace as a whole was still climbing there"

    # -- brew temperature

    def brew_temp(self, given_degc: float | None, given_start_s: float | None = None) -> str:
        """Say what there is to say of the brew temperature; `given_start_s` is the plateau start answered."""
        reference = self._reference
        right, end_s = reference.brew_temp_degc, reference.plateau_end_s
        if right is None or end_s is None or reference.plateau_start_s is None:
            if given_degc is None:
                return "Without a plateau there is no brew temperature to name."
            return "Without a plateau there is no brew temperature: it is the mean over the plateau alone."
        shown = temp_text(right, self._unit, 2)
        if given_degc is None:
            return f"The brew temperature was not named; the mean over the plateau is {shown}."
        off_k = given_degc - right
        within_k = max(self._item.tolerance.brew_temp_k, 2.0 * reference.brew_temp_uncertainty_k)
        if abs(off_k) <= within_k:
            return f"The brew temperature is right, {delta_text(abs(off_k), self._unit)} off {shown}."
        way = "high" if off_k > 0.0 else "low"
        why = self._why_beside(given_degc, reference.plateau_start_s, end_s, given_start_s)
        return (
            f"Your brew temperature is {delta_text(abs(off_k), self._unit)} too {way}: {why}; it is {shown}."
        )

    def _why_beside(
        self, given_degc: float, start_s: float, end_s: float, given_start_s: float | None
    ) -> str:
        times, temps = self._trace.t_s, self._trace.temp_degc
        low, high = np.searchsorted(times, (start_s, end_s + 1e-9))
        plateau = temps[low:high]
        if not len(plateau):
            return "the mean is taken over the plateau alone"
        if given_start_s is not None and abs(given_start_s - start_s) > self._item.tolerance.plateau_start_s:
            own_degc = self._mean(given_start_s, end_s)
            if own_degc is not None and abs(own_degc - given_degc) < SAME_K:
                return "that is the mean from where you let the plateau start, which shifts it"
        figures = (
            (
                self._mean(self._reference.pump_on_s, end_s),
                "that is the mean since pump on, with the climb in it",
            ),
            (float(plateau.max()), "that is near the highest reading, and the plateau's mean is wanted"),
            (
                float(plateau[-3:].mean()),
                "that is near what the probe read at the end, and the plateau's mean is wanted",
            ),
            (
                float(plateau[:3].mean()),
                "that is near what the probe read as the plateau began, and its mean is wanted",
            ),
        )
        for figure, told in figures:
            if figure is not None and abs(figure - given_degc) < SAME_K:
                return told
        lowest, highest = float(plateau.min()), float(plateau.max())
        between = f"{temp_text(lowest, self._unit)} and {temp_text(highest, self._unit)}"
        if not lowest <= given_degc <= highest:
            return f"all readings of the plateau lie between {between}"
        return f"the plateau's readings lie between {between}, and their mean by time is wanted"

    def _mean(self, start_s: float, end_s: float) -> float | None:
        times, temps = self._trace.t_s, self._trace.temp_degc
        low, high = np.searchsorted(times, (start_s, end_s + 1e-9))
        if high - low < 2 or not start_s < end_s:
            return None
        return float(time_weights(times[low:high], start_s, end_s) @ temps[low:high])

    # -- counts

    def counts(self, given: bool | None) -> str:  # noqa: FBT001  an answer, not a switch
        """Say why the shot counts or not."""
        reference = self._reference
        if reference.counts:
            truth = f"it counts: {self._what_speaks_for_it()}"
        else:
            truth = "it does not count: " + ("; ".join(reference.reasons) or "the teacher says so")
        if given is None:
            return f"Whether it counts was not said; {truth}."
        return f"Right, {truth}." if given is reference.counts else f"Wrong: {truth}."

    def _what_speaks_for_it(self) -> str:
        item, reference = self._item, self._reference
        start_s, end_s, off_s = reference.plateau_start_s, reference.plateau_end_s, reference.pump_off_s
        told = []
        if start_s is not None and end_s is not None:
            told.append(f"a plateau of {end_s - start_s:.1f} s, {item.recipe.plateau_min_s:g} s are needed")
        if item.dose_g and item.yield_g and off_s is not None:
            told.append(f"1:{item.yield_g / item.dose_g:.2f} in {off_s - reference.pump_on_s:.1f} s")
        return "; ".join(told) or "nothing speaks against it"


def _off(off_s: float) -> str:
    if abs(off_s) < QUITE_S:
        return "on the spot"
    return f"{abs(off_s):.1f} s {'late' if off_s > 0.0 else 'early'}"
