"""What can be done with files of the list, and how it is undone. No widgets; done in the background."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

from benchtemp.logbook.ecsv import read_meta
from benchtemp.logbook.index.batch import Batch, do_each
from benchtemp.logbook.index.editing import (
    ChangedMeanwhile,
    Seen,
    edit,
    from_bin,
    notes_of,
    set_aside,
    tags_of,
    take_back,
)

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping
    from pathlib import Path

    from benchtemp.logbook.folder import Logbook
    from benchtemp.logbook.index import LogbookIndex

Progress = Callable[[int, int], None]
Cancelled = Callable[[], bool]
Work = Callable[[Progress, Cancelled], "Deed"]


@dataclass(frozen=True)
class Deed:
    """What was done.

    Attributes:
        said: A sentence, empty where nothing was done.
        refused: Sentences about files with which it could not be done.
        places: Where the files lie now, as rows name them; those in the bin are not among them.
        words: What it was, to name what can be undone: `moving 3 files to the bin`.
        undo: Does the opposite; None where there is nothing to undo.
        rest: Does it with the files that were not reached because it was stopped; None where all were.
        again_words, again: What may be done about a refusal.
    """

    said: str
    refused: tuple[str, ...] = ()
    places: tuple[str, ...] = ()
    words: str = ""
    undo: Work | None = None
    rest: Work | None = None
    again_words: str = ""
    again: Work | None = None

    @property
    def complaint(self) -> str:
        """Return what could not be done, in a sentence or two."""
        more = len(self.refused) - 1
        if more < 0:
            return ""
        return self.refused[0] + (f" {more} more were refused likewise." if more else "")


def files(count: int, word: str = "file") -> str:
    """Return a number of files in words.

    >>> files(1), files(1200)
    ('1 file', '1,200 files')
    """
    return f"{count:,} {word}{'' if count == 1 else 's'}"


def _told(batch: Batch, said: str, word: str = "file") -> str:
    if not batch.done:
        return ""
    stopped = "" if batch.complete else " The rest was left as it is."
    return f"{files(len(batch.done), word)} {'was' if len(batch.done) == 1 else 'were'} {said}.{stopped}"


def _left(batch: Batch, places: Iterable[str]) -> tuple[str, ...]:
    """Return the files that were not reached."""
    return tuple(place for place in places if place not in set(batch.done) | set(batch.refused))


def to_bin(index: LogbookIndex, places: Iterable[str], progress: Progress, cancelled: Cancelled) -> Deed:
    """Move files to the bin."""
    logbook, wanted, now = index.logbook, tuple(places), list[str]()

    def work(path: Path) -> None:
        moved = index.place_of(logbook.to_bin(path))
        assert moved is not None
        now.append(moved)

    batch = do_each(index, wanted, work, progress, cancelled)
    left = _left(batch, wanted)
    return Deed(
        _told(batch, "moved to the bin"),
        tuple(batch.refused.values()),
        words=f"moving {files(len(now))} to the bin",
        undo=partial(out_of_bin, logbook, index, tuple(now)) if now else None,
        rest=partial(to_bin, index, left) if left else None,
    )


def out_of_bin(
    logbook: Logbook, index: LogbookIndex, places: Iterable[str], progress: Progress, cancelled: Cancelled
) -> Deed:
    """Take files out of the bin, named from the logbook's folder (`bin/shots/…`)."""
    wanted, now = tuple(places), list[str]()

    def work(path: Path) -> Path:
        back = from_bin(logbook, path)
        now.append(index.place_of(back) or "")
        return back

    batch = do_each(index, wanted, work, progress, cancelled)
    left = _left(batch, wanted)
    return Deed(
        _told(batch, "taken out of the bin"),
        tuple(batch.refused.values()),
        tuple(now),
        words=f"taking {files(len(now))} out of the bin",
        undo=partial(to_bin, index, tuple(now)) if now else None,
        rest=partial(out_of_bin, logbook, index, left) if left else None,
    )


def put_aside(
    index: LogbookIndex, places: Iterable[str], reason: str, progress: Progress, cancelled: Cancelled
) -> Deed:
    """Leave shots out of studies, for a reason."""
    return _aside(index, dict.fromkeys(places, reason), "set aside", progress, cancelled)


def let_back(index: LogbookIndex, places: Iterable[str], progress: Progress, cancelled: Cancelled) -> Deed:
    """Take back shots that were set aside."""
    return _aside(index, dict.fromkeys(places, ""), "taken back", progress, cancelled)


def _aside(
    index: LogbookIndex, reasons: Mapping[str, str], said: str, progress: Progress, cancelled: Cancelled
) -> Deed:
    """Set shots aside for their reasons; those with an empty one are taken back."""
    before = {place: row.set_aside for place, row in index.rows(reasons).items()}

    def work(path: Path) -> None:
        reason = reasons[index.place_of(path) or ""]
        if reason:
            set_aside(path, reason)
        else:
            take_back(path)

    batch = do_each(index, reasons, work, progress, cancelled)
    left = {place: reasons[place] for place in _left(batch, reasons)}
    back = {place: before.get(place, "") for place in batch.done}
    shots = files(len(batch.done), "shot")
    return Deed(
        _told(batch, said, "shot"),
        tuple(batch.refused.values()),
        batch.done,
        words=f"taking {shots} back" if said == "taken back" else f"setting {shots} aside",
        undo=partial(_aside, index, back, "put back as before") if back else None,
        rest=partial(_aside, index, left, said) if left else None,
    )


@dataclass(frozen=True)
class Change:
    """New tags and notes for some files.

    Attributes:
        tags: Values by name, empty to take a tag away.
        notes: As they shall be, None to leave them.
        more_notes: Added to the notes as lines of their own.
    """

    tags: Mapping[str, str]
    notes: str | None = None
    more_notes: str = ""

    @property
    def subject(self) -> str:
        """Return what is changed: `the tag coffee`, `the notes`."""
        if not self.tags:
            return "the notes"
        return f"the tag {next(iter(self.tags))}" if len(self.tags) == 1 else "tags"


def change(
    index: LogbookIndex,
    wanted: Change,
    seen: Mapping[str, Seen | None],
    progress: Progress,
    cancelled: Cancelled,
) -> Deed:
    """Change tags and notes.

    Args:
        index: Whose logbook the files lie in.
        wanted: What shall change.
        seen: Files, each with what was seen of it before; None to write whatever stands there.
        progress: Told how far it is.
        cancelled: Asked whether to stop.
    """
    changes = {place: (wanted, one) for place, one in seen.items()}
    deed = _change(index, changes, progress, cancelled, subject=wanted.subject, said="changed")
    index.logbook.remember_tags({name: value for name, value in wanted.tags.items() if value})
    return deed


def _change(
    index: LogbookIndex,
    changes: Mapping[str, tuple[Change, Seen | None]],
    progress: Progress,
    cancelled: Cancelled,
    *,
    subject: str,
    said: str,
) -> Deed:
    """Change each file in its own way, in view of what was seen of it."""
    back: dict[str, tuple[Change, Seen | None]] = {}
    quarrels: list[str] = []

    def work(path: Path) -> None:
        place = index.place_of(path) or ""
        wanted, seen = changes[place]
        before = read_meta(path)
        try:
            after = edit(path, tags=wanted.tags, notes=wanted.notes, more_notes=wanted.more_notes, seen=seen)
        except ChangedMeanwhile:
            quarrels.append(place)
            raise
        had, has = tags_of(before), tags_of(after)
        tags = {name: had.get(name, "") for name in {**had, **has} if had.get(name) != has.get(name)}
        notes = notes_of(before) if notes_of(before) != notes_of(after) else None
        back[place] = (Change(tags, notes), Seen(has, notes_of(after)))

    batch = do_each(index, changes, work, progress, cancelled)
    left = {place: changes[place] for place in _left(batch, changes)}
    forced = {place: (changes[place][0], None) for place in quarrels}
    said_after = "changed again" if said == "changed back" else "changed back"
    return Deed(
        _told(batch, said),
        tuple(batch.refused.values()),
        batch.done,
        words=f"changing {subject} of {files(len(back))}",
        undo=partial(_change, index, back, subject=subject, said=said_after) if back else None,
        rest=partial(_change, index, left, subject=subject, said=said) if left else None,
        again_words="Write mine all the same" if said == "changed" else "Write it all the same",
        again=partial(_change, index, forced, subject=subject, said=said) if forced else None,
    )
