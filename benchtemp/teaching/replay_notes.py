"""A teacher's own notes on a recording: a small file in the logbook, so that the recording stays as it is.

    notes/<name of the recording>-<its readings' digest>.toml

The digest is of the readings alone: notes are found again when the recording was renamed, moved, or had its
tags edited.
"""

from __future__ import annotations

import hashlib
from math import isfinite
from pathlib import Path
from typing import TYPE_CHECKING

import msgspec

from benchtemp.errors import BadInput, StorageError
from benchtemp.logbook.atomic import write_whole
from benchtemp.logbook.folder import make_folder
from benchtemp.logbook.names import safe_part
from benchtemp.logbook.regular_file import read_regular, shown, why
from benchtemp.readings.reading import Mark, MarkKind
from benchtemp.toml_text import parse_toml

if TYPE_CHECKING:
    from benchtemp.logbook.folder import Logbook
    from benchtemp.readings.reading import Stream

FOLDER = "notes"
SUFFIX = ".toml"
SIZE_LIMIT = 1024 * 1024
COUNT_LIMIT = 1000
LENGTH_LIMIT = 300
_DIGITS = 16


class _Note(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    t_s: float
    text: str


class _Kept(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    recording: str
    notes: tuple[_Note, ...] = ()
    format_version: int = 1


def readings_digest(stream: Stream) -> str:
    """Return what tells a recording's readings from any others, in hexadecimal digits."""
    digest = hashlib.sha256(stream.t_s.tobytes())
    digest.update(stream.temps_degc.tobytes())
    return digest.hexdigest()[:_DIGITS]


class ReplayNotes:
    """The notes on one recording. Times are those of the recording.

    Attributes:
        path: Their file, which may not exist yet.
    """

    def __init__(self, logbook: Logbook, stream: Stream, name: str) -> None:
        """Find the file.

        Args:
            logbook: It lies there.
            stream: The recording.
            name: Of the recording, for the file's name.
        """
        folder = logbook.root / FOLDER
        ending = f"-{readings_digest(stream)}{SUFFIX}"
        known = sorted(folder.glob(f"*{ending}")) if folder.is_dir() else []
        self._name = name
        self.path = known[0] if known else folder / f"{safe_part(Path(name).stem, 'recording')}{ending}"

    def read(self) -> tuple[Mark, ...]:
        """Return the notes as marks, in order of time; none where there is no file.

        Raises:
            BadInput: The file cannot be read as notes.
        """
        if not self.path.exists():
            return ()
        content = read_regular(self.path, first=SIZE_LIMIT + 1)
        if len(content) > SIZE_LIMIT:
            raise BadInput(f"{shown(self.path)} is too large for notes on a recording.")
        try:
            kept = msgspec.convert(parse_toml(content), _Kept)
        except ValueError as error:
            raise BadInput(
                f"{shown(self.path)} holds no notes that can be read; correct or remove it."
            ) from error
        if len(kept.notes) > COUNT_LIMIT:
            raise BadInput(f"{shown(self.path)} holds more than {COUNT_LIMIT} notes; shorten it.")
        if not all(isfinite(note.t_s) for note in kept.notes):
            raise BadInput(f"{shown(self.path)} holds a note without a time; correct or remove it.")
        marks = [
            Mark(note.t_s, MarkKind.NOTE, _one_line(note.text)) for note in kept.notes if _one_line(note.text)
        ]
        return tuple(sorted(marks, key=lambda mark: mark.t_s))

    def write(self, notes: tuple[Mark, ...]) -> None:
        """Keep these notes in place of the earlier ones; without any, the file goes.

        Raises:
            BadInput: There are too many.
            StorageError: The disk does not take them.
        """
        import tomli_w  # noqa: PLC0415  (start-up time)

        if len(notes) > COUNT_LIMIT:
            raise BadInput(f"A recording takes at most {COUNT_LIMIT} notes; take one out first.")
        if not notes:
            try:
                self.path.unlink(missing_ok=True)
            except OSError as error:
                raise StorageError(
                    f"{shown(self.path)} could not be removed: {why(error)}. Remove it by hand."
                ) from error
            return
        kept = _Kept(
            shown(self._name), tuple(_Note(round(note.t_s, 4), _one_line(note.text)) for note in notes)
        )
        make_folder(self.path.parent)
        write_whole(self.path, [tomli_w.dumps(msgspec.to_builtins(kept)).encode()], overwrite=True)


def _one_line(text: str) -> str:
    """Return what of a text can be shown on a line; what came of it stays as it is when taken again."""
    shows = "".join(char if char.isprintable() else " " for char in text)
    return " ".join(shows.split())[:LENGTH_LIMIT].rstrip()
