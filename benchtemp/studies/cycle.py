"""Heating cycle: how a thermostat's swing looks, what it does to the brew temperature, and when to start."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import isfinite

import numpy as np

from benchtemp.errors import BadInput
from benchtemp.readings.reading import Stream
from benchtemp.shots.statistics import mean
from benchtemp.studies.at_rest import moments_of, period_of, stretch, unbroken_runs
from benchtemp.studies.chart import Axis, Chart, Level, Look, Quantity, Series
from benchtemp.studies.concerns import (
    common_uncertainty_k,
    file_concerns,
    one_machine,
    outlier_concerns,
    probe_phrase,
    too_few,
    varied,
    varied_concerns,
)
from benchtemp.studies.evidence.channel import Channel, channel_of
from benchtemp.studies.evidence.cycles import Cycle, find_cycles
from benchtemp.studies.evidence.pump_times import water_uses
from benchtemp.studies.evidence.shot_record import ShotRecord
from benchtemp.studies.evidence.shot_set import ShotSet
from benchtemp.studies.heating_swing import Swing, crowding, fit_swing, unreached
from benchtemp.studies.outcome import About, Concern, Study, Table, machine_name, plural, used_shots
from benchtemp.studies.probe_checks import probe_checks
from benchtemp.studies.probe_concerns import probe_concerns
from benchtemp.studies.statistics.intervals import LEVEL, Interval, mean_interval
from benchtemp.studies.statistics.period import Period
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
SHOWN_CYCLES = 8
"""So many cycles are drawn: with more, none can be told from the next."""


class HeatingCycle(Study, frozen=True, kw_only=True, tag="cycle"):
    """A thermostat's cycle, and the brew temperature against it.

    Attributes:
        channel: What was watched.
        period: Mean period, from cycles of a machine at rest.
        amplitude_k, amplitude_interval: From valley to peak.
        rise_share, rise_interval: Share of a period in which it rises.
        noted_off: Whether moments count from notes such as `heater off`; else from the channel's peaks.
        peaks_s, peaks_degc: The peaks in the stretch to draw, on the recording's clock.
        trace_s, trace_degc: The channel in that stretch, thinned: the first cycles of the longest run at
            rest.
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
        return self.hedged(self._told(unit))

    def _told(self, unit: TempUnit) -> str:
        period = self.period
        places = decimals_for(period.interval.half_width, most=1)
        low, high = (number(end, places) for end in (period.interval.low, period.interval.high))
        known = f"{low} to {high} s" if low != high else "known to 0.1 s"
        start = (
            f"{self.machine} heats in cycles of {number(period.period_s, places)} s ({known}), "
            f"{self.channel} swinging by {delta(self.amplitude_k, unit, 1)}"
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
            ("period", f"{number(self.period.period_s, 2)} s", span(period.low, period.high, 2, "s")),
            ("standard deviation of periods", f"{number(self.period.jitter_s, 2)} s", ""),
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
            title=f"Channel {self.channel} at rest",
            summary=self.sentence(unit),
            x=Axis(quantity=Quantity.TIME_MIN, title="in the recording"),
            y=Axis(quantity=degc, title=f"channel {self.channel}"),
            series=(
                Series(name=self.channel, look=Look.LINE, x=_minutes(self.trace_s), y=self.trace_degc),
                Series(name="peaks", look=Look.POINTS, x=_minutes(self.peaks_s), y=self.peaks_degc, group=1),
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


def _minutes(times_s: Sequence[float]) -> tuple[float, ...]:
    return tuple(t_s / 60.0 for t_s in times_s)


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
    one_machine("A study of the heating cycle", shots)
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
    runs = unbroken_runs(cycles, rest_s)
    period = period_of(runs, level)
    if not isfinite(period.period_s):
        raise BadInput(
            f"Channel {channel} shows no two whole cycles in a row without water use: let the machine stand "
            "for some minutes while recording."
        )
    heights = np.array([cycle.height_k for cycle in rested])
    rises = np.array([cycle.rise_s / cycle.long_s for cycle in rested])
    moments, noted = moments_of(streams, cycles, mean(heights))

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
            *varied_concerns(shots),
            *crowding(since, period.period_s),
            *unreached(swing, target_degc),
            *probe_concerns(shots),
            *apart_concerns,
        )
    machines = [str(stream.meta.get("machine") or "") for stream in streams.values()]
    longest = max(runs, key=lambda run: len(run.cycles))
    shown = longest.cycles[:SHOWN_CYCLES]
    drawn_s, drawn_degc = stretch(watched[longest.recording], shown)
    return HeatingCycle(
        machine=machine_name(shots) if len(shots) else next(filter(None, machines), "The machine"),
        used=used_shots(shots) if swing is not None else (),
        left_out=shots.left_out,
        probe_checks=probe_checks(shots) if swing is not None else (),
        concerns=(*concerns, *file_concerns(shots)),
        channel=channel,
        period=period,
        amplitude_k=mean(heights),
        amplitude_interval=mean_interval(heights, level),
        rise_share=mean(rises),
        rise_interval=mean_interval(rises, level),
        noted_off=noted,
        peaks_s=tuple(cycle.peak_s for cycle in shown),
        peaks_degc=tuple(cycle.peak_degc for cycle in shown),
        trace_s=tuple(drawn_s.tolist()),
        trace_degc=tuple(drawn_degc.tolist()),
        target_degc=target_degc,
        swing=swing,
        common_uncertainty_k=common_uncertainty_k(shots),
        outliers=apart,
        mixed=varied(shots) if swing is not None else (),
    )


def _not_rested() -> tuple[Concern, ...]:
    text = "Water was used shortly before every cycle seen: period and swing are those of a machine at work."
    return (Concern(about=About.FIT, text=text),)
