"""What a report says first: the studies' verdicts, or what the shots say by themselves."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from benchtemp.reports.content import Answer
from benchtemp.reports.printable import printable
from benchtemp.reports.tested import Tested, TestedShot
from benchtemp.shots.statistics import mean
from benchtemp.studies.outcome import Study, plural
from benchtemp.studies.statistics.intervals import Interval
from benchtemp.studies.wording import temp, temp_span
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
    return tuple(
        _answer(printable(machine, 60), [one for one in tested.shots if one.record.machine == machine], unit)
        for machine in machines
    )


def _answer(named: str, shots: Sequence[TestedShot], unit: TempUnit) -> Answer:
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
    limits = [_counted_phrase(len(used), len(shots))]
    if len(used) == 1:
        limits.append("± is the expanded uncertainty (k = 2)")
        return Answer(title=machine, sentence=_one(machine, used[0], unit), limits=tuple(limits))
    values = [float(one.shot.result.brew_temp_degc or 0.0) for one in used]
    limits.append("the uncertainty of each shot is in the table")
    inside = sum(
        one.record.band_low_degc <= value <= one.record.band_high_degc
        for one, value in zip(used, values, strict=True)
    )
    share = "all of them" if inside == len(used) else "none of them" if not inside else f"{inside} of them"
    return Answer(
        title=machine,
        sentence=f"{machine} brewed at {temp(mean(np.array(values)), unit, 1)} on average in "
        f"{plural(len(used), 'shot')}, the coolest at {temp(min(values), unit, 1)} and the hottest at "
        f"{temp(max(values), unit, 1)}; {share} inside the target band.",
        limits=tuple(limits),
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
