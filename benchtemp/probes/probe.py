"""One physical probe: what is known of it, its checks, and how it drifts."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from math import sqrt
from typing import Any, NamedTuple

import msgspec
import numpy as np

from benchtemp.errors import BadInput, DamagedFile
from benchtemp.probes.calibration import COMMONLY_AT_WORST_K
from benchtemp.probes.check import Check, when_from
from benchtemp.probes.correction import Correction
from benchtemp.probes.line_fit import fit_line
from benchtemp.probes.response import TimeConstant
from benchtemp.probes.tolerance import ToleranceClass

FORMAT = 1
"""Version of the probe file; a higher one is refused, because saving it would lose what we do not know."""
DEFAULT_CHECK_DAYS = 90.0
"""After how many days a check is called old, unless the user says otherwise (our choice)."""
DAYS_PER_MONTH = 365.2425 / 12.0


class Drift(NamedTuple):
    """How a probe's correction moves over its checks.

    Attributes:
        k_per_month: Slope of the correction against time.
        uncertainty_k_per_month: Its standard uncertainty.
        days: From the first check to the last.
        checks: How many checks it rests on.
    """

    k_per_month: float
    uncertainty_k_per_month: float
    days: float
    checks: int

    @property
    def significant(self) -> bool:
        """Return whether the drift stands out of its uncertainty (two standard uncertainties)."""
        return abs(self.k_per_month) > 2.0 * self.uncertainty_k_per_month


class CheckedAt(NamedTuple):
    """One point of a probe's history: the correction at a temperature, with its standard uncertainty."""

    when: datetime
    correction_k: float
    uncertainty_k: float | None
    passed: bool


class Probe(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True):
    """A probe and its history.

    Attributes:
        name: What the user calls it.
        serial: Number or mark on it.
        notes: Anything: where bought, how it sits in the basket.
        tolerance_class: What its packet says; used until it is checked.
        time_constant: From a plunge, None if never measured.
        checks: Oldest first.
        format: Version of the file.
    """

    name: str
    serial: str = ""
    notes: str = ""
    tolerance_class: ToleranceClass = ToleranceClass.IEC_2
    time_constant: TimeConstant | None = None
    checks: tuple[Check, ...] = ()
    format: int = msgspec.field(default=FORMAT)

    def __post_init__(self) -> None:
        if not self.name.strip() or len(self.name) > 100:
            raise BadInput("A probe needs a name of at most 100 characters, such as 'basket 1'.")
        if not self.name.isprintable():
            raise BadInput(
                "A probe's name holds a character that cannot be seen; give it one such as 'basket 1'."
            )

    def with_check(self, check: Check) -> Probe:
        """Return the probe with one more check; checks stay in order of time.

        Raises:
            BadInput: A check of the same moment is there already.
        """
        if any(old.when == check.when for old in self.checks):
            raise BadInput(f"{self.name} already has a check of {check.checked}; nothing was added.")
        ordered = tuple(sorted((*self.checks, check), key=lambda one: one.when))
        return msgspec.structs.replace(self, checks=ordered)

    def without_check(self, checked: str) -> Probe:
        """Return the probe without the check of a moment.

        Raises:
            BadInput: There is no such check.
        """
        kept = tuple(check for check in self.checks if check.checked != checked)
        if len(kept) == len(self.checks):
            raise BadInput(f"{self.name} has no check of {checked}; see its history.")
        return msgspec.structs.replace(self, checks=kept)

    def check_at(self, moment: str | None = None) -> Check | None:
        """Return the last check made at or before a moment (ISO 8601), the last of all without one."""
        if moment is None:
            return self.checks[-1] if self.checks else None
        limit = when_from(moment)
        before = [check for check in self.checks if check.when <= limit]
        return before[-1] if before else None

    def correction(self, moment: str | None = None) -> Correction:
        """Return the correction in force at a moment; if unchecked, one of nothing with the probe's name."""
        check = self.check_at(moment)
        return Correction(probe=self.name) if check is None else check.correction

    def days_since_check(self, now: str) -> float | None:
        """Return the age of the last check in days, None if the probe was never checked.

        Raises:
            BadInput: `now` is no ISO 8601 date.
        """
        check = self.check_at(now)
        return None if check is None else (when_from(now) - check.when).total_seconds() / 86400.0

    def check_warning(self, now: str, longest_days: float = DEFAULT_CHECK_DAYS) -> str | None:
        """Return a sentence where the probe should be checked, None where its check is recent enough."""
        days = self.days_since_check(now)
        if days is None and self.checks:
            return (
                f"{self.name} was first checked on {self.checks[0].checked[:10]}, after this moment "
                f"({now[:10]}): nothing is corrected; set this computer's clock if it is wrong."
            )
        if days is None:
            return (
                f"{self.name} was never checked: its readings may be off by its whole tolerance; check it in "
                "boiling water."
            )
        if days > longest_days:
            return (
                f"{self.name} was last checked {days:.0f} days ago (limit {longest_days:.0f}); check it in "
                "boiling water."
            )
        check = self.check_at(now)
        if check is not None and not check.passed:
            return (
                f"{self.name} failed its last check (limit {check.limit_k:g} °C): its readings are "
                "corrected, but check it again."
            )
        return None

    def history(self, temp_degc: float = 93.0) -> tuple[CheckedAt, ...]:
        """Return the correction at a reported temperature at each check, oldest first."""
        return tuple(
            CheckedAt(
                check.when,
                check.correction.apply(temp_degc) - temp_degc,
                check.correction.uncertainty_at(temp_degc),
                check.passed,
            )
            for check in self.checks
        )

    def drift(self, temp_degc: float = 93.0) -> Drift | None:
        """Return how the correction moves with time, None with fewer than two checks or all on one day.

        Two checks give the slope between them with the uncertainty of both; more give the least-squares line,
        its uncertainty from the scatter or from the checks' own uncertainties, whichever is larger.
        """
        history = self.history(temp_degc)
        if len(history) < 2:
            return None
        days = np.array([(point.when - history[0].when).total_seconds() / 86400.0 for point in history])
        if days[-1] < 1.0:
            return None
        months = days / DAYS_PER_MONTH
        values = np.array([point.correction_k for point in history])
        us = np.array([point.uncertainty_k or 0.0 for point in history])
        away = months - months.mean()
        weights = away / float(away @ away)
        slope = float(weights @ values)
        uncertainty = sqrt(float((weights**2) @ (us**2)))
        if len(history) > 2:
            uncertainty = max(uncertainty, fit_line(months, values, float(months.mean())).slope_uncertainty)
        return Drift(slope, uncertainty, float(days[-1]), len(history))

    def drift_half_width_k(self, now: str, temp_degc: float = 93.0, *, check: Check | None = None) -> float:
        """Return how far the probe may have drifted between its last check and now, K either way.

        With `check`, between that check and now, whichever was first. From the probe's own history with three
        checks or more over at least 60 days; else 0.17 °C (0.3 °F) for each half year begun, which common
        practice gives as the worst among inexpensive probes. 0 if never checked: then the whole tolerance
        counts.
        """
        if check is None:
            check = self.check_at(now)
        if check is None:
            return 0.0
        days = abs((when_from(now) - check.when).total_seconds()) / 86400.0
        drift = self.drift(temp_degc)
        if drift is not None and drift.checks >= 3 and drift.days >= 60.0:
            return (abs(drift.k_per_month) + 2.0 * drift.uncertainty_k_per_month) * days / DAYS_PER_MONTH
        return COMMONLY_AT_WORST_K * max(1.0, days / DAYS_PER_MONTH / 6.0)

    def to_dict(self) -> dict[str, Any]:
        """Return the probe as plain values for TOML and JSON; what is at its default is left out."""
        plain = msgspec.to_builtins(self)
        assert isinstance(plain, dict)
        return {"format": self.format, **plain}

    @classmethod
    def from_dict(cls, plain: object) -> Probe:
        """Return the probe held in plain values.

        Raises:
            DamagedFile: The values are not a probe's, or come from a newer version; the sentence says where.
        """
        if isinstance(plain, dict):
            version = plain.get("format", FORMAT)
            if isinstance(version, int) and version > FORMAT:
                raise DamagedFile(
                    f"This probe file has format {version}, but this version of benchtemp knows only up to "
                    f"{FORMAT}; update benchtemp."
                )
        try:
            return msgspec.convert(plain, cls)
        except (msgspec.ValidationError, BadInput) as error:
            raise DamagedFile(
                f"This is not a probe file as benchtemp writes it: {error}; mend or remove it."
            ) from error


def judged_at(probes: Iterable[Probe], now: str) -> str:
    """Return the moment at which probes are judged: now, or their newest check where that is ahead of it.

    A logbook from elsewhere, or one for practice, may be ahead of this computer's clock.
    """
    newest = max((probe.checks[-1] for probe in probes if probe.checks), key=_made, default=None)
    return now if newest is None or newest.when <= when_from(now) else newest.checked


def _made(check: Check) -> datetime:
    return check.when
