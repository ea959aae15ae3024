"""The rows of a table: found in a file's lines, and each told from what is no row."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from math import nan
from typing import NamedTuple

from benchtemp.errors import BadInput
from benchtemp.logbook.importing.cells import CellKind, kind_of, read_cell, split
from benchtemp.logbook.importing.heading import heading_above
from benchtemp.logbook.importing.layout import SECONDS_PER, TableLayout
from benchtemp.logbook.importing.moments import DurationForm, MomentReader, read_duration
from benchtemp.logbook.importing.text import Text

_FURTHEST_S = 1e11
"""Three thousand years: beyond it a number is no time, and 0.1 ms could not be told."""
_LINES_SEARCHED = 20_000
_LINES_ABOVE = 8
_MOST_TABLES = 50
"""How many beginnings of a table are looked at for the one with the right heading."""


class Row(NamedTuple):
    """A row.

    Attributes:
        line: Its line, from 0.
        at_s: Its time in s on the clock of its column; for rows at even intervals their count.
        cells: Its cells, padded to the usual number.
        given: How many of them stand in the line.
    """

    line: int
    at_s: float
    cells: list[str]
    given: int


def time_reader(layout: TableLayout) -> Callable[[list[str]], float]:
    """Return what reads a row's time from its cells: s on a running count, NaN where there is none.

    Raises:
        BadInput: The layout leaves open what must be known.
    """
    timing, decimal = layout.time, layout.decimal
    column = (timing.column or 1) - 1
    if timing.kind == "clock":
        moments = MomentReader(timing.order)
        if timing.date_column is None:
            return lambda cells: moments.at_s(cells[column])
        dates = timing.date_column - 1
        return lambda cells: moments.at_s(cells[column], cells[dates])
    if timing.unit in SECONDS_PER or timing.kind == "interval":
        factor = 1.0 if timing.kind == "interval" else SECONDS_PER[timing.unit]
        return lambda cells: _number(cells[column], decimal) * factor
    two_parts: DurationForm = "h:mm" if timing.unit == "h:mm" else "mm:ss"
    return lambda cells: read_duration(cells[column], two_parts)


def _number(cell: str, decimal: str) -> float:
    if cell.isascii() and "_" not in cell:
        try:
            return float(cell.replace(",", ".") if decimal == "," else cell)
        except ValueError:
            pass
    return read_cell(cell, decimal).number


def none_words(layout: TableLayout) -> frozenset[str]:
    """Return what stands for a missing value by this layout alone, in lower case."""
    return frozenset(word.strip().casefold() for word in layout.none_words)


class RowFinder:
    """Tells rows from other lines."""

    def __init__(self, layout: TableLayout) -> None:
        self._layout = layout
        self._delimiter = layout.delimiter
        self._temps = [temperature.column - 1 for temperature in layout.temperatures]
        self._counts = layout.time.kind == "interval" and layout.time.column is None
        beside = [one.unit_column for one in layout.temperatures if one.unit_column is not None]
        beside += [one.column for one in (layout.junction, layout.weight) if one is not None]
        self._none_words = none_words(layout)
        times = layout.time.columns
        self._width = layout.columns or max([*times, *beside, *(temp + 1 for temp in self._temps)])
        self._least = max([*times, min(self._temps) + 1])
        self._any_width = not layout.columns
        self._time = time_reader(layout)
        self._quick = len(self._delimiter) == 1

    @property
    def width(self) -> int:
        """Return how many cells a whole row has."""
        return self._width

    @property
    def counts_rows(self) -> bool:
        """Tell whether nothing in a row says when it was, so that rows are counted."""
        return self._counts

    def cells(self, line: str) -> list[str] | None:
        """Return a line's cells; None where they are too many or too few for a row."""
        cells = (
            line.split(self._delimiter) if self._quick and '"' not in line else split(line, self._delimiter)
        )
        if len(cells) <= self._width:
            return cells if len(cells) >= self._least else None
        return cells[: self._width] if self._any_width or not "".join(cells[self._width :]).strip() else None

    def row(self, number: int, line: str) -> Row | None:
        """Return a line as a row, None where it is none."""
        cells = self.cells(line)
        if cells is None:
            return None
        given = len(cells)
        if given < self._width:
            cells += [""] * (self._width - given)
        if self._counts:
            at_s = float(number) if any(self._is_value(cells[temp]) for temp in self._temps) else nan
        else:
            at_s = self._time(cells)
        return Row(number, at_s, cells, given) if abs(at_s) <= _FURTHEST_S else None

    def _is_value(self, cell: str) -> bool:
        return self._kind(cell) in (CellKind.NUMBER, CellKind.NONE)

    def _kind(self, cell: str) -> CellKind:
        if self._none_words and cell.strip().casefold() in self._none_words:
            return CellKind.NONE
        return kind_of(cell, self._layout.decimal)

    def sound(self, row: Row) -> bool:
        """Tell whether all of a row's temperatures are numbers, words for none, or left out."""
        kinds = [self._kind(row.cells[temp]) for temp in self._temps]
        return all(kind in (CellKind.NUMBER, CellKind.NONE, CellKind.EMPTY) for kind in kinds)

    def first(self, text: Text) -> int:
        """Return the line of the first row, from 0.

        Raises:
            BadInput: There is no row, or none below the heading the layout names.
        """
        layout = self._layout
        other: tuple[str, ...] = ()
        tables = 0
        was_row = False
        end = min(layout.skip_lines + _LINES_SEARCHED, len(text.lines))
        for number in range(layout.skip_lines, end):
            line = text.lines[number]
            if not line.strip():
                continue
            row = self.row(number, line)
            is_row = row is not None and self.sound(row)
            if is_row and not was_row:
                if not layout.heading:
                    return number
                found = self.heading(text.lines, number)
                if found == layout.heading:
                    return number
                tables += 1
                other = other or found
                if tables >= _MOST_TABLES:
                    break
            was_row = is_row
        if not tables:
            raise BadInput(
                f"No row of {text.name} reads as this layout says; let its layout be guessed, or change the "
                f"layout."
            )
        raise BadInput(
            f"{text.name} is another kind of table than the layout is for: it has {_told(other)} above its "
            f"rows where {_told(layout.heading)} is expected; let its layout be guessed."
        )

    def heading(self, lines: Sequence[str], first: int) -> tuple[str, ...]:
        """Return the names above a row."""
        start = max(self._layout.skip_lines, first - _LINES_ABOVE)
        above = [*lines[start:first], ""]
        return heading_above(above, first - start, self._delimiter, self._layout.decimal, self._width)


def _told(heading: tuple[str, ...]) -> str:
    if not heading:
        return "no heading"
    text = ", ".join(heading)
    return f"“{text if len(text) <= 80 else text[:79] + '…'}”"


def rows_from(finder: RowFinder, lines: Sequence[str], first: int) -> Iterator[tuple[int, Row | None]]:
    """Give every line from a number on that is not empty: its number, and the row it is or None."""
    for number in range(first, len(lines)):
        line = lines[number]
        if line and not line.isspace():
            yield number, finder.row(number, line)
