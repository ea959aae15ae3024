"""What a source gives: readings, the operator's marks, and notices about the source itself."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from enum import StrEnum
from math import isfinite, nan
from typing import Any

import numpy as np
import numpy.typing as npt

from benchtemp.errors import BadInput

FloatArray = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Reading:
    """One instant: what every channel gave.

    Attributes:
        t_s: Seconds on the source's clock, which starts at 0 when the source is opened.
        temps_degc: °C as reported, one per channel, NaN where a channel gave none; empty when the
            instant belongs to a scale alone.
        weight_g: Grams as the scale reports them, NaN without one.
        reasons: Why a channel gave no value, one text per channel (`""` where it gave one); empty when
            all channels are well.
        time_estimated: Arrival time was not trustworthy (a backlog after a stall) and was worked out
            from the interface's own rhythm instead.
    """

    t_s: float
    temps_degc: tuple[float, ...]
    weight_g: float = nan
    reasons: tuple[str, ...] = ()
    time_estimated: bool = False


class MarkKind(StrEnum):
    """What a mark says; the value is how it begins in a file's `mark` column."""

    PUMP_ON = "pump on"
    PUMP_OFF = "pump off"
    NOTE = "note"
    GAP = "gap"
    UNDO = "undo"
    """Takes back the last pump mark that is not itself taken back; the file keeps both."""
    TARE = "tare"
    """What the scale shows at this moment is zero from now on; `tare by scale` where it did so itself."""
    SET = "set"
    """A value the operator entered, `set dose_g=18` from here on or `set shot 3 yield_g=36.4`."""


TARED_BY_SCALE = "by scale"
"""Text of a tare mark when the scale obeyed a command: what it reports is less its own tare already."""


@dataclass(frozen=True, slots=True)
class Mark:
    """Something that was timed: by the operator, or by the program when readings stopped."""

    t_s: float
    kind: MarkKind
    text: str = ""

    def __str__(self) -> str:
        """Return the mark as it stands in a file."""
        return f"{self.kind} {self.text}" if self.text else str(self.kind)

    @classmethod
    def parse(cls, t_s: float, written: str) -> Mark:
        """Read a mark as it stands in a file; anything unknown is kept as a note.

        Raises:
            BadInput: The text is empty.
        """
        written = " ".join(written.split())
        if not written:
            raise BadInput("A mark without a text was given; write for instance 'note cup changed'.")
        for kind in MarkKind:
            if written == kind or written.startswith(f"{kind} "):
                return cls(t_s, kind, written[len(kind) :].strip())
        return cls(t_s, MarkKind.NOTE, written)


class NoticeKind(StrEnum):
    """What a notice is about."""

    WAITING = "waiting"
    """The source is open and silent so far."""
    READING = "reading"
    """Readings come (again)."""
    LOST = "lost"
    """The interface went away; the source is trying to get it back."""
    GARBAGE = "garbage"
    """Bytes come, but no readings in them."""
    REWOUND = "rewound"
    """A replay was moved: everything since the start follows anew."""
    FINISHED = "finished"
    """A replay is over."""


@dataclass(frozen=True, slots=True)
class Notice:
    """A change in how the source is doing; `text` is a sentence to show, with the cure if one is needed."""

    t_s: float
    kind: NoticeKind
    text: str


Item = Reading | Mark | Notice


def moment_text(started: dt.datetime | None, t_s: float) -> str:
    """Return the wall-clock time of an instant as ISO 8601 text, empty where it is not known."""
    if started is None:
        return ""
    try:
        return (started + dt.timedelta(seconds=t_s)).isoformat(timespec="milliseconds")
    except OverflowError:
        return ""


@dataclass(frozen=True, eq=False)
class Stream:
    """A whole recording, shot or demo stream in memory.

    Attributes:
        channels: Names of the temperature columns, for instance `("T1", "T2")`.
        t_s: Times of all rows with a reading, shape (rows,), in file order.
        temps_degc: °C as reported, shape (rows, channels), NaN where there is none.
        weight_g: Grams, shape (rows,), NaN where there is none; None without a scale column.
        marks: All marks in file order, each with the number of reading rows that stand before it in
            `mark_rows`.
        meta: The header's `meta` (plain dicts, lists, strings, numbers, booleans, None).
        warnings: Sentences about what could not be read (a cut last row, a skipped line).
    """

    channels: tuple[str, ...]
    t_s: FloatArray
    temps_degc: FloatArray
    weight_g: FloatArray | None = None
    marks: tuple[Mark, ...] = ()
    mark_rows: tuple[int, ...] = ()
    meta: dict[str, Any] = field(default_factory=dict)
    warnings: tuple[str, ...] = ()

    @property
    def started(self) -> dt.datetime | None:
        """Return the wall-clock time of `t` = 0, None where the header has none that reads as one."""
        written = self.meta.get("started")
        if isinstance(written, dt.datetime):
            return written
        try:
            return dt.datetime.fromisoformat(str(written)) if written else None
        except ValueError:
            return None

    def items(self, start_row: int = 0) -> list[Reading | Mark]:
        """Return readings and marks in the order in which they were recorded."""
        found: list[Reading | Mark] = []
        times = self.t_s.tolist()
        temps = self.temps_degc.tolist()
        weights = None if self.weight_g is None else self.weight_g.tolist()
        pending = [
            (row, mark) for row, mark in zip(self.mark_rows, self.marks, strict=True) if row >= start_row
        ]
        next_mark = 0
        for row in range(start_row, len(times)):
            while next_mark < len(pending) and pending[next_mark][0] <= row:
                found.append(pending[next_mark][1])
                next_mark += 1
            weight_g = nan if weights is None else weights[row]
            values = tuple(temps[row])
            if isfinite(weight_g) and not any(isfinite(value) for value in values):
                values = ()
            found.append(Reading(times[row], values, weight_g))
        found.extend(mark for _, mark in pending[next_mark:])
        return found
