"""Where a teacher's notes on one replay are kept."""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    from benchtemp.readings.reading import Mark


class NotesKept(Protocol):
    """The notes on one recording, beside it and never in it."""

    def read(self) -> tuple[Mark, ...]:
        """Return what was kept, none where nothing was.

        Raises:
            BenchtempError: There is something, and it cannot be read.
        """

    def write(self, notes: tuple[Mark, ...]) -> None:
        """Keep these notes in place of those kept before.

        Raises:
            BenchtempError: It could not be done.
        """
