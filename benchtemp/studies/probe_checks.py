"""Which probes a set of shots was measured with, and how each was proven: conditions a result rests on."""

from __future__ import annotations

import msgspec

from benchtemp.studies.evidence.shot_record import ShotRecord
from benchtemp.studies.evidence.shot_set import ShotSet
from benchtemp.studies.wording import delta, listed, number
from benchtemp.units import TempUnit

NAMED_AT_MOST = 3
"""So many probes are named in a verdict's conditions; a table or a report names them all."""
UNDATED = "yes"
"""Stands for the moment of a check that nobody dated."""


class ProbeCheck(msgspec.Struct, frozen=True, kw_only=True):
    """One probe of a set of shots, with the checks around them.

    Attributes:
        probe: Its name, empty for one that was not named.
        count: How many of the shots were measured with it.
        never: Whether it was never checked before these shots.
        checked: Days of the checks their corrections come from, in order; empty where not known.
        method: How it was checked last, empty where that is not known.
        youngest_days, oldest_days: Ages of those checks when the shots were pulled; None where not known.
        failed_limit_k: The limit that it did not keep to at its last check, K; None where it did.
        drift_half_width_k: How far it may have drifted, K either way, as the uncertainty of these shots
            allows for at most; what the checks before and after differ by where that is more.
        checked_after: Day of the first check after all these shots, empty without one.
        days_after: From the last shot to it.
        moved_k: By how much the correction moved between the checks before and after, K; of several such
            pairs that which moved most; None without one.
        moved_uncertainty_k: Standard uncertainty of that.
        moved_between: Days of those two checks.
        found_k: For a probe that was never checked before: the correction its first check asked for, K.
    """

    probe: str
    count: int
    never: bool = False
    checked: tuple[str, ...] = ()
    method: str = ""
    youngest_days: float | None = None
    oldest_days: float | None = None
    failed_limit_k: float | None = None
    drift_half_width_k: float = 0.0
    checked_after: str = ""
    days_after: float | None = None
    moved_k: float | None = None
    moved_uncertainty_k: float | None = None
    moved_between: tuple[str, str] = ("", "")
    found_k: float | None = None

    @property
    def moved(self) -> bool:
        """Tell whether the checks before and after differ beyond their own uncertainty (k = 2)."""
        if self.moved_k is None or self.moved_uncertainty_k is None:
            return False
        return abs(self.moved_k) > 2.0 * self.moved_uncertainty_k

    @property
    def name(self) -> str:
        """Return what to call it in a sentence."""
        return self.probe or "the probe"

    def is_old(self, check_days: float) -> bool:
        """Tell whether its check was older than `check_days` when a shot was pulled."""
        return self.oldest_days is not None and self.oldest_days > check_days

    def phrase(self, unit: TempUnit) -> str:
        """Return how it was proven, as a phrase for the conditions of a result."""
        if self.never:
            later = f", first on {self.checked_after}" if self.checked_after else ""
            return f"{self.name} never checked before these shots{later}"
        if self.oldest_days is None or self.youngest_days is None:
            return f"{self.name} corrected by a check of unknown date"
        how = f" in {self.method}" if self.method and "thermometer" not in self.method else ""
        days = listed(self.checked) if len(self.checked) <= NAMED_AT_MOST else f"{len(self.checked)} times"
        return f"{self.name} checked {days}{how}, {self.around(unit)}"

    def around(self, unit: TempUnit) -> str:
        """Return how long before and after the shots it was checked, and whether it moved between."""
        if self.oldest_days is None or self.youngest_days is None:
            return "age unknown"
        text = f"{_ages(self.youngest_days, self.oldest_days)} these shots"
        if self.checked_after and self.days_after is not None:
            text += f", and {_ages(-self.days_after, -self.days_after)} them"
        if self.moved_k is not None and self.moved_uncertainty_k is not None:
            sure = delta(2.0 * self.moved_uncertainty_k, unit)
            text += f" (moved by {delta(self.moved_k, unit, sign=True)}, ± {sure})"
        return text


def probe_checks(shots: ShotSet) -> tuple[ProbeCheck, ...]:
    """Return the probes of the shots used, in order of appearance, with the checks around them."""
    by_probe: dict[tuple[str, bool], list[ShotRecord]] = {}
    for shot in shots.used:
        by_probe.setdefault((shot.probe, bool(shot.checked)), []).append(shot)
    return tuple(_check_of(name, own) for (name, _), own in by_probe.items())


def check_phrases(checks: tuple[ProbeCheck, ...], unit: TempUnit) -> tuple[str, ...]:
    """Return how each probe was proven, as phrases; of many probes only the first are named."""
    told = [check.phrase(unit) for check in checks[:NAMED_AT_MOST]]
    more = len(checks) - len(told)
    return (*told, f"and {more} more probes") if more else tuple(told)


def _check_of(name: str, shots: list[ShotRecord]) -> ProbeCheck:
    last = max(shots, key=_stamp)
    ages = [shot.proof.age_days for shot in shots if shot.proof.age_days is not None]
    after = [shot.proof.after for shot in shots]
    moved = [shot.proof for shot in shots if shot.proof.moved_k is not None]
    most = max(moved, key=lambda proof: abs(proof.moved_k or 0.0), default=None)
    found = [shot.proof.found_k for shot in shots if not shot.checked and shot.proof.found_k is not None]
    return ProbeCheck(
        probe=name,
        count=len(shots),
        never=not last.checked,
        checked=tuple(
            sorted({shot.checked[:10] for shot in shots if shot.checked and shot.checked != UNDATED})
        ),
        method=last.proof.method,
        youngest_days=min(ages, default=None),
        oldest_days=max(ages, default=None),
        failed_limit_k=last.proof.failed_limit_k,
        drift_half_width_k=max(
            max(shot.proof.drift_half_width_k, abs(shot.proof.moved_k or 0.0)) for shot in shots
        ),
        checked_after=last.proof.after[:10] if all(after) else "",
        days_after=last.proof.days_after,
        moved_k=most.moved_k if most else None,
        moved_uncertainty_k=most.moved_uncertainty_k if most else None,
        moved_between=(most.before[:10], most.after[:10]) if most else ("", ""),
        found_k=found[-1] if found else None,
    )


def _stamp(shot: ShotRecord) -> float:
    moment = shot.moment
    return moment.timestamp() if moment else 0.0


def _ages(youngest_days: float, oldest_days: float) -> str:
    """Return how long before, or after where negative, as people say it: `4 to 8 days before`."""
    if oldest_days < 0.0 <= youngest_days or youngest_days < 0.0 <= oldest_days:
        return "before and after"
    where = "before" if oldest_days >= 0.0 else "after"
    few, many = sorted((abs(youngest_days), abs(oldest_days)))
    if many < 1.0:
        return f"less than a day {where}"
    low, high = number(few, 0), number(many, 0)
    if low == high:
        return f"{low} {'day' if low == '1' else 'days'} {where}"
    return f"{low} to {high} days {where}"
