"""What was done to files and can be undone, step by step. No widgets."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from typing import TYPE_CHECKING

from benchtemp.errors import BenchtempError
from benchtemp.window.logbook_page.deeds import Deed

if TYPE_CHECKING:
    from benchtemp.window.logbook_page.deeds import Cancelled, Progress, Work

STEPS_MAX = 100
"""Steps remembered; older ones stand in the history of each file all the same."""


@dataclass(frozen=True)
class _Step:
    words: str
    work: Work


class Past:
    """Deeds in their order, to be undone in turn and done again.

    Only the work itself changes it, and one piece of work comes after the other: what is undone is always
    what was done last, however quickly it was asked for.
    """

    def __init__(self, most: int = STEPS_MAX) -> None:
        self._done: deque[_Step] = deque(maxlen=most)
        self._undone: deque[_Step] = deque(maxlen=most)

    @property
    def undo_words(self) -> str:
        """Return what would be undone, such as `moving 3 files to the bin`; empty for nothing."""
        return self._done[-1].words if self._done else ""

    @property
    def redo_words(self) -> str:
        """Return what would be done again, empty for nothing."""
        return self._undone[-1].words if self._undone else ""

    def do(self, work: Work, progress: Progress, cancelled: Cancelled) -> Deed:
        """Do something, and remember how it is undone.

        Raises:
            BenchtempError: As the work does.
        """
        deed = work(progress, cancelled)
        if deed.undo is not None:
            self._done.append(_Step(deed.words, deed.undo))
            self._undone.clear()
        return deed

    def undo(self, progress: Progress, cancelled: Cancelled) -> Deed:
        """Undo what was done last.

        Raises:
            BenchtempError: It could not be tried; it can be undone later.
        """
        if not self._done:
            return Deed("There is nothing to undo.")
        return _step(self._done, self._undone, progress, cancelled)

    def redo(self, progress: Progress, cancelled: Cancelled) -> Deed:
        """Do again what was undone last.

        Raises:
            BenchtempError: It could not be tried; it can be done later.
        """
        if not self._undone:
            return Deed("There is nothing to do again.")
        return _step(self._undone, self._done, progress, cancelled)


def _step(here: deque[_Step], there: deque[_Step], progress: Progress, cancelled: Cancelled) -> Deed:
    """Take the last step from here; the way back from it goes there, and what was not reached stays."""
    step = here.pop()
    try:
        deed = step.work(progress, cancelled)
    except BenchtempError:
        here.append(step)
        raise
    if deed.undo is not None:
        there.append(_Step(step.words, deed.undo))
    if deed.rest is not None:
        here.append(_Step(step.words, deed.rest))
    return deed
