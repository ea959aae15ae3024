"""What came of a check, as rows and sentences. No widgets."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

from benchtemp.probes.calibration import LEAST_SPREAD_K
from benchtemp.probes.check import Check, when_from
from benchtemp.probes.uncertainty import coverage_factor
from benchtemp.units import MINUS, TempUnit, temp_text
from benchtemp.window.probes_page.texts import BREW_DEGC, correction_text, date_text, error_with, temp_with

if TYPE_CHECKING:
    from benchtemp.probes.bath import BathComparison
    from benchtemp.probes.calibration import CheckPoint
    from benchtemp.probes.probe import Probe

POINT_COLUMNS = ("Probe", "Bath", "Settled at", "Reference", "Error", "Readings")
COMPARISON_COLUMNS = ("Probe", "Settled at", "From their mean", "From the reference")
JOINABLE = timedelta(days=30)
"""How far apart the baths of one line may be: a probe does not stay the same for ever (our choice)."""


def point_row(name: str, point: CheckPoint, unit: TempUnit) -> tuple[str, ...]:
    """Return one bath of a probe as the cells of a row."""
    length = ""
    if point.start_s is not None and point.end_s is not None:
        length = f" in {point.end_s - point.start_s:.0f} s"
    return (
        name,
        str(point.kind),
        temp_text(point.reported_degc, unit, 2),
        temp_with(point.reference_degc, coverage_factor() * point.reference_uncertainty_k, unit),
        error_with(point.error_k, point.expanded_k, unit),
        f"{point.readings}{length}",
    )


def comparison_rows(comparison: BathComparison, unit: TempUnit) -> list[tuple[str, ...]]:
    """Return the probes of one bath as rows."""
    return [
        (
            probe.name,
            temp_text(probe.reported_degc, unit, 2),
            error_with(probe.from_mean_k, probe.from_mean_expanded_k, unit),
            "—"
            if probe.from_reference_k is None
            else error_with(probe.from_reference_k, probe.from_reference_expanded_k, unit),
        )
        for probe in comparison.probes
    ]


def correction_sentence(check: Check, unit: TempUnit) -> str:
    """Return what the check would add to readings from now on."""
    at = temp_text(BREW_DEGC, unit, 0)
    told = f"Correction it asks for, at {at}: {correction_text(check.correction, unit)}"
    if len(check.points) == 1:
        return (
            f"{told}. One bath gives an offset; that the error may change with temperature is in the "
            "uncertainty."
        )
    per_k = f"{1000.0 * check.correction.slope_k_per_k:+.2f}".replace("-", MINUS)
    sure = 2000.0 * check.correction.slope_uncertainty_k_per_k
    how = "a straight line through them" if len(check.points) == 2 else "the line fitted to them"
    return (
        f"{told}. {len(check.points)} points give offset and slope, {how}: {per_k} ± {sure:.2f} mK per K "
        "(k = 2)."
    )


def joinable(probe: Probe | None, check: Check) -> Check | None:
    """Return the earlier check of a probe whose baths may count together with these, None without one.

    It was made lately, in another kind of bath, far enough away for a slope.
    """
    if probe is None or not probe.checks:
        return None
    kinds = {point.kind for point in check.points}
    here = [point.reported_degc for point in check.points]
    for earlier in reversed(probe.checks):
        if when_from(check.checked) - earlier.when > JOINABLE:
            return None
        if len(earlier.points) != 1 or earlier.points[0].kind in kinds:
            continue
        if min(abs(earlier.points[0].reported_degc - value) for value in here) >= LEAST_SPREAD_K:
            return earlier
    return None


def join_text(name: str, earlier: Check) -> str:
    """Return what a button says that lets an earlier bath count too."""
    return f"Count {name}'s {earlier.method} of {date_text(earlier.checked)} too: offset and slope"
