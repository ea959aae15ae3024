"""Which faults tests leave possible: hypotheses held against figures, each with the figures' own scatter.

A fault is ruled out where, were it there, figures as far from what it predicts would come once in a thousand
times. What a sound machine may do is what the brief says; what a faulty one does comes from the model of the
build (`expected`) over all sizes a fault may have (`sealed`), and worse ones.

The grind is a candidate because it is seen in both: a bed of other resistance gives another yield, and its
water, faster or slower through group and bed, comes hotter or colder (by +0.8 to −1.4 K on the model). The
dose is none: the trainee weighs it. Nor are the room, which moves a shot by 0.03 K per kelvin on the model,
and the fresh water's temperature, by less than 0.01: a sound machine may be off by more than a season of
either.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import factorial, sqrt
from typing import NamedTuple

import numpy as np

from benchtemp.readings.reading import FloatArray
from benchtemp.readings.virtual.pouring import CupCurve
from benchtemp.teaching.cases.expected import cold_rise_k, cup_curve, sound_level_k, worn_scatter_k
from benchtemp.teaching.cases.fault import Fault
from benchtemp.teaching.cases.sealed import (
    BED_SPREAD_SHARE,
    COARSE_SHARE,
    FINE_SHARE,
    OFFSETS_K,
    PROBE_LOW_K,
    PROBE_SPREAD_K,
    SLOW_KG_PER_S,
)

RULED_OUT_P = 0.001
"""What would come more seldom than this is taken not to be."""
BY_CHANCE_P = 0.01
"""A pattern that chance makes more seldom than this (shots in rising order, shots alike) tells something."""
_WITHIN = 3.29
"""Standard uncertainties that leave out as much, both sides together."""
_PROBE_WITHIN = 2.58
"""For a bath's uncertainty, which has its own margins in it already: one in a hundred."""
_PROBE_SOUND_K = 3.0 * PROBE_SPREAD_K
_PAIR = 1.96 * sqrt(2.0)
"""A repeatability limit (within which two results lie in 95 % of cases, ISO 5725) in standard deviations."""
_WEIGHING_G = 0.5
"""What scale, drips and the model's run-out leave open."""
_LEAST_CUP_G = 5.0
_WARMING_TAU_S = np.geomspace(60.0, 900.0, 16)
_WARMING_SHARE = 0.03
"""How far a group that is warmed by boiler and shots together keeps off a plain exponential, of its rise."""
UNEVEN_SHARE = 0.15
"""Intervals that differ by less than this share may keep step with a heater."""

# From the mildest a case may have to far worse: who tests does not know how bad it gets.
_FINE = np.geomspace(FINE_SHARE[0] * 0.95, 3.0, 6)
_COARSE = np.geomspace(0.35, COARSE_SHARE[1] * 1.05, 4)
_SLOW = np.linspace(0.0008, SLOW_KG_PER_S[1] * 1.05, 6)
_BETWEEN = 60


class Run(NamedTuple):
    """A weighed and timed shot.

    Attributes:
        dose_g, yield_g: Weighed.
        ran_s: From pump on to pump off.
        grind_percent: As set; 100 as the owner leaves it.
    """

    dose_g: float
    yield_g: float
    ran_s: float
    grind_percent: float

    def cup_g(self, resistance_share: float = 1.0, free_flow_kg_per_s: float | None = None) -> float:
        """Return what a machine would have given in the same time, sound but for what is given."""
        return self._at(self._curve(resistance_share, free_flow_kg_per_s))

    def _curve(self, resistance_share: float, free_flow_kg_per_s: float | None) -> CupCurve:
        # A bed resists with the inverse square of its grains' size.
        share = round(resistance_share / (self.grind_percent / 100.0) ** 2, 4)
        flow = None if free_flow_kg_per_s is None else round(float(free_flow_kg_per_s), 6)
        return cup_curve(round(self.dose_g, 1), share, flow)

    def _at(self, curve: CupCurve) -> float:
        return float(np.interp(self.ran_s, curve.ran_s, curve.cup_g))

    @property
    def bed_spread_g(self) -> float:
        """Return how much the yield of a sound machine differs from bed to bed, as a standard deviation."""
        steps = self.cup_g(1.0 - BED_SPREAD_SHARE), self.cup_g(1.0 + BED_SPREAD_SHARE)
        return abs(steps[1] - steps[0]) / 2.0

    @property
    def tells(self) -> bool:
        """Tell whether it ran long enough to tell something: a sound machine would have filled the cup."""
        return self.cup_g() >= _LEAST_CUP_G


def flow_faults(runs: Sequence[Run]) -> set[Fault]:
    """Return what the yields leave possible: `NONE` for a sound flow, `SLOW_FLOW`, `GRIND`."""
    from scipy import stats  # noqa: PLC0415  late: it takes its time

    found = {Fault.NONE, Fault.SLOW_FLOW, Fault.GRIND}
    if not runs:
        return found
    count = len(runs)
    limit = float(stats.chi2.ppf(1.0 - RULED_OUT_P, count))
    limit_fitted = float(stats.chi2.ppf(1.0 - RULED_OUT_P, max(1, count - 1)))
    slow_sizes, ground_sizes = _SLOW, (_FINE, _COARSE)
    if _misfit(runs, [[run.cup_g()] for run in runs]) > limit:
        found.discard(Fault.NONE)
    else:
        # Of what lies near to sound only the mildest can be meant; the rest need not be worked out.
        slow_sizes, ground_sizes = _SLOW[-1:], (_FINE[:1], _COARSE[-1:])
    slow = [[run.cup_g(1.0, flow) for flow in slow_sizes] for run in runs]
    if _misfit(runs, slow) > limit_fitted:
        found.discard(Fault.SLOW_FLOW)
    ground = [
        _misfit(runs, [[run.cup_g(float(share)) for share in shares] for run in runs])
        for shares in ground_sizes
    ]
    if min(ground) > limit_fitted:
        found.discard(Fault.GRIND)
    return found


def _misfit(runs: Sequence[Run], predicted_g: Sequence[Sequence[float]]) -> float:
    """Return the least sum of squared residuals over a fault's sizes, in standard deviations.

    Args:
        runs: The shots.
        predicted_g: For each shot what the fault predicts, over its sizes.
    """
    sizes = len(predicted_g[0])
    between = np.linspace(0.0, sizes - 1.0, (sizes - 1) * _BETWEEN + 1)
    total: FloatArray = np.zeros_like(between)
    for run, cups_g in zip(runs, predicted_g, strict=True):
        cup_g = np.interp(between, np.arange(sizes), cups_g)
        # Beds differ in proportion to how much the yield hangs on them, as on a sound machine.
        sound_g = max(run.cup_g(), _LEAST_CUP_G)
        spread_g = np.hypot(run.bed_spread_g * np.clip(cup_g / sound_g, 0.2, None), _WEIGHING_G)
        total += ((run.yield_g - cup_g) / spread_g) ** 2
    return float(total.min())


def probe_faults(error_k: float, uncertainty_k: float) -> set[Fault]:
    """Return what a checked probe leaves possible: `PROBE_LOW`, or `NONE` for a sound probe.

    Args:
        error_k: What it reads beside the truth.
        uncertainty_k: Standard uncertainty of that.
    """
    margin_k = _PROBE_SOUND_K + _PROBE_WITHIN * uncertainty_k
    found = set()
    if abs(error_k) <= margin_k:
        found.add(Fault.NONE)
    if abs(error_k - PROBE_LOW_K) <= margin_k:
        found.add(Fault.PROBE_LOW)
    return found


class Temperatures(NamedTuple):
    """Brew temperatures beside the display, of shots at the settings as found.

    Attributes:
        sittings: Of each sitting, in the order pulled, K.
        times_s: When those were pulled, s since the sitting began.
        first_s: Pump on of the very first shot, s since its sitting began; None without one.
        uneven: Whether the times between shots differ, so that no heater's cycle kept step with them.
        level_k, repeat_k: What the brief says of a sound machine: how far the mean may lie from the display,
            and two shots from one another.
    """

    sittings: Sequence[FloatArray]
    times_s: Sequence[FloatArray]
    first_s: float | None
    uneven: bool
    level_k: float
    repeat_k: float

    @property
    def all_k(self) -> FloatArray:
        """Return all shots together."""
        return np.concatenate(list(self.sittings)) if self.sittings else np.empty(0)

    @property
    def sd_k(self) -> float:
        """Return the standard deviation of a sound machine's shots."""
        return self.repeat_k / _PAIR

    @property
    def differ_k(self) -> float:
        """Return the difference above which two shots differ by more than chance."""
        return _WITHIN * sqrt(2.0) * self.sd_k

    @property
    def rises(self) -> bool:
        """Tell whether the shots grow hotter, less and less, as those of a machine warming through do."""
        several = [
            (t_s, off_k) for t_s, off_k in zip(self.times_s, self.sittings, strict=True) if len(off_k) > 1
        ]
        return any(off_k[-1] - off_k[0] > self.differ_k for _, off_k in several) and all(
            self._warms(t_s, off_k) for t_s, off_k in several
        )

    def _warms(self, t_s: FloatArray, off_k: FloatArray) -> bool:
        """Tell whether shots lie on the climb of a body that is warmed through, but for what shots differ.

        Such a body nears its end by an exponential. How fast is left open, for every shot warms it too.
        """
        from scipy import stats  # noqa: PLC0415  late: it takes its time

        limit = float(stats.chi2.ppf(1.0 - RULED_OUT_P, max(1, len(off_k) - 2)))
        for tau_s in _WARMING_TAU_S:
            climb = -np.exp(-(t_s - t_s[0]) / tau_s)
            rise_k, end_k = np.polyfit(climb, off_k, 1)
            doubt_k = np.hypot(self.sd_k, _WARMING_SHARE * rise_k)
            if rise_k >= 0.0 and float(((off_k - rise_k * climb - end_k) ** 2).sum()) <= limit * doubt_k**2:
                return True
        return False

    @property
    def certainly_rises(self) -> bool:
        """Tell whether chance would seldom have put that many shots into rising order."""
        orders = 1
        for off_k in self.sittings:
            orders *= factorial(len(off_k))
        return 1.0 / orders < BY_CHANCE_P

    @property
    def scatters(self) -> bool:
        """Tell whether shots differ from one another by more than those of a sound machine."""
        from scipy import stats  # noqa: PLC0415  late: it takes its time

        off_k = self.all_k
        if len(off_k) < 2:
            return False
        square = float(off_k.var(ddof=1)) * (len(off_k) - 1) / self.sd_k**2
        return float(stats.chi2.sf(square, len(off_k) - 1)) < RULED_OUT_P

    @property
    def _too_alike(self) -> bool:
        """Tell whether a worn thermostat would seldom have given shots as alike as these."""
        from scipy import stats  # noqa: PLC0415  late: it takes its time

        off_k = self.all_k
        if len(off_k) < 2 or not self.uneven:
            return False
        square = float(off_k.var(ddof=1)) * (len(off_k) - 1) / worn_scatter_k() ** 2
        return float(stats.chi2.cdf(square, len(off_k) - 1)) < BY_CHANCE_P

    def faults(self) -> set[Fault]:
        """Return what they leave possible of all faults; flow and probe have a say of their own."""
        off_k = self.all_k
        if not len(off_k):
            return set(Fault)
        if self.rises:
            return {Fault.COLD_GROUP} if self.certainly_rises else {Fault.COLD_GROUP, Fault.THERMOSTAT}
        if self.scatters:
            return {Fault.THERMOSTAT}
        # Steady: what stays open is what the way of testing could not have shown.
        found = {Fault.SLOW_FLOW, Fault.GRIND} | self._by_level(float(off_k.mean()), len(off_k))
        if not self._too_alike:
            found.add(Fault.THERMOSTAT)
        warm = len(off_k) > 2 and self.first_s is not None and cold_rise_k(self.first_s) > self.differ_k
        if not warm:
            found.add(Fault.COLD_GROUP)
        return found

    def _by_level(self, mean_k: float, count: int) -> set[Fault]:
        """Return what the mean leaves possible of a steady machine."""
        within_k = _WITHIN * self.sd_k / sqrt(count)
        beside_k = mean_k - sound_level_k()
        found = set()
        if abs(mean_k) <= self.level_k + within_k:
            found.add(Fault.NONE)
        if abs(beside_k) >= OFFSETS_K[0] - _PROBE_SOUND_K - within_k:
            found.add(Fault.OFFSET)
        if abs(beside_k - PROBE_LOW_K) <= _PROBE_SOUND_K + within_k:
            found.add(Fault.PROBE_LOW)
        return found
