"""How it was measured: probe and its last check, interface, recipe, plan, definitions."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from benchtemp.errors import BadInput
from benchtemp.probes.probe import Probe
from benchtemp.reports.content import Bullets, Facts, Paragraph, Section
from benchtemp.reports.printable import printable
from benchtemp.reports.sections.phrases import counted, moment, span_text
from benchtemp.reports.tested import Tested, TestedShot
from benchtemp.shots.budget import interface_of
from benchtemp.shots.recipe import Recipe
from benchtemp.studies.evidence.shot_set import ShotSet
from benchtemp.studies.evidence.typed import PLAN_TAG
from benchtemp.studies.probe_checks import probe_checks
from benchtemp.studies.statistics.intervals import Interval
from benchtemp.studies.wording import delta, number, percent, temp_span
from benchtemp.units import TempUnit


def method_section(tested: Tested, unit: TempUnit) -> Section:
    """Return how the shots were measured, and what the words mean."""
    rows = [*_probe_rows(tested, unit), *_interface_rows(tested.shots)]
    rows += [("Recipe", text) for text in _recipes(tested.shots, unit)]
    rows += _plan_rows(tested)
    return Section(
        "How it was measured",
        (
            Facts(tuple((name, printable(text, 600)) for name, text in rows if text)),
            Paragraph("What the words mean, all on the corrected temperature of the probe in the basket:"),
            Bullets(_definitions(tested.shots, unit)),
        ),
    )


def _definitions(shots: Sequence[TestedShot], unit: TempUnit) -> tuple[str, ...]:
    shortest = span_text([one.shot.recipe.plateau_min_s for one in shots], 0, "s")
    return (
        (
            "The plateau begins at the last moment at which the probe still climbs faster than "
            f"{delta(0.25, unit)} per second, and ends at pump off or, where that was not marked, when the "
            "trace leaves it downwards for good."
        ),
        "The brew temperature is the time-weighted mean over the plateau.",
        (
            "Pump on and pump off are the operator's marks; where there is none they are estimated from the "
            "trace."
        ),
        (
            f"A shot counts when its plateau lasts at least {shortest} and, where dose, yield and time are "
            "known, the recipe was kept. Shots that do not count, or were set aside, are shown with the "
            "reason and left out of the verdict."
        ),
        (
            "The expanded uncertainty (k = 2) is the range around a figure that holds the true value "
            "with a probability of about 95 %; it covers the probe and its drift, the interface, the "
            "place in the puck and the noise."
        ),
    )


def _probe_rows(tested: Tested, unit: TempUnit) -> list[tuple[str, str]]:
    rows: list[tuple[str, str]] = []
    for name in dict.fromkeys(one.record.probe for one in tested.shots):
        own = [one for one in tested.shots if one.record.probe == name]
        rows.append(
            (f"Probe {name}" if name else "Probe", _probe_text(name, own, tested.probes.get(name), unit))
        )
    return rows


def _probe_text(name: str, shots: Sequence[TestedShot], probe: Probe | None, unit: TempUnit) -> str:
    """Return what is known of a probe: what it is, its last check before the shots, its correction."""
    last = max(shots, key=lambda one: one.record.pulled)
    correction = last.shot.correction
    told: list[str] = [] if name else ["not named"]
    if probe is not None and probe.serial:
        told.append(f"serial {probe.serial}")
    told.append(str(probe.tolerance_class if probe else last.shot.grounds.tolerance_class))
    *_, proven = probe_checks(ShotSet(used=tuple(one.record for one in shots)))
    if not last.record.checked:
        later = (
            f"; first checked on {proven.checked_after}, after these shots" if proven.checked_after else ""
        )
        told.append(f"never checked before, so its whole tolerance counts{later}")
        return "; ".join(told)
    checked = correction.checked or "at an unknown date"
    text = f"last checked {moment(checked)}"
    check = None
    if probe is not None and correction.checked:
        try:
            check = probe.check_at(last.record.pulled or None)
        except BadInput:
            check = None
    if check is not None and check.checked == correction.checked:
        text += (
            f" in {check.method}"
            if str(check.method) != "reference thermometer"
            else " against a reference thermometer"
        )
        text += f" by {check.operator}" if check.operator else ""
        text += f", {'passed' if check.passed else 'failed'} (limit {delta(check.limit_k, unit, 1)})"
        conditions = ", ".join(f"{what} {value}" for what, value in check.conditions.items())
        text += f", {conditions}" if conditions else ""
    if proven.oldest_days is not None:
        text += f", {proven.around(unit)}"
    told.append(text)
    if (brew := last.record.brew_temp_degc) is not None:
        there = brew - correction.reported(brew)
        known = correction.uncertainty_at(correction.reported(brew))
        told.append(
            f"corrected by {delta(there, unit, 2, sign=True)} at the brew temperature"
            + (f", standard uncertainty {delta(known, unit, 2)}" if known is not None else "")
        )
    if len({one.shot.correction.checked for one in shots}) > 1:
        told.append("checked again between these shots")
    return "; ".join(told)


def _interface_rows(shots: Sequence[TestedShot]) -> list[tuple[str, str]]:
    named = counted(" ".join(_source_words(one)) for one in shots)
    periods = [
        float(np.median(np.diff(one.trace.t_s)))
        for one in shots
        if one.trace is not None and len(one.trace.t_s) > 2
    ]
    rate = span_text([1.0 / period for period in periods if period > 0], 1, "readings a second")
    missing = sum(one.shot.result.readings_missing for one in shots)
    spikes = sum(one.shot.result.spikes_excluded for one in shots)
    left = (
        f"{spikes} left out as spikes, {missing} missing"
        if spikes or missing
        else "none left out, none missing"
    )
    return [("Interface", named), ("Readings", f"{rate}; on the plateaus {left}" if rate else "")]


def _source_words(one: TestedShot) -> list[str]:
    kind = str(one.source.get("kind") or "")
    name = str(one.source.get("name") or "")
    return [
        word
        for word in (name or interface_of(one.source), f"({kind})" if kind and kind != name else "")
        if word
    ]


def _recipes(shots: Sequence[TestedShot], unit: TempUnit) -> list[str]:
    return list(dict.fromkeys(_recipe_text(one.shot.recipe, unit) for one in shots))[:6]


def _recipe_text(recipe: Recipe, unit: TempUnit) -> str:
    band = temp_span(Interval(low=recipe.band_low_degc, high=recipe.band_high_degc), unit, 1)
    return (
        f"brew ratio 1:{recipe.brew_ratio:g} within ±{percent(recipe.brew_ratio_tolerance)} in "
        f"{number(recipe.time_low_s, 0)} to {number(recipe.time_high_s, 0)} s; target band {band}; "
        f"plateau of at least {number(recipe.plateau_min_s, 0)} s"
    )


def _plan_rows(tested: Tested) -> list[tuple[str, str]]:
    rows: list[tuple[str, str]] = []
    known = {status.plan.name.casefold(): status for status in tested.plans}
    for name in dict.fromkeys(one.record.label(PLAN_TAG) for one in tested.shots):
        if not name:
            continue
        pulled = sum(one.record.label(PLAN_TAG) == name for one in tested.shots)
        status = known.get(name.casefold())
        if status is None:
            rows.append(("Test plan", f"{name}: {pulled} shots of this report"))
            continue
        purpose = f" ({status.plan.purpose})" if status.plan.purpose else ""
        rows.append(
            (
                "Test plan",
                f"{name}{purpose}: {status.counted} of {status.plan.count} steps have a shot that counts",
            )
        )
    return rows
