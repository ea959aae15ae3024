"""Marking an answer: differences, points, and one sentence a part that says why.

The scale, for each part that is a number: full points while the answer is no further from the reference than
the exercise's tolerance or the reference's own expanded uncertainty (k = 2), whichever is wider; from there a
half cosine falls to no points at all `FALL` further out. A part where there is none to name (a flush has no
plateau) is right when nothing is named. Whether a shot counts is right or wrong. All of it is our own choice.
"""

from __future__ import annotations

from enum import StrEnum
from math import cos, pi

import msgspec

from benchtemp.errors import BadInput
from benchtemp.teaching.exercise import Item
from benchtemp.teaching.feedback import Feedback
from benchtemp.units import TempUnit


class Part(StrEnum):
    """What a trainee answers."""

    PUMP_ON = "pump on"
    PLATEAU_START = "plateau start"
    BREW_TEMP = "brew temperature"
    COUNTS = "counts"


POINTS = {Part.PUMP_ON: 20.0, Part.PLATEAU_START: 30.0, Part.BREW_TEMP: 30.0, Part.COUNTS: 20.0}
"""Full points of each part; 100 a shot."""
FALL = {Part.PUMP_ON: 3.0, Part.PLATEAU_START: 4.0, Part.BREW_TEMP: 1.0}
"""How far beyond full points nothing is left: s, s, K."""


COVERAGE_FACTOR = 2.0


class Answer(msgspec.Struct, frozen=True, kw_only=True):
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

    def __post_init__(self) -> None:
        for what, time_s in (("pump on", self.pump_on_s), ("plateau start", self.plateau_start_s)):
            if time_s is not None and not 0.0 <= time_s < 1e6:
                raise BadInput(f"A {what} at {time_s:g} s cannot be; give seconds from the shot's beginning.")
        if self.brew_temp_degc is not None and not 0.0 < self.brew_temp_degc < 200.0:
            raise BadInput(
                f"A brew temperature of {self.brew_temp_degc:g} °C cannot be; name one such as 92.6."
            )


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
    if skipped:
        answer = Answer()
    reference, tolerance = item.reference, item.tolerance
    says = Feedback(item, unit)
    rows = (
        (Part.PUMP_ON, answer.pump_on_s, reference.pump_on_s, tolerance.pump_on_s),
        (Part.PLATEAU_START, answer.plateau_start_s, reference.plateau_start_s, tolerance.plateau_start_s),
        (Part.BREW_TEMP, answer.brew_temp_degc, reference.brew_temp_degc, tolerance.brew_temp_k),
    )
    uncertainties = (
        reference.pump_on_uncertainty_s,
        reference.plateau_start_uncertainty_s,
        reference.brew_temp_uncertainty_k,
    )
    sentences = (
        says.pump_on(answer.pump_on_s),
        says.plateau_start(answer.plateau_start_s),
        says.brew_temp(answer.brew_temp_degc, answer.plateau_start_s),
    )
    marks = []
    for (part, given, right, allowed), uncertainty, sentence in zip(
        rows, uncertainties, sentences, strict=True
    ):
        within = max(allowed, COVERAGE_FACTOR * uncertainty)
        share = 0.0
        if given is not None and right is not None:
            share = share_of(given - right, within, FALL[part])
        elif given is None and right is None and answer.counts is False:
            # An empty answer earns nothing: only who says that the shot does not count has seen why.
            share = 1.0
        marks.append(
            PartMark(
                part=part,
                given=given,
                reference=right,
                difference=given - right if given is not None and right is not None else None,
                full_within=within,
                points=round(share * POINTS[part], 1),
                points_max=POINTS[part],
                sentence=sentence,
            )
        )
    right_counts = answer.counts is reference.counts
    marks.append(
        PartMark(
            part=Part.COUNTS,
            given=answer.counts,
            reference=reference.counts,
            points=POINTS[Part.COUNTS] if right_counts else 0.0,
            points_max=POINTS[Part.COUNTS],
            sentence=says.counts(answer.counts),
        )
    )
    return Marking(parts=tuple(marks), answer=answer, skipped=skipped)


def share_of(difference: float, full_within: float, fall: float) -> float:
    """Return the share of the full points: 1 up to `full_within`, then a half cosine to 0 over `fall`."""
    beyond = abs(difference) - full_within
    if not beyond < fall:
        return 0.0
    return 1.0 if beyond <= 0.0 else 0.5 * (1.0 + cos(pi * beyond / fall))
