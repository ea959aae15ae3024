"""What of its probes can speak against any study: mixed, unproven, proven long ago, or moved since."""

from __future__ import annotations

from collections.abc import Sequence

from benchtemp.errors import BadInput
from benchtemp.probes.tolerance import ToleranceClass, class_tolerance_k
from benchtemp.studies.evidence.shot_record import ShotRecord
from benchtemp.studies.evidence.shot_set import ShotSet
from benchtemp.studies.outcome import About, Concern
from benchtemp.studies.probe_checks import ProbeCheck, probe_checks
from benchtemp.studies.wording import listed, number


def probe_concerns(shots: ShotSet) -> tuple[Concern, ...]:
    """Return concerns about probes: several of them, and what `proof_concerns` finds."""
    moments: dict[str, set[str]] = {}
    for shot in shots.used:
        moments.setdefault(shot.probe or "unnamed", set()).add(shot.checked)
    found: list[Concern] = []
    if len(moments) > 1:
        found.append(
            Concern(
                about=About.MIXED_PROBES,
                text=f"These shots were measured with {len(moments)} probes ({listed(sorted(moments))}): "
                "differences between probes are part of the scatter.",
            )
        )
    elif any(len(checked) > 1 for checked in moments.values()):
        found.append(
            Concern(
                about=About.MIXED_PROBES,
                text="The probe was checked in between, so these shots do not all carry the same correction.",
            )
        )
    return (*found, *proof_concerns(shots))


def proof_concerns(shots: ShotSet) -> tuple[Concern, ...]:
    """Return a concern for each probe that was never checked, long ago, failed, or has moved since."""
    found: list[Concern] = []
    unchecked = [shot for shot in shots.used if not shot.checked]
    checks = probe_checks(shots)
    if unchecked:
        found.append(_unchecked(unchecked, len(shots.used), checks))
    for check in checks:
        if check.moved:
            found.append(_moved(check))
        if check.is_old(shots.check_days):
            found.append(_old(check, shots.check_days))
        if check.failed_limit_k is not None:
            found.append(_failed(check, check.failed_limit_k))
    return tuple(found)


def _unchecked(unchecked: Sequence[ShotRecord], count: int, checks: Sequence[ProbeCheck]) -> Concern:
    which = (
        "The probe was" if len(unchecked) == count else f"For {len(unchecked)} of {count} shots the probe was"
    )
    later = [check for check in checks if check.never and check.found_k is not None]
    paths = tuple(shot.path for shot in unchecked)
    if len(later) == 1 and later[0].count == len(unchecked) and later[0].found_k is not None:
        found_k = later[0].found_k
        text = (
            f"{which} checked only afterwards: on {later[0].checked_after} {later[0].name} read {{d0}} too "
            f"{'high' if found_k < 0 else 'low'}. These shots are not corrected for that."
        )
        return Concern(about=About.UNCHECKED_PROBE, text=text, deltas_k=(abs(found_k),), shots=paths)
    off_k = 0.0
    try:
        off_k = class_tolerance_k(unchecked[0].brew_temp_degc or 93.0, ToleranceClass.IEC_2)
        text = f"{which} never checked: one of IEC class 2 may be off by {{d0}}, the same in every shot."
    except BadInput:
        text = f"{which} never checked, so its own error is not known."
    return Concern(about=About.UNCHECKED_PROBE, text=text, deltas_k=(off_k,), decimals=1, shots=paths)


def _moved(check: ProbeCheck) -> Concern:
    before, after = check.moved_between
    return Concern(
        about=About.PROBE_MOVED,
        text=f"The checks of {check.name} before and after, on {before} and {after}, differ by {{s0}}, more "
        "than they are uncertain by (± {d1}). When it moved is not known, so all of that is in the "
        "uncertainty.",
        deltas_k=(check.moved_k or 0.0, 2.0 * (check.moved_uncertainty_k or 0.0)),
    )


def _old(check: ProbeCheck, check_days: float) -> Concern:
    return Concern(
        about=About.OLD_CHECK,
        text=f"The last check of {check.name} was {number(check.oldest_days, 0)} days old (more than "
        f"{number(check_days, 0)} counts as old): ± {{d0}} for its drift since is in the uncertainty. Check "
        "it again, best right before and right after a series.",
        deltas_k=(check.drift_half_width_k,),
    )


def _failed(check: ProbeCheck, limit_k: float) -> Concern:
    return Concern(
        about=About.FAILED_CHECK,
        text=f"At its last check {check.name} was off by more than its limit of {{d0}}. These shots are "
        "corrected for that, but a probe so far off may move on: watch it, or replace it.",
        deltas_k=(limit_k,),
        decimals=1,
    )
