"""What the recording tells of how a shot was prepared: interval, idle time, flush, time since switch-on.

Water counts as used whenever the pump was marked, and where a note says `flush 5 s` or `flush 60 g`. A flush
belongs to the shot it comes shortly before; the idle time is what lay before that flush.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

import msgspec

from benchtemp.readings.reading import Mark, MarkKind
from benchtemp.shots.marks import resolve_pump_marks
from benchtemp.shots.plateau import FLUSH_LONGEST_S
from benchtemp.studies.evidence.typed import flush_from

FLUSH_BELONGS_S = 120.0
"""A flush that ends at most so long before pump on was made for that shot (our choice)."""
SWITCHED_ON = re.compile(r"\b(switched on|switch on|power(?:ed)? on|turned on|machine on)\b", re.IGNORECASE)
_FLUSH_NOTE = re.compile(r"^flush(?:ed)?\s+([\d.,]+\s*[a-z]*)", re.IGNORECASE)


class Water(msgspec.Struct, frozen=True, kw_only=True):
    """One use of the pump.

    Attributes:
        on_s, off_s: On the recording's clock; off_s is on_s where only a note tells of it.
        seconds, grams: How much, as far as known.
        flush: Whether it was a flush.
    """

    on_s: float
    off_s: float
    seconds: float | None
    grams: float | None
    flush: bool


class Preparation(msgspec.Struct, frozen=True, kw_only=True):
    """How a shot was prepared, as far as the recording tells; None for what it does not.

    Attributes:
        interval_s: From the pump start of the shot before to this one's.
        idle_s: From the last use of water to this shot's own flush, or to its pump start without one.
        flush_s, flush_g: Water let through for this shot; 0 s where the time before was seen and held none.
        since_on_s: From switching the machine on to pump start.
    """

    interval_s: float | None = None
    idle_s: float | None = None
    flush_s: float | None = None
    flush_g: float | None = None
    since_on_s: float | None = None


def water_uses(marks: Sequence[Mark]) -> tuple[Water, ...]:
    """Return every use of water the marks tell of, in order of time."""
    found: list[Water] = []
    for on_s, off_s in resolve_pump_marks(marks):
        if on_s is None:
            continue
        seconds = None if off_s is None else off_s - on_s
        found.append(
            Water(
                on_s=on_s,
                off_s=on_s if off_s is None else off_s,
                seconds=seconds,
                grams=None,
                flush=seconds is not None and seconds < FLUSH_LONGEST_S,
            )
        )
    for mark in marks:
        written = _FLUSH_NOTE.match(mark.text) if mark.kind is MarkKind.NOTE else None
        if written:
            seconds, grams = flush_from(written[1])
            if seconds or grams:
                found.append(
                    Water(
                        on_s=mark.t_s,
                        off_s=mark.t_s + (seconds or 0.0),
                        seconds=seconds,
                        grams=grams,
                        flush=True,
                    )
                )
    return tuple(sorted(found, key=lambda water: water.on_s))


def switched_on_s(marks: Sequence[Mark], until_s: float) -> float | None:
    """Return when the machine was last switched on before a time, from a note such as `note switched on`."""
    found = [
        mark.t_s
        for mark in marks
        if mark.kind is MarkKind.NOTE and mark.t_s <= until_s and SWITCHED_ON.search(mark.text)
    ]
    return found[-1] if found else None


def preparation(marks: Sequence[Mark], pump_on_s: float) -> Preparation:
    """Return how the shot that began at `pump_on_s` was prepared.

    Args:
        marks: Of the whole recording, in file order.
        pump_on_s: The shot's own pump start.
    """
    before = [water for water in water_uses(marks) if water.on_s < pump_on_s - 0.5]
    on_s = switched_on_s(marks, pump_on_s)
    own: list[Water] = []
    begins_s = pump_on_s
    while before and before[-1].flush and begins_s - before[-1].off_s <= FLUSH_BELONGS_S:
        own.append(before.pop())
        begins_s = own[-1].on_s
    earlier_shots = [water for water in before if not water.flush]
    idle_from_s = max((water.off_s for water in before), default=on_s)
    seconds = [water.seconds for water in own]
    grams = [water.grams for water in own]
    seen = bool(own or before) or on_s is not None
    return Preparation(
        interval_s=pump_on_s - earlier_shots[-1].on_s if earlier_shots else None,
        idle_s=None if idle_from_s is None else begins_s - idle_from_s,
        flush_s=_total(seconds) if seen else None,
        flush_g=_total(grams) if seen else None,
        since_on_s=None if on_s is None else pump_on_s - on_s,
    )


def _total(amounts: list[float | None]) -> float | None:
    """Return the sum, None where any part of it is not known."""
    known = [amount for amount in amounts if amount is not None]
    return sum(known, 0.0) if len(known) == len(amounts) else None
