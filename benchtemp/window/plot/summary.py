"""The trace in words, for those who do not see it. Pure."""

from __future__ import annotations

from typing import TYPE_CHECKING

from benchtemp.readings.reading import MarkKind
from benchtemp.shots.stages import Stage
from benchtemp.units import TempUnit, degc_to, temp_text

if TYPE_CHECKING:
    from benchtemp.bench.snapshot import Snapshot
    from benchtemp.shots.shot import Shot


def band_text(low_degc: float, high_degc: float, unit: TempUnit) -> str:
    """Return the target band for reading, such as `90.5–96.0 °C`."""
    return f"{degc_to(low_degc, unit):.1f}–{degc_to(high_degc, unit):.1f} {unit.symbol}"


def trace_summary(
    snapshot: Snapshot | None, unit: TempUnit, shown: Shot | None = None, *, results: bool = True
) -> str:
    """Return what the plot shows, as sentences.

    Args:
        snapshot: None when no source is open.
        unit: The unit shown.
        shown: A past shot that was chosen for the plot, None while the live trace is followed.
        results: Whether what was read out of the trace may be told: stage, plateau, brew temperature.
    """
    if snapshot is None or not len(snapshot.trace.t_s):
        return "The temperature trace is empty."
    if shown is not None and results:
        return _shot_summary(shown, unit)
    sentences = []
    if snapshot.stale:
        sentences.append("There is no present reading.")
    else:
        temps = zip(snapshot.channels, snapshot.temps_degc, strict=False)
        sentences.append("Now " + ", ".join(f"{name} {temp_text(temp, unit)}" for name, temp in temps) + ".")
    if results:
        sentences.append(f"Stage {snapshot.stage}.")
    pulling = snapshot.stage in {Stage.RISING, Stage.PLATEAU} and (results or snapshot.pump_marked)
    if pulling and snapshot.pump_on_s is not None:
        sentences.append(f"{max(0.0, snapshot.now_s - snapshot.pump_on_s):.0f} s since pump on.")
    if results and snapshot.stage is Stage.PLATEAU and snapshot.running_brew_degc is not None:
        sentences.append(f"Mean of the plateau so far {temp_text(snapshot.running_brew_degc, unit)}.")
    recipe = snapshot.recipe
    sentences.append(f"Target band {band_text(recipe.band_low_degc, recipe.band_high_degc, unit)}.")
    notes = [mark.text for mark in snapshot.marks if mark.kind is MarkKind.NOTE]
    if notes:
        sentences.append(f"Last note: {notes[-1]}.")
    return " ".join(sentences)


def _shot_summary(shot: Shot, unit: TempUnit) -> str:
    result = shot.result
    name = "A flush" if shot.is_flush else f"Shot {shot.number}"
    if result.brew_temp_degc is None:
        return f"{name}, without a plateau. {'; '.join(shot.reasons)}."
    text = (
        f"{name}: brew temperature {temp_text(result.brew_temp_degc, unit)}, "
        f"from {temp_text(result.lowest_degc, unit)} to {temp_text(result.highest_degc, unit)}"
    )
    if result.time_to_plateau_s is not None:
        text += f", plateau reached after {result.time_to_plateau_s:.1f} s"
    return text + "."
