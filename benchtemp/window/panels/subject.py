"""Which shot the Scale & timer panel talks about, and what is known of it. No Qt here."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite
from typing import TYPE_CHECKING

import numpy as np

from benchtemp.readings.reading import MarkKind
from benchtemp.shots.recipe import Recipe, RecipeVerdict
from benchtemp.shots.stages import Stage

if TYPE_CHECKING:
    from benchtemp.bench.snapshot import Snapshot
    from benchtemp.shots.shot import Shot


@dataclass(frozen=True, slots=True)
class Subject:
    """The shot under way, the last one, or the next.

    Attributes:
        title: What to call it.
        number: Of a shot that has ended; None for the one under way or the next ("from here on").
        running: Whether its pump runs, or its rise is on.
        time_s: Since pump on; None before.
        marked: Whether pump on was marked by the operator.
        from_scale: Whether `yield_g` is what the scale shows now.
        filling: Whether the pump is off and the cup on the scale still fills.
    """

    title: str
    recipe: Recipe
    number: int | None = None
    running: bool = False
    time_s: float | None = None
    marked: bool = True
    dose_g: float | None = None
    yield_g: float | None = None
    from_scale: bool = False
    filling: bool = False

    @property
    def brew_ratio(self) -> float | None:
        """Return yield divided by dose, None unless both are known."""
        return None if not self.dose_g or self.yield_g is None else self.yield_g / self.dose_g

    @property
    def target_yield_g(self) -> float | None:
        """Return the yield to aim at, from this shot's own dose."""
        return None if self.dose_g is None else self.dose_g * self.recipe.brew_ratio

    @property
    def yield_window_g(self) -> tuple[float, float] | None:
        """Return the lowest and highest yield within the recipe."""
        target_g = self.target_yield_g
        if target_g is None:
            return None
        share = self.recipe.brew_ratio_tolerance
        return target_g * (1 - share), target_g * (1 + share)

    def entered(self, name: str, value: float | None) -> str:
        """Return the text of the `set` mark that gives this shot a value (`dose_g`, `yield_g`)."""
        written = "" if value is None else f"{value:.10g}"
        return f"{name}={written}" if self.number is None else f"shot {self.number} {name}={written}"


def under_way(snapshot: Snapshot) -> bool:
    """Tell whether a pull is on, marked or only seen in the temperature."""
    return snapshot.stage in {Stage.RISING, Stage.PLATEAU}


def last_shot(snapshot: Snapshot) -> Shot | None:
    """Return the last shot of this sitting, flushes passed over."""
    return next((shot for shot in reversed(snapshot.shots) if not shot.is_flush), None)


def subject_of(snapshot: Snapshot, *, next_asked: bool = False) -> Subject:
    """Return the shot to talk about.

    From pump on to its end it is the shot under way; after that it is the one that ended, until the next
    begins or the operator asks for the next (to enter its dose).
    """
    if under_way(snapshot):
        return _running(snapshot)
    shot = last_shot(snapshot)
    if shot is None or next_asked:
        return Subject("Next shot", snapshot.recipe, dose_g=snapshot.recipe.dose_g)
    return Subject(
        f"Shot {shot.number}",
        shot.recipe,
        number=shot.number,
        time_s=shot.result.shot_time_s,
        marked=shot.result.pump_on_source == "marked",
        dose_g=shot.dose_g,
        yield_g=shot.yield_g,
        filling=shot.filling,
    )


def _running(snapshot: Snapshot) -> Subject:
    began_s = snapshot.pump_on_s if snapshot.pump_on_s is not None else snapshot.rise_s
    until_s = snapshot.now_s if snapshot.pump_off_s is None else snapshot.pump_off_s
    time_s = None if began_s is None else max(0.0, until_s - began_s)
    yield_g = cup_g(snapshot, began_s) if snapshot.has_weight and began_s is not None else None
    return Subject(
        "Shot under way",
        snapshot.recipe,
        running=True,
        time_s=time_s,
        marked=snapshot.pump_marked,
        dose_g=snapshot.recipe.dose_g,
        yield_g=yield_g,
        from_scale=yield_g is not None,
    )


def cup_g(snapshot: Snapshot, pump_on_s: float) -> float | None:
    """Return what the scale gained since pump on, or the last tare if that came later; None without it."""
    weights, times = snapshot.trace.weight_g, snapshot.trace.t_s
    now_g = _last_known(weights, len(weights))
    if now_g is None:
        return None
    tares_s = [mark.t_s for mark in snapshot.marks if mark.kind is MarkKind.TARE]
    zero_s = max([pump_on_s, *tares_s])
    zero_g = _last_known(weights, int(np.searchsorted(times, zero_s, side="right")))
    return max(0.0, now_g - (zero_g or 0.0))


def _last_known(weights: np.ndarray, stop: int) -> float | None:
    for row in range(stop - 1, max(-1, stop - 500), -1):
        if isfinite(weights[row]):
            return float(weights[row])
    return None


def verdict_text(subject: Subject) -> tuple[str, str]:
    """Return how the shot stands against its recipe in words, and the look of the words.

    The look is one of the style sheet's: `good`, `bad`, `caution`, `quiet`.
    """
    recipe = subject.recipe
    if subject.running:
        return _while_running(subject)
    if subject.number is None:
        if subject.target_yield_g is None:
            return "Enter the dose, and the target yield appears.", "quiet"
        return (
            f"Target {subject.target_yield_g:.1f} g in {recipe.time_low_s:g}–{recipe.time_high_s:g} s.",
            "quiet",
        )
    if subject.filling:
        return "The cup is still filling; the verdict follows.", "quiet"
    verdict, reasons = recipe.judge(subject.dose_g, subject.yield_g, subject.time_s)
    if verdict is RecipeVerdict.WITHIN:
        return f"✓ within the recipe: 1:{subject.brew_ratio:.2f} in {subject.time_s:.1f} s", "good"
    if verdict is RecipeVerdict.OUTSIDE:
        return f"✕ outside: {'; '.join(reasons)}", "bad"
    missing = [
        word
        for word, value in (
            ("dose", subject.dose_g),
            ("yield", subject.yield_g),
            ("pump off", subject.time_s),
        )
        if value is None
    ]
    return f"No verdict yet: {' and '.join(missing)} missing.", "quiet"


def _while_running(subject: Subject) -> tuple[str, str]:
    recipe, time_s = subject.recipe, subject.time_s
    if time_s is None:
        return "", "quiet"
    if time_s < recipe.time_low_s:
        return f"{recipe.time_low_s - time_s:.0f} s to the time window", "quiet"
    if time_s <= recipe.time_high_s:
        return f"✓ inside the time window, {recipe.time_high_s - time_s:.0f} s left", "good"
    return f"✕ past the time window, {recipe.time_low_s:g}–{recipe.time_high_s:g} s", "bad"
