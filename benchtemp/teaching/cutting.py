"""Cutting shots out of recordings for an exercise: readings alone go to the trainee."""

from __future__ import annotations

from benchtemp.readings.reading import Stream
from benchtemp.shots.shot import Shot
from benchtemp.teaching.exercise import Item, Tolerance


def pulls_in(stream: Stream) -> tuple[Shot, ...]:
    """Return shots and flushes of a recording or a shot file in order of time, to choose from."""
    raise NotImplementedError


def item_from(
    stream: Stream,
    pull: Shot,
    *,
    title: str = "",
    before_s: float = 12.0,
    after_s: float = 20.0,
    shows_band: bool = True,
    tolerance: Tolerance | None = None,
) -> Item:
    """Cut a pull out of a stream, with its reference and its teacher's-side marks kept apart.

    Args:
        stream: A recording or a shot file.
        pull: One of `pulls_in(stream)`.
        title: What to call it; `Shot` and a number where empty, given by `Exercise` makers.
        before_s: At least so much before pump on, where the stream has it. Up to 6 s more are taken,
            different from shot to shot, so that nobody can count instead of look.
        after_s: So much after pump off. Neither end reaches into another pull.
        shows_band: Whether the trainee sees the target band.
        tolerance: For full points.

    Raises:
        BadInput: Nothing is left of it.
    """
    raise NotImplementedError
