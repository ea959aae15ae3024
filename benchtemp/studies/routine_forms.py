"""How brew temperature may depend on idle time and flush: forms that make physical sense, and their fits.

A group that stands idle drifts towards another temperature, quickly at first (an exponential approach; over a
short stretch a line). A flush takes heat away, most of it with the first water (a decay) or only once what
stands in the pipe has run through (a decay that sets in late), over a short stretch a little with every
second (a line); it either washes out what the idling added or acts besides it. More intricate forms are not
offered: a dozen or two of shots cannot tell them apart.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import product
from math import exp, inf

import numpy as np

from benchtemp.readings.reading import FloatArray
from benchtemp.studies.statistics.curve import Curve, corrected_criterion, fit_curve, fit_linear

Basis = Callable[[FloatArray, FloatArray, FloatArray], list[FloatArray]]
"""Columns of a linear model for the nonlinear parameters, idle times in min and flushes."""


@dataclass(frozen=True, slots=True)
class Form:
    """One way in which brew temperature may depend on the routine.

    Attributes:
        name: What it says, in words.
        formula: The same as a formula; t is the idle time, f the flush.
        parameters: Names of the linear parameters, then of the nonlinear ones.
        depends_on: `t` for idle time, `f` for the flush, both or neither.
        curved_in: For which of them it has a scale of its own.
        basis: Its columns.
    """

    name: str
    formula: str
    parameters: tuple[str, ...]
    depends_on: str
    curved_in: str
    basis: Basis

    def predict(self, parameters: FloatArray, idle_min: FloatArray, flush: FloatArray) -> FloatArray:
        """Return brew temperatures in °C for parameters and routines."""
        linear = len(parameters) - len(self.curved_in)
        columns = self.basis(parameters[linear:], idle_min, flush)
        return np.asarray(np.stack(columns, axis=-1) @ parameters[:linear], dtype=np.float64)


def _one(idle_min: FloatArray) -> FloatArray:
    return np.ones_like(idle_min)


def _approach(idle_min: FloatArray, scale: float) -> FloatArray:
    return np.asarray(-np.expm1(-idle_min / scale), dtype=np.float64)


def _decay(flush: FloatArray, scale: float) -> FloatArray:
    return np.asarray(np.exp(-flush / scale), dtype=np.float64)


def _late_decay(flush: FloatArray, scale: float) -> FloatArray:
    """Return the decay of heat that lies behind one vessel of mixed water (two vessels in series)."""
    return np.asarray((1.0 + flush / scale) * np.exp(-flush / scale), dtype=np.float64)


FORMS = (
    Form("neither matters", "a", ("a",), "", "", lambda _p, t, _f: [_one(t)]),
    Form("a line in idle time", "a + b·t", ("a", "b"), "t", "", lambda _p, t, _f: [_one(t), t]),
    Form(
        "an approach with idle time",
        "a + b·A(t)",
        ("a", "b", "T"),
        "t",
        "t",
        lambda p, t, _f: [_one(t), _approach(t, p[0])],
    ),
    Form("a line in the flush", "a + c·f", ("a", "c"), "f", "", lambda _p, t, f: [_one(t), f]),
    Form(
        "a decay with the flush",
        "a + c·D(f)",
        ("a", "c", "F"),
        "f",
        "f",
        lambda p, t, f: [_one(t), _decay(f, p[0])],
    ),
    Form(
        "a decay with the flush that sets in late",
        "a + c·L(f)",
        ("a", "c", "F"),
        "f",
        "f",
        lambda p, t, f: [_one(t), _late_decay(f, p[0])],
    ),
    Form(
        "lines in both",
        "a + b·t + c·f",
        ("a", "b", "c"),
        "tf",
        "",
        lambda _p, t, f: [_one(t), t, f],
    ),
    Form(
        "lines in both with interplay",
        "a + b·t + c·f + d·t·f",
        ("a", "b", "c", "d"),
        "tf",
        "",
        lambda _p, t, f: [_one(t), t, f, t * f],
    ),
    Form(
        "an approach with idle time and a line in the flush",
        "a + b·A(t) + c·f",
        ("a", "b", "c", "T"),
        "tf",
        "t",
        lambda p, t, f: [_one(t), _approach(t, p[0]), f],
    ),
    Form(
        "an approach with idle time and a decay with the flush",
        "a + b·A(t) + c·D(f)",
        ("a", "b", "c", "T", "F"),
        "tf",
        "tf",
        lambda p, t, f: [_one(t), _approach(t, p[0]), _decay(f, p[1])],
    ),
    Form(
        "an approach with idle time and a decay with the flush that sets in late",
        "a + b·A(t) + c·L(f)",
        ("a", "b", "c", "T", "F"),
        "tf",
        "tf",
        lambda p, t, f: [_one(t), _approach(t, p[0]), _late_decay(f, p[1])],
    ),
    Form(
        "what idling adds in a line, washed out by the flush",
        "a + b·t·D(f)",
        ("a", "b", "F"),
        "tf",
        "f",
        lambda p, t, f: [_one(t), t * _decay(f, p[0])],
    ),
    Form(
        "an approach with idle time, washed out by the flush",
        "a + b·A(t)·D(f)",
        ("a", "b", "T", "F"),
        "tf",
        "tf",
        lambda p, t, f: [_one(t), _approach(t, p[0]) * _decay(f, p[1])],
    ),
    Form(
        "an approach with idle time, washed out late by the flush",
        "a + b·A(t)·L(f)",
        ("a", "b", "T", "F"),
        "tf",
        "tf",
        lambda p, t, f: [_one(t), _approach(t, p[0]) * _late_decay(f, p[1])],
    ),
)
"""A(t) = 1 − exp(−t/T); D(f) = exp(−f/F); L(f) = (1 + f/F)·exp(−f/F)."""


@dataclass(frozen=True, slots=True)
class FittedForm:
    """A form with its fit to the shots.

    Attributes:
        form: The form.
        curve: Its parameters with their covariance.
        criterion: Corrected Akaike criterion; the lowest is chosen.
        caution: Mean square by which the form misses shots it was not fitted to, over that of those it was
            fitted to; above 1.
    """

    form: Form
    curve: Curve
    criterion: float
    caution: float = 1.0

    def at(self, idle_min: FloatArray | float, flush: FloatArray | float) -> FloatArray:
        """Return brew temperatures in °C."""
        idle, flushes = np.broadcast_arrays(
            np.asarray(idle_min, dtype=np.float64), np.asarray(flush, dtype=np.float64)
        )
        return self.form.predict(self.curve.parameters, idle, flushes)

    def gradient(self, idle_min: FloatArray | float, flush: FloatArray | float) -> FloatArray:
        """Return how the temperatures change with each parameter, shape (..., parameters)."""
        idle, flushes = np.broadcast_arrays(
            np.asarray(idle_min, dtype=np.float64), np.asarray(flush, dtype=np.float64)
        )
        columns: list[FloatArray] = []
        for index, value in enumerate(self.curve.parameters.tolist()):
            step = 1e-5 * max(abs(value), 1e-3)
            above, below = self.curve.parameters.copy(), self.curve.parameters.copy()
            above[index] += step
            below[index] -= step
            upper = self.form.predict(above, idle, flushes)
            columns.append((upper - self.form.predict(below, idle, flushes)) / (2.0 * step))
        return np.stack(columns, axis=-1)

    def variance(self, idle_min: FloatArray | float, flush: FloatArray | float) -> FloatArray:
        """Return the variance of the fitted temperatures, K²."""
        gradient = self.gradient(idle_min, flush)
        return np.asarray(
            np.einsum("...i,ij,...j->...", gradient, self.curve.covariance, gradient), dtype=np.float64
        )


def _scales(values: FloatArray) -> tuple[float, float]:
    """Return the shortest and longest scale that values at these places can tell from a step or a line."""
    places = np.unique(values)
    return 0.3 * float(np.diff(places).min()), 4.0 * float(np.ptp(places))


def fit_forms(idle_min: FloatArray, flush: FloatArray, brew_degc: FloatArray) -> list[FittedForm]:
    """Fit every form the shots can carry; the best comes first.

    A form must leave two degrees of freedom, depends only on what was varied, and bends only where three or
    more places were tested; one whose scale runs off (a step, or a line in disguise) is dropped.

    Args:
        idle_min: Minutes idle, one per shot.
        flush: Flush of each shot, in seconds or grams.
        brew_degc: Brew temperatures.
    """
    varied = {"t": len(np.unique(np.round(idle_min, 1))), "f": len(np.unique(np.round(flush, 2)))}
    found: list[FittedForm] = []
    for form in FORMS:
        if any(varied[factor] < 2 for factor in form.depends_on):
            continue
        if any(varied[factor] < 3 for factor in form.curved_in):
            continue
        if len(brew_degc) < len(form.parameters) + 2:
            continue
        fitted = _fit(form, idle_min, flush, brew_degc)
        if fitted is not None:
            found.append(fitted)
    return sorted(found, key=lambda fitted: fitted.criterion)


def _fit(form: Form, idle_min: FloatArray, flush: FloatArray, brew_degc: FloatArray) -> FittedForm | None:
    ranges = [_scales(idle_min if factor == "t" else flush) for factor in form.curved_in]
    best: tuple[float, FloatArray] = (inf, np.zeros(0))
    for scales in product(*(np.geomspace(low, high, 14).tolist() for low, high in ranges)):
        nonlinear = np.array(scales, dtype=np.float64)
        columns = np.stack(form.basis(nonlinear, idle_min, flush), axis=-1)
        linear = np.linalg.lstsq(columns, brew_degc, rcond=None)[0]
        rest = brew_degc - columns @ linear
        if float(rest @ rest) < best[0]:
            best = (float(rest @ rest), np.concatenate((linear, nonlinear)))
    if not len(best[1]):
        return None
    if form.curved_in:
        curve = fit_curve(lambda p: form.predict(p, idle_min, flush), brew_degc, [best[1].tolist()])
    else:
        columns = np.stack(form.basis(np.zeros(0), idle_min, flush), axis=-1)
        curve = fit_linear(columns, brew_degc)
    if curve is None:
        return None
    scales_found = curve.parameters[len(curve.parameters) - len(ranges) :].tolist()
    if any(not low <= scale <= high for scale, (low, high) in zip(scales_found, ranges, strict=True)):
        return None
    criterion = corrected_criterion(curve.square_sum, len(brew_degc), len(curve.parameters))
    if not criterion < inf:
        return None
    fitted = FittedForm(form, curve, criterion)
    return replace(fitted, caution=_caution(fitted, idle_min, flush, brew_degc))


def _caution(fitted: FittedForm, idle_min: FloatArray, flush: FloatArray, brew_degc: FloatArray) -> float:
    """Return how much worse the form does at shots left out, from each shot's leverage."""
    scatter = fitted.curve.residual_sd**2
    if not scatter > 0:
        return 1.0
    leverage = np.minimum(fitted.variance(idle_min, flush) / scatter, 0.9)
    missed = (brew_degc - fitted.at(idle_min, flush)) / (1.0 - leverage)
    return max(1.0, float(missed @ missed) / len(brew_degc) / scatter)


def weights(fitted: list[FittedForm]) -> list[float]:
    """Return how the forms share the evidence among them (Akaike weights), 0 to 1 each."""
    if not fitted:
        return []
    lowest = min(form.criterion for form in fitted)
    raw = [exp(-0.5 * (form.criterion - lowest)) for form in fitted]
    return [value / sum(raw) for value in raw]
