"""The reference of an exercise's shot, and the teacher's corrections to it."""

from __future__ import annotations

from benchtemp.teaching.exercise import Item, Reference


def reference_of(item: Item) -> Reference:
    """Return the reference that the trace gives with the pump marks kept for the item.

    Args:
        item: Its readings, marks, recipe, dose and yield.

    Raises:
        BadInput: No pull is found in it.
    """
    raise NotImplementedError


def corrected(
    item: Item,
    *,
    pump_on_s: float | None = None,
    plateau_start_s: float | None = None,
    plateau_end_s: float | None = None,
    counts: bool | None = None,
    reason: str = "",
) -> Item:
    """Return the item with what the teacher corrected in its reference; the brew temperature follows.

    Args:
        item: As it is.
        pump_on_s: New time on the item's clock; None leaves it as it is.
        plateau_start_s: The same for the plateau's start.
        plateau_end_s: The same for its end.
        counts: Whether the shot counts, None for worked out anew.
        reason: Why it does not count.

    Raises:
        BadInput: The times do not follow one another, or no reading lies between them.
    """
    raise NotImplementedError
