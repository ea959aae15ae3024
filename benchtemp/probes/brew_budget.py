"""How far a brew temperature may be from the truth, and how far a difference between two shots.

Source for the rules: JCGM 100:2008. Where a figure rests on judgement the line says "estimate"; all of them
can be given by the caller.
"""

from __future__ import annotations

from typing import NamedTuple

import msgspec

from benchtemp.errors import BadInput
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
    junction_half_width_k: float | None = None,
    room_degc: float = USUAL_ROOM_DEGC,
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
        junction_half_width_k: How far the reference junction may be off, K; 0.2 for a checked probe (the
            check took in the rest), else 1.
        room_degc: Temperature of the terminals, °C, for how much of that reaches the reading.
        position_half_width_k: How far the tip's surroundings may be from what meets the coffee, K (estimate).
        position_fixed: The probe sits at the same place in every shot, so that its position cancels in
            differences.
    Returns: A budget in °C with lines named as the constants of this module.

    Raises:
        BadInput: A width below 0, or a temperature outside the probe's class.
    """
    correlations: tuple[Correlation, ...] = ()
    lines = [
        Contribution(
            name=NOISE,
            uncertainty=shot_uncertainty_k,
            dof=shot_dof,
            kind=Kind.A,
            note="readings on the plateau and its boundaries",
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
                common=True,
                note=f"never checked: {tolerance_class}, ± {half_width:g} °C",
            )
        )
        junction = JUNCTION_UNCHECKED_HALF_WIDTH_K if junction_half_width_k is None else junction_half_width_k
    else:
        calibration, correlations = _calibration(correction, correction.uncertainty_k, mean_degc)
        lines += calibration
        if drift_half_width_k:
            lines.append(
                bounded(
                    DRIFT, drift_half_width_k, common=True, estimate=True, note="age and history of the check"
                )
            )
        junction = JUNCTION_CHECKED_HALF_WIDTH_K if junction_half_width_k is None else junction_half_width_k
    lines.append(
        bounded(
            JUNCTION,
            junction,
            sensitivity=seebeck_mv_per_k(room_degc) / seebeck_mv_per_k(mean_degc),
            common=True,
            estimate=True,
            note="the interface's measurement of its own terminals",
        )
    )
    lines.append(
        bounded(
            POSITION,
            position_half_width_k,
            distribution=Distribution.TRIANGULAR,
            common=position_fixed,
            estimate=True,
            note="one place in the puck for the whole of it",
        )
    )
    return Budget(
        quantity="brew temperature", value=mean_degc, contributions=tuple(lines), correlations=correlations
    )


def _calibration(
    correction: Correction, offset_u: float, mean_degc: float
) -> tuple[list[Contribution], tuple[Correlation, ...]]:
    """Return the lines of a correction: its offset, and its slope as far as the shot is from the check."""
    note = f"check of {correction.checked}" if correction.checked else "correction applied"
    centre = correction.reference_degc
    reported_degc = (mean_degc - correction.offset_k + correction.slope_k_per_k * centre) / (
        1.0 + correction.slope_k_per_k
    )
    lines = [Contribution(name=CALIBRATION, uncertainty=offset_u, dof=correction.dof, common=True, note=note)]
    if not correction.slope_uncertainty_k_per_k:
        return lines, ()
    lines.append(
        Contribution(
            name=SLOPE,
            uncertainty=correction.slope_uncertainty_k_per_k,
            unit="K/K",
            sensitivity=reported_degc - centre,
            dof=correction.dof,
            common=True,
            note=f"checked at {centre:.1f} °C",
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
        independent: As if nothing were shared: right for different probes.
    """

    cancelled: Budget
    independent: Budget


def difference_budget(first: Budget, second: Budget) -> Difference:
    """Return the budget of `second` minus `first`, two brew temperatures.

    With the same probe its calibration, drift, junction and place are wrong by the same amount in both and
    cancel; only as far as they weigh differently at the two temperatures does something remain.

    Raises:
        BadInput: The shots' common lines are not the same ones, so that nothing can cancel between them.
    """
    quantity = "difference of brew temperatures"
    value = second.value - first.value
    mine = {line.name: line for line in first.contributions}
    theirs = {line.name: line for line in second.contributions}
    if {name for name, line in mine.items() if line.common} != {
        name for name, line in theirs.items() if line.common
    }:
        raise BadInput(
            "The two shots do not share the same probe and check, so their common uncertainties do not "
            "cancel; "
            "compare them as shots of different probes."
        )
    own: list[Contribution] = []
    shared: list[Contribution] = []
    apart: list[Contribution] = []
    for name in (*mine, *(name for name in theirs if name not in mine)):
        for which, sign, line in (
            ("first shot", -1.0, mine.get(name)),
            ("second shot", 1.0, theirs.get(name)),
        ):
            if line is not None:
                renamed = msgspec.structs.replace(
                    line, name=f"{name}, {which}", sensitivity=sign * line.sensitivity, common=False
                )
                (apart if line.common else own).append(renamed)
        if name in mine and mine[name].common:
            shared.append(_what_remains(mine[name], theirs[name]))
    each = tuple(
        Correlation(
            first=f"{pair.first}, {which}", second=f"{pair.second}, {which}", coefficient=pair.coefficient
        )
        for which, budget in (("first shot", first), ("second shot", second))
        for pair in budget.correlations
    )
    return Difference(
        cancelled=Budget(
            quantity=quantity,
            value=value,
            contributions=(*own, *shared),
            correlations=second.correlations,
            unit="K",
        ),
        independent=Budget(
            quantity=quantity, value=value, contributions=(*own, *apart), correlations=each, unit="K"
        ),
    )


def _what_remains(first: Contribution, second: Contribution) -> Contribution:
    """Return what is left of a line whose input is wrong by the same amount in both shots.

    The input's error is one and the same, so only the difference of the sensitivities counts. Where the
    input's own uncertainty differs (a check that has grown older), the difference of what they contribute
    remains.
    """
    note = f"the same in both shots: {second.note}"
    if first.uncertainty == second.uncertainty:
        return msgspec.structs.replace(second, sensitivity=second.sensitivity - first.sensitivity, note=note)
    remaining = second.sensitivity * second.uncertainty - first.sensitivity * first.uncertainty
    return msgspec.structs.replace(second, uncertainty=abs(remaining), sensitivity=1.0, note=note)
