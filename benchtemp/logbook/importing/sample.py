"""Rows of a table to judge its columns by."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from benchtemp.logbook.importing.cells import CellKind, Dialect, kind_of, split
from benchtemp.logbook.importing.heading import heading_above

_FIRST_ROWS = 300
_FURTHER_ROWS = 200
_MAJORITY = 0.6
_LINES_SEARCHED = 20_000


class Sample(NamedTuple):
    """A table looked at.

    Attributes:
        lines: All lines of the file.
        dialect: How they part into cells.
        first: The line of the first row, from 0.
        names: The columns' names, empty where there are none.
        rows: The first rows one after the other, each with all its cells.
        further: Rows from all over the file.
        kinds: What each column mostly holds.
    """

    lines: Sequence[str]
    dialect: Dialect
    first: int
    names: tuple[str, ...]
    rows: list[list[str]]
    further: list[list[str]]
    kinds: list[CellKind]

    def name(self, column: int) -> str:
        """Return a column's name, empty where it has none; columns count from 1."""
        return self.names[column - 1] if self.names else ""

    def called(self, column: int) -> str:
        """Return what a sentence calls a column."""
        return f"“{self.name(column)}”" if self.name(column) else f"column {column}"

    def texts(self, column: int) -> list[str]:
        """Return a column's cells in the first rows."""
        return [row[column - 1] for row in self.rows]

    def all_rows(self) -> Iterator[list[str]]:
        """Give the cells of every line from the first row on that has as many as a row."""
        for line in self.lines[self.first :]:
            cells = _whole(split(line, self.dialect.delimiter), self.dialect.columns)
            if cells is not None:
                yield cells


def take_sample(lines: Sequence[str], dialect: Dialect, skip_lines: int) -> Sample | None:
    """Return rows of a table and what its columns hold, None where no line reads as a row."""
    kinds = _kinds(_rows_of(lines, dialect, skip_lines), dialect)
    first = next(
        (
            number
            for number in range(skip_lines, min(len(lines), skip_lines + _LINES_SEARCHED))
            if _is_row(lines[number], dialect, kinds)
        ),
        None,
    )
    if first is None:
        return None
    rows = _rows_of(lines[first:], dialect, 0)
    body = lines[first:]
    step = max(1, len(body) // _FURTHER_ROWS)
    spread = [_whole(split(line, dialect.delimiter), dialect.columns) for line in body[::step]]
    names = heading_above(lines[skip_lines:], first - skip_lines, *dialect)
    further = [row for row in spread if row is not None]
    return Sample(lines, dialect, first, names, rows, further, _kinds(rows + further, dialect))


def _rows_of(lines: Sequence[str], dialect: Dialect, skip_lines: int) -> list[list[str]]:
    found: list[list[str]] = []
    for number in range(skip_lines, len(lines)):
        cells = _whole(split(lines[number], dialect.delimiter), dialect.columns)
        if cells is not None:
            found.append(cells)
            if len(found) >= _FIRST_ROWS:
                break
    return found


def _whole(cells: list[str], columns: int) -> list[str] | None:
    """Return a row's cells, None where they are not as many as a row has."""
    if len(cells) > columns and not any(cells[columns:]):
        cells = cells[:columns]
    return cells if len(cells) == columns and any(cells) else None


def _kinds(rows: Sequence[Sequence[str]], dialect: Dialect) -> list[CellKind]:
    found = []
    for column in range(dialect.columns):
        counts = Counter(kind_of(row[column], dialect.decimal) for row in rows)
        counts.pop(CellKind.EMPTY, None)
        filled = sum(counts.values())
        numbers = counts[CellKind.NUMBER]
        if numbers:
            numbers += counts.pop(CellKind.NONE, 0)
            counts[CellKind.NUMBER] = numbers
        kind, times = counts.most_common(1)[0] if counts else (CellKind.EMPTY, 0)
        found.append(kind if not filled or times >= _MAJORITY * filled else CellKind.TEXT)
    return found


def _is_row(line: str, dialect: Dialect, kinds: Sequence[CellKind]) -> bool:
    cells = _whole(split(line, dialect.delimiter), dialect.columns)
    if cells is None:
        return False
    told = False
    for cell, kind in zip(cells, kinds, strict=True):
        ours = kind_of(cell, dialect.decimal)
        if ours is CellKind.EMPTY or kind in (CellKind.TEXT, CellKind.EMPTY):
            continue
        if ours is not kind and {ours, kind} != {CellKind.NUMBER, CellKind.NONE}:
            return False
        told = True
    return told
