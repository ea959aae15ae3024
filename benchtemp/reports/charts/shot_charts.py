"""Charts of shots: one trace, many laid over each other, brew temperatures with their uncertainty."""

from __future__ import annotations

from collections.abc import Sequence
from math import isfinite

import numpy as np

from benchtemp.readings.reading import FloatArray
from benchtemp.reports.tested import TestedShot, Trace
from benchtemp.shots.result import Origin
from benchtemp.studies.chart import Axis, Chart, Level, Look, Quantity, Series
from benchtemp.studies.outcome import plural
from benchtemp.studies.wording import delta, temp
from benchtemp.units import TempUnit

TOLD_APART = 8
"""So many lines can be told from each other; of more, all but the first are faint."""
LAID_OVER_AT_MOST = 60
POINTS_OF_ONE = 3000
POINTS_OF_MANY = 400
LEAD_S, TAIL_S = 5.0, 8.0

_SINCE = Axis(quantity=Quantity.TIME_S, title="time since pump on")
_BASKET = Axis(quantity=Quantity.TEMP_DEGC, title="temperature in the basket")


def thinned(t_s: FloatArray, values: FloatArray, at_most: int) -> tuple[FloatArray, FloatArray]:
    """Return fewer points that still show every peak: the lowest and highest of each stretch.

    Args:
        t_s: Times, shape (n,).
        values: Shape (n,); NaN stays, so that a gap is still one.
        at_most: Points wanted at most, roughly.
    """
    if len(t_s) <= at_most:
        return t_s, values
    stretches = np.array_split(np.arange(len(t_s)), max(at_most // 2, 1))
    kept: list[int] = []
    for stretch in stretches:
        part = values[stretch]
        if np.isnan(part).all():
            kept.append(int(stretch[0]))
            continue
        ends = {int(stretch[np.nanargmin(part)]), int(stretch[np.nanargmax(part)])}
        ends.update(int(index) for index in stretch[np.isnan(part)][:1])
        kept.extend(sorted(ends))
    return t_s[kept], values[kept]


def _line(
    name: str, trace: Trace, at_most: int, *, group: int = 0, faint: bool = False, decimals: int = 3
) -> Series:
    t_s, degc = thinned(trace.t_s, trace.degc, at_most)
    return Series(
        name=name,
        look=Look.LINE,
        x=tuple(np.round(t_s, 2).tolist()),
        y=tuple(np.round(degc, decimals).tolist()),
        group=group,
        faint=faint,
    )


def _band(one: TestedShot) -> Level:
    return Level(name="target band", at=one.record.band_low_degc, to=one.record.band_high_degc, faint=True)


def _pump(one: TestedShot, *, off: bool) -> Level | None:
    result = one.shot.result
    source = result.pump_off_source if off else result.pump_on_source
    if off and result.shot_time_s is None:
        return None
    what = f"pump {'off' if off else 'on'}"
    name = what if source is Origin.MARKED else f"{what} (estimated)"
    return Level(name=name, at=(result.shot_time_s or 0.0) if off else 0.0, upright=True, faint=True)


def _plateau(one: TestedShot) -> Level | None:
    result = one.shot.result
    if result.plateau_start_s is None or result.plateau_end_s is None:
        return None
    return Level(
        name="plateau",
        at=result.plateau_start_s - result.pump_on_s,
        to=result.plateau_end_s - result.pump_on_s,
        upright=True,
    )


def shot_chart(one: TestedShot, unit: TempUnit = TempUnit.DEGC) -> Chart | None:
    """Return the trace of one shot with its plateau and pump times; None where there is no trace."""
    if one.trace is None:
        return None
    result = one.shot.result
    ends_s = max((result.shot_time_s or 0.0), result.plateau_s) + TAIL_S
    trace = one.trace.between(-LEAD_S, ends_s)
    levels = [_band(one), _plateau(one), _pump(one, off=False), _pump(one, off=True)]
    said = f"Temperature in the basket during {one.name}"
    if result.brew_temp_degc is not None and result.time_to_plateau_s is not None:
        said += (
            f": on the plateau {result.time_to_plateau_s:.1f} s after pump on, for "
            f"{result.plateau_s:.1f} s, at {temp(result.brew_temp_degc, unit, 2)} on average"
        )
    else:
        said += ": no plateau was found"
    return Chart(
        title=f"Trace of {one.name}",
        summary=f"{said}.",
        x=_SINCE,
        y=_BASKET,
        series=(_line("temperature", trace, POINTS_OF_ONE),),
        levels=tuple(level for level in levels if level is not None),
    )


def plateau_chart(one: TestedShot, unit: TempUnit = TempUnit.DEGC) -> Chart | None:
    """Return the plateau of one shot enlarged; None where there is none."""
    result, plateau = one.shot.result, _plateau(one)
    if one.trace is None or plateau is None or plateau.to is None or result.brew_temp_degc is None:
        return None
    trace = one.trace.between(plateau.at, plateau.to)
    if len(trace.t_s) < 3:
        return None
    spread = (
        f"{delta(result.sd_k, unit)} standard deviation, {temp(result.lowest_degc, unit, 2)} to "
        f"{temp(result.highest_degc, unit, 2)}"
    )
    return Chart(
        title="Its plateau",
        summary=f"The same temperature over the plateau only: {spread}.",
        x=_SINCE,
        y=_BASKET,
        series=(_line("temperature", trace, POINTS_OF_ONE),),
        levels=(_band(one), Level(name="brew temperature", at=result.brew_temp_degc)),
    )


def overlay_chart(
    shots: Sequence[TestedShot], *, title: str = "All shots laid over each other"
) -> Chart | None:
    """Return the traces of several shots since pump on; those that do not count are faint.

    None where fewer than two shots have a trace.
    """
    traced = [one for one in shots if one.trace is not None]
    if len(traced) < 2:
        return None
    ends_s = max(
        one.shot.result.shot_time_s or one.shot.result.plateau_s for one in traced[:LAID_OVER_AT_MOST]
    )
    return _laid_over(
        traced,
        {
            one.record.path: one.trace.between(-LEAD_S, ends_s + TAIL_S)
            for one in traced
            if one.trace is not None
        },
        title=title,
        about="Temperature in the basket of",
    )


def plateaus_chart(shots: Sequence[TestedShot]) -> Chart | None:
    """Return only the plateaus of several shots laid over each other, so that small differences show."""
    parts: dict[str, Trace] = {}
    for one in shots:
        plateau = _plateau(one)
        if one.trace is not None and plateau is not None and plateau.to is not None:
            parts[one.record.path] = one.trace.between(plateau.at, plateau.to)
    traced = [one for one in shots if one.record.path in parts and len(parts[one.record.path].t_s) > 2]
    if len(traced) < 2:
        return None
    return _laid_over(traced, parts, title="Their plateaus alone", about="The plateaus of")


def _laid_over(traced: Sequence[TestedShot], parts: dict[str, Trace], *, title: str, about: str) -> Chart:
    shown = traced[:LAID_OVER_AT_MOST]
    counting = [one for one in shown if one.used] or list(shown)
    told_apart = len(counting) <= TOLD_APART
    points = POINTS_OF_ONE // 3 if len(shown) <= TOLD_APART else POINTS_OF_MANY
    machines = list(dict.fromkeys(one.record.machine or "machine not named" for one in counting))
    series: list[Series] = []
    for one in shown:
        trace = parts[one.record.path]
        if one not in counting:
            series.insert(0, _line("does not count", trace, points, faint=True, decimals=2))
        elif told_apart:
            group = counting.index(one)
            series.append(_line(_short_name(one, shown), trace, points, group=group, decimals=2))
        else:
            machine = one.record.machine or "machine not named"
            name = machine if len(machines) > 1 else "shots"
            series.append(_line(name, trace, points, group=machines.index(machine), decimals=2))
    count = plural(len(shown), "shot")
    which = count if len(traced) == len(shown) else f"the first {len(shown)} of {len(traced)} shots"
    summary = f"{about} {which}, time counted from pump on."
    bands = {(one.record.band_low_degc, one.record.band_high_degc) for one in shown}
    levels = [_band(shown[0])] if len(bands) == 1 else []
    return Chart(
        title=title, summary=summary, x=_SINCE, y=_BASKET, series=tuple(series), levels=tuple(levels)
    )


def _short_name(one: TestedShot, among: Sequence[TestedShot]) -> str:
    """Return a name with no more in it than tells this shot from the others."""
    record = one.record
    days = {other.record.date for other in among}
    machine = f"{record.machine}, " if len({other.record.machine for other in among}) > 1 else ""
    when = record.pulled[11:16] if len(days) == 1 else record.pulled[:16].replace("T", " ")
    name = f"{machine}{when} shot {record.number}"
    same = [
        other
        for other in among
        if other.record.name == record.name and other.record.machine == record.machine
    ]
    return f"{name} ({one.file})" if len(same) > 1 else name.strip()


def brew_chart(shots: Sequence[TestedShot], unit: TempUnit = TempUnit.DEGC) -> Chart | None:
    """Return every shot's brew temperature with its expanded uncertainty, in order of time.

    None where fewer than two shots have one.
    """
    known = [(place, one) for place, one in enumerate(shots, 1) if one.shot.result.brew_temp_degc is not None]
    if len(known) < 2:
        return None
    parts = (
        ("counts", 0, [pair for pair in known if pair[1].used]),
        ("does not count", 1, [pair for pair in known if not pair[1].used]),
    )
    series: list[Series] = []
    for name, group, part in parts:
        if not part:
            continue
        values = [float(one.shot.result.brew_temp_degc or np.nan) for _, one in part]
        halves = [_half_width(one) for _, one in part]
        series.append(
            Series(
                name=name,
                look=Look.INTERVALS,
                x=tuple(float(place) for place, _ in part),
                y=tuple(values),
                low=tuple(value - half for value, half in zip(values, halves, strict=True)),
                high=tuple(value + half for value, half in zip(values, halves, strict=True)),
                labels=tuple(one.name for _, one in part),
                group=group,
            )
        )
    bands = {(one.record.band_low_degc, one.record.band_high_degc) for one in shots}
    temps = [float(one.shot.result.brew_temp_degc or np.nan) for _, one in known]
    return Chart(
        title="Brew temperatures",
        summary=f"Brew temperature of each shot in order of time, {temp(min(temps), unit, 1)} to "
        f"{temp(max(temps), unit, 1)}; bars are the expanded uncertainty (k = 2), most of which shots "
        "with the same probe have in common, so it does not blur the differences between them.",
        x=Axis(quantity=Quantity.SHOT, title="shot, in order of time"),
        y=Axis(quantity=Quantity.TEMP_DEGC, title="brew temperature"),
        series=tuple(series),
        levels=(_band(shots[0]),) if len(bands) == 1 else (),
    )


def _half_width(one: TestedShot) -> float:
    half_k = one.record.expanded_uncertainty_k
    return half_k if half_k is not None and isfinite(half_k) else 0.0
