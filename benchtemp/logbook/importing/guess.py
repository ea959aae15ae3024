"""Proposing the layout of a text file's table, to be confirmed by a person beside its first rows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite, nan
from pathlib import Path
from typing import TYPE_CHECKING

import msgspec

from benchtemp.errors import BadInput, BenchtempError
from benchtemp.logbook.importing.cells import Dialect, find_dialect, split
from benchtemp.logbook.importing.columns import find_temperatures
from benchtemp.logbook.importing.commas import refuse_commas_for_both
from benchtemp.logbook.importing.given import NOTHING_GIVEN, Given
from benchtemp.logbook.importing.layout import TableLayout
from benchtemp.logbook.importing.question import Question
from benchtemp.logbook.importing.rows import RowFinder
from benchtemp.logbook.importing.sample import take_sample
from benchtemp.logbook.importing.tally import Tally, short
from benchtemp.logbook.importing.temperatures import temperatures_of, weights_of
from benchtemp.logbook.importing.text import LONGEST_LINE, Text, read_text
from benchtemp.logbook.importing.times import find_timing

if TYPE_CHECKING:
    import os

_PREVIEW_ROWS = 12
_PREVIEW_ABOVE = 3
_RAW_SHOWN = 200
_CELL_SHOWN = 60
_CALLED = {
    ",": "commas",
    ";": "semicolons",
    "\t": "tabs",
    "|": "upright strokes",
    "": "spaces",
    "  ": "at least two spaces",
}


@dataclass(frozen=True, slots=True)
class PreviewRow:
    """A raw line, and what the layout reads in it.

    Attributes:
        line: Its number, from 1.
        raw: The line as it stands, fit to be shown.
        t_s: Its time after the first row, s; None where it is no row, or where that cannot be known yet.
        temps_degc: °C of each channel, NaN where there is none; empty where it is no row.
        cells: The line as it parts into cells, each fit to be shown.
        weight_g: What the scale gave, NaN where there is none.
    """

    line: int
    raw: str
    t_s: float | None
    temps_degc: tuple[float, ...]
    cells: tuple[str, ...] = ()
    weight_g: float = nan

    @property
    def is_row(self) -> bool:
        """Tell whether the line was read as a row."""
        return bool(self.temps_degc)


@dataclass(frozen=True, slots=True)
class TableGuess:
    """A proposed layout.

    Attributes:
        layout: The proposal. With an open question that is required it cannot read the file yet.
        questions: What the file does not tell.
        remarks: A sentence for each point that was found.
        preview: The first lines, raw and as read.
    """

    layout: TableLayout
    questions: tuple[Question, ...]
    remarks: tuple[str, ...]
    preview: tuple[PreviewRow, ...]

    @property
    def required(self) -> tuple[Question, ...]:
        """Return the questions without whose answer the file cannot be read."""
        return tuple(question for question in self.questions if question.required)


def guess_table(
    source: str | os.PathLike[str] | bytes, *, given: Given = NOTHING_GIVEN, name: str = ""
) -> TableGuess:
    """Propose the layout of a text file's table.

    Args:
        source: A path, or a file's content.
        given: Points that are stated; the rest is found to fit them.
        name: What sentences call the file; its own name where empty.

    Raises:
        BadInput: It is no text, holds no table with a temperature, or a column that is named is not there.
    """
    name = name or ("the file" if isinstance(source, bytes) else Path(source).name)
    return guess_text(read_text(source, given.encoding, name), given=given)


def guess_text(text: Text, *, given: Given = NOTHING_GIVEN) -> TableGuess:
    """Propose the layout of the table in a file that was read already; see `guess_table`."""
    name = text.name
    skip_lines = given.skip_lines or 0
    dialect = find_dialect(text.lines[skip_lines:], given.delimiter, given.decimal)
    sample = take_sample(text.lines, dialect, skip_lines) if dialect else None
    if dialect is None or sample is None:
        raise BadInput(
            f"No table of numbers was found in {name}; say what stands between its columns, or name "
            f"another file."
        )
    if given.decimal is None and given.delimiter is None:
        refuse_commas_for_both(sample, name)
    timing = find_timing(sample, given, name)
    temperatures = find_temperatures(sample, timing.timing, given, name)
    layout = TableLayout(
        encoding=text.encoding,
        delimiter=dialect.delimiter,
        decimal=dialect.decimal,
        columns=dialect.columns,
        skip_lines=skip_lines,
        time=timing.timing,
        temperatures=temperatures.temperatures,
        junction=temperatures.junction,
        junction_degc=given.junction_degc if temperatures.junction is None else None,
        weight=temperatures.weight,
        none_words=given.none_words,
    )
    closed = layout
    if layout.time.kind == "clock" and not layout.time.order:
        closed = msgspec.structs.replace(
            layout, time=msgspec.structs.replace(layout.time, order=timing.order_assumed)
        )
    finder = RowFinder(closed)
    first = finder.first(text)
    heading = finder.heading(text.lines, first)
    return TableGuess(
        layout=msgspec.structs.replace(layout, heading=heading),
        questions=(*timing.questions, *temperatures.questions),
        remarks=(_how(text, dialect, first), *timing.remarks, *temperatures.remarks),
        preview=_preview(text, closed, finder, first),
    )


def guess_tables(sources: Sequence[str | os.PathLike[str]], *, given: Given = NOTHING_GIVEN) -> TableGuess:
    """Propose one layout for several files: that of the first, with what another one of its kind tells.

    Raises:
        BadInput: As `guess_table`, for the first file.
    """
    guess = guess_table(sources[0], given=given)
    for source in sources[1:]:
        if not guess.required:
            break
        try:
            other = guess_table(source, given=given)
        except BenchtempError:
            continue
        # A file from the thirteenth of a month on tells the order of dates for all of them.
        same = msgspec.structs.replace(
            other.layout,
            encoding=guess.layout.encoding,
            time=msgspec.structs.replace(other.layout.time, order=guess.layout.time.order),
        )
        if same == guess.layout and other.layout.time.order and len(other.required) < len(guess.required):
            layout = msgspec.structs.replace(guess.layout, time=other.layout.time)
            told = f"{Path(source).name} tells the order of its dates, which is taken for all files."
            guess = TableGuess(layout, other.questions, (*guess.remarks, told), guess.preview)
    return guess


def preview_table(
    source: str | os.PathLike[str] | bytes, layout: TableLayout, name: str = ""
) -> tuple[PreviewRow, ...]:
    """Return the first lines of a file, raw and as a layout reads them.

    Raises:
        BadInput: It is no text, or no row reads by the layout.
    """
    name = name or ("the file" if isinstance(source, bytes) else Path(source).name)
    text = read_text(source, layout.encoding, name)
    return preview_text(text, layout)


def preview_text(text: Text, layout: TableLayout) -> tuple[PreviewRow, ...]:
    """Return the first lines of a file that was read already, raw and as a layout reads them.

    Raises:
        BadInput: No row reads by the layout.
    """
    finder = RowFinder(layout)
    return _preview(text, layout, finder, finder.first(text))


def _preview(text: Text, layout: TableLayout, finder: RowFinder, first: int) -> tuple[PreviewRow, ...]:
    found: list[PreviewRow] = []
    began_s: float | None = None
    factor = layout.time.interval_s or nan if layout.time.kind == "interval" else 1.0
    rows = 0
    for number in range(max(0, first - _PREVIEW_ABOVE), len(text.lines)):
        line = text.lines[number]
        if rows >= _PREVIEW_ROWS:
            break
        if not line.strip():
            continue
        row = finder.row(number, line) if number >= first else None
        kept, temps_degc = temperatures_of([row] if row else [], layout, Tally())
        raw = short(line, _RAW_SHOWN)
        cells = tuple(short(cell, _CELL_SHOWN) for cell in split(line[:LONGEST_LINE], layout.delimiter))
        rows += number >= first
        if not kept:
            found.append(PreviewRow(number + 1, raw, None, (), cells))
            continue
        began_s = kept[0].at_s if began_s is None else began_s
        t_s = round((kept[0].at_s - began_s) * factor, 4)
        weights_g = weights_of(kept, layout, Tally())
        found.append(
            PreviewRow(
                number + 1,
                raw,
                t_s if isfinite(t_s) else None,
                tuple(temps_degc[0].tolist()),
                cells,
                nan if weights_g is None else float(weights_g[0]),
            )
        )
    return tuple(found)


def _how(text: Text, dialect: Dialect, first: int) -> str:
    """Return how the file is built, as a sentence."""
    sign = _CALLED.get(dialect.delimiter, f"“{dialect.delimiter}”")
    parted = f"{dialect.columns} columns parted by {sign}" if dialect.columns > 1 else "one column"
    comma = ", with a comma before decimals" if dialect.decimal == "," else ""
    return f"The text is {text.encoding}, with {parted}{comma}; the first row is line {first + 1}."
