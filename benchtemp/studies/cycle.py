"""Heating cycle: how a thermostat's swing looks, what it does to the brew temperature, and when to start."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from math import isfinite

import numpy as np

from benchtemp.errors import BadInput
from benchtemp.readings.reading import MarkKind, Stream
from benchtemp.shots.statistics import mean
from benchtemp.studies.chart import Axis, Chart, Level, Look, Quantity, Series
from benchtemp.studies.concerns import (
    common_uncertainty_k,
    file_concerns,
    outlier_concerns,
    probe_concerns,
    probe_phrase,
    too_few,
)
from benchtemp.studies.evidence.channel import Channel, channel_of
from benchtemp.studies.evidence.cycles import Cycle, find_cycles
from benchtemp.studies.evidence.pump_times import water_uses
from benchtemp.studies.evidence.shot_record import ShotRecord
from benchtemp.studies.evidence.shot_set import ShotSet
from benchtemp.studies.heating_swing import Swing, crowding, fit_swing, unreached
from benchtemp.studies.outcome import About, Concern, Study, Table, machine_name, plural, used_shots
from benchtemp.studies.statistics.intervals import LEVEL, Interval, mean_interval
from benchtemp.studies.statistics.period import Period, mean_period
from benchtemp.studies.wording import (
    chance,
    decimals_for,
    delta,
    delta_span,
    number,
    percent,
    span,
    temp,
    temp_span,
)
from benchtemp.units import TempUnit

ENOUGH = 8
SEEN_WITHIN = 1.6
"""A shot's phase counts from a moment at most so many periods before it."""
RESTED_S = 600.0
RESTED_CYCLES = 4
"""A cycle so long after the last use of water, and so many cycles, is one of a machine at rest."""
HEATER_OFF = re.compile(r"\bheater\b.*\boff\b", re.IGNORECASE)
TRACE_POINTS = 900


class HeatingCycle(Study, frozen=True, kw_only=True, tag="cycle"):
    """A thermostat's cycle, and the brew temperature against it.

    Attributes:
        channel: What was watched.
        period: Mean period, from cycles of a machine at rest.
        amplitude_k, amplitude_interval: From valley to peak.
        rise_share, rise_interval: Share of a period in which it rises.
        noted_off: Whether moments count from notes such as `heater off`; else from the channel's peaks.
        peaks_s, peaks_degc: Every peak, on the recording's clock.
        trace_s, trace_degc: The channel, thinned for drawing; of the first recording.
        target_degc: What was asked for.
        swing: Brew temperature against the moment of the start; None with too few shots.
        common_uncertainty_k: Standard uncertainty of every shot alike.
        outliers: Indices of shots that stand apart.
    """

    channel: str
    period: Period
    amplitude_k: float
    amplitude_interval: Interval
    rise_share: float
    rise_interval: Interval
    noted_off: bool
    peaks_s: tuple[float, ...]
    peaks_degc: tuple[float, ...]
    trace_s: tuple[float, ...]
    trace_degc: tuple[float, ...]
    target_degc: float
    swing: Swing | None
    common_uncertainty_k: float
    outliers: tuple[int, ...] = ()

    @property
    def title(self) -> str:
        """Return what to call the study."""
        return f"Heating cycle of {self.machine}"

    @property
    def _moment(self) -> str:
        return "the heater goes off" if self.noted_off else f"{self.channel} peaks"

    def sentence(self, unit: TempUnit) -> str:
        """Return the verdict's sentence."""
        period = self.period
        places = decimals_for(period.interval.half_width, most=1)
        start = (
            f"{self.machine} heats in cycles of {number(period.period_s, places)} s "
            f"({span(period.interval.low, period.interval.high, places, 's')}), {self.channel} swinging by "
            f"{delta(self.amplitude_k, unit, 1)}"
        )
        swing = self.swing
        if swing is None:
            return f"{start}; what that does to the brew temperature takes at least five shots to see."
        if not swing.p < 0.05:
            most = delta(2.0 * swing.half_swing_k, unit, 2)
            return f"{start}; no effect on the brew temperature was seen (a swing of {most} could be chance)."
        moment = f"{number(swing.start_s, 0)} s after {self._moment}"
        return (
            f"{start}, and the brew temperature by {delta(2.0 * swing.half_swing_k, unit, 1)}: "
            f"start {moment} for {temp(swing.start_degc, unit, 1)} "
            f"(one shot within {temp_span(swing.shot_interval, unit, 1)}, "
            f"against {temp_span(swing.unplanned_interval, unit, 1)} at any moment)."
        )

    def limits(self, unit: TempUnit) -> tuple[str, ...]:
        """Return on what the verdict rests."""
        found = [f"{plural(self.period.count, 'period')} without water use"]
        if self.swing is not None:
            since = self.swing.since_off_s
            found += [
                self.counted_phrase(),
                f"started {span(min(since), max(since), 0, 's')} after {self._moment}",
                probe_phrase(self.common_uncertainty_k, unit),
            ]
        found.append(f"intervals at {percent(self.period.interval.level)} confidence")
        return tuple(found)

    def tables(self, unit: TempUnit = TempUnit.DEGC) -> tuple[Table, ...]:
        """Return its figures, and the shots with their moments."""
        period = self.period.interval
        rows = [
            ("period", f"{number(self.period.period_s, 1)} s", span(period.low, period.high, 1, "s")),
            ("from period to period", f"{number(self.period.jitter_s, 1)} s", ""),
            (
                "swing of the channel",
                delta(self.amplitude_k, unit),
                delta_span(self.amplitude_interval, unit),
            ),
            (
                "share of the period it rises",
                percent(self.rise_share),
                f"{percent(self.rise_interval.low)} to {percent(self.rise_interval.high)}",
            ),
        ]
        swing = self.swing
        if swing is None:
            return (Table(title="Figures", headings=("figure", "value", "interval"), rows=tuple(rows)),)
        rows += [
            (
                "swing of the brew temperature",
                delta(2.0 * swing.half_swing_k, unit),
                f"chance {chance(swing.p)}",
            ),
            ("hottest when started", f"{number(swing.hottest_s, 0)} s after {self._moment}", ""),
            ("coldest when started", f"{number(swing.coldest_s, 0)} s after {self._moment}", ""),
            (
                f"start for {temp(self.target_degc, unit, 1)}",
                f"{number(swing.start_s, 0)} s after {self._moment}",
                span(swing.start_interval.low, swing.start_interval.high, 0, "s"),
            ),
        ]
        shots = tuple(
            (shot.name, f"{number(since, 0)} s", temp(shot.brew_temp_degc, unit, 2))
            for shot, since in zip(self.used, swing.since_off_s, strict=True)
        )
        return (
            Table(title="Figures", headings=("figure", "value", "interval"), rows=tuple(rows)),
            Table(title="Shots", headings=("shot", f"after {self._moment}", "brew temperature"), rows=shots),
        )

    def charts(self, unit: TempUnit = TempUnit.DEGC) -> tuple[Chart, ...]:
        """Return the channel with its peaks, and the brew temperature against the moment of the start."""
        degc = Quantity.TEMP_DEGC
        watched = Chart(
            title=f"Channel {self.channel}",
            summary=self.sentence(unit),
            x=Axis(quantity=Quantity.TIME_S, title="in the recording"),
            y=Axis(quantity=degc, title=f"channel {self.channel}"),
            series=(
                Series(name=self.channel, look=Look.LINE, x=self.trace_s, y=self.trace_degc),
                Series(name="peaks", look=Look.POINTS, x=self.peaks_s, y=self.peaks_degc, group=1),
            ),
        )
        swing = self.swing
        if swing is None:
            return (watched,)
        labels = tuple(shot.name for shot in self.used)
        return (
            Chart(
                title="Brew temperature against the moment of the start",
                summary=self.sentence(unit),
                x=Axis(quantity=Quantity.TIME_S, title=f"start after {self._moment}"),
                y=Axis(quantity=degc, title="brew temperature"),
                series=(
                    Series(name="one shot", look=Look.BAND, x=swing.curve_s, low=swing.low, high=swing.high),
                    Series(name="swing", look=Look.LINE, x=swing.curve_s, y=swing.curve_degc),
                    Series(
                        name="shots",
                        look=Look.POINTS,
                        x=swing.since_off_s,
                        y=swing.brew_degc,
                        marked=self.outliers,
                        labels=labels,
                    ),
                ),
                levels=(
                    Level(name="target", at=self.target_degc, faint=True),
                    Level(name="start here", at=swing.start_s, upright=True),
                ),
            ),
            watched,
        )


def heating_cycle(
    streams: Mapping[str, Stream],
    channel: str,
    shots: ShotSet | None = None,
    *,
    target_degc: float = 93.0,
    level: float = LEVEL,
) -> HeatingCycle:
    """Return what a thermostat's cycle looks like and does to the brew temperature.

    Args:
        streams: Recordings by file name, each with a channel that watches boiler or group.
        channel: Its name, the same in all of them.
        shots: Shots cut from these recordings; none to look at the cycle alone.
        target_degc: The brew temperature wanted, °C.
        level: Level of confidence.

    Raises:
        BadInput: There is no such channel, or no cycle in it.
    """
    shots = shots or ShotSet()
    watched: dict[str, Channel] = {}
    cycles: dict[str, list[Cycle]] = {}
    for name, stream in streams.items():
        watched[name] = channel_of(stream, channel)
        water = [(use.on_s, use.off_s) for use in water_uses(stream.marks)]
        cycles[name] = find_cycles(watched[name], water)
    every = [cycle for found in cycles.values() for cycle in found]
    if len(every) < 2:
        raise BadInput(
            f"Channel {channel} shows no heating cycle that comes back: record for several cycles without "
            "using water, or choose the channel whose probe sits at the boiler or the group."
        )
    usual_s = float(np.median([cycle.long_s for cycle in every]))
    rest_s = max(RESTED_S, RESTED_CYCLES * usual_s)
    concerns: tuple[Concern, ...] = ()
    if sum(cycle.rest_s > rest_s for cycle in every) < 3:
        rest_s = usual_s
        concerns = _not_rested()
    rested = [cycle for cycle in every if cycle.rest_s > rest_s]
    period = _period(cycles, rest_s, level)
    if not isfinite(period.period_s):
        raise BadInput(
            f"Channel {channel} shows no two whole cycles in a row without water use: let the machine stand "
            "for some minutes while recording."
        )
    heights = np.array([cycle.height_k for cycle in rested])
    rises = np.array([cycle.rise_s / cycle.long_s for cycle in rested])
    moments, noted = _moments(streams, cycles, mean(heights))

    def since_off_s(shot: ShotRecord) -> float | None:
        before = [at_s for at_s in moments.get(shot.recording, []) if at_s <= shot.pump_on_s]
        seen = before and shot.pump_on_s - before[-1] <= SEEN_WITHIN * period.period_s
        return shot.pump_on_s - before[-1] if seen else None

    shots = shots.keeping(
        lambda shot: since_off_s(shot) is not None, "the moment in the heating cycle is not known"
    )
    since = shots.values(since_off_s)
    swing = (
        fit_swing(since, shots.brew_degc, period.period_s, target_degc, level) if len(shots) >= 5 else None
    )
    apart: tuple[int, ...] = ()
    concerns = (*concerns, *too_few(len(rested), 4, "a period worth having"))
    if swing is not None:
        predicted = np.interp(np.mod(since, period.period_s), swing.curve_s, swing.curve_degc)
        apart, apart_concerns = outlier_concerns(shots, shots.brew_degc - predicted)
        concerns = (
            *concerns,
            *too_few(len(shots), ENOUGH, "a swing worth having"),
            *crowding(since, period.period_s),
            *unreached(swing, target_degc),
            *probe_concerns(shots),
            *apart_concerns,
        )
    machines = [str(stream.meta.get("machine") or "") for stream in streams.values()]
    first = next(iter(watched.values()))
    thin = slice(None, None, max(1, len(first.t_s) // TRACE_POINTS))
    first_cycles = next(iter(cycles.values()))
    return HeatingCycle(
        machine=machine_name(shots) if len(shots) else next(filter(None, machines), "The machine"),
        used=used_shots(shots) if swing is not None else (),
        left_out=shots.left_out,
        concerns=(*concerns, *file_concerns(shots)),
        channel=channel,
        period=period,
        amplitude_k=mean(heights),
        amplitude_interval=mean_interval(heights, level),
        rise_share=mean(rises),
        rise_interval=mean_interval(rises, level),
        noted_off=noted,
        peaks_s=tuple(cycle.peak_s for cycle in first_cycles),
        peaks_degc=tuple(cycle.peak_degc for cycle in first_cycles),
        trace_s=tuple(first.t_s[thin].tolist()),
        trace_degc=tuple(first.degc[thin].tolist()),
        target_degc=target_degc,
        swing=swing,
        common_uncertainty_k=common_uncertainty_k(shots),
        outliers=apart,
    )


def _period(cycles: Mapping[str, Sequence[Cycle]], rest_s: float, level: float) -> Period:
    """Return the mean period over unbroken runs of rested cycles, by their sharper edge."""
    runs: list[list[Cycle]] = []
    for found in cycles.values():
        run: list[Cycle] = []
        for cycle in found:
            rested = cycle.rest_s > rest_s
            if run and (not rested or abs(cycle.valley_s - run[-1].next_valley_s) > 1e-6):
                runs.append(run)
                run = []
            if rested:
                run.append(cycle)
        runs.append(run)
    every = [cycle for run in runs for cycle in run]
    if not every:
        return mean_period([], 1.0, level)
    rising = float(np.median([cycle.rising.uncertainty_s for cycle in every]))
    falling = float(np.median([cycle.falling.uncertainty_s for cycle in every]))
    sharper = [
        np.array([(cycle.rising if rising <= falling else cycle.falling).at_s for cycle in run])
        for run in runs
    ]
    return mean_period(sharper, min(rising, falling), level)


def _moments(
    streams: Mapping[str, Stream], cycles: Mapping[str, Sequence[Cycle]], height_k: float
) -> tuple[dict[str, list[float]], bool]:
    """Return the moments phases count from, by recording, and whether they are noted ones.

    Notes such as `heater off` go before peaks; a peak much higher or lower than usual is water's doing.
    """
    noted = {
        name: [
            mark.t_s for mark in stream.marks if mark.kind is MarkKind.NOTE and HEATER_OFF.search(mark.text)
        ]
        for name, stream in streams.items()
    }
    if any(noted.values()):
        return noted, True
    peaks = {
        name: [cycle.peak_s for cycle in found if 0.5 * height_k <= cycle.height_k <= 1.5 * height_k]
        for name, found in cycles.items()
    }
    return peaks, False


def _not_rested() -> tuple[Concern, ...]:
    text = "Water was used shortly before every cycle seen: period and swing are those of a machine at work."
    return (Concern(about=About.FIT, text=text),)
