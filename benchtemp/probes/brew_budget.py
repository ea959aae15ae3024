"""How far a brew temperature may be from the truth, and how far a difference between two shots.

Source for the rules: JCGM 100:2008. Where a figure rests on judgement the line says "estimate"; all of them
can be given by the caller.
"""

from __future__ import annotations

from typing import NamedTuple

import msgspec

from benchtemp.probes.correction import Correction
from benchtemp.probes.tolerance import ToleranceClass, class_tolerance_k
from benchtemp.probes.type_k import seebeck_mv_per_k
from benchtemp.probes.uncertainty import (
    Budget,
    Contribution,
    Correlation,
    Distribution,
    Kind,
    bounded,
    resolution,
)

NOISE = "noise and plateau"
RESOLUTION = "resolution"
CALIBRATION = "probe calibration"
SLOPE = "probe calibration, slope"
TOLERANCE = "probe tolerance"
DRIFT = "drift since the check"
JUNCTION = "reference junction"
POSITION = "position in the puck"

POSITION_HALF_WIDTH_K = 0.5
"""How far the water around the tip may be from the mean of what meets the coffee (estimate)."""
JUNCTION_CHECKED_HALF_WIDTH_K = 0.2
"""How far the interface's terminals may have moved with the room since the check (estimate)."""
JUNCTION_UNCHECKED_HALF_WIDTH_K = 1.0
"""How far the interface's own measurement of its terminals may be off (estimate; see its data sheet)."""
USUAL_ROOM_DEGC = 25.0


def brew_temp_budget(
    mean_degc: float,
    *,
    shot_uncertainty_k: float,
    shot_dof: float | None = None,
    resolution_k: float | None = None,
    correction: Correction | None = None,
    tolerance_class: ToleranceClass = ToleranceClass.IEC_2,
    drift_half_width_k: float = 0.0,
    drift_seen_k: float = 0.0,
    junction_half_width_k: float | None = None,
    room_degc: float = USUAL_ROOM_DEGC,
    probe: str = "",
    interface: str = "",
    position_half_width_k: float = POSITION_HALF_WIDTH_K,
    position_fixed: bool = True,
) -> Budget:
    """Return the uncertainty budget of a brew temperature.

    Args:
        mean_degc: The brew temperature, corrected, °C.
        shot_uncertainty_k: Standard uncertainty of the mean from the shot's own readings: noise with its
            autocorrelation, quantisation, plateau boundaries (`Result.brew_temp_uncertainty_k`), K.
        shot_dof: Degrees of freedom of that; None for many.
        resolution_k: Step of the interface where it is not in `shot_uncertainty_k` already, K.
        correction: The probe's correction that was applied. None, or one without a known uncertainty, means
            never checked: then the tolerance of its class counts.
        tolerance_class: The probe's class.
        drift_half_width_k: How far the probe may have drifted since the check (`Probe.drift_half_width_k`),
            K.
        drift_seen_k: By how much the checks before and after the shot differ, K; 0 without both. It counts
            where it is more than `drift_half_width_k`.
        junction_half_width_k: How far the reference junction may be off, K; 0.2 for a checked probe (the
            check took in the rest), else 1.
        room_degc: Temperature of the terminals, °C, for how much of that reaches the reading.
        probe: The probe's name; the correction's where not given.
        interface: What tells the interface from others. Lines of two shots with the same probe, check or
            interface cancel in their difference.
        position_half_width_k: How far the tip's surroundings may be from what meets the coffee, K (estimate).
        position_fixed: The probe sits at the same place in every shot, so that its position cancels in
            differences.
    Returns: A budget in °C with lines named as the constants of this module.

    Raises:
        BadInput: A width below 0, or a temperature outside the probe's class.
    """
    named = probe or ("" if correction is None else correction.probe)
    correlations: tuple[Correlation, ...] = ()
    lines = [
        Contribution(
            name=NOISE,
            uncertainty=shot_uncertainty_k,
            dof=shot_dof,
            kind=Kind.A,
            note=f"{_worth(shot_dof)} on the plateau, and its boundaries",
        )
    ]
    if resolution_k is not None:
        lines.append(
            resolution(RESOLUTION, resolution_k, note=f"readings come in steps of {resolution_k:g} °C")
        )
    if correction is None or correction.uncertainty_k is None:
        half_width = class_tolerance_k(mean_degc, tolerance_class)
        lines.append(
            bounded(
                TOLERANCE,
                half_width,
                shared_as=f"probe {named}",
                note=f"never checked: {tolerance_class}, ± {half_width:g} °C",
            )
        )
        junction = JUNCTION_UNCHECKED_HALF_WIDTH_K if junction_half_width_k is None else junction_half_width_k
    else:
        calibration, correlations = _calibration(
            correction, correction.uncertainty_k, mean_degc, f"check of {named}, {correction.checked}"
        )
        lines += calibration
        seen = drift_seen_k > drift_half_width_k
        if drift_half_width_k or seen:
            lines.append(
                bounded(
                    DRIFT,
                    max(drift_half_width_k, drift_seen_k),
                    shared_as=f"check of {named}, {correction.checked}",
                    estimate=not seen,
                    note=f"± {drift_seen_k:.2f} °C between the checks before and after"
                    if seen
                    else "age and history of the check",
                )
            )
        junction = JUNCTION_CHECKED_HALF_WIDTH_K if junction_half_width_k is None else junction_half_width_k
    lines.append(
        bounded(
            JUNCTION,
            junction,
            sensitivity=seebeck_mv_per_k(room_degc) / seebeck_mv_per_k(mean_degc),
            shared_as=f"interface {interface}",
            estimate=True,
            note="the interface's measurement of its own terminals",
        )
    )
    lines.append(
        bounded(
            POSITION,
            position_half_width_k,
            distribution=Distribution.TRIANGULAR,
            shared_as=f"place of {named}" if position_fixed else "",
            estimate=True,
            note="one place in the puck for the whole of it",
        )
    )
    return Budget(
        quantity="brew temperature", value=mean_degc, contributions=tuple(lines), correlations=correlations
    )


def _worth(shot_dof: float | None) -> str:
    return "readings" if shot_dof is None else f"readings worth {shot_dof + 1.0:.0f} independent ones"


def _calibration(
    correction: Correction, offset_u: float, mean_degc: float, shared_as: str
) -> tuple[list[Contribution], tuple[Correlation, ...]]:
    """Return the lines of a correction: its offset, and its slope as far as the shot is from the check."""
    note = f"check of {correction.checked}" if correction.checked else "correction applied"
    centre = correction.reference_degc
    reported_degc = correction.reported(mean_degc)
    lines = [
        Contribution(
            name=CALIBRATION, uncertainty=offset_u, dof=correction.dof, shared_as=shared_as, note=note
        )
    ]
    if not correction.slope_uncertainty_k_per_k:
        return lines, ()
    # A slope of exactly nothing is that of a single bath.
    how = "line through several baths about" if correction.slope_k_per_k else "checked at"
    lines.append(
        Contribution(
            name=SLOPE,
            uncertainty=correction.slope_uncertainty_k_per_k,
            unit="K/K",
            sensitivity=reported_degc - centre,
            dof=correction.dof,
            shared_as=shared_as,
            note=f"{how} {centre:.1f} °C",
        )
    )
    if not correction.offset_slope_correlation:
        return lines, ()
    return lines, (
        Correlation(first=CALIBRATION, second=SLOPE, coefficient=correction.offset_slope_correlation),
    )


class Difference(NamedTuple):
    """A difference between two shots, told both ways.

    Attributes:
        cancelled: With what both shots share left out: right for shots pulled with the same probe.
        independent: As if nothing were shared, for comparison.
    """

    cancelled: Budget
    independent: Budget


_SHOTS = ("first shot", "second shot")


def difference_budget(first: Budget, second: Budget) -> Difference:
    """Return the budget of `second` minus `first`, two brew temperatures.

    With the same probe its calibration, drift, junction and place are wrong by the same error in both and
    cancel (`Contribution.shared_as`); only as far as they weigh differently at the two temperatures does
    something remain. Shots with different probes or checks share less or nothing.
    """
    theirs = {line.name: line for line in second.contributions}
    shared = {
        line.name
        for line in first.contributions
        if line.shared_as and line.name in theirs and theirs[line.name].shared_as == line.shared_as
    }
    apart = [
        msgspec.structs.replace(
            line, name=f"{line.name}, {which}", sensitivity=sign * line.sensitivity, shared_as=""
        )
        for which, sign, budget in zip(_SHOTS, (-1.0, 1.0), (first, second), strict=True)
        for line in budget.contributions
    ]
    together = {f"{name}, {which}" for name in shared for which in _SHOTS}
    remaining = [
        _what_remains(line, theirs[line.name]) for line in first.contributions if line.name in shared
    ]
    ties = [
        Correlation(
            first=f"{tie.first}, {which}", second=f"{tie.second}, {which}", coefficient=tie.coefficient
        )
        for which, budget in zip(_SHOTS, (first, second), strict=True)
        for tie in budget.correlations
    ]
    kept = [tie for tie in ties if not {tie.first, tie.second} & together]
    kept += [tie for tie in second.correlations if {tie.first, tie.second} <= shared]
    whole = Budget(
        quantity="difference of brew temperatures",
        value=second.value - first.value,
        contributions=tuple(apart),
        correlations=tuple(ties),
        unit="K",
    )
    own = [line for line in apart if line.name not in together]
    return Difference(
        cancelled=msgspec.structs.replace(whole, contributions=(*own, *remaining), correlations=tuple(kept)),
        independent=whole,
    )


def _what_remains(first: Contribution, second: Contribution) -> Contribution:
    """Return what is left of a line whose input is wrong by the same error in both shots.

    Only the difference of the sensitivities counts. Where the input's own uncertainty differs (a check that
    has grown older), the difference of what they contribute remains.
    """
    note = f"the same in both shots: {second.note}"
    if first.uncertainty == second.uncertainty:
        return msgspec.structs.replace(second, sensitivity=second.sensitivity - first.sensitivity, note=note)
    remaining = second.sensitivity * second.uncertainty - first.sensitivity * first.uncertainty
    return msgspec.structs.replace(second, uncertainty=abs(remaining), sensitivity=1.0, note=note)
