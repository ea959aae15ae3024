"""Holding every file of a logbook against the digests written with it, and mending only when asked."""

from __future__ import annotations

import contextlib
import datetime as dt
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import msgspec

from benchtemp.errors import BadInput, BenchtempError
from benchtemp.logbook.atomic import write_whole
from benchtemp.logbook.ecsv import read_stream, write_stream
from benchtemp.logbook.folder import Logbook, make_folder
from benchtemp.logbook.index.pooled import outcomes, processes_for
from benchtemp.logbook.index.scan import scan
from benchtemp.logbook.interrupted import close_interrupted
from benchtemp.logbook.lock import Locked, locked_elsewhere
from benchtemp.logbook.names import free_paths
from benchtemp.logbook.regular_file import read_regular, shown
from benchtemp.logbook.shot_file import Condition, replace_shot, verify

if TYPE_CHECKING:
    from collections.abc import Callable, Generator

    from benchtemp.readings.reading import Stream

FILES_PER_JOB = 40
MANY_FILES = 1000
DAMAGE = frozenset({Condition.ROWS_DAMAGED, Condition.UNREADABLE})


class Checked(msgspec.Struct, frozen=True):
    """What the check of one file came to.

    Attributes:
        path: From the logbook's folder, with `/` between its parts.
        condition: In a word.
        text: In a sentence.
    """

    path: str
    condition: Condition
    text: str

    @property
    def is_damaged(self) -> bool:
        """Return whether something was lost or altered in the file's readings, or it cannot be read."""
        return self.condition in DAMAGE


class Mended(msgspec.Struct, frozen=True):
    """What mending a file came to.

    Attributes:
        text: What was done, as a sentence.
        original: Where the file lies as it was, None where not a byte of it was changed or left out.
    """

    text: str
    original: Path | None


def check(
    logbook: Logbook,
    progress: Callable[[int, int], None] | None = None,
    cancelled: Callable[[], bool] | None = None,
    *,
    processes: int | None = None,
) -> Generator[Checked, None, None]:
    """Give what the check of each file came to, newest first; nothing is changed.

    Args:
        logbook: All its recordings and shots are read whole.
        progress: Told (files done, files in all).
        cancelled: Asked often; True stops.
        processes: How many read; where None, one for few files and one per core for many.

    Raises:
        StorageError: A folder of the logbook cannot be read.
    """
    paths = [file.path for file in scan(logbook)]
    jobs = [
        (str(logbook.root), paths[start : start + FILES_PER_JOB])
        for start in range(0, len(paths), FILES_PER_JOB)
    ]
    used = processes_for(len(paths), processes, at_least=MANY_FILES)
    done = 0
    stop = cancelled or (lambda: False)
    with contextlib.closing(outcomes(_check_job, jobs, processes=used, cancelled=stop)) as batches:
        for batch in batches:
            yield from batch
            done += len(batch)
            if progress:
                progress(done, len(paths))


def _check_job(job: tuple[str, list[str]]) -> list[Checked]:
    root, paths = job
    found = []
    for path in paths:
        result = verify(Path(root) / path)
        found.append(Checked(path, result.condition, result.text))
    return found


def mend(logbook: Logbook, path: Path) -> Mended:
    """Make the best of a damaged or unfinished file; the original is kept in the bin.

    A recording that was never closed is closed. Of a file whose rows are damaged, those that can be read are
    written anew and signed, with a word in the header about what happened: altered digits cannot be told
    from true ones, so what it says is to be believed less.

    Raises:
        BadInput: There is nothing to mend, or nothing that can be.
        StorageError: It is in use, or the disk refuses; the file is as it was.
    """
    found = verify(path)
    name = shown(path)
    if found.condition is Condition.NOT_CLOSED:
        closed = close_interrupted(path)
        return Mended(f"{name} is closed now; all its whole rows are kept.", closed.torn)
    if found.condition is Condition.UNREADABLE:
        raise BadInput(f"{name} cannot be mended: {found.text}")
    if found.condition is not Condition.ROWS_DAMAGED:
        raise BadInput(f"{name} needs no mending: {found.text}")
    if locked_elsewhere(path) is Locked.BY_ANOTHER:
        raise BadInput(f"{name} is still being recorded; stop that first.")
    try:
        stream = read_stream(path)
    except BenchtempError as error:
        raise BadInput(f"{name} cannot be mended: {error}") from error
    original = _copy_to_bin(logbook, path)
    _write_anew(path, stream, found.text, original)
    return Mended(f"{name} was written anew from {len(stream.t_s)} rows that can be read.", original)


def _write_anew(path: Path, stream: Stream, text: str, original: Path) -> None:
    note: dict[str, Any] = {
        "at": dt.datetime.now().astimezone().isoformat(timespec="seconds"),
        "found": text,
        "warnings": list(stream.warnings),
        "original": original.name,
    }
    meta = {key: value for key, value in stream.meta.items() if key != "digest"}
    changed = replace(stream, meta={**meta, "mended": note})
    if meta.get("kind") == "shot":
        replace_shot(path, changed)
    else:
        write_stream(path, changed, overwrite=True)


def _copy_to_bin(logbook: Logbook, path: Path) -> Path:
    content = read_regular(path)
    try:
        place = (path.parent.resolve() / path.name).relative_to(logbook.root.resolve())
    except (ValueError, OSError) as error:
        raise BadInput(f"{shown(path)} is not in the logbook {shown(logbook.root)}; it stays.") from error
    target = logbook.bin_dir / place
    make_folder(target.parent)
    for candidate in free_paths(target):
        try:
            write_whole(candidate, [content], overwrite=False)
        except FileExistsError:
            continue
        return candidate
    raise AssertionError("there is always another free name")
