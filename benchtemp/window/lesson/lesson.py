"""What a teacher adds to a replay, and how far the class may see. Knows no widgets."""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from benchtemp.readings.reading import Mark, MarkKind
from benchtemp.shots.marks import standing_pump_marks

if TYPE_CHECKING:
    from collections.abc import Iterable

NOTE_LENGTH_MAX = 200
"""As long as a note of an exercise may be."""


@dataclass(frozen=True, slots=True)
class Entry:
    """A place in a replay one may want to go to.

    Attributes:
        mark: When, and what.
        own: Whether it is a note of the teacher's, not part of the recording.
    """

    mark: Mark
    own: bool = False


class Lesson:
    """The marks of a recording together with a teacher's own notes, in order of time.

    Attributes:
        hidden: Whether the results are hidden.
    """

    def __init__(self, marks: Iterable[Mark] = (), notes: Iterable[Mark] = ()) -> None:
        """Begin.

        Args:
            marks: Of the recording, in its order.
            notes: The teacher's own, kept from an earlier time.
        """
        recorded = tuple(marks)
        standing = set(map(id, standing_pump_marks(recorded)))
        self._recorded = tuple(
            mark for mark in recorded if mark.kind in {MarkKind.NOTE, MarkKind.GAP} or id(mark) in standing
        )
        self._own: tuple[Mark, ...] = ()
        self.hidden = False
        self._arrange(notes)

    def _arrange(self, notes: Iterable[Mark]) -> None:
        self._own = tuple(sorted(notes, key=lambda note: note.t_s))
        entries = [Entry(mark) for mark in self._recorded] + [Entry(note, own=True) for note in self._own]
        self._entries = tuple(sorted(entries, key=lambda entry: entry.mark.t_s))
        self._times = [entry.mark.t_s for entry in self._entries]

    @property
    def entries(self) -> tuple[Entry, ...]:
        """Return everything to go to, in order of time."""
        return self._entries

    @property
    def notes(self) -> tuple[Mark, ...]:
        """Return the teacher's own notes, in order of time."""
        return self._own

    @property
    def has_notes(self) -> bool:
        """Tell whether there is any note at all, recorded or the teacher's."""
        return any(entry.mark.kind is MarkKind.NOTE for entry in self._entries)

    def come(self, now_s: float) -> int:
        """Return how many entries the replay has reached."""
        return bisect_right(self._times, now_s + 1e-6)

    def latest_note(self, now_s: float) -> Mark | None:
        """Return the note that was reached last, None before the first."""
        reached = self._entries[: self.come(now_s)]
        return next((entry.mark for entry in reversed(reached) if entry.mark.kind is MarkKind.NOTE), None)

    def own_come(self, now_s: float) -> tuple[Mark, ...]:
        """Return the teacher's notes that were reached."""
        return tuple(note for note in self._own if note.t_s <= now_s + 1e-6)

    # -- writing -------------------------------------------------------------------------------------------

    def add(self, t_s: float, text: str) -> Mark | None:
        """Add a note and return it; None where there are no words in it."""
        words = _one_line(text)
        if not words:
            return None
        note = Mark(t_s, MarkKind.NOTE, words)
        self._arrange((*self._own, note))
        return note

    def reword(self, note: Mark, text: str) -> Mark | None:
        """Give one of the teacher's notes other words and return it; None where nothing changes."""
        words = _one_line(text)
        if note not in self._own or not words or words == note.text:
            return None
        new = replace(note, text=words)
        self._arrange(new if other is note or other == note else other for other in self._own)
        return new

    def take_out(self, note: Mark) -> bool:
        """Delete one of the teacher's notes; tell whether it was one."""
        if note not in self._own:
            return False
        kept = list(self._own)
        kept.remove(note)
        self._arrange(kept)
        return True


def _one_line(text: str) -> str:
    return " ".join(text.split())[:NOTE_LENGTH_MAX]
