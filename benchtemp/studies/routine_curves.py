"""What a routine study shows: the forms tried, and the chosen one drawn over idle time and flush."""

from __future__ import annotations

import msgspec
import numpy as np

from benchtemp.readings.reading import FloatArray
from benchtemp.studies.evidence.shot_record import ShotRecord
from benchtemp.studies.evidence.shot_set import ShotSet
from benchtemp.studies.routine_answer import FlushAnswer, flush_for, shot_interval
from benchtemp.studies.routine_forms import FittedForm, weights
from benchtemp.studies.statistics.intervals import LEVEL

CURVE_POINTS = 61


class FormFit(msgspec.Struct, frozen=True, kw_only=True):
    """How one form fits.

    Attributes:
        name, formula: What it says.
        parameters, uncertainties: Estimates by name, and their standard uncertainties in the same order.
        criterion: Corrected Akaike criterion; lower is better.
        weight: Its share of the evidence among the forms, 0 to 1.
        residual_sd_k: Scatter about it.
        flush: What it answers to the question asked, None for no flush.
    """

    name: str
    formula: str
    parameters: dict[str, float]
    uncertainties: tuple[float, ...]
    criterion: float
    weight: float
    residual_sd_k: float
    flush: float | None


class Curve(msgspec.Struct, frozen=True, kw_only=True):
    """The chosen form along one axis, with its prediction band.

    Attributes:
        held: What is held, idle time in min or flush.
        x: The other one.
        degc, low, high: Fitted temperature, and where one shot will lie.
    """

    held: float
    x: tuple[float, ...]
    degc: tuple[float, ...]
    low: tuple[float, ...]
    high: tuple[float, ...]


def form_fits(
    forms: list[FittedForm], answer: FlushAnswer, tested: tuple[FloatArray, FloatArray], level: float = LEVEL
) -> tuple[FormFit, ...]:
    """Return how each form fits and what it answers to the question the chosen one was asked."""
    return tuple(
        FormFit(
            name=form.form.name,
            formula=form.form.formula,
            parameters=dict(zip(form.form.parameters, form.curve.parameters.tolist(), strict=True)),
            uncertainties=tuple(form.curve.uncertainties.tolist()),
            criterion=form.criterion,
            weight=share,
            residual_sd_k=form.curve.residual_sd,
            flush=flush_for([form], answer.idle_min, answer.target_degc, tested, level).flush,
        )
        for form, share in zip(forms, weights(forms), strict=True)
    )


def flush_amounts(shots: ShotSet) -> tuple[ShotSet, str, FloatArray]:
    """Return the shots whose flush is known in the commonest unit, that unit, and the flushes."""

    def seconds(shot: ShotRecord) -> float | None:
        return shot.flush_s.value

    def grams(shot: ShotRecord) -> float | None:
        return shot.flush_g.value

    in_s, in_g = shots.values(seconds), shots.values(grams)
    known_s, known_g = int(np.isfinite(in_s).sum()), int(np.isfinite(in_g).sum())
    if not known_s and not known_g:
        return shots, "s", np.zeros(len(shots))
    by_weight = known_g > known_s or (known_g == known_s and np.nanmax(in_g) > 0 and not np.nanmax(in_s) > 0)
    unit, of = ("g", grams) if by_weight else ("s", seconds)
    kept = shots.keeping(lambda shot: of(shot) is not None, f"its flush is not known in {unit}")
    return kept, unit, kept.values(of)


def _curve(fitted: FittedForm, idle: FloatArray, flush: FloatArray, level: float, held: float) -> Curve:
    bands = [shot_interval(fitted, t, f, level) for t, f in zip(idle.tolist(), flush.tolist(), strict=True)]
    varied = idle if np.ptp(idle) > 0 else flush
    return Curve(
        held=held,
        x=tuple(varied.tolist()),
        degc=tuple(fitted.at(idle, flush).tolist()),
        low=tuple(band.low for band in bands),
        high=tuple(band.high for band in bands),
    )


def over_idle(fitted: FittedForm, idle: FloatArray, flush: FloatArray, level: float) -> tuple[Curve, ...]:
    """Return the chosen form over idle time, for up to four of the flushes tested."""
    x = np.linspace(0.0, float(idle.max()) or 1.0, CURVE_POINTS)
    places = np.unique(np.round(flush, 1))
    if len(places) > 4:
        places = places[np.linspace(0, len(places) - 1, 4).round().astype(int)]
    return tuple(_curve(fitted, x, np.full_like(x, place), level, place) for place in places.tolist())


def over_flush(fitted: FittedForm, idle_min: float, flush: FloatArray, level: float) -> Curve:
    """Return the chosen form over the flush, after one idle time."""
    x = np.linspace(0.0, float(flush.max()) or 1.0, CURVE_POINTS)
    return _curve(fitted, np.full_like(x, idle_min), x, level, idle_min)
