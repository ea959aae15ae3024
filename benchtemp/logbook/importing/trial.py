"""What a layout makes of a file, before anything is kept: its first rows, its whole trace, what is open."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import msgspec

from benchtemp.errors import BadInput
from benchtemp.logbook.importing.cells import split
from benchtemp.logbook.importing.given import NOTHING_GIVEN, Given
from benchtemp.logbook.importing.guess import PreviewRow, guess_text, preview_text
from benchtemp.logbook.importing.moments import DATE_ORDERS
from benchtemp.logbook.importing.reader import stream_of
from benchtemp.logbook.importing.tally import short
from benchtemp.shots.shot import Analysis, analyse_stream

if TYPE_CHECKING:
    from benchtemp.logbook.importing.layout import TableLayout
    from benchtemp.logbook.importing.question import Question
    from benchtemp.logbook.importing.text import Text
    from benchtemp.readings.reading import Stream

_RAW_LINES = 15
_LONGEST_SHOWN = 400
_MOST_ROWS_ANALYSED = 200_000
"""Some 55 hours of a reading a second; a longer file is drawn, and its shots are found by the import."""


@dataclass(frozen=True, slots=True, eq=False)
class Trial:
    """A file as a layout reads it.

    Attributes:
        text: The file's lines.
        layout: How it was read; None where no layout was found.
        rows: The first lines, in cells and as read.
        stream: The recording that would be made; None where that cannot be.
        complaint: Why not, one sentence; empty where it can.
        questions: What the file does not tell, of a guess.
        remarks: What was found, of a guess.
        analysis: The shots found in it; None where nobody looked.
    """

    text: Text
    layout: TableLayout | None
    rows: tuple[PreviewRow, ...]
    stream: Stream | None = None
    complaint: str = ""
    questions: tuple[Question, ...] = ()
    remarks: tuple[str, ...] = field(default=())
    analysis: Analysis | None = None


def try_guess(text: Text, given: Given = NOTHING_GIVEN) -> Trial:
    """Guess how a file reads and read it so; what goes wrong is told in the outcome."""
    try:
        guess = guess_text(text, given=given)
    except BadInput as error:
        return Trial(text, None, _raw(text, given.delimiter), complaint=str(error))
    if guess.required:
        complaint = " ".join(question.text for question in guess.required)
        return Trial(
            text,
            guess.layout,
            guess.preview,
            complaint=complaint,
            questions=guess.questions,
            remarks=guess.remarks,
        )
    return _read(text, guess.layout, guess.preview, guess.questions, guess.remarks)


def try_layout(text: Text, layout: TableLayout) -> Trial:
    """Read a file by a layout; what goes wrong is told in the outcome."""
    try:
        rows = preview_text(text, _with_any_order(text, layout))
    except BadInput as error:
        return Trial(text, layout, _raw(text, layout.delimiter), complaint=str(error))
    return _read(text, layout, rows, (), ())


def _read(
    text: Text,
    layout: TableLayout,
    rows: tuple[PreviewRow, ...],
    questions: tuple[Question, ...],
    remarks: tuple[str, ...],
) -> Trial:
    try:
        stream = stream_of(text, layout)
        analysis = analyse_stream(stream) if len(stream.t_s) <= _MOST_ROWS_ANALYSED else None
    except BadInput as error:
        return Trial(text, layout, rows, complaint=str(error), questions=questions, remarks=remarks)
    return Trial(text, layout, rows, stream, "", questions, remarks, analysis)


def _with_any_order(text: Text, layout: TableLayout) -> TableLayout:
    """Return a layout with some order of dates by which rows are found, for a first look."""
    if layout.time.kind != "clock" or layout.time.order:
        return layout
    for order in DATE_ORDERS:
        closed = msgspec.structs.replace(layout, time=msgspec.structs.replace(layout.time, order=order))
        try:
            preview_text(text, closed)
        except BadInput:
            continue
        return closed
    return layout


def _raw(text: Text, delimiter: str | None) -> tuple[PreviewRow, ...]:
    """Return the first lines of a file unread, parted where that is known."""
    found = []
    for number, line in enumerate(text.lines):
        if line.strip():
            line_shown = short(line, _LONGEST_SHOWN)
            cells = [line_shown] if delimiter is None else split(line[:_LONGEST_SHOWN], delimiter)
            found.append(PreviewRow(number + 1, line_shown, None, (), tuple(map(short, cells))))
        if len(found) >= _RAW_LINES:
            break
    return tuple(found)
