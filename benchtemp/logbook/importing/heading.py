"""The names above a table: one line of them, or names with their units below or their groups above."""

from __future__ import annotations

import re
from collections.abc import Sequence
from math import ceil, isfinite

from benchtemp.logbook.importing.cells import CellKind, kind_of, read_cell, split
from benchtemp.logbook.importing.layout import MOST_HEADING_CHARACTERS
from benchtemp.readings.values import unit_of

_MOST_LINES = 3
_MOST_DAMAGED = 2
_MOST_DIGITS = 3
_FEWEST_CELLS = 0.6
_UNIT_LIKE = re.compile(
    r"[\[(]?\s*(?:°\s*[cfk]|(?:deg\.?\s?)?[cfk]|m?s|µs|us|sec|min|h|hrs?|%\s?(?:rh)?|-+|m?v|m?bar|[kh]?pa|psi|g|"
    r"[ymdhst]{1,4}(?:[-/.: ][ymdhs]{1,4})+)\s*[\])]?",
    re.IGNORECASE,
)
_AROUND = "#\"' \t"


def heading_above(
    lines: Sequence[str], first: int, delimiter: str, decimal: str, columns: int
) -> tuple[str, ...]:
    """Return the columns' names as they stand right above a row, one for each column; empty without any.

    Args:
        lines: All lines.
        first: Which line is the first row, from 0.
        delimiter: What stands between cells.
        decimal: The sign before decimals.
        columns: How many cells a row has.
    """
    found: list[list[str]] = []
    at = _above_damage(lines, first, delimiter, decimal, columns)
    while at >= 0 and len(found) < _MOST_LINES:
        cells = _cells(lines[at], delimiter, columns)
        if not _names(cells, decimal, columns):
            break
        if found and not (_units(found[-1]) or _units(cells) or _doubled(found[-1])):
            break
        if found and not _units(cells) and not _units(found[-1]):
            cells = _carried_on(cells)
        found.append(cells)
        at -= 1
    if not found:
        return ()
    padded = [[*cells, *[""] * columns][:columns] for cells in reversed(found)]
    names = tuple(_name(parts) for parts in zip(*padded, strict=True))
    return names if any(names) else ()


def _above_damage(lines: Sequence[str], first: int, delimiter: str, decimal: str, columns: int) -> int:
    """Return the line of the names: right above the first row, or above one or two damaged ones."""
    at = first - 1
    if at >= 0 and not lines[at].strip():
        at -= 1
    # Two cells may as well be a label and its value.
    for damaged in range(1, _MOST_DAMAGED + 1 if columns > 2 else 1):
        cells = _cells(lines[at], delimiter, columns) if at >= 0 else []
        above = _cells(lines[at - damaged], delimiter, columns) if at >= damaged else []
        if not cells or _names(cells, decimal, columns):
            break
        if len(above) == columns and all(above) and _names(above, decimal, columns):
            return at - damaged
    return at


def _cells(line: str, delimiter: str, columns: int) -> list[str]:
    """Part a line of names; where spaces part cells, a unit may stand alone or belong to a name."""
    line = line.strip().lstrip("#").strip() if delimiter in ("", "  ") else line
    cells = split(line, delimiter)
    if delimiter == "" and len(cells) != columns:
        cells = next((other for other in (line.split(), split(line, "  ")) if len(other) == columns), cells)
    while len(cells) > columns and not cells[-1]:
        cells.pop()
    return cells


def _names(cells: list[str], decimal: str, columns: int) -> bool:
    """Tell whether cells can be names: enough of them, and no readings among them."""
    filled = [cell for cell in cells if cell and cell.isprintable()]
    if len(cells) > columns or not filled or len(cells) < max(min(2, columns), ceil(_FEWEST_CELLS * columns)):
        return False
    return not any(_is_reading(cell, decimal) for cell in filled)


def _is_reading(cell: str, decimal: str) -> bool:
    kind = kind_of(cell, decimal)
    if kind is CellKind.NUMBER:
        # Channels may be named by their numbers alone.
        return not (
            cell.isdigit() and len(cell) <= _MOST_DIGITS and isfinite(read_cell(cell, decimal).number)
        )
    return kind in (CellKind.MOMENT, CellKind.DATE, CellKind.TIME)


def _units(cells: list[str]) -> bool:
    filled = [cell for cell in cells if cell]
    return bool(filled) and all(_UNIT_LIKE.fullmatch(cell) or unit_of(cell.strip("[]()")) for cell in filled)


def _doubled(cells: list[str]) -> bool:
    filled = [cell for cell in cells if cell]
    return len(set(filled)) < len(filled)


def _carried_on(cells: list[str]) -> list[str]:
    """Return the names of groups, each standing above its first column, for all columns of theirs."""
    carried = []
    last = ""
    for cell in cells:
        last = cell or last
        carried.append(last)
    return carried


def _name(parts: Sequence[str]) -> str:
    text = " ".join(part.strip(_AROUND) for part in parts if part.strip(_AROUND))
    text = " ".join("".join(sign if sign.isprintable() else " " for sign in text).split())
    return text[:MOST_HEADING_CHARACTERS]
