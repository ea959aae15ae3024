"""Pump marks: which pump on belongs to which pump off, once what was taken back is left out."""

from __future__ import annotations

from collections.abc import Iterable
from math import isfinite

from benchtemp.readings.reading import Mark, MarkKind

PUMP_KINDS = frozenset({MarkKind.PUMP_ON, MarkKind.PUMP_OFF})


def standing_pump_marks(marks: Iterable[Mark]) -> tuple[Mark, ...]:
    """Return the pump marks that were not taken back, in the order in which they were made.

    Each undo takes back the last pump mark that is not itself taken back; an undo with nothing left to take
    back is without effect.
    """
    standing: list[Mark] = []
    for mark in marks:
        if mark.kind in PUMP_KINDS and isfinite(mark.t_s):
            standing.append(mark)
        elif mark.kind is MarkKind.UNDO and standing:
            standing.pop()
    return tuple(standing)


def resolve_pump_marks(marks: Iterable[Mark]) -> tuple[tuple[float | None, float | None], ...]:
    """Pair pump on with pump off.

    Returns: (pump on in s, pump off in s) for every pull the operator marked, in order. None stands for a
    mark that was not made: a second pump on before any pump off leaves the first without one, and a pump off
    with no pump on before it stands alone.
    """
    pairs: list[tuple[float | None, float | None]] = []
    open_on_s: float | None = None
    for mark in standing_pump_marks(marks):
        if mark.kind is MarkKind.PUMP_ON:
            if open_on_s is not None:
                pairs.append((open_on_s, None))
            open_on_s = mark.t_s
        else:
            pairs.append((open_on_s, mark.t_s))
            open_on_s = None
    if open_on_s is not None:
        pairs.append((open_on_s, None))
    return tuple(pairs)
