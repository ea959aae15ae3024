"""When a table began: by its first row, or by what lines above it say."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from benchtemp.logbook.importing.layout import Timing
from benchtemp.logbook.importing.moments import DAY_S, Moment, read_moment

_EPOCH_S = dt.date(1970, 1, 1).toordinal() * DAY_S
_AROUND_VALUE = " \t:=;,|\"'"
WITHOUT_A_DATE_S = 2 * DAY_S
"""Moments below it are times of the day: no date stands with them."""


def started_at(timing: Timing, first_s: float, first_cell: str, above: Sequence[str]) -> dt.datetime | None:
    """Return the moment of time 0, None where the file does not tell.

    Args:
        timing: Where the times stand.
        first_s: The first row's time as it stands in the file, on the count of `Moment.at_s`.
        first_cell: The cell it stands in.
        above: The lines above the table.

    A meter's clock without an offset to UTC is taken to show this computer's local time.
    """
    if timing.kind == "epoch":
        return _moment(first_s + _EPOCH_S, utc=True)
    if timing.kind == "clock" and first_s > WITHOUT_A_DATE_S:
        written = read_moment(first_cell, timing.order)
        return _moment(first_s, utc=written is not None and written.offset_s is not None)
    told = started_above(above, timing)
    if told is None or told.day is None:
        return None
    if timing.kind == "clock":
        return _moment(told.day * DAY_S + first_s, utc=False)
    return None if told.second is None else _moment(told.at_s, utc=told.offset_s is not None)


def started_above(above: Sequence[str], timing: Timing) -> Moment | None:
    """Return what the lines the layout names say of when a table began; None where they say nothing."""
    values = []
    for label in timing.start_labels:
        for line in above:
            text = line.strip().lstrip("#").strip()
            if text.startswith(label):
                values.append(text[len(label) :].strip(_AROUND_VALUE))
                break
    return read_moment(" ".join(values), timing.order) if values else None


def _moment(at_s: float, *, utc: bool) -> dt.datetime | None:
    try:
        naive = dt.datetime.fromordinal(1) + dt.timedelta(seconds=round(at_s - DAY_S, 3))
        return naive.replace(tzinfo=dt.UTC) if utc else naive.astimezone()
    except (OverflowError, ValueError, OSError):
        return None
