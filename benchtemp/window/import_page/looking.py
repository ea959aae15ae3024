"""Looking at a file in a thread: its text is read once, and tried by a guess or by a layout. No widgets."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import msgspec

from benchtemp.logbook.importing import Given, TableLayout, Trial, guess_tables, try_guess, try_layout
from benchtemp.logbook.importing.text import Text, read_text

if TYPE_CHECKING:
    from collections.abc import Sequence


@dataclass(frozen=True, slots=True)
class ReadText:
    """A file's lines, kept so that it is not read anew for each change.

    Attributes:
        path: The file.
        encoding: The one that was asked for, empty where it was to be found out.
        text: Its lines.
    """

    path: Path
    encoding: str
    text: Text


@dataclass(frozen=True, slots=True)
class Look:
    """What was found: the text to be used again, and the trial."""

    read: ReadText
    trial: Trial


def look(
    path: Path,
    others: Sequence[Path],
    *,
    given: Given,
    layout: TableLayout | None,
    read: ReadText | None,
) -> Look:
    """Read a file by a layout, or by a guess where there is none.

    Args:
        path: The file to be looked at.
        others: Files chosen beside it, one of which may tell the order of dates.
        given: What was stated of the guess.
        layout: How it reads, where that is settled.
        read: The text read last, used again if it is this file's.

    Raises:
        BadInput: It is no text file.
    """
    encoding = given.encoding if layout is None else layout.encoding
    if read is None or (read.path, read.encoding) != (path, encoding):
        read = ReadText(path, encoding, read_text(path, encoding, path.name))
    if layout is not None:
        return Look(read, try_layout(read.text, layout))
    trial = try_guess(read.text, given)
    if others and any(question.point == "order" for question in trial.questions if question.required):
        guess = guess_tables([path, *others], given=given)
        if not guess.required:
            told = try_layout(read.text, guess.layout)
            return Look(
                read,
                Trial(
                    told.text,
                    told.layout,
                    told.rows,
                    told.stream,
                    told.complaint,
                    guess.questions,
                    guess.remarks,
                    told.analysis,
                ),
            )
    return Look(read, trial)


def named(layout: TableLayout, name: str) -> TableLayout:
    """Return a layout under a name."""
    return msgspec.structs.replace(layout, name=name.strip())
