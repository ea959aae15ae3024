"""Marking an answer: differences, points, and one sentence a part that says why.

The scale, for each part that is a number: full points while the answer is no further from the reference than
the exercise's tolerance or the reference's own expanded uncertainty (k = 2), whichever is wider; from there a
half cosine falls to no points at all `FALL` further out. A part where there is none to name (a flush has no
plateau) is right when nothing is named. Whether a shot counts is right or wrong. All of it is our own choice.
"""

from __future__ import annotations

from enum import StrEnum

import msgspec

from benchtemp.teaching.exercise import Item
from benchtemp.units import TempUnit


class Part(StrEnum):
    """What a trainee answers."""

    PUMP_ON = "pump on"
    PLATEAU_START = "plateau start"
    BREW_TEMP = "brew temperature"
    COUNTS = "counts"


POINTS = {Part.PUMP_ON: 20.0, Part.PLATEAU_START: 30.0, Part.BREW_TEMP: 30.0, Part.COUNTS: 20.0}
"""Full points of each part; 100 a shot."""
FALL = {Part.PUMP_ON: 3.0, Part.PLATEAU_START: 5.0, Part.BREW_TEMP: 1.5}
"""How far beyond full points nothing is left: s, s, K."""


class Answer(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What a trainee says of a shot; None where he says nothing (or there is none, such as a plateau).

    Attributes:
        pump_on_s, plateau_start_s: On the item's clock.
        brew_temp_degc: °C.
        counts: Whether the shot counts.

    Raises:
        BadInput: A value that cannot be meant.
    """

    pump_on_s: float | None = None
    plateau_start_s: float | None = None
    brew_temp_degc: float | None = None
    counts: bool | None = None


class PartMark(msgspec.Struct, frozen=True, kw_only=True):
    """What became of one part.

    Attributes:
        part: Which.
        given, reference: Answer and reference: s, °C, or whether it counts; None for none.
        difference: Answer minus reference in s or K; None where one of them is missing, or for `counts`.
        full_within: Full points up to so far from the reference, s or K; None for `counts`.
        points, points_max: Given, and to be had.
        sentence: What to learn from it, with the reason from the trace.
    """

    part: Part
    given: float | bool | None
    reference: float | bool | None
    difference: float | None = None
    full_within: float | None = None
    points: float = 0.0
    points_max: float = 0.0
    sentence: str = ""


class Marking(msgspec.Struct, frozen=True, kw_only=True):
    """What became of an answer.

    Attributes:
        parts: In the order of `Part`.
        answer: What was marked.
        skipped: The trainee passed the shot over: no points.
    """

    parts: tuple[PartMark, ...]
    answer: Answer = Answer()
    skipped: bool = False

    @property
    def points(self) -> float:
        """Return the points of all parts together, 0 to 100."""
        return sum(part.points for part in self.parts)

    def part(self, which: Part) -> PartMark:
        """Return one part."""
        return next(part for part in self.parts if part.part is which)


def mark_answer(
    item: Item, answer: Answer, *, unit: TempUnit = TempUnit.DEGC, skipped: bool = False
) -> Marking:
    """Hold an answer against an item's reference.

    Args:
        item: With its reference.
        answer: The trainee's.
        unit: Of the temperatures in the sentences.
        skipped: Give no points at all, and say what the reference is.
    """
    raise NotImplementedError
