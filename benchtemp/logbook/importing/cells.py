"""Lines parted into cells, and what a cell is: a number, a word for none, a moment, a unit."""

from __future__ import annotations

import csv
import re
from collections import Counter
from collections.abc import Sequence
from enum import Enum, auto
from math import isfinite, nan
from typing import Literal, NamedTuple

from benchtemp.logbook.importing.layout import MOST_COLUMNS
from benchtemp.logbook.importing.moments import date_of, read_duration, read_moment
from benchtemp.readings.tables import looks_decimal
from benchtemp.readings.values import UNIT_PATTERN, Written, read_written, unit_of

SIGNS = (";", "\t", "|", ",")
SPACES = ("  ", "")
"""Runs of at least two spaces (or a tab), and runs of spaces or tabs."""

_FIELD = re.compile(
    rf'"[^"]*"|\S+(?:[ \t]+(?:{UNIT_PATTERN}|[ap]\.?m\.?)(?=\s|\Z))?', re.IGNORECASE | re.ASCII
)
_WIDE_GAP = re.compile(r"[ \t]{2,}|\t")
_SIGNS = str.maketrans({"℃": "°C", "℉": "°F", "−": "-", "–": "-", "—": "-", "\N{NO-BREAK SPACE}": " "})
_DECIMAL_COMMA = re.compile(r"\s*[-+]?\d*,\d+(?:e[-+]?\d+)?(?:\s*[^\d\s]\D*)?\s*\Z", re.IGNORECASE)
LONGEST_VALUE = 64
"""Characters; nothing longer is looked at as a value, so that no made-up cell takes long to look at."""
_TOO_LONG = Written(nan, "", "it is too long for a value")
_SAMPLE_LINES = 300
_FEWEST_SHARE = 0.2
_NEARLY_ALL = 0.9
_MUCH_THE_SAME, _MUCH_BETTER = 0.02, 0.1


class CellKind(Enum):
    """What a cell is."""

    EMPTY = auto()
    NUMBER = auto()
    NONE = auto()
    """A word that stands for a missing value."""
    MOMENT = auto()
    """Date and time."""
    DATE = auto()
    TIME = auto()
    """A time of day or a duration."""
    UNIT = auto()
    TEXT = auto()


class Dialect(NamedTuple):
    """How lines part into cells.

    Attributes:
        delimiter: What stands between cells, as in `TableLayout`.
        decimal: The sign before decimals.
        columns: How many cells a row has.
    """

    delimiter: str
    decimal: Literal[".", ","]
    columns: int


def split(line: str, delimiter: str) -> list[str]:
    """Return a line's cells without the spaces around them."""
    if delimiter == "":
        return [cell.strip('"') for cell in _FIELD.findall(line)]
    if delimiter == "  ":
        return _WIDE_GAP.split(line.strip())
    if '"' in line:
        try:
            cells = next(csv.reader([line], delimiter=delimiter, skipinitialspace=True), [])
        except csv.Error:
            cells = line.split(delimiter)
        return [cell.strip() for cell in cells]
    return [cell.strip() for cell in line.split(delimiter)]


def plain_text(cell: str, decimal: str) -> str:
    """Return a cell with a decimal point and plain signs, as numbers are read."""
    cell = cell.translate(_SIGNS)
    return cell.replace(",", ".") if decimal == "," else cell


def read_cell(cell: str, decimal: str) -> Written:
    """Read a cell as a value: a number, perhaps with its unit, or a word for none."""
    cell = cell.strip()
    if len(cell) > LONGEST_VALUE:
        return _TOO_LONG
    return read_written(plain_text(cell, decimal))


def kind_of(cell: str, decimal: str) -> CellKind:
    """Return what a cell is."""
    cell = cell.strip()
    if not cell:
        return CellKind.EMPTY
    written = read_cell(cell, decimal)
    if isfinite(written.number):
        return CellKind.DATE if len(cell) == 8 and date_of(cell) else CellKind.NUMBER
    if written.is_word:
        return CellKind.NONE
    if len(cell) > LONGEST_VALUE:
        return CellKind.TEXT
    if date_of(cell) is not None:
        return CellKind.MOMENT if ":" in cell or _has_time(cell) else CellKind.DATE
    if ":" in cell and (read_moment(cell, "") or isfinite(read_duration(cell, "mm:ss"))):
        return CellKind.TIME
    return CellKind.UNIT if unit_of(cell.translate(_SIGNS).strip("[]() ")) else CellKind.TEXT


def _has_time(cell: str) -> bool:
    orders = date_of(cell)
    moment = read_moment(cell, orders.orders[0]) if orders else None
    return moment is not None and moment.second is not None


def find_dialect(lines: Sequence[str], delimiter: str | None, decimal: str | None) -> Dialect | None:
    """Find how lines part into cells, None where no way gives columns with values.

    Args:
        lines: All lines of the file.
        delimiter: What stands between cells where that is known.
        decimal: The sign before decimals where that is known.
    """
    sample = _sample(lines)
    if delimiter is not None:
        named = _best(sample, (delimiter,), decimal)
        return named.dialect if named else None
    if delimiter is None and decimal != "." and _lone_decimals(sample):
        return Dialect("", ",", 1)
    by_sign, by_spaces = _best(sample, SIGNS, decimal), _best(sample, SPACES, decimal)
    # Spaces stand within cells too: they are what parts them only where no sign does it nearly as well.
    if by_sign and (by_spaces is None or by_spaces.score <= by_sign.score + _MUCH_BETTER):
        return by_sign.dialect
    return by_spaces.dialect if by_spaces else None


def _lone_decimals(sample: Sequence[str]) -> bool:
    """Tell whether each line is one number with a decimal comma, and not two whole numbers."""
    numbers = [line for line in sample if _is_decimal_comma(line)]
    return len(numbers) >= _NEARLY_ALL * len(sample) and looks_decimal(numbers)


class _Scored(NamedTuple):
    score: float
    dialect: Dialect


def _best(sample: Sequence[str], delimiters: Sequence[str], decimal: str | None) -> _Scored | None:
    """Return the dialect by which lines read best; among those much the same, the one with most columns."""
    best: _Scored | None = None
    for delimiter in delimiters:
        rows = [split(line, delimiter) for line in sample]
        columns = usual_count(rows)
        if columns > MOST_COLUMNS or (columns == 1 and delimiters == SIGNS):
            continue
        for point in _decimals(rows, delimiter, sample) if decimal is None else (decimal,):
            score = _score(rows, columns, point)
            better = best is None or score > best.score + _MUCH_THE_SAME
            if better or (best and score > best.score - _MUCH_THE_SAME and columns > best.dialect.columns):
                best = _Scored(score, Dialect(delimiter, "," if point == "," else ".", columns))
    return best if best and best.score else None


def _sample(lines: Sequence[str]) -> list[str]:
    """Return lines from the beginning and from the middle: above the rows may stand anything."""
    filled = [line for line in lines[: 40 * _SAMPLE_LINES] if line.strip()]
    if len(filled) <= _SAMPLE_LINES:
        return filled
    middle = len(filled) // 2
    return filled[: _SAMPLE_LINES // 4] + filled[middle : middle + 3 * _SAMPLE_LINES // 4]


def usual_count(rows: Sequence[Sequence[str]]) -> int:
    """Return how many cells a whole row has: the most that a fair share of them have.

    A delimiter behind the last cell counts for none where every row has one.
    """
    counts = Counter(map(len, rows))
    fewest = _FEWEST_SHARE * len(rows)
    count = max((count for count, times in counts.items() if times >= fewest), default=0)
    return count - (count > 1 and not any(row[-1] for row in rows if len(row) == count))


def _is_decimal_comma(cell: str) -> bool:
    return len(cell) <= LONGEST_VALUE and _DECIMAL_COMMA.match(cell) is not None


def _decimals(rows: list[list[str]], delimiter: str, lines: Sequence[str]) -> tuple[str, ...]:
    """Return which signs before decimals are worth trying."""
    commas = sum(_is_decimal_comma(cell) for row in rows for cell in row)
    if not commas or (delimiter == "," and not any('"' in line for line in lines)):
        return (".",)
    if usual_count(rows) == 1 and not looks_decimal([row[0] for row in rows if row]):
        return (".",)
    return ",", "."


def _score(rows: list[list[str]], columns: int, decimal: str) -> float:
    """Return how well rows read: the share of whole rows times the share of cells that say something."""
    whole = [row for row in rows if len(row) == columns or (len(row) == columns + 1 and not row[-1])]
    cells = [kind_of(cell, decimal) for row in whole for cell in row[:columns]]
    filled = [kind for kind in cells if kind is not CellKind.EMPTY]
    if not filled or not any(kind is CellKind.NUMBER for kind in filled):
        return 0.0
    said = sum(kind is not CellKind.TEXT for kind in filled)
    shorter = sum(1 < len(row) < columns for row in rows)
    return said / len(filled) * (len(whole) + 0.5 * shorter) / len(rows)
