"""The live state machine: when a shot begins, settles and ends. Pure; the same code live and in replay."""

from __future__ import annotations

from enum import StrEnum


class Stage(StrEnum):
    """Where the live state machine stands."""

    STANDBY = "standby"
    RISING = "rising"
    PLATEAU = "plateau"
    ENDED = "ended"
