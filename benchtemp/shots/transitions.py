"""Which stage may follow which: one table, one gate."""

from __future__ import annotations

from enum import StrEnum, auto


class Stage(StrEnum):
    """Where the live state machine stands."""

    STANDBY = "standby"
    RISING = "rising"
    PLATEAU = "plateau"
    ENDED = "ended"


class Cause(StrEnum):
    """What moves the state machine."""

    CLIMBED = auto()
    PRESSED_ON = auto()
    SETTLED = auto()
    LEFT = auto()
    PRESSED_OFF = auto()
    TOO_LONG = auto()
    CAME_TO_NOTHING = auto()
    ON_TAKEN_BACK = auto()
    OFF_TAKEN_BACK_EARLY = auto()
    """A pump off taken back before the pull had settled."""
    OFF_TAKEN_BACK = auto()
    CAME_BACK = auto()
    RESTED = auto()


NEXT: dict[tuple[Stage, Cause], Stage] = {
    (Stage.STANDBY, Cause.CLIMBED): Stage.RISING,
    (Stage.STANDBY, Cause.PRESSED_ON): Stage.RISING,
    (Stage.RISING, Cause.SETTLED): Stage.PLATEAU,
    (Stage.RISING, Cause.LEFT): Stage.ENDED,
    (Stage.RISING, Cause.PRESSED_OFF): Stage.ENDED,
    (Stage.RISING, Cause.TOO_LONG): Stage.ENDED,
    (Stage.RISING, Cause.CAME_TO_NOTHING): Stage.ENDED,
    (Stage.RISING, Cause.ON_TAKEN_BACK): Stage.STANDBY,
    (Stage.PLATEAU, Cause.CLIMBED): Stage.RISING,
    (Stage.PLATEAU, Cause.LEFT): Stage.ENDED,
    (Stage.PLATEAU, Cause.PRESSED_OFF): Stage.ENDED,
    (Stage.PLATEAU, Cause.TOO_LONG): Stage.ENDED,
    (Stage.PLATEAU, Cause.ON_TAKEN_BACK): Stage.STANDBY,
    (Stage.ENDED, Cause.RESTED): Stage.STANDBY,
    (Stage.ENDED, Cause.CLIMBED): Stage.RISING,
    (Stage.ENDED, Cause.PRESSED_ON): Stage.RISING,
    (Stage.ENDED, Cause.OFF_TAKEN_BACK_EARLY): Stage.RISING,
    (Stage.ENDED, Cause.OFF_TAKEN_BACK): Stage.PLATEAU,
    (Stage.ENDED, Cause.CAME_BACK): Stage.PLATEAU,
}

RESUMING = frozenset({Cause.OFF_TAKEN_BACK_EARLY, Cause.OFF_TAKEN_BACK, Cause.CAME_BACK})


class IllegalTransitionError(Exception):
    """A cause was put to a stage that knows no move for it: a fault of ours."""


def next_stage(stage: Stage, cause: Cause) -> Stage:
    """Return where a cause leads: the one gate every change goes through.

    Raises:
        IllegalTransitionError: The table holds no such move.
    """
    try:
        return NEXT[stage, cause]
    except KeyError:
        raise IllegalTransitionError(f"{cause} while {stage}") from None
