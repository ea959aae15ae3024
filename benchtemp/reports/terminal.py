"""Shots and live readings as text for a terminal."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import isfinite

from benchtemp.bench import (
    Event,
    MarkTaken,
    PullDismissed,
    Refused,
    ShotEnded,
    ShotRevised,
    ShotSettled,
    ShotWithdrawn,
    StageChanged,
    StatusChanged,
)
from benchtemp.probes.correction import Correction
from benchtemp.readings.reading import MarkKind
from benchtemp.shots.shot import Shot
from benchtemp.units import MINUS, TempUnit, degc_to, delta_to, temp_text

_BARS = "▁▂▃▄▅▆▇█"
_ASCII_BARS = "_.-=+*#%"
TRACE_LOW_DEGC, TRACE_HIGH_DEGC = 60.0, 100.0


def trace_line(temps_degc: Sequence[float], *, unicode: bool = True) -> str:
    """Return recent temperatures as small bars from 60 to 100 °C, a space where there is none."""
    bars = _BARS if unicode else _ASCII_BARS
    span_k = TRACE_HIGH_DEGC - TRACE_LOW_DEGC
    drawn = []
    for temp_degc in temps_degc:
        if not isfinite(temp_degc):
            drawn.append(" ")
            continue
        share = min(max((temp_degc - TRACE_LOW_DEGC) / span_k, 0.0), 0.999)
        drawn.append(bars[int(share * len(bars))])
    return "".join(drawn)


def shot_line(shot: Shot, unit: TempUnit = TempUnit.DEGC) -> str:
    """Return one shot in one line: what it brewed at, how steady, and whether it counts (of a full cup)."""
    result = shot.result
    name = "flush" if shot.is_flush else f"shot {shot.number}"
    parts = [f"{name}: {temp_text(result.brew_temp_degc, unit, 2)}"]
    if shot.brew_temp_expanded_uncertainty_k is not None:
        parts[0] += f" ± {delta_to(shot.brew_temp_expanded_uncertainty_k, unit):.2f}"
    if result.sd_k is not None:
        parts.append(f"sd {delta_to(result.sd_k, unit):.2f}")
    if result.plateau_s:
        parts.append(f"plateau {result.plateau_s:.1f} s")
    if result.shot_time_s is not None:
        parts.append(f"ran {result.shot_time_s:.1f} s ({result.pump_off_source})")
    if shot.brew_ratio is not None:
        parts.append(f"1:{shot.brew_ratio:.2f}" + (" so far" if shot.filling else ""))
    if not shot.filling:
        parts.append("counts" if shot.counts else "does not count: " + "; ".join(shot.reasons))
    return ", ".join(parts)


def correction_text(correction: Correction, unit: TempUnit = TempUnit.DEGC) -> str:
    """Return which probe and which of its checks temperatures rest on, in a few words."""
    name = correction.probe or "not named"
    if correction.uncertainty_k is None and not correction.checked:
        given = correction.offset_k or correction.slope_k_per_k
        return f"{name}, never checked, {'correction given' if given else 'temperatures as reported'}"
    at_degc = 93.0
    added = f"{delta_to(correction.apply(at_degc) - at_degc, unit):+.2f}".replace("-", MINUS)
    when = correction.checked[:10] or "at an unknown date"
    return f"{name}, checked {when}, corrected by {added} {unit.symbol} at {temp_text(at_degc, unit)}"


_COLUMNS = (
    "shot",
    "brew",
    "±",
    "sd",
    "range",
    "drift/min",
    "to plateau",
    "plateau",
    "time",
    "ratio",
    "in band",
    "counts",
)


def shots_table(shots: Iterable[Shot], unit: TempUnit = TempUnit.DEGC) -> list[str]:
    """Return the shots as the lines of a table, its heading first; empty without shots."""
    rows = [_row(shot, unit) for shot in shots]
    if not rows:
        return []
    heading = [
        name if index not in {1, 2, 3, 4, 5} else f"{name} {unit.symbol}"
        for index, name in enumerate(_COLUMNS)
    ]
    widths = [max(len(row[column]) for row in [heading, *rows]) for column in range(len(heading))]
    last = len(heading) - 1
    return [
        "  ".join(
            cell.ljust(width) if column == last else cell.rjust(width)
            for column, (cell, width) in enumerate(zip(row, widths, strict=True))
        ).rstrip()
        for row in [heading, *rows]
    ]


def _row(shot: Shot, unit: TempUnit) -> list[str]:
    result = shot.result

    def text(value: float | None, decimals: int, after: str = "") -> str:
        return "—" if value is None else f"{value:.{decimals}f}{after}"

    def delta(value: float | None, decimals: int) -> str:
        return text(None if value is None else delta_to(value, unit), decimals)

    range_k = None
    if result.highest_degc is not None and result.lowest_degc is not None:
        range_k = result.highest_degc - result.lowest_degc
    return [
        "flush" if shot.is_flush else str(shot.number),
        text(None if result.brew_temp_degc is None else degc_to(result.brew_temp_degc, unit), 2),
        delta(shot.brew_temp_expanded_uncertainty_k, 2),
        delta(result.sd_k, 2),
        delta(range_k, 2),
        delta(None if result.drift_k_per_s is None else result.drift_k_per_s * 60, 2),
        text(result.time_to_plateau_s, 1, " s"),
        text(result.plateau_s or None, 1, " s"),
        text(result.shot_time_s, 1, " s"),
        "—" if shot.brew_ratio is None else f"1:{shot.brew_ratio:.2f}",
        text(None if result.in_band_share is None else 100 * result.in_band_share, 0, " %"),
        "yes" if shot.counts else "no: " + "; ".join(shot.reasons),
    ]


def event_lines(event: Event, unit: TempUnit = TempUnit.DEGC) -> list[str]:
    """Return an event of the engine as text for a person, nothing where it is of no interest."""
    match event:
        case StageChanged(change):
            reason = f" ({change.reason})" if change.reason else ""
            return [f"{change.since_s:9.1f} s  {change.stage}{reason}"]
        case ShotEnded(shot) | ShotRevised(shot) | ShotSettled(shot):
            return [f"{'':11}  {shot_line(shot, unit)}"]
        case ShotWithdrawn(shot):
            return [f"{'':11}  shot {shot.number} goes on: its pump off was taken back"]
        case PullDismissed(t_s, reason):
            return [f"{t_s:9.1f} s  not a shot: {reason}"]
        case MarkTaken(mark) if mark.kind is not MarkKind.SET:
            return [f"{mark.t_s:9.1f} s  mark: {mark}"]
        case Refused(t_s, reason):
            return [f"{t_s:9.1f} s  {reason}"]
        case StatusChanged(t_s, _, text) if text:
            return [f"{t_s:9.1f} s  {text}"]
        case _:
            return []
