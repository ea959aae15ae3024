"""What to do next in a practice round, in one sentence, and an answer's figures as text. Knows no widgets."""

from __future__ import annotations

from typing import TYPE_CHECKING

from benchtemp.teaching.marking import Part
from benchtemp.teaching.practice import RoundStage
from benchtemp.units import MINUS, TempUnit, delta_text, temp_text
from benchtemp.window.sources.replay_bar import clock_text

if TYPE_CHECKING:
    from benchtemp.teaching.marking import PartMark
    from benchtemp.teaching.practice import RoundView

PART_NAMES = {
    Part.PUMP_ON: "Pump on",
    Part.PLATEAU_START: "Plateau reached",
    Part.BREW_TEMP: "Brew temperature",
    Part.COUNTS: "Does the shot count?",
}
LEAVING = "Press Esc again to leave the round. What was handed in is kept."


def next_step(view: RoundView, *, playing: bool, over: bool, temp_passed: bool = False) -> str:
    """Return what the trainee does next.

    Args:
        view: Where the round stands.
        playing: Whether the trace moves.
        over: Whether all of the trace was shown.
        temp_passed: Whether the brew temperature was given, or left empty on purpose.
    """
    if view.stage is RoundStage.OVER:
        return "The round is over."
    if view.stage is RoundStage.SHOWN:
        onward = "the next shot" if view.number < view.count else "your score"
        return f"Compare your marks with the reference. Enter goes on to {onward}."
    answer = view.answer
    if not playing and not over:
        return "Press K to let the trace run." if view.t_s > 0 else "Press Enter to let the trace run."
    if not over:
        if answer.pump_on_s is None:
            return "Watch the trace. Press Space at the moment the pump goes on."
        if answer.plateau_start_s is None:
            return "Press Enter at the moment the plateau is reached. Backspace takes a mark back."
        return "Watch what the plateau does, or press End to see all of it."
    if answer.brew_temp_degc is None and not temp_passed:
        again = "" if answer.plateau_start_s is not None else " Home plays the trace again."
        return f"Type the brew temperature and press Enter; leave it empty where there is no plateau.{again}"
    if answer.counts is None:
        return "Does the shot count? Choose with the arrow keys and press Enter."
    return "Press Enter to hand your answer in."


def time_text(t_s: float | None) -> str:
    """Return a moment of a shot, or a dash."""
    return "—" if t_s is None else clock_text(t_s)


def value_text(part: Part, value: float | bool | None, unit: TempUnit) -> str:  # noqa: FBT001 - an answer
    """Return an answer or a reference for reading."""
    if part is Part.COUNTS:
        return "—" if value is None else "“counts”" if value else "“does not count”"
    if value is None:
        return "none"
    if part is Part.BREW_TEMP:
        return temp_text(float(value), unit, 2)
    return time_text(float(value))


def difference_text(mark: PartMark, unit: TempUnit) -> str:
    """Return by how much an answer is off, with its sign; empty where there is nothing to compare."""
    if mark.difference is None:
        return ""
    sign = "+" if mark.difference >= 0 else MINUS
    off = abs(mark.difference)
    return sign + (delta_text(off, unit) if mark.part is Part.BREW_TEMP else f"{off:.1f} s")


def points_text(points: float) -> str:
    """Return points as people write them, `17` or `17.5`."""
    return f"{points:.1f}".removesuffix(".0")
