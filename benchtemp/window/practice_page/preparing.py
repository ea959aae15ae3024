"""Getting ready what is practised or handed over; it reads files, so run it in the background."""

from __future__ import annotations

import random
from dataclasses import dataclass
from functools import partial
from itertools import islice
from typing import TYPE_CHECKING

import numpy as np

from benchtemp.errors import BadInput, BenchtempError
from benchtemp.logbook.ecsv import read_meta, read_stream
from benchtemp.teaching.cutting import item_from, pulls_in
from benchtemp.teaching.endless import Level, practice_exercise
from benchtemp.teaching.exercise import Item, TeacherNote
from benchtemp.teaching.exercise_file import read_exercise
from benchtemp.window.sources.replay_bar import clock_text

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from pathlib import Path

    from benchtemp.logbook.folder import Logbook
    from benchtemp.readings.reading import Mark, Stream
    from benchtemp.shots.shot import Shot

LISTED_MAX = 200
_SEEDS = 1_000_000


@dataclass(frozen=True)
class Prepared:
    """What a round is made of.

    Attributes:
        items: Its shots, in order.
        title: What the score stands under.
        key: What tells it from others.
        words: The teacher's to the trainee.
    """

    items: tuple[Item, ...]
    title: str
    key: str = ""
    words: str = ""


@dataclass(frozen=True)
class Candidate:
    """A shot that may go into an exercise.

    Attributes:
        title, detail: For the list; neither says what was read out of the trace.
        make: Cuts it, given what it shall be called and whether the band is shown.
        chosen: Whether it is meant to go in.
    """

    title: str
    detail: str
    make: Callable[[str, bool], Item]
    chosen: bool = True


@dataclass(frozen=True)
class ListedShot:
    """A shot of the logbook, to choose from."""

    path: Path
    title: str
    detail: str


def endless(level: Level, count: int) -> Prepared:
    """Return a round of virtual shots nobody has seen before."""
    seed = random.randrange(_SEEDS)  # noqa: S311 - no secret depends on it
    exercise = practice_exercise(level, seed, count)
    return Prepared(exercise.items, f"Virtual shots, {level}", f"{level} {seed}")


def from_file(path: Path) -> Prepared:
    """Return the round that an exercise's file holds.

    Raises:
        BadInput: It is no exercise.
        DamagedFile: It is one, and damaged.
    """
    exercise = read_exercise(path)
    by = f", by {exercise.teacher}" if exercise.teacher else ""
    return Prepared(exercise.items, f"{exercise.title}{by}", exercise.digest, exercise.words)


def from_shots(paths: Sequence[Path]) -> Prepared:
    """Return a round of shots of the logbook, in an order that says nothing.

    Raises:
        BadInput: None of them can be used.
    """
    candidates = list(shot_candidates(paths))
    random.shuffle(candidates)
    items = tuple(
        candidate.make(f"Shot {number}", True)  # noqa: FBT003 - whether the band is shown
        for number, candidate in enumerate(candidates, 1)
    )
    return Prepared(items, "Shots of the logbook")


def shot_candidates(paths: Sequence[Path]) -> tuple[Candidate, ...]:
    """Return the shots of some files, to make an exercise of.

    Raises:
        BadInput: A file cannot be read, or there is no shot in any.
    """
    found = []
    for path in paths:
        stream = read_stream(path)
        named = stream.meta.get("shot")
        number = named.get("number") if isinstance(named, dict) else None
        pulls = pulls_in(stream)
        if len(pulls) > 1 and number is not None:  # a shot's file holds a little of its neighbours
            pulls = tuple(pull for pull in pulls if not pull.is_flush)[:1] or pulls[:1]
        machine = str(stream.meta.get("machine", "")) or path.stem
        found += [
            Candidate(f"{machine}, {_pull_title(pull).lower()}", path.name, partial(_cut, stream, pull, ()))
            for pull in pulls
        ]
    if not found:
        raise BadInput("There is no shot in what was chosen; choose others.")
    return tuple(found)


def replay_candidates(stream: Stream, notes: tuple[Mark, ...]) -> tuple[Candidate, ...]:
    """Return the pulls of a recording, to make an exercise of; a teacher's notes near them go along.

    Raises:
        BadInput: There is none.
    """
    found = tuple(
        Candidate(
            _pull_title(pull),
            f"pump on at {clock_text(pull.result.pump_on_s - float(stream.t_s[0]))}",
            partial(_cut, stream, pull, notes),
            chosen=not pull.is_flush,
        )
        for pull in pulls_in(stream)
    )
    if not found:
        raise BadInput("There is no shot in this recording to make an exercise of.")
    return found


def _pull_title(pull: Shot) -> str:
    return "Flush" if pull.is_flush else f"Shot {pull.number}"


def _cut(stream: Stream, pull: Shot, notes: tuple[Mark, ...], title: str, shows_band: bool) -> Item:  # noqa: FBT001 - filled in part by part
    item = item_from(stream, pull, title=title, shows_band=shows_band)
    zero_s = _zero_s(stream, item)
    for note in notes:
        if 0.0 <= note.t_s - zero_s <= item.length_s:
            item = item.with_note(TeacherNote(t_s=round(note.t_s - zero_s, 3), text=note.text))
    return item


def _zero_s(stream: Stream, item: Item) -> float:
    """Return when an item's clock begins, on the clock of the stream it was cut from."""
    cut, whole = item.stream.temps_degc, stream.temps_degc
    rows = len(cut)
    for row in range(len(whole) - rows + 1):
        if np.array_equal(whole[row : row + 4], cut[:4], equal_nan=True) and np.array_equal(
            whole[row : row + rows], cut, equal_nan=True
        ):
            return float(stream.t_s[row])
    raise AssertionError("an item is a part of the stream it was cut from")


def listed_shots(logbook: Logbook) -> tuple[ListedShot, ...]:
    """Return the newest shots of the logbook, newest first; their results are not told."""
    found = []
    for path in islice(sorted(logbook.shots(), key=lambda path: path.name, reverse=True), LISTED_MAX):
        try:
            meta = read_meta(path)
        except BenchtempError:
            continue
        shot = meta.get("shot")
        if not isinstance(shot, dict) or not shot.get("number"):
            continue
        moment = str(shot.get("pulled") or meta.get("started", ""))[:16].replace("T", " ")
        machine = str(meta.get("machine", "")) or "machine not named"
        found.append(ListedShot(path, f"{machine}, shot {shot['number']}", moment))
    return tuple(found)
