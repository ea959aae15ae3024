"""When a probe in a bath has settled, and at what level: found from the readings themselves.

The same step by step (`SettleWatch`, live) and for a whole trace (`settled_level`), so that both say the
same. A bath is steady while, over the last `window_s`, the readings neither climb nor fall faster than
`rate_k_per_min` beyond what their own noise can feign. Steady stretches whose levels agree are joined. A
stretch has settled once it
is long enough for its slope to be told from that noise and is small: a quiet bath settles within the window,
one that bubbles hard takes longer. Of several (a pot that paused on its way to the boil) the highest counts,
in an ice bath the lowest.
"""

from __future__ import annotations

from array import array
from bisect import bisect_left
from enum import StrEnum
from math import inf, isfinite, nan, sqrt
from typing import NamedTuple

import msgspec
import numpy as np
import numpy.typing as npt

from benchtemp.errors import BadInput
from benchtemp.probes.noise import Mean, mean_of
from benchtemp.probes.type_k import HIGHEST_DEGC, LOWEST_DEGC

FloatArray = npt.NDArray[np.float64]

_BLOCKS = 6
"""The window is summed up in this many blocks; their scatter tells how much noise can feign a slope."""
_MOST_BLOCKS = 24
"""Longer stretches are summed up in blocks of the same length, as far as this many."""
_FEIGNED = 2.0
"""Standard uncertainties of the slope that are put down to noise."""


class NotSettled(BadInput):
    """A bath that never came to rest, or a probe that gave nothing."""


class SettleRule(msgspec.Struct, frozen=True, kw_only=True):
    """What counts as settled; the defaults suit a pot at a rolling boil and a stirred ice bath.

    Attributes:
        window_s: How long the readings must keep still before they count.
        rate_k_per_min: How fast they may climb or fall beyond their noise.
        joined_k: Settled stretches whose levels differ by less than this are one.
        restless_k: Standard deviation above which a bath is too restless to have a level.
        readings_min: Fewest readings a window must hold.
        longest_gap_s: Longest time without a reading inside a window.
    """

    window_s: float = 45.0
    rate_k_per_min: float = 0.3
    joined_k: float = 0.25
    restless_k: float = 2.0
    readings_min: int = 12
    longest_gap_s: float = 5.0

    def __post_init__(self) -> None:
        if not (self.window_s > 0.0 and self.rate_k_per_min > 0.0 and self.readings_min >= 2 * _BLOCKS):
            raise BadInput(
                f"A settling rule needs a window and a rate above 0 and at least {2 * _BLOCKS} readings."
            )


DEFAULT_RULE = SettleRule()


class Pick(StrEnum):
    """Which settled stretch counts where there are several."""

    HIGHEST = "highest"
    """Boiling water: below the boil anything may pause, above it nothing stays."""
    LOWEST = "lowest"
    """Melting ice."""
    LAST = "last"
    """A stirred bath set to a temperature."""


class Level(NamedTuple):
    """A settled stretch.

    Attributes:
        start_s, end_s: From when to when, on the readings' clock.
        mean: Level with its type A uncertainty, stray readings trimmed, °C.
        lowest_degc, highest_degc: Of all readings in it.
        rate_k_per_min: Slope over it.
    """

    start_s: float
    end_s: float
    mean: Mean
    lowest_degc: float
    highest_degc: float
    rate_k_per_min: float


class BathState(StrEnum):
    """How the bath is doing."""

    FILLING = "filling"
    """Not enough readings yet to tell."""
    OPEN = "open"
    """The probe gives no temperature."""
    CLIMBING = "climbing"
    FALLING = "falling"
    RESTLESS = "restless"
    STEADY = "steady"
    """Keeps still, but not yet long enough for its noise."""
    SETTLED = "settled"


class BathStatus(NamedTuple):
    """What can be said of the bath at one moment.

    Attributes:
        state: How it is doing.
        rate_k_per_min: Slope over the window, NaN where it cannot be told.
        level: The settled stretch that counts so far, None before the first.
    """

    state: BathState
    rate_k_per_min: float
    level: Level | None


def usable(temp_degc: float) -> bool:
    """Return whether a reading is a temperature at all, not what an open probe gives (NaN, end of scale)."""
    return isfinite(temp_degc) and LOWEST_DEGC < temp_degc < HIGHEST_DEGC


class _Slope(NamedTuple):
    rate_k_per_min: float
    feigned_k_per_min: float
    """What noise alone may feign."""
    sd_k: float


def _slope(times: FloatArray, temps: FloatArray, blocks: int = _BLOCKS) -> _Slope:
    """Return the slope of readings and how far to trust it, from the means of a few blocks in time."""
    edges = np.linspace(times[0], times[-1], blocks + 1)
    starts = np.searchsorted(times, edges[:-1])
    counts = np.diff(np.append(starts, times.size))
    starts, counts = starts[counts > 0], counts[counts > 0]
    block_t = np.add.reduceat(times, starts) / counts
    block_temp = np.add.reduceat(temps, starts) / counts
    if block_t.size < 4:
        return _Slope(nan, inf, nan)
    away = block_t - block_t.mean()
    spread = float(away @ away)
    slope = float(away @ block_temp) / spread
    residuals = block_temp - block_temp.mean() - slope * away
    scatter = sqrt(float(residuals @ residuals) / (block_t.size - 2) / spread)
    about_line = temps - block_temp.mean() - slope * (times - block_t.mean())
    return _Slope(60.0 * slope, 60.0 * _FEIGNED * scatter, float(about_line.std()))


def _settled(slope: _Slope, rule: SettleRule) -> bool:
    """Return whether a slope is small, and known well enough to say so."""
    feigned = slope.feigned_k_per_min
    return (
        feigned <= rule.rate_k_per_min
        and abs(slope.rate_k_per_min) <= rule.rate_k_per_min + feigned / _FEIGNED
    )


def _view(values: array[float]) -> FloatArray:
    """Return values as an array without copying; it must be gone before they grow again."""
    return np.frombuffer(values, dtype=np.float64)


class _Stretch:
    """Readings of one settled stretch."""

    def __init__(self, times: FloatArray, temps: FloatArray) -> None:
        self.times = array("d", times.tobytes())
        self.temps = array("d", temps.tobytes())
        self.sum_degc = float(temps.sum())

    @property
    def mean_degc(self) -> float:
        return self.sum_degc / len(self.temps)

    def add(self, times: FloatArray, temps: FloatArray) -> None:
        self.times.frombytes(times.tobytes())
        self.temps.frombytes(temps.tobytes())
        self.sum_degc += float(temps.sum())

    def slope(self, rule: SettleRule) -> _Slope:
        blocks = int((self.times[-1] - self.times[0]) * _BLOCKS / rule.window_s)
        return _slope(_view(self.times), _view(self.temps), min(max(blocks, _BLOCKS), _MOST_BLOCKS))

    def level(self, rule: SettleRule) -> Level | None:
        """Return the stretch's level, None where it has not settled or drifts over its whole length."""
        slope = self.slope(rule)
        if not _settled(slope, rule):
            return None
        temps = _view(self.temps)
        return Level(
            start_s=self.times[0],
            end_s=self.times[-1],
            mean=mean_of(temps, trimmed=True),
            lowest_degc=float(temps.min()),
            highest_degc=float(temps.max()),
            rate_k_per_min=slope.rate_k_per_min,
        )


class SettleWatch:
    """Watches a bath reading by reading; knows only what has been, never what comes.

    Attributes:
        rule: What counts as settled.
        pick: Which settled stretch counts.
        state: How the bath is doing now.
        rate_k_per_min: Slope over the window, NaN where it cannot be told.
    """

    def __init__(self, rule: SettleRule = DEFAULT_RULE, pick: Pick = Pick.HIGHEST) -> None:
        self.rule = rule
        self.pick = pick
        self.state = BathState.FILLING
        self.rate_k_per_min = nan
        self._times = array("d")
        self._temps = array("d")
        self._stretches: list[_Stretch] = []
        self._last_usable_s: float | None = None
        self._first_s: float | None = None
        self._next_look_s = -inf

    def step(self, t_s: float, temp_degc: float) -> BathState:
        """Take in one reading.

        Args:
            t_s: Its time, not before the one before it.
            temp_degc: °C, NaN where the probe gave none.
        """
        rule = self.rule
        if self._first_s is None:
            self._first_s = t_s
        since = self._first_s if self._last_usable_s is None else self._last_usable_s
        if t_s - since > rule.longest_gap_s:
            del self._times[:], self._temps[:]
            self.state, self.rate_k_per_min = BathState.FILLING, nan
        if not usable(temp_degc):
            if t_s - since > rule.longest_gap_s:
                self.state = BathState.OPEN
            return self.state
        self._last_usable_s = t_s
        if self.state is BathState.OPEN:
            self.state = BathState.FILLING
        self._times.append(t_s)
        self._temps.append(temp_degc)
        if t_s >= self._next_look_s:
            # Looking fifty times per window is often enough, however fast the readings come.
            self._next_look_s = t_s + rule.window_s / 50.0
            self._look()
        return self.state

    def _look(self) -> None:
        rule = self.rule
        past = bisect_left(self._times, self._times[-1] - rule.window_s)
        del self._times[:past], self._temps[:past]
        if len(self._times) < rule.readings_min or self._times[-1] - self._times[0] < 0.9 * rule.window_s:
            self.state, self.rate_k_per_min = BathState.FILLING, nan
            return
        times, temps = _view(self._times), _view(self._temps)
        slope = _slope(times, temps)
        self.rate_k_per_min = slope.rate_k_per_min
        feigned_k = slope.feigned_k_per_min * rule.window_s / 60.0
        if abs(slope.rate_k_per_min) > rule.rate_k_per_min + slope.feigned_k_per_min:
            self.state = BathState.CLIMBING if slope.rate_k_per_min > 0.0 else BathState.FALLING
        elif slope.sd_k > rule.restless_k or not feigned_k <= rule.restless_k:
            self.state = BathState.RESTLESS
        else:
            self._extend(times, temps)
            settled = bool(self._stretches) and _settled(self._stretches[-1].slope(rule), rule)
            self.state = BathState.SETTLED if settled else BathState.STEADY

    def _extend(self, times: FloatArray, temps: FloatArray) -> None:
        """Add the middle of the window to the stretch it belongs to, or begin a new one.

        The first and the last block are left out: a steady window may still hold the end of a climb or the
        beginning of the next one, but not beyond a block.
        """
        block_s = (times[-1] - times[0]) / _BLOCKS
        first, last = np.searchsorted(times, (times[0] + block_s, times[-1] - block_s))
        times, temps = times[first:last], temps[first:last]
        if not times.size:
            return
        if self._stretches and abs(float(temps.mean()) - self._stretches[-1].mean_degc) <= self.rule.joined_k:
            stretch = self._stretches[-1]
            new = int(np.searchsorted(times, stretch.times[-1], side="right"))
            stretch.add(times[new:], temps[new:])
        else:
            self._stretches.append(_Stretch(times, temps))

    def level(self) -> Level | None:
        """Return the settled stretch that counts so far, None before the first."""
        levels = [level for level in (stretch.level(self.rule) for stretch in self._stretches) if level]
        if not levels:
            return None
        if self.pick is Pick.LAST:
            return levels[-1]
        sign = 1.0 if self.pick is Pick.HIGHEST else -1.0
        return max(levels, key=lambda level: sign * level.mean.value)

    def status(self) -> BathStatus:
        """Return all that can be said now."""
        return BathStatus(self.state, self.rate_k_per_min, self.level())


def settled_level(
    t_s: FloatArray, temp_degc: FloatArray, *, rule: SettleRule = DEFAULT_RULE, pick: Pick = Pick.HIGHEST
) -> Level:
    """Return the settled level of a whole trace.

    Args:
        t_s: Times, shape (n,), not falling.
        temp_degc: Readings in °C, shape (n,), NaN where there is none.
        rule: What counts as settled.
        pick: Which settled stretch counts where there are several.

    Raises:
        NotSettled: The probe gave nothing, the trace is too short, or the bath never came to rest; the
            sentence says which.
    """
    watch = SettleWatch(rule, pick)
    seen: dict[BathState, int] = {}
    for t, temp in zip(t_s.tolist(), temp_degc.tolist(), strict=True):
        state = watch.step(t, temp)
        seen[state] = seen.get(state, 0) + 1
    level = watch.level()
    if level is not None:
        return level
    good = sum(1 for temp in temp_degc.tolist() if usable(temp))
    if good == 0 or good < 0.5 * t_s.size:
        raise NotSettled(
            "The probe gives no temperature: it is open; check its plug and its wires, then check it again."
        )
    moving = (BathState.CLIMBING, BathState.FALLING, BathState.RESTLESS)
    if not any(state in seen for state in moving):
        # Steady at most: nothing was wrong but the length.
        raise NotSettled(
            "The trace is too short or too full of gaps to tell whether the bath has settled; keep the "
            f"probe in it for at least {2 * rule.window_s:.0f} s."
        )
    if seen.get(BathState.RESTLESS, 0) > max(seen.get(BathState.CLIMBING, 0), seen.get(BathState.FALLING, 0)):
        raise NotSettled(
            "The bath never settled: the readings jump about too much; fix the tip in the middle of the "
            "water and try again."
        )
    way = "climbing" if not watch.rate_k_per_min < 0.0 else "falling"
    rate = f" by {abs(watch.rate_k_per_min):.1f} °C a minute" if isfinite(watch.rate_k_per_min) else ""
    raise NotSettled(
        f"The bath never settled: the reading was still {way}{rate} at the end; wait until it keeps still "
        "and try again."
    )
