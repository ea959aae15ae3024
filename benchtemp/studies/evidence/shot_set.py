"""Shots chosen for a study: those that are used, and those left out with the reason."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Sequence

import msgspec
import numpy as np

from benchtemp.errors import BadInput
from benchtemp.probes.probe import DEFAULT_CHECK_DAYS
from benchtemp.readings.reading import FloatArray
from benchtemp.studies.evidence.shot_record import ShotRecord


class LeftOut(msgspec.Struct, frozen=True, kw_only=True):
    """A shot a study does not use.

    Attributes:
        shot: The shot.
        reasons: Why.
        beside: Whether it only lacks what the study is about (a setpoint, a time since switch-on …), so that
            nobody would have expected it in the study.
    """

    shot: ShotRecord
    reasons: tuple[str, ...]
    beside: bool = False


class Selection(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Which shots a study is about; what is not given does not matter.

    Attributes:
        machines: Names, compared without case.
        tags: Tags or settings (see `ShotRecord.label`) that must have these values, compared without case.
        since, until: Days, `2025-11-20`, both included.
        recordings: File names.
        plan: Name of the test plan they were pulled for.
        even_not_counting: Take shots that do not count as well, as long as they have a brew temperature.
    """

    machines: tuple[str, ...] = ()
    tags: dict[str, str] = {}
    since: str = ""
    until: str = ""
    recordings: tuple[str, ...] = ()
    plan: str = ""
    even_not_counting: bool = False

    def __post_init__(self) -> None:
        for day in (self.since, self.until):
            try:
                if day:
                    dt.date.fromisoformat(day)
            except ValueError as error:
                raise BadInput(f"'{day}' is no day; write it as 2025-11-20.") from error

    def wants(self, shot: ShotRecord) -> bool:
        """Tell whether a shot is among those meant."""
        if self.machines and shot.machine.casefold() not in {name.casefold() for name in self.machines}:
            return False
        if self.recordings and shot.recording not in self.recordings:
            return False
        if self.plan and shot.label("plan").casefold() != self.plan.casefold():
            return False
        if (self.since and shot.date < self.since) or (self.until and (shot.date or "9999") > self.until):
            return False
        return all(shot.label(name).casefold() == value.casefold() for name, value in self.tags.items())


class ShotSet(msgspec.Struct, frozen=True, kw_only=True):
    """Shots in the order in which they were pulled.

    Attributes:
        used: Those a study rests on; each has a brew temperature.
        left_out: The others that were meant, with their reasons.
        complaints: Files that could not be read.
        check_days: After how many days a probe's check counts as old.
    """

    used: tuple[ShotRecord, ...] = ()
    left_out: tuple[LeftOut, ...] = ()
    complaints: tuple[str, ...] = ()
    check_days: float = DEFAULT_CHECK_DAYS

    def __len__(self) -> int:
        return len(self.used)

    @property
    def brew_degc(self) -> FloatArray:
        """Return the brew temperatures, shape (shots,)."""
        return np.array([shot.brew_temp_degc for shot in self.used], dtype=np.float64)

    @property
    def machines(self) -> tuple[str, ...]:
        """Return the machines, in order of appearance."""
        return tuple(dict.fromkeys(shot.machine for shot in self.used))

    def values(self, of: Callable[[ShotRecord], float | None]) -> FloatArray:
        """Return one figure of every shot, NaN where it has none."""
        found = [of(shot) for shot in self.used]
        return np.array([np.nan if value is None else value for value in found], dtype=np.float64)

    def keeping(self, has: Callable[[ShotRecord], bool], reason: str) -> ShotSet:
        """Return the set without shots that lack something, each left out for that reason."""
        kept = tuple(shot for shot in self.used if has(shot))
        lost = tuple(
            LeftOut(shot=shot, reasons=(reason,), beside=True) for shot in self.used if not has(shot)
        )
        before = tuple(
            left if has(left.shot) else msgspec.structs.replace(left, beside=True) for left in self.left_out
        )
        return msgspec.structs.replace(self, used=kept, left_out=(*before, *lost))

    def labelled(self, factor: str, reason: str) -> ShotSet:
        """Return the set without shots that lack a setting or tag, each left out for that reason."""
        return self.keeping(lambda shot: bool(shot.label(factor)), reason)

    def by(self, factor: str) -> dict[str, ShotSet]:
        """Return the shots parted by a setting or tag, in order of appearance, without those that lack it."""
        parts: dict[str, list[ShotRecord]] = {}
        for shot in self.used:
            label = shot.label(factor)
            if label:
                parts.setdefault(label, []).append(shot)
        return {label: ShotSet(used=tuple(shots)) for label, shots in parts.items()}


def _when(shot: ShotRecord) -> tuple[bool, float, str, float]:
    moment = shot.moment
    return moment is None, moment.timestamp() if moment else 0.0, shot.recording, shot.pump_on_s


def chosen(
    shots: Iterable[ShotRecord],
    selection: Selection | None = None,
    *,
    complaints: Sequence[str] = (),
    check_days: float = DEFAULT_CHECK_DAYS,
) -> ShotSet:
    """Return the shots meant, in order of time, those that do not count left out with their reasons.

    A flush is no shot and is passed over.

    Args:
        shots: In any order.
        selection: Which are meant; all where None.
        complaints: Files that could not be read.
        check_days: After how many days a probe's check counts as old.
    """
    selection = selection or Selection()
    used: list[ShotRecord] = []
    left_out: list[LeftOut] = []
    for shot in sorted((shot for shot in shots if selection.wants(shot)), key=_when):
        if shot.brew_temp_degc is None:
            left_out.append(LeftOut(shot=shot, reasons=shot.reasons or ("no plateau was found",)))
        elif shot.set_aside or not (shot.counts or selection.even_not_counting):
            left_out.append(LeftOut(shot=shot, reasons=shot.reasons or ("it does not count",)))
        else:
            used.append(shot)
    return ShotSet(
        used=tuple(used), left_out=tuple(left_out), complaints=tuple(complaints), check_days=check_days
    )
