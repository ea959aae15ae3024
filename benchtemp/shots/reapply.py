"""Applying another check of a probe to a shot: a newer one, an older one, or none."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import Any, NamedTuple

import msgspec

from benchtemp.errors import BadInput
from benchtemp.probes.check import Check, when_from
from benchtemp.probes.correction import Correction
from benchtemp.probes.probe import Probe
from benchtemp.shots.budget import Grounds, stored_grounds


class Reapplied(NamedTuple):
    """What is applied to a shot instead of what its header holds."""

    correction: Correction
    grounds: Grounds


def chosen_check(probe: Probe, *, as_of: str = "", never: bool = False) -> Check | None:
    """Return the check to apply: the newest, the last one made by a date, or none.

    Args:
        probe: Its history.
        as_of: ISO 8601 date (its whole day counts) or moment; empty for the newest check.
        never: Take the probe as never checked.

    Raises:
        BadInput: `as_of` is no date, or the probe had no check by then.
    """
    if never:
        return None
    if not as_of:
        return probe.check_at()
    check = probe.check_at(_end_of_day(as_of))
    if check is None:
        first = f"its first is of {probe.checks[0].checked}" if probe.checks else "it was never checked"
        raise BadInput(
            f"{probe.name} had no check by {as_of}: {first}; give a later date, or --never to take it as "
            "never checked."
        )
    return check


def _end_of_day(written: str) -> str:
    try:
        day = dt.date.fromisoformat(written)
    except ValueError:
        return written
    return dt.datetime.combine(day, dt.time(23, 59, 59)).isoformat()


def reapplied(meta: Mapping[str, Any], channel: str, probe: Probe, check: Check | None) -> Reapplied:
    """Return what to apply to a stream whose basket probe is `probe`.

    Args:
        meta: The stream's header; estimates and interface stay as they stand there.
        channel: The basket probe's.
        probe: The probe.
        check: The check to apply; None for never checked.
    """
    stored = stored_grounds(meta, channel)
    if check is None:
        grounds = msgspec.structs.replace(
            stored, tolerance_class=probe.tolerance_class, drift_half_width_k=0.0
        )
        return Reapplied(Correction(probe=probe.name), grounds)
    drift_k = probe.drift_half_width_k(_moment(meta, check), check=check)
    grounds = msgspec.structs.replace(
        stored, tolerance_class=probe.tolerance_class, drift_half_width_k=drift_k
    )
    return Reapplied(check.correction, grounds)


def _moment(meta: Mapping[str, Any], check: Check) -> str:
    """Return when the stream began; the moment of the check where it does not say."""
    written = str(meta.get("started") or "")
    try:
        when_from(written)
    except BadInput:
        return check.checked
    return written
