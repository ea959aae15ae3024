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


@dataclass(frozen=True)
class Deed:
    """What was done.

    Attributes:
        said: A sentence, empty where nothing was done.
        refused: Sentences about files with which it could not be done.
        undo: Does the opposite; None where it cannot be undone.
        again_words, again: What may be done about a refusal.
    """

    said: str
    refused: tuple[str, ...] = ()
    undo: Callable[[Progress, Cancelled], Deed] | None = None
    again_words: str = ""
    again: Callable[[Progress, Cancelled], Deed] | None = None

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


def _deed(
    batch: Batch, said: str, undo: Callable[[Progress, Cancelled], Deed] | None, word: str = "file"
) -> Deed:
    refused = tuple(batch.refused.values())
    if not batch.done:
        return Deed("", refused)
    stopped = "" if batch.complete else " The rest was left as it is."
    verb = "was" if len(batch.done) == 1 else "were"
    return Deed(f"{files(len(batch.done), word)} {verb} {said}.{stopped}", refused, undo)


def to_bin(index: LogbookIndex, places: Iterable[str], progress: Progress, cancelled: Cancelled) -> Deed:
    """Move files to the bin."""
    logbook, now = index.logbook, list[str]()

    def work(path: Path) -> None:
        moved = index.place_of(logbook.to_bin(path))
        assert moved is not None
        now.append(moved)

    batch = do_each(index, places, work, progress, cancelled)
    return _deed(batch, "moved to the bin", partial(out_of_bin, logbook, index, tuple(now)))


def out_of_bin(
    logbook: Logbook, index: LogbookIndex, places: Iterable[str], progress: Progress, cancelled: Cancelled
) -> Deed:
    """Take files out of the bin, named from the logbook's folder (`bin/shots/…`)."""
    now: list[str] = []

    def work(path: Path) -> Path:
        back = from_bin(logbook, path)
        now.append(index.place_of(back) or "")
        return back

    batch = do_each(index, places, work, progress, cancelled)
    return _deed(batch, "taken out of the bin", partial(to_bin, index, tuple(now)))


def put_aside(
    index: LogbookIndex, places: Iterable[str], reason: str, progress: Progress, cancelled: Cancelled
) -> Deed:
    """Leave shots out of studies, for a reason."""
    wanted = tuple(places)
    before = {place: row.set_aside for place, row in index.rows(wanted).items()}
    batch = do_each(index, wanted, lambda path: _quiet(set_aside(path, reason)), progress, cancelled)
    undo = partial(_as_before, index, {place: before.get(place, "") for place in batch.done})
    return _deed(batch, "set aside", undo, "shot")


def let_back(index: LogbookIndex, places: Iterable[str], progress: Progress, cancelled: Cancelled) -> Deed:
    """Take back shots that were set aside."""
    wanted = tuple(places)
    before = {place: row.set_aside for place, row in index.rows(wanted).items()}
    batch = do_each(index, wanted, lambda path: _quiet(take_back(path)), progress, cancelled)
    undo = partial(_as_before, index, {place: before.get(place, "") for place in batch.done})
    return _deed(batch, "taken back", undo, "shot")


def _as_before(
    index: LogbookIndex, reasons: Mapping[str, str], progress: Progress, cancelled: Cancelled
) -> Deed:
    def work(path: Path) -> None:
        reason = reasons[index.place_of(path) or ""]
        if reason:
            set_aside(path, reason)
        else:
            take_back(path)

    batch = do_each(index, reasons, work, progress, cancelled)
    return _deed(batch, "put back as before", None, "shot")


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
    back: dict[str, tuple[Change, Seen]] = {}
    quarrels: list[str] = []

    def work(path: Path) -> None:
        place = index.place_of(path) or ""
        before = read_meta(path)
        try:
            after = edit(
                path,
                tags=wanted.tags,
                notes=wanted.notes,
                more_notes=wanted.more_notes,
                seen=seen[place],
            )
        except ChangedMeanwhile:
            quarrels.append(place)
            raise
        had, has = tags_of(before), tags_of(after)
        tags = {name: had.get(name, "") for name in {**had, **has} if had.get(name) != has.get(name)}
        notes = notes_of(before) if notes_of(before) != notes_of(after) else None
        back[place] = (Change(tags, notes), Seen(has, notes_of(after)))

    batch = do_each(index, seen, work, progress, cancelled)
    _remember(index.logbook, wanted.tags)
    deed = _deed(batch, "changed", partial(_change_back, index, back))
    if not quarrels:
        return deed
    again = partial(change, index, wanted, dict.fromkeys(quarrels))
    return Deed(deed.said, deed.refused, deed.undo, "Write mine all the same", again)


def _change_back(
    index: LogbookIndex,
    back: Mapping[str, tuple[Change, Seen]],
    progress: Progress,
    cancelled: Cancelled,
) -> Deed:
    def work(path: Path) -> None:
        wanted, seen = back[index.place_of(path) or ""]
        edit(path, tags=wanted.tags, notes=wanted.notes, seen=seen)

    return _deed(do_each(index, back, work, progress, cancelled), "changed back", None)


def _remember(logbook: Logbook, tags: Mapping[str, str]) -> None:
    logbook.remember_tags({name: value for name, value in tags.items() if value})


def _quiet(_meta: object) -> None:
    """Nothing has moved, whatever the header says now."""
