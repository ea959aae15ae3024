"""How the probe behind a shot was proven: by which check, how old that was, what the next one said."""

from __future__ import annotations

from math import hypot

import msgspec

from benchtemp.errors import BadInput
from benchtemp.probes.check import Check, when_from
from benchtemp.probes.correction import Correction
from benchtemp.probes.probe import Probe
from benchtemp.shots.budget import budget_of
from benchtemp.shots.shot import Shot

SECONDS_PER_DAY = 86400.0


class Proof(msgspec.Struct, frozen=True, kw_only=True):
    """What checks say of one shot's probe.

    Attributes:
        age_days: From the check the shot's correction comes from to the shot; None for a probe that was never
            checked or a check of unknown date, negative where that check was made after the shot.
        method: How it was checked, empty where the probe's file does not tell.
        failed_limit_k: The limit it did not keep to at that check, K; None where it did, or nothing is known.
        drift_half_width_k: How far it may have drifted since, as its uncertainty allows for, K either way.
        before: Moment of the last check before the shot, ISO 8601; empty without one.
        after: Moment of the first check after the shot, likewise.
        days_after: From the shot to that; None without one.
        moved_k: By how much the correction at the brew temperature moved from the one to the other, K; None
            without both.
        moved_uncertainty_k: Standard uncertainty of that.
        found_k: The correction at the brew temperature that the check after the shot asks for, K.
    """

    age_days: float | None = None
    method: str = ""
    failed_limit_k: float | None = None
    drift_half_width_k: float = 0.0
    before: str = ""
    after: str = ""
    days_after: float | None = None
    moved_k: float | None = None
    moved_uncertainty_k: float | None = None
    found_k: float | None = None


NOT_PROVEN = Proof()


def proof_of(shot: Shot, probe: Probe | None, pulled: str = "") -> Proof:
    """Return what checks say of a shot's probe.

    Args:
        shot: Its correction tells of the check that was applied.
        probe: Its file. It is believed only where it holds that very check: another workshop's probe may have
            the same name.
        pulled: ISO 8601 moment of pump on, where the shot itself does not know it.
    """
    correction = shot.correction
    is_checked = correction.uncertainty_k is not None
    proof = Proof(drift_half_width_k=shot.grounds.drift_half_width_k if is_checked else 0.0)
    try:
        moment = when_from(shot.started or pulled)
        if is_checked and correction.checked:
            age_s = (moment - when_from(correction.checked)).total_seconds()
            proof = msgspec.structs.replace(proof, age_days=age_s / SECONDS_PER_DAY)
    except BadInput:
        return proof
    if probe is None:
        return proof
    applied = next((check for check in probe.checks if check.checked == correction.checked), None)
    if is_checked and applied is None:
        return proof
    if applied is not None:
        proof = msgspec.structs.replace(
            proof, method=str(applied.method), failed_limit_k=None if applied.passed else applied.limit_k
        )
    earlier = [check for check in probe.checks if check.when <= moment]
    later = [check for check in probe.checks if check.when > moment]
    before, after = earlier[-1] if earlier else None, later[0] if later else None
    brew_degc = 93.0 if shot.result.brew_temp_degc is None else shot.result.brew_temp_degc
    reported_degc = correction.reported(brew_degc)
    proof = msgspec.structs.replace(
        proof,
        before=before.checked if before else "",
        after=after.checked if after else "",
        days_after=(after.when - moment).total_seconds() / SECONDS_PER_DAY if after else None,
        found_k=_asked_for_k(after.correction, reported_degc) if after else None,
    )
    if before is None or after is None:
        return proof
    moved_k = _asked_for_k(after.correction, reported_degc) - _asked_for_k(before.correction, reported_degc)
    return msgspec.structs.replace(
        proof,
        moved_k=moved_k,
        moved_uncertainty_k=hypot(_own_k(before, reported_degc), _own_k(after, reported_degc)),
    )


def _asked_for_k(correction: Correction, reported_degc: float) -> float:
    return correction.apply(reported_degc) - reported_degc


def _own_k(check: Check, reported_degc: float) -> float:
    """Return a check's standard uncertainty as far as it bears on a change between two checks, K.

    One bath leaves open how the probe's error changes with temperature; that is alike in both checks.
    """
    correction = check.correction
    if len(check.points) == 1:
        return correction.uncertainty_k or 0.0
    return correction.uncertainty_at(reported_degc) or 0.0


def enclosed(shot: Shot, proof: Proof) -> Shot:
    """Return a shot whose uncertainty allows for what the checks before and after it differ by.

    An error that may have grown at any time from nothing to the whole difference has a mean square of a third
    of its square: that of a rectangular distribution with the difference as its half width (JCGM 100:2008,
    4.3.7). It takes the place of what was allowed for drift where that was less.
    """
    if shot.correction.uncertainty_k is None or proof.moved_k is None:
        return shot
    seen_k = abs(proof.moved_k)
    if seen_k <= shot.grounds.drift_half_width_k:
        return shot
    grounds = msgspec.structs.replace(shot.grounds, drift_seen_k=seen_k)
    wider = msgspec.structs.replace(shot, grounds=grounds)
    budget = budget_of(wider)
    return msgspec.structs.replace(
        wider, brew_temp_expanded_uncertainty_k=None if budget is None else budget.expanded_k()
    )
