"""Several probes in one bath: each against their mean and against the reference."""

from __future__ import annotations

from collections.abc import Mapping
from math import inf, sqrt

import msgspec

from benchtemp.errors import BadInput
from benchtemp.probes.calibration import COMMONLY_AT_WORST_K, COMMONLY_WITHIN_K
from benchtemp.probes.reference import Reference
from benchtemp.probes.settle import Level
from benchtemp.probes.uncertainty import coverage_factor, effective_dof


class ProbeInBath(msgspec.Struct, frozen=True, kw_only=True):
    """One probe of several in a bath.

    Attributes:
        name: The probe.
        reported_degc: Its settled level, °C.
        from_mean_k: That minus the mean of all probes, K.
        from_mean_expanded_k: Expanded uncertainty of the difference (noise alone: the bath is the same for
            all).
        from_reference_k: Level minus reference, K; None without a reference.
        from_reference_expanded_k: Expanded uncertainty of that, the reference's included.
    """

    name: str
    reported_degc: float
    from_mean_k: float
    from_mean_expanded_k: float
    from_reference_k: float | None
    from_reference_expanded_k: float | None


class BathComparison(msgspec.Struct, frozen=True, kw_only=True):
    """All probes of a bath.

    Attributes:
        probes: In the order given.
        mean_degc: Mean of their levels, °C.
        spread_k: Highest level minus lowest, K.
        reference_degc: Temperature of the bath, None without a reference.
        remark: How the spread compares with what is common.
    """

    probes: tuple[ProbeInBath, ...]
    mean_degc: float
    spread_k: float
    reference_degc: float | None
    remark: str


def compare_in_bath(levels: Mapping[str, Level], reference: Reference | None = None) -> BathComparison:
    """Compare probes that sat in the same bath at the same time.

    Args:
        levels: Settled level of each probe, by name.
        reference: What the bath was, where that is known.

    Raises:
        BadInput: Fewer than two probes, or they did not sit in the bath at the same time.
    """
    if len(levels) < 2:
        raise BadInput("Comparing needs at least two probes in the bath; put another one beside the first.")
    if max(level.start_s for level in levels.values()) >= min(level.end_s for level in levels.values()):
        raise BadInput(
            "The probes did not settle at the same time; put them all into the bath and wait again."
        )
    n = len(levels)
    mean = sum(level.mean.value for level in levels.values()) / n
    variances = {name: level.mean.uncertainty**2 for name, level in levels.items()}
    total = sum(variances.values())
    found = []
    for name, level in levels.items():
        # The mean holds the probe itself with weight 1/n.
        own = (1.0 - 1.0 / n) ** 2 * variances[name]
        others = (total - variances[name]) / n**2
        u = sqrt(own + others)
        dof = effective_dof(u, (sqrt(own),), (level.mean.dof,))
        against_k = against_u = None
        if reference is not None:
            against_k = level.mean.value - reference.temp_degc
            combined = sqrt(variances[name] + reference.uncertainty_k**2)
            against_dof = effective_dof(combined, (level.mean.uncertainty,), (level.mean.dof,))
            against_u = coverage_factor(against_dof) * combined
        found.append(
            ProbeInBath(
                name=name,
                reported_degc=level.mean.value,
                from_mean_k=level.mean.value - mean,
                from_mean_expanded_k=(coverage_factor(dof) if dof < inf else coverage_factor()) * u,
                from_reference_k=against_k,
                from_reference_expanded_k=against_u,
            )
        )
    spread = max(level.mean.value for level in levels.values()) - min(
        level.mean.value for level in levels.values()
    )
    return BathComparison(
        probes=tuple(found),
        mean_degc=mean,
        spread_k=spread,
        reference_degc=None if reference is None else reference.temp_degc,
        remark=_remark(spread),
    )


def _remark(spread_k: float) -> str:
    practice = (
        "inexpensive type K probes usually sit within 0.1 °F (0.06 °C) of each other after a boil check and "
        "0.3 °F (0.17 °C) at worst, as common practice has it"
    )
    if spread_k <= COMMONLY_WITHIN_K:
        return f"The probes agree as well as is usual: {practice}."
    if spread_k <= COMMONLY_AT_WORST_K:
        return f"The probes agree as well as can be asked: {practice}."
    return f"The probes differ by more than is usual, so correct each of them: {practice}."
