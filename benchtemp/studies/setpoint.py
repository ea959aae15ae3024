"""Setpoint: what a machine brews at for what its display says, and which setpoint gives the target."""

from __future__ import annotations

from math import inf, isfinite, sqrt

import msgspec
import numpy as np

from benchtemp.errors import BadInput
from benchtemp.readings.reading import FloatArray
from benchtemp.shots.statistics import mean
from benchtemp.studies.chart import Axis, Chart, Level, Look, Quantity, Series
from benchtemp.studies.concerns import (
    coarse_concern,
    common_uncertainty_k,
    drift_concern,
    file_concerns,
    one_machine,
    outlier_concerns,
    too_few,
    too_few_to_begin,
    varied,
    varied_concerns,
    with_common,
)
from benchtemp.studies.evidence.shot_set import ShotSet
from benchtemp.studies.outcome import About, Concern, Study, Table, machine_name, used_shots
from benchtemp.studies.probe_checks import probe_checks
from benchtemp.studies.probe_concerns import probe_concerns
from benchtemp.studies.setpoint_steps import Staircase, display_step, find_staircase
from benchtemp.studies.statistics.intervals import LEVEL, Interval, around
from benchtemp.studies.statistics.line import Line, Reach, fit_line, lack_of_fit_p
from benchtemp.studies.wording import (
    DASH,
    chance,
    decimals_for,
    delta,
    delta_span,
    number,
    span,
    temp,
    temp_span,
)
from benchtemp.units import TempUnit

ENOUGH = 6
BAND_POINTS = 61


class Offset(msgspec.Struct, frozen=True, kw_only=True):
    """What was found at one setpoint.

    Attributes:
        setpoint_degc: As displayed.
        count: Shots.
        mean_degc: Their mean brew temperature.
        offset_k: That less the setpoint.
        interval: Where the true offset may lie, from the scatter of all shots about the line.
    """

    setpoint_degc: float
    count: int
    mean_degc: float
    offset_k: float
    interval: Interval


class Setpoint(Study, frozen=True, kw_only=True, tag="setpoint"):
    """Brew temperature against the displayed setpoint.

    Attributes:
        setpoint_degc, brew_degc: One per shot.
        line: Least-squares line; `slope_interval` and the offsets rest on it.
        offsets: One per setpoint, lowest first.
        mean_offset_k, mean_offset_interval: At the middle of the setpoints.
        common_uncertainty_k: Standard uncertainty of every shot alike.
        target_degc: What is wanted.
        reach: Which setpoint gives it, with Fieller's interval; the probe's own error not in it.
        total_half_width_k: Half width of that interval with the common uncertainty in it.
        target_in_range: Whether that setpoint is among those tested.
        grid_degc, line_low, line_high, shot_low, shot_high: Confidence and prediction bands.
        lack_of_fit_p: How likely the bend is by chance, NaN without repeats.
        display_step_k: Step of the setpoints that were used, None where there is none.
        staircase: Found where the machine obeys coarser steps than the display shows.
        outliers: Indices of shots that stand apart.
    """

    setpoint_degc: tuple[float, ...]
    brew_degc: tuple[float, ...]
    line: Line
    slope_interval: Interval
    offsets: tuple[Offset, ...]
    mean_offset_k: float
    mean_offset_interval: Interval
    common_uncertainty_k: float
    target_degc: float
    reach: Reach
    total_half_width_k: float
    target_in_range: bool
    grid_degc: tuple[float, ...]
    line_low: tuple[float, ...]
    line_high: tuple[float, ...]
    shot_low: tuple[float, ...]
    shot_high: tuple[float, ...]
    lack_of_fit_p: float
    display_step_k: float | None
    staircase: Staircase | None = None
    outliers: tuple[int, ...] = ()

    @property
    def title(self) -> str:
        """Return what to call the study."""
        return f"Setpoint of {self.machine}"

    def sentence(self, unit: TempUnit) -> str:
        """Return the verdict's sentence."""
        return self.hedged(self._told(unit))

    def _told(self, unit: TempUnit) -> str:
        places = decimals_for(self.mean_offset_interval.half_width)
        middle = temp(self.line.x_mean, unit, 1)
        known = isfinite(self.common_uncertainty_k)
        own_k = with_common(self.mean_offset_interval.half_width, self.common_uncertainty_k)
        probe = (
            f"with the probe's own error ± {delta(own_k, unit, 1)}"
            if known
            else "the probe's own error, not known, comes on top"
        )
        offset = (
            f"Set to {middle}, {self.machine} brews {delta(abs(self.mean_offset_k), unit, places)} "
            f"{'below' if self.mean_offset_k < 0 else 'above'} the display "
            f"(offset {delta_span(self.mean_offset_interval, unit, places)}; {probe})"
        )
        target = temp(self.target_degc, unit, 1)
        if self.reach.x is None or not self.reach.interval.bounded:
            return f"{offset}; no setpoint for {target} can be named: these shots show no effect of it."
        away = "" if self.target_in_range else ", outside the setpoints tested, so by extrapolation"
        return (
            f"{offset}; to brew at {target}, set it to {temp(self.reach.x, unit, 1)} "
            f"({temp_span(self.reach.interval, unit, 1)}"
            f"{f'; with that error ± {delta(self.total_half_width_k, unit, 1)}' if known else ''}){away}."
        )

    def limits(self, unit: TempUnit) -> tuple[str, ...]:
        """Return on what the verdict rests."""
        return (
            self.counted_phrase(),
            f"tested from {temp(self.line.x_low, unit, 1)} to {temp(self.line.x_high, unit, 1)} displayed",
            f"intervals at {100 * self.slope_interval.level:.0f} % confidence",
        )

    def tables(self, unit: TempUnit = TempUnit.DEGC) -> tuple[Table, ...]:
        """Return its figures as tables."""
        figures = [
            ("brew per displayed degree", number(self.line.slope, 3), _plain(self.slope_interval, 3)),
            (
                "offset in the middle",
                delta(self.mean_offset_k, unit, 2, sign=True),
                delta_span(self.mean_offset_interval, unit, 2),
            ),
            ("scatter about the line", delta(self.line.residual_sd, unit, 2), ""),
            ("bend (lack of fit)", "", f"chance {chance(self.lack_of_fit_p)}"),
            (
                f"setpoint for {temp(self.target_degc, unit, 1)}",
                temp(self.reach.x, unit, 2) if self.reach.interval.bounded else DASH,
                temp_span(self.reach.interval, unit, 2) if self.reach.interval.bounded else "no bound",
            ),
        ]
        rows = tuple(
            (
                temp(offset.setpoint_degc, unit, 1),
                str(offset.count),
                temp(offset.mean_degc, unit, 2),
                delta(offset.offset_k, unit, 2, sign=True),
                delta_span(offset.interval, unit, 2),
            )
            for offset in self.offsets
        )
        return (
            Table(title="Figures", headings=("figure", "value", "interval"), rows=tuple(figures)),
            Table(
                title="Offset at each setpoint",
                headings=("setpoint", "shots", "brew temperature", "offset", "interval"),
                rows=rows,
            ),
        )

    def charts(self, unit: TempUnit = TempUnit.DEGC) -> tuple[Chart, ...]:
        """Return the line with its bands, and what is left of the shots."""
        labels = tuple(shot.name for shot in self.used)
        x_axis = Axis(quantity=Quantity.SETPOINT_DEGC, title="displayed setpoint")
        grid = self.grid_degc
        line = tuple(self.line.at(x) for x in grid)
        rest = tuple(y - self.line.at(x) for x, y in zip(self.setpoint_degc, self.brew_degc, strict=True))
        return (
            Chart(
                title="Brew temperature against setpoint",
                summary=self.sentence(unit),
                x=x_axis,
                y=Axis(quantity=Quantity.TEMP_DEGC, title="brew temperature"),
                series=(
                    Series(name="one more shot", look=Look.BAND, x=grid, low=self.shot_low,
                           high=self.shot_high, faint=True),
                    Series(name="the line", look=Look.BAND, x=grid, low=self.line_low, high=self.line_high),
                    Series(name="line", look=Look.LINE, x=grid, y=line),
                    Series(name="as displayed", look=Look.LINE, x=grid, y=grid, faint=True, group=1),
                    Series(name="shots", look=Look.POINTS, x=self.setpoint_degc, y=self.brew_degc,
                           marked=self.outliers, labels=labels),
                ),
                levels=(Level(name="target", at=self.target_degc, faint=True),),
            ),
            Chart(
                title="What the line leaves",
                summary="Brew temperature less the line, against the setpoint.",
                x=x_axis,
                y=Axis(quantity=Quantity.DELTA_K, title="brew temperature less the line"),
                series=(
                    Series(name="shots", look=Look.POINTS, x=self.setpoint_degc, y=rest,
                           marked=self.outliers, labels=labels),
                ),
                levels=(Level(name="the line", at=0.0, faint=True),),
            ),
        )  # fmt: skip


def _plain(interval: Interval, decimals: int) -> str:
    return span(interval.low, interval.high, decimals)


def setpoint(shots: ShotSet, *, target_degc: float = 93.0, level: float = LEVEL) -> Setpoint:
    """Return what a machine brews at for what its display says.

    Args:
        shots: Of one machine, with the setpoint as a tag; at least three at two or more setpoints.
        target_degc: The brew temperature wanted, °C.
        level: Level of confidence.

    Raises:
        BadInput: There are too few shots or setpoints.
    """
    shots = shots.keeping(lambda shot: shot.setpoint_degc is not None, "its setpoint is not known")
    if len(shots) < 3:
        raise too_few_to_begin("A setpoint study", len(shots), 3, "shots that count and carry a setpoint tag")
    one_machine("A setpoint study", shots)
    x = shots.values(lambda shot: shot.setpoint_degc)
    y = shots.brew_degc
    if not np.ptp(x) > 0:
        raise BadInput(
            f"All {len(shots)} shots were pulled at {x[0]:g} °C; a setpoint study needs two or more."
        )
    line = fit_line(x, y)
    fitted = np.array([line.at(value) for value in x.tolist()])
    residuals = y - fitted
    common = common_uncertainty_k(shots)
    reach = line.reaches(target_degc, level)
    spread = np.ptp(x)
    in_range = reach.x is not None and line.x_low <= reach.x <= line.x_high
    grid = np.linspace(line.x_low - 0.15 * spread, line.x_high + 0.15 * spread, BAND_POINTS)
    bands = [(line.mean_interval(value, level), line.shot_interval(value, level)) for value in grid.tolist()]
    staircase = find_staircase(x, y, line)
    step_k = display_step(x)
    apart, apart_concerns = outlier_concerns(shots, residuals)
    bent = lack_of_fit_p(x, y, residuals, 2)
    concerns = (
        *too_few(len(shots), ENOUGH, "a line worth having"),
        *_range_concern(reach, line, target_degc, in_range=in_range),
        *_few_setpoints(x),
        *_bent_concern(bent, staircase),
        *varied_concerns(shots, besides=("setpoint",)),
        *probe_concerns(shots),
        *drift_concern(residuals),
        *_in_order(x),
        *coarse_concern(shots, residuals),
        *apart_concerns,
        *file_concerns(shots),
    )
    half = reach.interval.half_width if reach.interval.bounded else inf
    middle = around(line.at_mean - line.x_mean, line.residual_sd / sqrt(line.count), line.dof, level)
    return Setpoint(
        machine=machine_name(shots),
        used=used_shots(shots),
        left_out=shots.left_out,
        probe_checks=probe_checks(shots),
        concerns=concerns,
        setpoint_degc=tuple(x.tolist()),
        brew_degc=tuple(y.tolist()),
        line=line,
        slope_interval=line.slope_interval(level),
        offsets=_offsets(x, y, line, level),
        mean_offset_k=line.at_mean - line.x_mean,
        mean_offset_interval=middle,
        common_uncertainty_k=common,
        target_degc=target_degc,
        reach=reach,
        total_half_width_k=with_common(half, common / abs(line.slope)) if line.slope else inf,
        target_in_range=in_range,
        grid_degc=tuple(grid.tolist()),
        line_low=tuple(own.low for own, _ in bands),
        line_high=tuple(own.high for own, _ in bands),
        shot_low=tuple(one.low for _, one in bands),
        shot_high=tuple(one.high for _, one in bands),
        lack_of_fit_p=bent,
        display_step_k=step_k,
        staircase=staircase,
        outliers=apart,
        mixed=varied(shots, besides=("setpoint",)),
    )


def _offsets(x: FloatArray, y: FloatArray, line: Line, level: float) -> tuple[Offset, ...]:
    found: list[Offset] = []
    for place in np.unique(x).tolist():
        own = y[x == place]
        offset = mean(own) - place
        uncertainty = line.residual_sd / sqrt(len(own))
        found.append(
            Offset(
                setpoint_degc=place,
                count=len(own),
                mean_degc=mean(own),
                offset_k=offset,
                interval=around(offset, uncertainty, line.dof, level),
            )
        )
    return tuple(found)


def _range_concern(reach: Reach, line: Line, target_degc: float, *, in_range: bool) -> tuple[Concern, ...]:
    if reach.x is None or in_range:
        return ()
    return (
        Concern(
            about=About.OUT_OF_RANGE,
            text="The setpoint for {t0} would be {t1}, but {t2} to {t3} were tested: pull shots there first.",
            temps_degc=(target_degc, reach.x, line.x_low, line.x_high),
            decimals=1,
        ),
    )


def _few_setpoints(x: FloatArray) -> tuple[Concern, ...]:
    if len(np.unique(x)) > 2:
        return ()
    return (
        Concern(
            about=About.TOO_FEW,
            text="Only two setpoints were tested: whether the line is straight between them cannot be seen.",
        ),
    )


def _bent_concern(bent: float, staircase: Staircase | None) -> tuple[Concern, ...]:
    if staircase is not None:
        return (
            Concern(
                about=About.FIT,
                text="The shots go up in steps of {d0} although the display shows finer ones: it rounds.",
                deltas_k=(staircase.step_k,),
            ),
        )
    if bent < 0.01:
        return (
            Concern(
                about=About.FIT,
                text=f"The shots do not lie on a straight line (chance {chance(bent)}): trust the offsets at "
                "each setpoint rather than the line.",
            ),
        )
    return ()


def _in_order(x: FloatArray) -> tuple[Concern, ...]:
    """Return a concern where setpoints only went up or only went down."""
    steps = np.diff(x)
    if len(np.unique(x)) < 2 or not (np.all(steps >= 0) or np.all(steps <= 0)):
        return ()
    return (
        Concern(
            about=About.CONFOUNDED,
            text="The setpoints were tested in one direction only, so a drift in time would look like their "
            "doing; mix the order next time.",
        ),
    )
