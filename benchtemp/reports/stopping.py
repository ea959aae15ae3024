"""Long work that tells how far it is and can be stopped."""

from __future__ import annotations

from collections.abc import Callable

from benchtemp.errors import BenchtempError

Progress = Callable[[int, int], None]
"""Told (done, in all)."""
Cancelled = Callable[[], bool]
"""Asked often; True stops."""


class Stopped(BenchtempError):
    """The user stopped it; nothing was written."""

    exit_code = 130


def go_on(cancelled: Cancelled | None) -> None:
    """Return, unless it is to stop.

    Raises:
        Stopped: It is.
    """
    if cancelled is not None and cancelled():
        raise Stopped("Stopped; nothing was written.")
