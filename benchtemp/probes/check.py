"""The record of one check: who, when, how, what the baths were, and the correction it asks for."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from enum import StrEnum

import msgspec

from benchtemp.errors import BadInput
from benchtemp.probes.calibration import CheckPoint, Verdict, correction_from, judge
from benchtemp.probes.correction import Correction
from benchtemp.probes.reference import Reference, ReferenceKind

DEFAULT_LIMIT_K = 1.0
"""How far a probe may be off before it fails, unless the user says otherwise (our choice)."""


class CheckMethod(StrEnum):
    """How a probe was checked."""

    BOILING = "boiling water"
    ICE = "ice bath"
    THERMOMETER = "reference thermometer"
    SEVERAL = "several baths"


class Check(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True):
    """One check of a probe. Making one saves nothing: that takes the user's yes.

    Attributes:
        checked: When, ISO 8601 with UTC offset.
        operator: Who.
        method: How.
        points: The baths, with the raw readings summed up.
        correction: What the check asks for.
        limit_k: How far the probe was allowed to be off, K.
        passed: Whether its worst point kept to that.
        certain: Whether that verdict stands beyond the uncertainty.
        conditions: Pressure, altitude, depth and so on, with units in the texts.
        recording: Name of the recording with the raw readings; empty where none was kept.
        note: Anything the operator adds.
    """

    checked: str
    method: CheckMethod
    points: tuple[CheckPoint, ...]
    correction: Correction
    operator: str = ""
    limit_k: float = DEFAULT_LIMIT_K
    passed: bool = True
    certain: bool = True
    conditions: dict[str, str] = {}
    recording: str = ""
    note: str = ""

    def __post_init__(self) -> None:
        if not self.points:
            raise BadInput("A check without a point is none; put the probe into a bath first.")
        _ = self.when

    @property
    def when(self) -> datetime:
        """Return when the check was made.

        Raises:
            BadInput: The text is no ISO 8601 date.
        """
        return when_from(self.checked)

    @property
    def verdict(self) -> Verdict:
        """Return the verdict worked out anew from the points."""
        return judge(self.points, self.limit_k)


def when_from(written: str) -> datetime:
    """Return a date and time written in ISO 8601; without a UTC offset it is local time here.

    Raises:
        BadInput: It cannot be read.
    """
    try:
        return datetime.fromisoformat(written).astimezone()
    except (ValueError, OverflowError, OSError):
        raise BadInput(f"'{written}' is no date; write it such as 2027-03-14T09:30:00+01:00.") from None


def _method(points: Sequence[CheckPoint]) -> CheckMethod:
    kinds = {point.kind for point in points}
    if len(kinds) > 1:
        return CheckMethod.SEVERAL
    return {
        ReferenceKind.BOILING: CheckMethod.BOILING,
        ReferenceKind.ICE: CheckMethod.ICE,
        ReferenceKind.THERMOMETER: CheckMethod.THERMOMETER,
    }[kinds.pop()]


def make_check(
    points: Sequence[CheckPoint],
    *,
    probe: str,
    checked: str,
    operator: str = "",
    limit_k: float = DEFAULT_LIMIT_K,
    references: Sequence[Reference] = (),
    recording: str = "",
    note: str = "",
) -> Check:
    """Return the record of a check, judged, with the correction it asks for.

    Args:
        points: One for each bath.
        probe: Name of the probe.
        checked: When, ISO 8601.
        operator: Who.
        limit_k: How far the probe may be off, K.
        references: The baths' references, for their conditions.
        recording: Name of the recording that holds the readings.
        note: Anything to add.

    Raises:
        BadInput: No points, points too close together, a limit or a date that cannot be.
    """
    verdict = judge(points, limit_k)
    several = len(references) > 1
    conditions = {
        f"{reference.kind}: {name}" if several else name: text
        for reference in references
        for name, text in reference.conditions.items()
    }
    return Check(
        checked=checked,
        operator=operator,
        method=_method(points),
        points=tuple(points),
        correction=correction_from(points, probe=probe, checked=checked),
        limit_k=limit_k,
        passed=verdict.passed,
        certain=verdict.certain,
        conditions=conditions,
        recording=recording,
        note=note,
    )
