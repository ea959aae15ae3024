"""From points of a check to the correction: one point an offset, two a line, more a fitted line."""

from __future__ import annotations

from collections.abc import Sequence
from math import isfinite, sqrt
from typing import NamedTuple

import msgspec
import numpy as np

from benchtemp.errors import BadInput
from benchtemp.probes.correction import Correction
from benchtemp.probes.line_fit import LineFit, fit_line
from benchtemp.probes.reference import Reference, ReferenceKind
from benchtemp.probes.settle import Level
from benchtemp.probes.uncertainty import TWO_SIGMA_LEVEL, coverage_factor, effective_dof

SLOPE_BOUND = 0.0075
"""How far a probe's error may change with temperature, as a share: that of IEC class 2."""
LEAST_SPREAD_K = 2.0
"""Points closer together than this say nothing about a slope."""

COMMONLY_WITHIN_K = 0.1 / 1.8
COMMONLY_AT_WORST_K = 0.3 / 1.8
"""Inexpensive type K probes usually sit within 0.1 °F of each other after a boil check and within 0.3 °F at
worst (common practice, no published source)."""


class CheckPoint(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True):
    """One bath of a check: what the probe reported and what the bath was.

    Attributes:
        reported_degc: Settled level as reported, before any correction, °C.
        reported_uncertainty_k: Its type A standard uncertainty, K.
        reported_dof: Degrees of freedom of that; None for as good as known exactly.
        reference_degc: Temperature of the bath, °C.
        reference_uncertainty_k: Its standard uncertainty, K.
        kind: What gave the known temperature.
        readings: How many readings the level rests on.
        sd_k: Standard deviation of single readings.
        lowest_degc, highest_degc: Of those readings.
        start_s, end_s: Where they stand in the recording.
    """

    reported_degc: float
    reference_degc: float
    reported_uncertainty_k: float = 0.0
    reported_dof: float | None = None
    reference_uncertainty_k: float = 0.0
    kind: ReferenceKind = ReferenceKind.BOILING
    readings: int = 0
    sd_k: float = 0.0
    lowest_degc: float | None = None
    highest_degc: float | None = None
    start_s: float | None = None
    end_s: float | None = None

    def __post_init__(self) -> None:
        if not (isfinite(self.reported_degc) and isfinite(self.reference_degc)):
            raise BadInput("A point of a check has no temperature; take the point again.")

    @property
    def error_k(self) -> float:
        """Return reported minus reference, K."""
        return self.reported_degc - self.reference_degc

    @property
    def uncertainty_k(self) -> float:
        """Return the standard uncertainty of the error, K."""
        return sqrt(self.reported_uncertainty_k**2 + self.reference_uncertainty_k**2)

    @property
    def dof(self) -> float:
        """Return the effective degrees of freedom of that."""
        return effective_dof(
            self.uncertainty_k,
            (self.reported_uncertainty_k, self.reference_uncertainty_k),
            (self.reported_dof, None),
        )

    @property
    def expanded_k(self) -> float:
        """Return the expanded uncertainty of the error, K."""
        return coverage_factor(self.dof) * self.uncertainty_k


FARTHEST_FROM_BATH_K = 5.0
"""A probe further off than this from its bath is not in it, or the bath is not what it is taken for."""


def point_from(level: Level, reference: Reference) -> CheckPoint:
    """Return the point a settled bath gives.

    Raises:
        BadInput: The level is so far from the reference that the bath cannot be what it is taken for.
    """
    reported_degc = level.mean.value
    if abs(reported_degc - reference.temp_degc) > FARTHEST_FROM_BATH_K:
        if reference.kind is ReferenceKind.BOILING:
            cure = "bring it to a rolling boil with the tip in the water, and check the pressure or altitude"
        elif reference.kind is ReferenceKind.ICE:
            cure = "pack it with crushed ice, put the tip among it and wait"
        else:
            cure = "put the probe right beside the thermometer, and check its reading"
        raise BadInput(
            f"The probe settled at {reported_degc:.1f} °C, but the {reference.kind} should be at "
            f"{reference.temp_degc:.1f} °C; {cure}."
        )
    return CheckPoint(
        reported_degc=reported_degc,
        reported_uncertainty_k=level.mean.uncertainty,
        reported_dof=_finite(level.mean.dof),
        reference_degc=reference.temp_degc,
        reference_uncertainty_k=reference.uncertainty_k,
        kind=reference.kind,
        readings=level.mean.readings,
        sd_k=level.mean.sd,
        lowest_degc=level.lowest_degc,
        highest_degc=level.highest_degc,
        start_s=level.start_s,
        end_s=level.end_s,
    )


class Verdict(NamedTuple):
    """Whether a probe keeps to a limit.

    Attributes:
        passed: The error is within the limit.
        certain: The uncertainty does not reach across the limit; where it does, the verdict may go either
            way.
        error_k: Error that was judged (reported minus reference), K.
        expanded_k: Its expanded uncertainty, K.
        limit_k: The limit.
    """

    passed: bool
    certain: bool
    error_k: float
    expanded_k: float
    limit_k: float


def judge(points: Sequence[CheckPoint], limit_k: float) -> Verdict:
    """Hold the worst point of a check to a limit.

    Raises:
        BadInput: No points, or a limit that is not above 0.
    """
    if not points:
        raise BadInput("A check without a point cannot be judged; put the probe into a bath first.")
    if not limit_k > 0.0:
        raise BadInput(
            f"A limit of {limit_k:g} °C cannot be; give how far the probe may be off, such as 0.5."
        )
    worst = max(points, key=lambda point: abs(point.error_k))
    away_k = abs(worst.error_k)
    return Verdict(
        passed=away_k <= limit_k,
        certain=abs(away_k - limit_k) >= worst.expanded_k,
        error_k=worst.error_k,
        expanded_k=worst.expanded_k,
        limit_k=limit_k,
    )


def correction_from(
    points: Sequence[CheckPoint],
    *,
    probe: str = "",
    checked: str = "",
    centre_degc: float | None = None,
    slope_bound: float = SLOPE_BOUND,
) -> Correction:
    """Return the correction a check asks for, with its uncertainty at any temperature.

    One point gives an offset; that the error may change with temperature goes into the uncertainty as a slope
    within ± `slope_bound` (estimate). Two points give offset and slope, their uncertainty by propagation.
    More give the least-squares line with the covariance of its scatter (JCGM 100:2008, Annex H.3); what the
    references are uncertain by is added to the offset as common to all points, because their scatter is in
    the line's already.

    Args:
        points: The baths.
        probe: Name of the probe, kept with the correction.
        checked: When, kept with the correction.
        centre_degc: Reported temperature about which the line is written; the points' mean where not given.
        slope_bound: For a single point, K per K.

    Raises:
        BadInput: No points, or several too close together for a slope.
    """
    if not points:
        raise BadInput("A check without a point gives no correction; put the probe into a bath first.")
    reported = np.array([point.reported_degc for point in points])
    corrections = np.array([-point.error_k for point in points])
    if len(points) > 1 and float(np.ptp(reported)) < LEAST_SPREAD_K:
        raise BadInput(
            f"The points lie within {float(np.ptp(reported)):.1f} °C, too close for a slope; take one of "
            "them alone, or one in ice and one in boiling water."
        )
    centre = float(reported.mean()) if centre_degc is None else centre_degc
    if len(points) == 1:
        away_k = centre - points[0].reported_degc
        slope_u = slope_bound / sqrt(3.0)
        u = sqrt(points[0].uncertainty_k ** 2 + (slope_u * away_k) ** 2)
        return Correction(
            probe=probe,
            checked=checked,
            offset_k=-points[0].error_k,
            reference_degc=centre,
            uncertainty_k=u,
            slope_uncertainty_k_per_k=slope_u,
            offset_slope_correlation=slope_u * away_k / u if u else 0.0,
            dof=_finite(effective_dof(u, (points[0].uncertainty_k,), (points[0].dof,))),
        )
    if len(points) == 2:
        return _through_two(points, probe, checked, centre)
    fit = fit_line(reported, corrections, centre)
    return _from_fit(fit, points, probe, checked)


def _finite(dof: float) -> float | None:
    return dof if isfinite(dof) else None


def _through_two(points: Sequence[CheckPoint], probe: str, checked: str, centre: float) -> Correction:
    """Return the line through two points; offset and slope as weighted sums of the two corrections."""
    first, second = points
    apart = second.reported_degc - first.reported_degc
    weight = (centre - first.reported_degc) / apart
    offset_weights = (1.0 - weight, weight)
    slope_weights = (-1.0 / apart, 1.0 / apart)
    us = (first.uncertainty_k, second.uncertainty_k)
    shares = tuple(abs(w) * u for w, u in zip(offset_weights, us, strict=True))
    offset_u = sqrt(sum(share**2 for share in shares))
    slope_u = sqrt(sum((w * u) ** 2 for w, u in zip(slope_weights, us, strict=True)))
    covariance = sum(a * b * u * u for a, b, u in zip(offset_weights, slope_weights, us, strict=True))
    return Correction(
        probe=probe,
        checked=checked,
        offset_k=-(offset_weights[0] * first.error_k + offset_weights[1] * second.error_k),
        slope_k_per_k=(first.error_k - second.error_k) / apart,
        reference_degc=centre,
        uncertainty_k=offset_u,
        slope_uncertainty_k_per_k=slope_u,
        offset_slope_correlation=covariance / (offset_u * slope_u) if offset_u and slope_u else 0.0,
        dof=_finite(effective_dof(offset_u, shares, (first.dof, second.dof))),
    )


def _from_fit(fit: LineFit, points: Sequence[CheckPoint], probe: str, checked: str) -> Correction:
    """Return a fitted line with the references' common uncertainty added to its offset."""
    common = sqrt(sum(point.reference_uncertainty_k**2 for point in points) / len(points))
    offset_u = sqrt(fit.offset_uncertainty**2 + common**2)
    return Correction(
        probe=probe,
        checked=checked,
        offset_k=fit.offset,
        slope_k_per_k=fit.slope,
        reference_degc=fit.centre,
        uncertainty_k=offset_u,
        slope_uncertainty_k_per_k=fit.slope_uncertainty,
        # Only the fit's own share of the offset goes together with the slope.
        offset_slope_correlation=fit.correlation * fit.offset_uncertainty / offset_u if offset_u else 0.0,
        dof=_finite(effective_dof(offset_u, (fit.offset_uncertainty,), (float(fit.dof),))),
    )


def same_correction(first: Correction, second: Correction, reported_degc: float) -> bool:
    """Return whether two corrections agree at a temperature within their combined expanded uncertainty.

    A correction whose uncertainty is unknown agrees with nothing.
    """
    us = (first.uncertainty_at(reported_degc), second.uncertainty_at(reported_degc))
    if us[0] is None or us[1] is None:
        return False
    apart = abs(first.apply(reported_degc) - second.apply(reported_degc))
    combined = sqrt(us[0] ** 2 + us[1] ** 2)
    dof = effective_dof(combined, (us[0], us[1]), (first.dof, second.dof))
    return apart <= coverage_factor(dof, TWO_SIGMA_LEVEL) * combined
