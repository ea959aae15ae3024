"""Practice shots without end: virtual machines, a seed, and three levels."""

from __future__ import annotations

from enum import StrEnum

from benchtemp.teaching.exercise import Exercise, Item


class Level(StrEnum):
    """How hard it is to see what happened."""

    EASY = "easy"
    USUAL = "usual"
    HARD = "hard"


def practice_item(level: Level, seed: int, number: int = 1) -> Item:
    """Make a practice shot; the same level, seed and number give the same shot, and there is no last one.

    Its reference is the virtual machine's own truth: pump on is when the pump was switched on; the plateau
    starts when the noise-free probe for the last time climbs faster than 0.25 °C/s and ends at pump off; the
    brew temperature is the noise-free probe's time-weighted mean between the two. Their uncertainties are
    how well the noisy trace can tell them.
    """
    raise NotImplementedError


def practice_exercise(level: Level, seed: int, count: int = 5) -> Exercise:
    """Make a round's worth of practice shots.

    Raises:
        BadInput: Fewer than 1 or more than 60 are wanted.
    """
    raise NotImplementedError
