"""Warm-up: how long after switching on until a machine brews close to where it settles."""

from __future__ import annotations

from math import inf, isfinite, nan

import msgspec
import numpy as np

from benchtemp.errors import BadInput
from benchtemp.readings.reading import FloatArray, Stream
from benchtemp.studies.chart import Axis, Chart, Level, Look, Quantity, Series
from benchtemp.studies.concerns import (
    common_uncertainty_k,
    file_concerns,
    one_machine,
    outlier_concerns,
    probe_phrase,
    too_few,
    too_few_to_begin,
    varied,
    varied_concerns,
)
from benchtemp.studies.evidence.channel import Channel, channel_of
from benchtemp.studies.evidence.pump_times import switched_on_s, water_uses
from benchtemp.studies.evidence.shot_record import Known
from benchtemp.studies.evidence.shot_set import ShotSet
from benchtemp.studies.outcome import About, Concern, Study, Table, machine_name, plural, used_shots
from benchtemp.studies.probe_checks import probe_checks
from benchtemp.studies.probe_concerns import probe_concerns
from benchtemp.studies.settling import Settling, settling
from benchtemp.studies.statistics.intervals import LEVEL
from benchtemp.studies.wording import DASH, decimals_for, delta, number, percent, span, temp, temp_span
from benchtemp.units import TempUnit

WITHIN_K = 0.5
ENOUGH = 6
HANDLING_S = 40.0
RECOVERED_S = 150.0
"""A channel is disturbed from the handling before pump on to so long after pump off (our choice)."""
KNOWN_WITHINS = 4.0
"""Where it settles is named while known to so many times what counts as close to settled (our choice)."""
DRAWN_WITHIN_K = 12.0
CELLS = 160
"""A channel is averaged to at most so many cells: readings close together tell hardly more than one."""


class WarmUp(Study, frozen=True, kw_only=True, tag="warm-up"):
    """The way to the settled temperature.

    Attributes:
        channel: The channel watched; empty where it was shots.
        settling: When it came close enough to settled; its times are minutes since switching on.
        common_uncertainty_k: Standard uncertainty of every shot alike; NaN for a channel.
        outliers: Indices of shots that stand apart from the approach.
    """

    channel: str = ""
    settling: Settling
    common_uncertainty_k: float = nan
    outliers: tuple[int, ...] = ()

    @property
    def title(self) -> str:
        """Return what to call the study."""
        return f"Warm-up of {self.machine}"

    def _subject(self) -> str:
        return f"Channel {self.channel} of {self.machine}" if self.channel else self.machine

    @property
    def _level_known(self) -> bool:
        """Tell whether where it settles is known well enough to be named."""
        return self.settling.settled_interval.half_width <= KNOWN_WITHINS * self.settling.within_k

    def sentence(self, unit: TempUnit) -> str:
        """Return the verdict's sentence."""
        return self.hedged(self._told(unit))

    def _told(self, unit: TempUnit) -> str:
        places = decimals_for(self.settling.settled_interval.half_width, most=1)
        settled = temp(self.settling.settled_degc, unit, places)
        goal = f"within {delta(self.settling.within_k, unit, 1)} of its settled {settled}"
        if self.settling.first_inside_min is None:
            last = number(max(self.settling.t_min), 0)
            if not self._level_known:
                return (
                    f"{self._subject()} had not settled by the end, {last} min after switching on, and where "
                    "it will cannot be said: measure for longer."
                )
            verb = "stand" if self.channel else "brew"
            return f"{self._subject()} did not {verb} {goal} by the end, {last} min after switching on."
        interval = self.settling.settling_interval
        low = interval.low if interval.low > 0 else -inf
        if _outside_min(self.settling) > 0:
            return (
                f"{self._subject()} {'stood' if self.channel else 'brewed'} {goal} for good only from "
                f"{number(self.settling.first_inside_min, 0)} min after switching on; a simple approach "
                f"would be there from {number(self.settling.settling_min, 0)} min "
                f"({span(low, interval.high, 0, 'min')})."
            )
        return (
            f"{self._subject()} {'stands' if self.channel else 'brews'} {goal} from "
            f"{number(self.settling.settling_min, 0)} min after switching on "
            f"({span(low, interval.high, 0, 'min')})."
        )

    def limits(self, unit: TempUnit) -> tuple[str, ...]:
        """Return on what the verdict rests."""
        times = span(min(self.settling.t_min), max(self.settling.t_min), 0, "min")
        found = [
            f"channel {self.channel}, {plural(len(self.settling.degc), 'cell')}"
            if self.channel
            else self.counted_phrase(),
            f"measured from {times} after switching on",
        ]
        if self.settling.last_outside_min is not None and self.settling.first_inside_min is not None:
            found.append(
                f"last seen outside at {number(self.settling.last_outside_min, 0)} min, "
                f"inside for good from {number(self.settling.first_inside_min, 0)} min"
            )
        if not self.channel:
            found.append(probe_phrase(self.common_uncertainty_k, unit))
        found.append(f"intervals at {percent(self.settling.settling_interval.level)} confidence")
        return tuple(found)

    def tables(self, unit: TempUnit = TempUnit.DEGC) -> tuple[Table, ...]:
        """Return its figures, and the shots where it rests on shots."""
        rows = (
            (
                "settled at",
                temp(self.settling.settled_degc if self._level_known else None, unit, 2),
                temp_span(self.settling.settled_interval, unit, 2) if self._level_known else "not known",
            ),
            (
                f"within {delta(self.settling.within_k, unit, 1)} of it",
                f"{number(self.settling.settling_min if self._level_known else None, 1)} min",
                span(self.settling.settling_interval.low, self.settling.settling_interval.high, 1, "min"),
            ),
            ("time constant", f"{number(self.settling.scale_min, 1)} min", ""),
            ("scatter about the approach", delta(self.settling.residual_sd_k, unit, 2), ""),
        )
        tables = [Table(title="Figures", headings=("figure", "value", "interval"), rows=rows)]
        if not self.channel:
            shots = tuple(
                (
                    shot.name,
                    f"{number(minutes, 1)} min",
                    temp(value, unit, 2),
                    delta(value - self.settling.settled_degc, unit, 2, sign=True)
                    if self._level_known
                    else DASH,
                    "" if index >= self.settling.fitted_from else "before the stretch that was fitted",
                )
                for index, (shot, minutes, value) in enumerate(
                    zip(self.used, self.settling.t_min, self.settling.degc, strict=True)
                )
            )
            headings = ("shot", "since switch-on", "brew temperature", "from settled", "")
            tables.append(Table(title="Shots", headings=headings, rows=shots))
        return tuple(tables)

    @property
    def _drawn_from(self) -> int:
        """Return from where on a channel is drawn: not all the way up from the room, which tells nothing."""
        away = np.abs(np.array(self.settling.degc) - self.settling.settled_degc)
        far = np.flatnonzero(away > DRAWN_WITHIN_K)
        return int(far[-1]) + 1 if len(far) else 0

    def charts(self, unit: TempUnit = TempUnit.DEGC) -> tuple[Chart, ...]:
        """Return the measurements with the approach."""
        look = Look.LINE if self.channel else Look.POINTS
        first = self._drawn_from if self.channel else 0
        name = f"channel {self.channel}" if self.channel else "shots"
        low, high = (
            self.settling.settled_degc - self.settling.within_k,
            self.settling.settled_degc + self.settling.within_k,
        )
        near = delta(self.settling.within_k, unit, 1)
        levels = [Level(name=f"within {near}", at=low, to=high, faint=True)] if self._level_known else []
        if self._level_known and isfinite(self.settling.settling_min):
            levels.append(Level(name="settled from here", at=self.settling.settling_min, upright=True))
        if self.settling.settling_interval.bounded:
            levels.append(
                Level(
                    name="may be anywhere here",
                    at=self.settling.settling_interval.low,
                    to=self.settling.settling_interval.high,
                    upright=True,
                    faint=True,
                )
            )
        return (
            Chart(
                title="Warming up",
                summary=self.sentence(unit),
                x=Axis(quantity=Quantity.TIME_MIN, title="since switching on"),
                y=Axis(quantity=Quantity.TEMP_DEGC, title=name if self.channel else "brew temperature"),
                series=(
                    Series(
                        name="approach",
                        look=Look.LINE,
                        x=self.settling.curve_min,
                        y=self.settling.curve_degc,
                        group=1,
                    ),
                    Series(
                        name=name,
                        look=look,
                        x=self.settling.t_min[first:],
                        y=self.settling.degc[first:],
                        marked=self.outliers,
                        labels=tuple(shot.name for shot in self.used),
                    ),
                ),
                levels=tuple(levels),
            ),
        )


def warm_up(shots: ShotSet, *, within_k: float = WITHIN_K, level: float = LEVEL) -> WarmUp:
    """Return how long a machine takes to brew within `within_k` of where it settles, from shots.

    Args:
        shots: Of one machine at one setting, with the time since switch-on (from a note such as `switched
            on` in the recording, or typed), at least five, the last ones settled.
        within_k: How close counts as settled, K.
        level: Level of confidence.

    Raises:
        BadInput: There are too few shots, or they show no approach.
    """
    shots = shots.keeping(
        lambda shot: shot.since_on_min.value is not None, "its time since switch-on is not known"
    )
    if len(shots) < 5:
        raise too_few_to_begin(
            "A warm-up study", len(shots), 5, "shots that count and whose time since switch-on is known"
        )
    one_machine("A warm-up study", shots)
    since = shots.values(lambda shot: shot.since_on_min.value)
    order = np.argsort(since, kind="stable")
    shots = msgspec.structs.replace(shots, used=tuple(shots.used[index] for index in order.tolist()))
    found = settling(since[order], shots.brew_degc, within_k=within_k, level=level)
    late = msgspec.structs.replace(shots, used=shots.used[found.fitted_from :])
    apart, apart_concerns = outlier_concerns(late, np.array(found.residual_k))
    typed = sum(shot.since_on_min.known is Known.TYPED for shot in shots.used)
    concerns = (
        *too_few(len(shots), ENOUGH, "an approach worth having"),
        *_settled_concerns(found),
        *varied_concerns(shots, besides=("minutes since switch-on",)),
        *probe_concerns(shots),
        *_typed_concern(typed),
        *apart_concerns,
        *file_concerns(shots),
    )
    return WarmUp(
        machine=machine_name(shots),
        used=used_shots(shots),
        left_out=shots.left_out,
        probe_checks=probe_checks(shots),
        concerns=concerns,
        settling=found,
        common_uncertainty_k=common_uncertainty_k(shots),
        outliers=tuple(index + found.fitted_from for index in apart),
        mixed=varied(shots, besides=("minutes since switch-on",)),
    )


def warm_up_channel(
    stream: Stream,
    channel: str,
    *,
    switched_on_at_s: float | None = None,
    within_k: float = WITHIN_K,
    level: float = LEVEL,
) -> WarmUp:
    """Return how long a watched channel takes to stand within `within_k` of its settled value.

    Args:
        stream: A recording from switching on to well after settling.
        channel: Name of the channel, such as T2.
        switched_on_at_s: When the machine was switched on; from a note such as `switched on`, else the
            recording's start, where not given.
        within_k: How close counts as settled, K.
        level: Level of confidence.

    Raises:
        BadInput: There is no such channel, too little of it, or no approach in it.
    """
    watched = channel_of(stream, channel)
    noted = switched_on_s(stream.marks, inf)
    on_s = switched_on_at_s if switched_on_at_s is not None else noted
    guessed = on_s is None
    start_s = float(watched.t_s[0]) if on_s is None else on_s
    water = [(use.on_s, use.off_s) for use in water_uses(stream.marks)]
    t_min, degc = _cells(watched, start_s, water)
    if len(t_min) < 12:
        raise BadInput(
            f"Channel {channel} has too few readings after switching on; record from then until it stands."
        )
    found = settling(t_min, degc, within_k=within_k, level=level, correlated=True)
    concerns = _settled_concerns(found)
    if water:
        text = (
            f"Water was used {plural(len(water), 'time')} while warming up; that was left out, but "
            "use changes how the machine settles."
        )
        concerns = (*concerns, Concern(about=About.CONFOUNDED, text=text))
    if guessed:
        text = "No mark says when the machine was switched on; the recording's beginning is taken for it."
        concerns = (*concerns, Concern(about=About.SETTINGS, text=text))
    return WarmUp(
        machine=str(stream.meta.get("machine") or "The machine"),
        channel=channel,
        concerns=concerns,
        settling=found,
    )


def _cells(
    watched: Channel, start_s: float, water: list[tuple[float, float]]
) -> tuple[FloatArray, FloatArray]:
    """Return averages since switching on, stretches around uses of water left out."""
    after = watched.t_s >= start_s
    for on_s, off_s in water:
        after &= (watched.t_s < on_s - HANDLING_S) | (watched.t_s > off_s + RECOVERED_S)
    t_s, degc = watched.t_s[after] - start_s, watched.degc[after]
    if len(t_s) < 12:
        return t_s / 60.0, degc
    cell = np.minimum((t_s / (t_s[-1] + 1e-9) * CELLS).astype(int), CELLS - 1)
    count = np.bincount(cell, minlength=CELLS)
    filled = count > 0
    t_min = np.bincount(cell, weights=t_s, minlength=CELLS)[filled] / count[filled] / 60.0
    return t_min, np.bincount(cell, weights=degc, minlength=CELLS)[filled] / count[filled]


def _settled_concerns(found: Settling) -> tuple[Concern, ...]:
    concerns: list[Concern] = []
    inside = found.first_inside_min
    if inside is None or found.settling_min > found.t_min[-1]:
        text = "It had not settled by the end: where it settles is an extrapolation; measure for longer."
        concerns.append(Concern(about=About.OUT_OF_RANGE, text=text))
    elif found.inside < 3:
        text = (
            f"Only {plural(found.inside, 'measurement')} after settling: where it settles is not well known."
        )
        concerns.append(Concern(about=About.TOO_FEW, text=text))
    if inside is not None and _outside_min(found):
        early = _outside_min(found) < 0
        text = (
            f"The approach puts settling at {number(found.settling_min, 0)} min, but measurements stay "
            f"inside {'already' if early else 'only'} from {number(inside, 0)} min: the warm-up is not a "
            "simple approach."
        )
        concerns.append(Concern(about=About.FIT, text=text))
    if not found.settling_interval.bounded:
        text = "The settling time is not bounded on both sides; measure more during the approach."
        concerns.append(Concern(about=About.TOO_FEW, text=text))
    return tuple(concerns)


def _outside_min(found: Settling) -> float:
    """Return how much later than its interval has it measurements came inside for good, min.

    Negative for earlier; 0 where they agree to within the time between measurements.
    """
    inside = found.first_inside_min
    if inside is None or found.settling_interval.holds(inside):
        return 0.0
    late_min = inside - found.settling_interval.high
    early_min = found.settling_interval.low - inside
    slack_min = float(np.median(np.diff(found.t_min)))
    if max(late_min, early_min) <= slack_min:
        return 0.0
    return late_min if late_min > 0 else -early_min


def _typed_concern(count: int) -> tuple[Concern, ...]:
    if not count:
        return ()
    text = f"For {plural(count, 'shot')} the time since switch-on was typed, not measured."
    return (Concern(about=About.SETTINGS, text=text),)
