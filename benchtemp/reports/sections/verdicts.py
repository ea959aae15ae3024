"""What a report says first: the studies' verdicts, or what the shots say by themselves."""

from __future__ import annotations

from collections.abc import Sequence
from math import isfinite

import numpy as np

from benchtemp.reports.content import Answer
from benchtemp.reports.printable import printable
from benchtemp.reports.tested import Tested, TestedShot
from benchtemp.shots.statistics import mean
from benchtemp.studies.concerns import common_uncertainty_k, probe_phrase
from benchtemp.studies.evidence.shot_set import ShotSet
from benchtemp.studies.outcome import Study, plural
from benchtemp.studies.probe_checks import check_phrases, probe_checks
from benchtemp.studies.probe_concerns import proof_concerns
from benchtemp.studies.statistics.intervals import Interval
from benchtemp.studies.wording import delta, temp, temp_span
from benchtemp.units import TempUnit, degc_to, delta_to


def study_answers(studies: Sequence[Study], unit: TempUnit) -> tuple[Answer, ...]:
    """Return the verdicts of studies."""
    found = []
    for study in studies:
        verdict = study.verdict(unit)
        found.append(
            Answer(
                title=study.title, sentence=verdict.sentence, limits=verdict.limits, concerns=verdict.concerns
            )
        )
    return tuple(found)


def plain_answers(tested: Tested, unit: TempUnit) -> tuple[Answer, ...]:
    """Return what the shots say by themselves: one answer for each machine."""
    machines = dict.fromkeys(one.record.machine for one in tested.shots)
    check_days = tested.shot_set.check_days
    return tuple(
        _answer(
            printable(machine, 60),
            [one for one in tested.shots if one.record.machine == machine],
            check_days,
            unit,
        )
        for machine in machines
    )


def _answer(named: str, shots: Sequence[TestedShot], check_days: float, unit: TempUnit) -> Answer:
    machine = named or "The machine"
    used = [one for one in shots if one.used and one.shot.result.brew_temp_degc is not None]
    if not used:
        reasons = next((one.record.reasons for one in shots if one.record.reasons), ())
        why = f" ({'; '.join(reasons)})" if len(shots) == 1 and reasons else ""
        what = "The shot does" if len(shots) == 1 else f"None of the {len(shots)} shots does"
        verb = "not count" if len(shots) == 1 else "count"
        return Answer(
            title=machine,
            sentence=f"{what} {verb}{why}, so nothing can be said of what {named or 'the machine'} brews at.",
            limits=(plural(len(shots), "shot"),),
        )
    measured = ShotSet(used=tuple(one.record for one in used), check_days=check_days)
    proven = check_phrases(probe_checks(measured), unit)
    concerns = tuple(concern.said(unit) for concern in proof_concerns(measured))
    counted = _counted_phrase(len(used), len(shots))
    if len(used) == 1:
        return Answer(
            title=machine,
            sentence=_one(machine, used[0], unit),
            limits=(counted, "± is the expanded uncertainty (k = 2)", *proven),
            concerns=concerns,
        )
    values = [float(one.shot.result.brew_temp_degc or 0.0) for one in used]
    common_k = common_uncertainty_k(measured)
    off_k = 2.0 * common_k if isfinite(common_k) else 0.0
    bands = [(one.record.band_low_degc, one.record.band_high_degc) for one in used]
    inside = sum(low <= value <= high for (low, high), value in zip(bands, values, strict=True))
    share = "all of them" if inside == len(used) else "none of them" if not inside else f"{inside} of them"
    near = any(abs(value - edge) <= off_k for band, value in zip(bands, values, strict=True) for edge in band)
    doubt = f", though the probe's ± {delta(off_k, unit, 1)} reaches across its edge" if near else ""
    return Answer(
        title=machine,
        sentence=f"{machine} brewed at {temp(mean(np.array(values)), unit, 1)} on average in "
        f"{plural(len(used), 'shot')}, the coolest at {temp(min(values), unit, 1)} and the hottest at "
        f"{temp(max(values), unit, 1)}; {share} inside the target band{doubt}.",
        limits=(
            counted,
            probe_phrase(common_k, unit),
            "the uncertainty of each shot is in the table",
            *proven,
        ),
        concerns=concerns,
    )


def _one(machine: str, one: TestedShot, unit: TempUnit) -> str:
    value = float(one.shot.result.brew_temp_degc or 0.0)
    low, high = one.record.band_low_degc, one.record.band_high_degc
    half_k = one.record.expanded_uncertainty_k
    told = f"{degc_to(value, unit):.1f}"
    told += f" ± {delta_to(half_k, unit):.1f} {unit.symbol}" if half_k is not None else f" {unit.symbol}"
    band = temp_span(Interval(low=low, high=high), unit, 1)
    inside = low <= value <= high
    place = "inside" if inside else "below" if value < low else "above"
    doubt = ""
    if half_k is not None:
        reaches = (
            (value - half_k < low or value + half_k > high)
            if inside
            else value - half_k <= high and value + half_k >= low
        )
        if reaches:
            doubt = ", though its uncertainty reaches across the edge"
    return f"{machine} brewed at {told} in this shot, {place} the target band of {band}{doubt}."


def _counted_phrase(used: int, meant: int) -> str:
    return (
        f"{plural(meant, 'shot')}, all of which count"
        if used == meant and meant > 1
        else ("one shot" if meant == 1 else f"{used} of {meant} shots count")
    )
