"""What can speak against a routine's answer."""

from __future__ import annotations

import numpy as np

from benchtemp.readings.reading import FloatArray
from benchtemp.studies.outcome import About, Concern
from benchtemp.studies.routine_answer import FlushAnswer
from benchtemp.studies.routine_curves import FormFit
from benchtemp.studies.wording import number, signed, span

NEARLY = 2.0
"""A form whose criterion is within this of the best fits about as well (Burnham, Anderson 2002, 2.6)."""
TOGETHER = 0.9
"""Idle time and flush whose correlation is beyond this cannot be told apart."""


def together(idle: FloatArray, flush: FloatArray) -> tuple[Concern, ...]:
    """Return a concern where idle time and flush were not varied apart from each other."""
    if not (np.ptp(idle) > 0 and np.ptp(flush) > 0):
        return ()
    likeness = float(np.corrcoef(idle, flush)[0, 1])
    if abs(likeness) < TOGETHER:
        return ()
    return (
        Concern(
            about=About.CONFOUNDED,
            text=f"Idle time and flush went up and down together (correlation {signed(likeness)}), so what "
            "each does cannot be told apart; pull a long idle with a short flush and the reverse.",
        ),
    )


def outside(answer: FlushAnswer, idle: FloatArray, unit: str) -> tuple[Concern, ...]:
    """Return a concern where the answer lies outside what was tested."""
    low, high = float(idle.min()), float(idle.max())
    found: list[Concern] = []
    if not low - 1e-9 <= answer.idle_min <= high + 1e-9:
        found.append(
            Concern(
                about=About.OUT_OF_RANGE,
                text=f"{number(answer.idle_min, 0)} min idle was not tested, only "
                f"{span(low, high, 0, 'min')}: the answer is an extrapolation.",
            )
        )
    elif answer.flush is not None and not answer.in_range:
        found.append(
            Concern(
                about=About.OUT_OF_RANGE,
                text=f"A flush of {number(answer.flush, 1)} {unit} is more than was tested: extrapolated.",
            )
        )
    return tuple(found)


def rivals(rows: tuple[FormFit, ...], answer: FlushAnswer, unit: str) -> tuple[Concern, ...]:
    """Return a concern where a form that fits nearly as well answers otherwise."""
    near = [row for row in rows[1:] if row.criterion - rows[0].criterion < NEARLY]
    differing = [
        row
        for row in near
        if (row.flush is None) != (answer.flush is None)
        or (row.flush is not None and not answer.interval.holds(row.flush))
    ]
    if not differing:
        return ()
    other = differing[0]
    says = "needs no flush or finds none" if other.flush is None else f"says {number(other.flush, 1)} {unit}"
    return (
        Concern(
            about=About.FIT,
            text=f"Another form fits about as well ({other.name}) and {says}: more shots would decide.",
        ),
    )
