"""Taking other people's files into a logbook: each becomes a recording, none is taken twice."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from benchtemp.errors import BadInput, BenchtempError
from benchtemp.logbook.ecsv import read_meta, write_stream
from benchtemp.logbook.folder import SUFFIX, Logbook, make_folder
from benchtemp.logbook.importing.layout import TableLayout
from benchtemp.logbook.importing.reader import IMPORTED, stream_of
from benchtemp.logbook.importing.text import read_text
from benchtemp.logbook.names import free_paths, recording_name, safe_part
from benchtemp.shots.shot import Analysis, analyse_stream

if TYPE_CHECKING:
    from collections.abc import Mapping

    from benchtemp.readings.reading import Stream

Progress = Callable[[int, int, str], None]
"""Told before each file: how many are done, how many there are, and the one that is next."""


@dataclass(frozen=True, slots=True)
class Imported:
    """What became of one file.

    Attributes:
        file: The file.
        recording: The recording made of it; None where none was.
        already: The recording that was made of the very same content before, where there is one.
        complaint: Why it could not be imported; empty where it could.
        rows: How many readings it holds.
        started: ISO 8601 moment of time 0; empty where the file does not tell.
        sha256: Digest of the file.
        warnings: What was left out, spread or mended.
        analysis: The shots found in it.
    """

    file: Path
    recording: Path | None = None
    already: Path | None = None
    complaint: str = ""
    rows: int = 0
    started: str = ""
    sha256: str = ""
    warnings: tuple[str, ...] = ()
    analysis: Analysis = field(default_factory=Analysis)


def import_files(
    files: Sequence[Path],
    layout: TableLayout,
    logbook: Logbook,
    *,
    progress: Progress = lambda _done, _total, _name: None,
    done: Callable[[Imported], None] = lambda _outcome: None,
    cancelled: Callable[[], bool] = lambda: False,
    machine: str = "",
    tags: Mapping[str, str] | None = None,
    again: bool = False,
) -> tuple[Imported, ...]:
    """Write a recording for each file, and find the shots in it.

    Args:
        files: Text files that all read by one layout.
        layout: How they read.
        logbook: Where the recordings go; no file of it is ever replaced.
        progress: Told before each file.
        done: Told of each file's outcome at once, so that what follows from it need not wait for the others.
        cancelled: Asked before each file; those done by then stay.
        machine: Name of the machine under test, for the header.
        tags: For the header.
        again: Import a file even where a recording was made of the same content before.

    Returns: what became of each file that was reached, in order. A file that cannot be read is told of and
    the others are imported all the same.

    Raises:
        StorageError: The disk does not take a recording.
    """
    known = {} if again else imported_before(logbook)
    outcomes: list[Imported] = []
    for number, file in enumerate(files):
        if cancelled():
            break
        progress(number, len(files), file.name)
        outcome = _import(file, layout, logbook, known, {"machine": machine, "tags": dict(tags or {})})
        if outcome.recording is not None and not again:
            known[outcome.sha256] = outcome.recording
        outcomes.append(outcome)
        done(outcome)
    return tuple(outcomes)


def imported_before(logbook: Logbook) -> dict[str, Path]:
    """Return the digests of files that recordings were made of, with the recordings."""
    found: dict[str, Path] = {}
    for path in logbook.recordings():
        try:
            source = read_meta(path).get("source")
        except BenchtempError:
            continue
        if isinstance(source, dict) and source.get("kind") == IMPORTED:
            found.setdefault(str(source.get("sha256", "")), path)
    return found


def _import(
    file: Path, layout: TableLayout, logbook: Logbook, known: Mapping[str, Path], header: Mapping[str, object]
) -> Imported:
    try:
        text = read_text(file, layout.encoding, file.name)
        before = known.get(text.sha256)
        if before is not None:
            return Imported(file, already=before, sha256=text.sha256)
        stream = stream_of(text, layout)
        stream.meta.update({key: value for key, value in header.items() if value})
        analysis = analyse_stream(stream)
    except BadInput as error:
        return Imported(file, complaint=str(error))
    path = _write(stream, file, logbook)
    return Imported(
        file,
        recording=path,
        rows=len(stream.t_s),
        started=str(stream.meta.get("started", "")),
        sha256=text.sha256,
        warnings=stream.warnings,
        analysis=analysis,
    )


def _write(stream: Stream, file: Path, logbook: Logbook) -> Path:
    """Write a recording under a name of its own: by its moment, or without one by the name of its file."""
    started = str(stream.meta.get("started", ""))
    called = str(stream.meta.get("machine", "")) or file.stem
    name = recording_name(started, called) if started else safe_part(file.stem, "imported")
    make_folder(logbook.recordings_dir)
    for path in free_paths(logbook.recordings_dir / f"{name}{SUFFIX}"):
        if path.exists():
            continue
        try:
            write_stream(path, stream)
        except BadInput:
            if not path.exists():
                raise
            continue  # somebody else took the name meanwhile
        return path
    raise AssertionError("there is always another free name")
