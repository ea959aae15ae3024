"""Routine: what idle time and flush do to the brew temperature, and how much to flush after so long."""

from __future__ import annotations

from math import isfinite

import numpy as np

from benchtemp.errors import BadInput
from benchtemp.studies.chart import Axis, Chart, Level, Look, Quantity, Series
from benchtemp.studies.concerns import (
    coarse_concern,
    common_uncertainty_k,
    drift_concern,
    file_concerns,
    one_machine,
    outlier_concerns,
    probe_phrase,
    settings_concerns,
    too_few,
    too_few_to_begin,
    varied,
    varied_concerns,
)
from benchtemp.studies.evidence.shot_set import ShotSet
from benchtemp.studies.outcome import Study, Table, machine_name, used_shots
from benchtemp.studies.probe_checks import probe_checks
from benchtemp.studies.probe_concerns import probe_concerns
from benchtemp.studies.routine_answer import (
    FlushAnswer,
    NextShot,
    flush_for,
    next_shot,
)
from benchtemp.studies.routine_concerns import outside, rivals, together
from benchtemp.studies.routine_curves import (
    Curve,
    FormFit,
    flush_amounts,
    form_fits,
    over_flush,
    over_idle,
)
from benchtemp.studies.routine_forms import fit_forms
from benchtemp.studies.statistics.intervals import LEVEL
from benchtemp.studies.wording import delta, number, percent, signed, span, temp, temp_span
from benchtemp.units import TempUnit

ENOUGH = 8


class Routine(Study, frozen=True, kw_only=True, tag="routine"):
    """Brew temperature against idle time and flush.

    Attributes:
        flush_unit: `s` or `g`.
        idle_min, flush, brew_degc: One per shot.
        forms: All forms that could be fitted, the chosen one first.
        fitted_degc, residual_k: Of each shot.
        answer: How much to flush after the idle time asked about.
        next: Which shot would narrow that answer most.
        over_idle: The chosen form over idle time, one for each flush tested (at most four).
        over_flush: The same over the flush at the idle time asked about; None where no flush was varied.
        common_uncertainty_k: Standard uncertainty of every shot alike.
        outliers: Indices of shots that stand apart.
    """

    flush_unit: str
    idle_min: tuple[float, ...]
    flush: tuple[float, ...]
    brew_degc: tuple[float, ...]
    forms: tuple[FormFit, ...]
    fitted_degc: tuple[float, ...]
    residual_k: tuple[float, ...]
    answer: FlushAnswer
    next: NextShot | None
    over_idle: tuple[Curve, ...]
    over_flush: Curve | None
    common_uncertainty_k: float
    outliers: tuple[int, ...] = ()

    @property
    def title(self) -> str:
        """Return what to call the study."""
        return f"Routine on {self.machine}"

    def amount(self, flush: float, decimals: int = 1) -> str:
        """Return a flush with its unit."""
        return f"{number(flush, decimals if self.flush_unit == 's' else 0)} {self.flush_unit}"

    def sentence(self, unit: TempUnit) -> str:
        """Return the verdict's sentence."""
        return self.hedged(f"{self._told(unit)}{self._extrapolated()}.")

    def _extrapolated(self) -> str:
        if not min(self.idle_min) - 1e-9 <= self.answer.idle_min <= max(self.idle_min) + 1e-9:
            return "; so long or short an idle time was not tested, so this is an extrapolation"
        if self.answer.flush is None or self.answer.in_range:
            return ""
        return "; so long a flush was not tested, so this is an extrapolation"

    def _told(self, unit: TempUnit) -> str:
        answer = self.answer
        after = f"After {number(answer.idle_min, 0)} min idle"
        target = temp(answer.target_degc, unit, 1)
        alone = (
            f"{self.machine} brews at {temp(answer.unflushed_degc, unit, 1)} without a flush "
            f"(one shot within {temp_span(answer.unflushed_interval, unit, 1)})"
        )
        if self.over_flush is None:
            return f"{after}, {alone}; what a flush would do was not tested"
        if answer.flush is None:
            reason = "a flush makes no difference that these shots could show"
            if any(form.flush is not None for form in self.forms):
                reason = f"the form chosen finds no flush that gives {target}"
            elif "f" in self.forms[0].formula:
                reason = f"no flush up to {self.amount(max(self.flush) * 1.5)} brings it to {target}"
            return f"{after}, {alone}; {reason}"
        decimals = 1 if self.flush_unit == "s" else 0
        return (
            f"{after}, flush {self.amount(answer.flush)} "
            f"({span(answer.interval.low, answer.interval.high, decimals, self.flush_unit)}) to brew at "
            f"{target} on {self.machine}; one shot so pulled will lie within "
            f"{temp_span(answer.shot_interval, unit, 1)}"
        )

    def limits(self, unit: TempUnit) -> tuple[str, ...]:
        """Return on what the verdict rests."""
        found = [
            self.counted_phrase(),
            f"tested {span(min(self.idle_min), max(self.idle_min), 0, 'min')} idle",
        ]
        if self.over_flush is not None:
            places = 1 if self.flush_unit == "s" else 0
            found.append(f"flushes of {span(min(self.flush), max(self.flush), places, self.flush_unit)}")
        found.append(f"form: {self.forms[0].name}")
        found.append(f"intervals at {percent(self.answer.interval.level)} confidence")
        found.append(probe_phrase(self.common_uncertainty_k, unit))
        return tuple(found)

    def tables(self, unit: TempUnit = TempUnit.DEGC) -> tuple[Table, ...]:
        """Return the forms, the chosen one's parameters, and the shots."""
        forms = tuple(
            (
                form.name,
                form.formula,
                number(form.criterion, 1),
                percent(form.weight),
                delta(form.residual_sd_k, unit, 2),
                "—" if form.flush is None else self.amount(form.flush),
            )
            for form in self.forms
        )
        best = self.forms[0]
        parameters = tuple(
            (name, number(value, 3), number(uncertainty, 3))
            for (name, value), uncertainty in zip(best.parameters.items(), best.uncertainties, strict=True)
        )
        shots = tuple(
            (
                shot.name,
                f"{number(idle, 1)} min",
                self.amount(flush),
                temp(shot.brew_temp_degc, unit, 2),
                temp(fitted, unit, 2),
                delta(rest, unit, 2, sign=True),
            )
            for shot, idle, flush, fitted, rest in zip(
                self.used, self.idle_min, self.flush, self.fitted_degc, self.residual_k, strict=True
            )
        )
        tables = [
            Table(
                title="Forms tried",
                headings=("form", "formula", "criterion", "weight", "scatter", "flush"),
                rows=forms,
            ),
            Table(title=f"Chosen: {best.formula}", headings=("", "estimate", "uncertainty"), rows=parameters),
            Table(
                title="Shots",
                headings=("shot", "idle", "flush", "brew temperature", "fitted", "left"),
                rows=shots,
            ),
        ]
        if self.next is not None:
            tables.insert(2, self._next_table(self.next, unit))
        return tuple(tables)

    def _next_table(self, following: NextShot, unit: TempUnit) -> Table:
        def shown(value: float) -> str:
            return (
                delta(value, unit, 2)
                if following.about != "flush"
                else f"{signed(value, 2)} {self.flush_unit}"
            )

        return Table(
            title="The next shot that would teach most",
            headings=("idle", "flush", f"uncertainty of the {following.about} now", "then"),
            rows=(
                (
                    f"{number(following.idle_min, 0)} min",
                    self.amount(following.flush),
                    shown(following.uncertainty_now).lstrip("+"),
                    shown(following.uncertainty_then).lstrip("+"),
                ),
            ),
        )

    def charts(self, unit: TempUnit = TempUnit.DEGC) -> tuple[Chart, ...]:
        """Return the shots with the chosen form over idle time and over flush, and what it leaves."""
        labels = tuple(shot.name for shot in self.used)
        degc = Axis(quantity=Quantity.TEMP_DEGC, title="brew temperature")
        amount = Quantity.TIME_S if self.flush_unit == "s" else Quantity.GRAMS
        target = Level(name="target", at=self.answer.target_degc, faint=True)
        idle_series: list[Series] = []
        for group, curve in enumerate(self.over_idle):
            name = f"flush {self.amount(curve.held)}"
            idle_series.append(Series(name=name, look=Look.LINE, x=curve.x, y=curve.degc, group=group))
        nearest = [self._nearest(flush) for flush in self.flush]
        for group, curve in enumerate(self.over_idle):
            own = [index for index, at in enumerate(nearest) if at == group]
            idle_series.append(
                Series(
                    name=f"shots, flush {self.amount(curve.held)}",
                    look=Look.POINTS,
                    x=tuple(self.idle_min[index] for index in own),
                    y=tuple(self.brew_degc[index] for index in own),
                    marked=tuple(at for at, index in enumerate(own) if index in self.outliers),
                    labels=tuple(labels[index] for index in own),
                    group=group,
                )
            )
        charts = [
            Chart(
                title="Brew temperature against idle time",
                summary=self.sentence(unit),
                x=Axis(quantity=Quantity.TIME_MIN, title="idle time"),
                y=degc,
                series=tuple(idle_series),
                levels=(target,),
            )
        ]
        flushed = self.over_flush
        if flushed is not None:
            levels = [target]
            if self.answer.flush is not None:
                levels.append(Level(name="flush this much", at=self.answer.flush, upright=True))
            charts.append(
                Chart(
                    title=f"After {number(self.answer.idle_min, 0)} min idle",
                    summary=self.sentence(unit),
                    x=Axis(quantity=amount, title="flush"),
                    y=degc,
                    series=(
                        Series(
                            name="one shot", look=Look.BAND, x=flushed.x, low=flushed.low, high=flushed.high
                        ),
                        Series(name="fitted", look=Look.LINE, x=flushed.x, y=flushed.degc),
                    ),
                    levels=tuple(levels),
                )
            )
        charts.append(
            Chart(
                title="What the form leaves",
                summary="Brew temperature less the fitted one, shot by shot.",
                x=Axis(quantity=Quantity.TEMP_DEGC, title="fitted brew temperature"),
                y=Axis(quantity=Quantity.DELTA_K, title="left"),
                series=(
                    Series(
                        name="shots",
                        look=Look.POINTS,
                        x=self.fitted_degc,
                        y=self.residual_k,
                        marked=self.outliers,
                        labels=labels,
                    ),
                ),
                levels=(Level(name="the form", at=0.0, faint=True),),
            )
        )
        return tuple(charts)

    def _nearest(self, flush: float) -> int:
        return min(range(len(self.over_idle)), key=lambda index: abs(self.over_idle[index].held - flush))


def routine(
    shots: ShotSet, *, idle_min: float = 10.0, target_degc: float = 93.0, level: float = LEVEL
) -> Routine:
    """Return what idle time and flush do to the brew temperature.

    The form is chosen among physically sensible ones by the corrected Akaike criterion.

    Args:
        shots: Of one machine at one setting, with idle times (measured or typed), at least five.
        idle_min: Idle time the answer is for, min.
        target_degc: Brew temperature wanted, °C.
        level: Level of confidence.

    Raises:
        BadInput: There are too few shots, or neither idle time nor flush was varied.
    """
    if not (isfinite(idle_min) and 0 <= idle_min <= 24 * 60):
        raise BadInput(f"An idle time of {idle_min:g} min cannot be asked about; give 0 to 1440 min.")
    shots = shots.keeping(lambda shot: shot.idle_min.value is not None, "its idle time is not known")
    shots, unit, flush = flush_amounts(shots)
    if len(shots) < 5:
        raise too_few_to_begin(
            "A routine study", len(shots), 5, "shots that count and whose idle time is known"
        )
    one_machine("A routine study", shots)
    idle = shots.values(lambda shot: shot.idle_min.value)
    brew = shots.brew_degc
    forms = fit_forms(idle, flush, brew)
    if len(forms) < 2:
        raise BadInput(
            "Neither idle time nor flush was varied in these shots; pull an idle or a flush series first."
        )
    best = forms[0]
    tested = (idle, flush)
    answer = flush_for(forms, idle_min, target_degc, tested, level)
    fitted = best.at(idle, flush)
    residuals = brew - fitted
    apart, apart_concerns = outlier_concerns(shots, residuals)
    varied_flush = len(np.unique(np.round(flush, 2))) > 1
    rows = form_fits(forms, answer, tested, level)
    concerns = (
        *too_few(len(shots), ENOUGH, "telling one form from another"),
        *together(idle, flush),
        *outside(answer, idle, unit),
        *rivals(rows, answer, unit),
        *varied_concerns(shots, besides=("idle time", "flush")),
        *probe_concerns(shots),
        *drift_concern(residuals),
        *coarse_concern(shots, residuals),
        *apart_concerns,
        *settings_concerns(shots),
        *file_concerns(shots),
    )
    return Routine(
        machine=machine_name(shots),
        used=used_shots(shots),
        left_out=shots.left_out,
        probe_checks=probe_checks(shots),
        concerns=concerns,
        flush_unit=unit,
        idle_min=tuple(idle.tolist()),
        flush=tuple(flush.tolist()),
        brew_degc=tuple(brew.tolist()),
        forms=rows,
        fitted_degc=tuple(fitted.tolist()),
        residual_k=tuple(residuals.tolist()),
        answer=answer,
        next=next_shot(best, answer, tested),
        over_idle=over_idle(best, idle, flush, level),
        over_flush=over_flush(best, idle_min, flush, level) if varied_flush else None,
        common_uncertainty_k=common_uncertainty_k(shots),
        outliers=apart,
        mixed=varied(shots, besides=("idle time", "flush")),
    )
