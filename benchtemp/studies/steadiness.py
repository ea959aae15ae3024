"""Steadiness: how alike a machine's shots are, one after another and within each."""

from __future__ import annotations

from math import isfinite, nan, sqrt

import numpy as np

from benchtemp.shots.statistics import mean, standard_deviation
from benchtemp.studies.chart import Axis, Chart, Level, Look, Quantity, Series
from benchtemp.studies.concerns import (
    coarse_concern,
    common_uncertainty_k,
    file_concerns,
    outlier_concerns,
    seen_k,
    settings_concerns,
    too_few,
    too_few_to_begin,
    varied,
    varied_concerns,
    with_common,
)
from benchtemp.studies.evidence.shot_set import ShotSet
from benchtemp.studies.outcome import About, Concern, Study, Table, machine_name, plural, used_shots
from benchtemp.studies.probe_checks import probe_checks
from benchtemp.studies.probe_concerns import probe_concerns
from benchtemp.studies.recovery import Recovery, recovery_of
from benchtemp.studies.statistics.control_chart import IndividualsChart, individuals_chart
from benchtemp.studies.statistics.intervals import (
    LEVEL,
    Interval,
    mean_interval,
    sd_interval,
    share_interval,
)
from benchtemp.studies.statistics.line import Line, fit_line
from benchtemp.studies.statistics.tolerance import tolerance_interval
from benchtemp.studies.wording import (
    chance,
    decimals_for,
    delta,
    delta_span,
    listed,
    minutes,
    percent,
    temp,
    temp_span,
)
from benchtemp.units import TempUnit

ENOUGH = 5
"""Below this many shots a standard deviation says next to nothing."""
SHARE = 0.95


class Steadiness(Study, frozen=True, kw_only=True, tag="steadiness"):
    """How alike a machine's shots are.

    Attributes:
        brew_degc: One per shot, in order of time.
        mean_degc, mean_interval: Their mean, and where it may lie given their scatter.
        common_uncertainty_k: Standard uncertainty of every shot alike (probe, junction, position).
        total_half_width_k: Half width of the mean's interval with the common uncertainty in it.
        sd_k, sd_interval: Standard deviation from shot to shot.
        range_k: Highest less lowest.
        drift: Line through the shots in their order; its slope is K per shot.
        tolerance_interval: Where `tolerance_share` of all shots will lie.
        chart: Individuals control chart.
        in_band, in_band_interval: Share of shots inside the target band.
        band_degc: That band.
        within_sd_k: Standard deviation of the readings within each shot.
        within_drift_k_per_s: Drift within each shot.
        within_pooled_sd_k: Of all shots together.
        within_mean_drift_k_per_s, within_drift_interval: Mean drift within a shot.
        recovery: How shots follow from the time since the one before.
        seen_k: The least scatter that could be seen: what a single shot's readings leave uncertain, rms.
        outliers: Indices of shots that stand apart.
    """

    brew_degc: tuple[float, ...]
    mean_degc: float
    mean_interval: Interval
    common_uncertainty_k: float
    total_half_width_k: float
    sd_k: float
    sd_interval: Interval
    range_k: float
    drift: Line
    drift_interval: Interval
    drift_p: float
    tolerance_interval: Interval
    tolerance_share: float
    chart: IndividualsChart
    in_band: int
    in_band_interval: Interval
    band_degc: tuple[float, float]
    within_sd_k: tuple[float, ...]
    within_drift_k_per_s: tuple[float, ...]
    within_pooled_sd_k: float
    within_mean_drift_k_per_s: float
    within_drift_interval: Interval
    recovery: Recovery
    seen_k: float
    outliers: tuple[int, ...] = ()

    @property
    def title(self) -> str:
        """Return what to call the study."""
        return f"Steadiness of {self.machine}"

    @property
    def drifts(self) -> bool:
        """Tell whether the shots go up or down beyond chance (1 in 20)."""
        return self.drift_p < 0.05

    def _not_promised(self) -> str:
        """Return why no range of future shots can be promised, empty where it can."""
        if len(self.used) < 3:
            return "too few shots"
        if self.mixed:
            return f"they differ in {listed(self.mixed)}"
        if self.drifts:
            return "the shots drift"
        if self.chart.beyond or self.chart.runs:
            return "not all of the scatter is chance"
        if self.outliers:
            count = len(self.outliers)
            return f"{plural(count, 'shot')} {'stands' if count == 1 else 'stand'} apart"
        if self.sd_k < self.seen_k:
            return "the readings are too coarse for it"
        return ""

    def sentence(self, unit: TempUnit) -> str:
        """Return the verdict's sentence."""
        places = decimals_for(self.sd_k)
        count = len(self.used)
        if count < 3:
            average = temp(self.mean_degc, unit, 1)
            return (
                f"{self.machine} gave {average} on average in {count} shots: too few to say how steady it is."
            )
        absolute = decimals_for(self.total_half_width_k, most=2)
        centre = f"{temp(self.mean_degc, unit, absolute)} ± {delta(self.total_half_width_k, unit, absolute)}"
        scatter = f"{delta(self.sd_k, unit, places)} ({delta_span(self.sd_interval, unit, places)})"
        none = "so no range of future shots can be promised"
        if self.mixed:
            return (
                f"These {count} shots on {self.machine} lie about {centre} and scatter by {scatter}, but "
                f"they differ in {listed(self.mixed)}, {none}."
            )
        start = f"{self.machine} brews at {centre}, and from shot to shot scatters by {scatter}"
        if self.drifts:
            per_shot = delta(self.drift.slope, unit, places, sign=True)
            return f"{start}; it drifts by {per_shot} per shot, {none}."
        if self.chart.beyond or self.chart.runs:
            return f"{start}; not all of that is chance, {none}."
        if self.outliers:
            return f"{start}; {self._not_promised()}, {none}."
        if self.sd_k < self.seen_k:
            seen = delta(self.seen_k, unit, decimals_for(self.seen_k, most=4))
            return (
                f"{self.machine} brews at {centre}, and its shots differ by no more than their own readings "
                f"are uncertain by ({seen}), {none}."
            )
        within = temp_span(self.tolerance_interval, unit, 1)
        return f"{start}; {percent(self.tolerance_share)} of its shots will lie within {within}."

    def limits(self, unit: TempUnit) -> tuple[str, ...]:
        """Return on what the verdict rests."""
        del unit
        intervals = sorted(value for value in self.recovery.interval_min if isfinite(value))
        found = [self.counted_phrase(), f"all intervals at {percent(self.mean_interval.level)} confidence"]
        if intervals:
            found.append(f"pump starts usually {minutes(intervals[len(intervals) // 2])} apart")
        return tuple(found)

    def tables(self, unit: TempUnit = TempUnit.DEGC) -> tuple[Table, ...]:
        """Return its figures as tables."""
        places = decimals_for(self.sd_k)
        count = len(self.used)
        rows = [
            ("mean", temp(self.mean_degc, unit, places), temp_span(self.mean_interval, unit, places)),
            (
                "mean, with probe and position",
                temp(self.mean_degc, unit, places),
                f"± {delta(self.total_half_width_k, unit, 2)}",
            ),
            (
                "standard deviation",
                delta(self.sd_k, unit, places),
                delta_span(self.sd_interval, unit, places),
            ),
            ("range", delta(self.range_k, unit, places), ""),
            *self._rows_of_several(unit, places),
            (
                "inside the target band",
                f"{self.in_band} of {count}",
                f"{percent(self.in_band_interval.low)} to {percent(self.in_band_interval.high)}",
            ),
            ("standard deviation within a shot", delta(self.within_pooled_sd_k, unit, places), ""),
            (
                "drift within a shot, per minute",
                delta(60 * self.within_mean_drift_k_per_s, unit, 2, sign=True),
                delta_span(_scaled(self.within_drift_interval, 60.0), unit, 2),
            ),
        ]
        rows += self.recovery.rows(unit, places)
        shots = tuple(
            (
                str(index + 1),
                shot.name,
                temp(shot.brew_temp_degc, unit, 2),
                delta(self.within_sd_k[index], unit, 2),
                "stands apart" if index in self.outliers else "",
            )
            for index, shot in enumerate(self.used)
        )
        return (
            Table(title="Figures", headings=("figure", "value", "interval"), rows=tuple(rows)),
            Table(title="Shots", headings=("", "shot", "brew temperature", "sd within", ""), rows=shots),
        )

    def _rows_of_several(self, unit: TempUnit, places: int) -> tuple[tuple[str, str, str], ...]:
        """Return the rows of figures that two shots cannot give."""
        if len(self.used) < 3:
            return ()
        why_not = self._not_promised()
        limits = Interval(low=self.chart.lower, high=self.chart.upper)
        return (
            (
                "drift per shot",
                delta(self.drift.slope, unit, places + 1, sign=True),
                f"{delta_span(self.drift_interval, unit, places + 1)}, chance {chance(self.drift_p)}",
            ),
            (
                f"{percent(self.tolerance_share)} of all shots",
                "",
                f"not promised: {why_not}" if why_not else temp_span(self.tolerance_interval, unit, places),
            ),
            ("control limits", "", temp_span(limits, unit, places)),
        )

    def charts(self, unit: TempUnit = TempUnit.DEGC) -> tuple[Chart, ...]:
        """Return the control chart, the within-shot steadiness, and recovery where intervals are known."""
        numbers = tuple(float(index + 1) for index in range(len(self.used)))
        labels = tuple(shot.name for shot in self.used)
        beyond = tuple(sorted({*self.chart.beyond, *self.outliers}))
        shot_axis = Axis(quantity=Quantity.SHOT, title="shot")
        temp_axis = Axis(quantity=Quantity.TEMP_DEGC, title="brew temperature")
        spread = [
            Level(name="target band", at=self.band_degc[0], to=self.band_degc[1], faint=True),
            Level(name="mean", at=self.chart.centre),
            Level(name="control limits", at=self.chart.upper, faint=True),
            Level(name="control limits", at=self.chart.lower, faint=True),
        ]
        first = Chart(
            title="Shot by shot",
            summary=f"{len(self.used)} shots about {temp(self.mean_degc, unit, 2)}; outside the control "
            f"limits or standing apart: {len(beyond) or 'none'}.",
            x=shot_axis,
            y=temp_axis,
            series=(
                Series(name="shots", look=Look.LINE, x=numbers, y=self.brew_degc, faint=True),
                Series(
                    name="shots", look=Look.POINTS, x=numbers, y=self.brew_degc, marked=beyond, labels=labels
                ),
            ),
            levels=tuple(spread),
        )
        within = Chart(
            title="Within each shot",
            summary=f"Standard deviation within a shot, {delta(self.within_pooled_sd_k, unit)} over all.",
            x=shot_axis,
            y=Axis(quantity=Quantity.DELTA_K, title="standard deviation within the shot"),
            series=(
                Series(name="within the shot", look=Look.BARS, x=numbers, y=self.within_sd_k, labels=labels),
            ),
        )
        recovery = self.recovery.chart()
        return (first, within) if recovery is None else (first, within, recovery)


def _scaled(interval: Interval, by: float) -> Interval:
    return Interval(low=interval.low * by, high=interval.high * by, level=interval.level)


def steadiness(shots: ShotSet, *, level: float = LEVEL, share: float = SHARE) -> Steadiness:
    """Return how alike a machine's shots are.

    Args:
        shots: At least two, of one machine at one setting, in the order in which they were pulled.
        level: Level of confidence of all intervals.
        share: Share of all shots the tolerance interval is to hold.

    Raises:
        BadInput: There are fewer than two shots.
    """
    if len(shots) < 2:
        raise too_few_to_begin("Steadiness", len(shots), 2)
    brew = shots.brew_degc
    count = len(brew)
    order = np.arange(1.0, count + 1.0)
    drift = fit_line(order, brew)
    sd = standard_deviation(brew)
    centre = mean(brew)
    interval = mean_interval(brew, level)
    common = common_uncertainty_k(shots)
    band = (shots.used[-1].band_low_degc, shots.used[-1].band_high_degc)
    in_band = int(np.count_nonzero((brew >= band[0]) & (brew <= band[1])))
    within_sd = shots.values(lambda shot: shot.sd_k)
    within_drift = shots.values(lambda shot: shot.drift_k_per_s)
    known_drift = within_drift[np.isfinite(within_drift)]
    chart = individuals_chart(brew)
    residuals = brew - np.array([drift.at(x) for x in order.tolist()]) if count > 2 else brew - centre
    apart, apart_concerns = outlier_concerns(shots, residuals)
    drift_p = drift.slope_p()
    concerns = (
        *too_few(count, ENOUGH, "a standard deviation worth having"),
        *varied_concerns(shots),
        *probe_concerns(shots),
        *_drift_said(drift, drift_p),
        *_signals(chart, shots),
        *coarse_concern(shots, residuals),
        *apart_concerns,
        *settings_concerns(shots),
        *file_concerns(shots),
    )
    return Steadiness(
        machine=machine_name(shots),
        used=used_shots(shots),
        left_out=shots.left_out,
        probe_checks=probe_checks(shots),
        concerns=concerns,
        brew_degc=tuple(brew.tolist()),
        mean_degc=centre,
        mean_interval=interval,
        common_uncertainty_k=common,
        total_half_width_k=with_common(interval.half_width, common),
        sd_k=sd,
        sd_interval=sd_interval(sd, count - 1, level),
        range_k=float(np.ptp(brew)),
        drift=drift,
        drift_interval=drift.slope_interval(level),
        drift_p=drift_p,
        tolerance_interval=tolerance_interval(brew, share, level),
        tolerance_share=share,
        chart=chart,
        in_band=in_band,
        in_band_interval=share_interval(in_band, count, level),
        band_degc=band,
        within_sd_k=tuple(within_sd.tolist()),
        within_drift_k_per_s=tuple(within_drift.tolist()),
        within_pooled_sd_k=sqrt(float(np.nanmean(within_sd**2))) if np.isfinite(within_sd).any() else nan,
        within_mean_drift_k_per_s=mean(known_drift) if len(known_drift) else nan,
        within_drift_interval=mean_interval(known_drift, level),
        recovery=recovery_of(shots, brew, level),
        mixed=varied(shots),
        seen_k=seen_k(shots),
        outliers=apart,
    )


def _drift_said(drift: Line, p: float) -> tuple[Concern, ...]:
    if not p < 0.05:
        return ()
    return (
        Concern(
            about=About.DRIFT,
            text=f"The shots drift by {{s0}} each (chance {chance(p)}): mean, scatter and the range of "
            "future shots mix that drift with chance.",
            deltas_k=(drift.slope,),
            decimals=3,
        ),
    )


def _signals(chart: IndividualsChart, shots: ShotSet) -> tuple[Concern, ...]:
    found: list[Concern] = []
    if chart.beyond:
        names = tuple(shots.used[index].path for index in chart.beyond)
        found.append(
            Concern(
                about=About.NOT_IN_CONTROL,
                text=f"{plural(len(chart.beyond), 'shot')} outside the control limits: not chance alone.",
                shots=names,
            )
        )
    if chart.runs:
        runs = listed([f"{first + 1} to {last + 1}" for first, last in chart.runs])
        each = " each" if len(chart.runs) > 1 else ""
        text = f"Shots {runs} all lie on one side of the mean{each}: something changed."
        found.append(Concern(about=About.NOT_IN_CONTROL, text=text))
    return tuple(found)
