"""The temperatures of a block of rows."""

from __future__ import annotations

from collections.abc import Sequence
from math import inf, isfinite, nan

import numpy as np

from benchtemp.logbook.importing.cells import plain_text, read_cell
from benchtemp.logbook.importing.layout import TableLayout, Temperature
from benchtemp.logbook.importing.rows import Row
from benchtemp.logbook.importing.tally import Tally
from benchtemp.readings.reading import FloatArray
from benchtemp.readings.values import degc_converter, implausible, unit_of
from benchtemp.units import TempUnit

_UNITS = frozenset(map(str, TempUnit))
_UNREADABLE = inf
_NO_TEMPERATURE = 1e6
"""Numbers beyond it may stand for something else, such as no measurement, and are looked at with care."""


def temperatures_of(rows: Sequence[Row], layout: TableLayout, tally: Tally) -> tuple[list[Row], FloatArray]:
    """Return the rows that are none but by their time left out, and the °C of those that stay.

    A row that holds text where every temperature should be is a footer or damaged. A single value that
    cannot be read, or that no type K probe gives, is left empty. All of it is counted.

    Returns: the rows that stay, and their temperatures, shape (rows, channels), NaN where there is none.
    """
    found = np.empty((len(rows), len(layout.temperatures)))
    unreadable: list[tuple[int, str]] = []
    for place, temperature in enumerate(layout.temperatures):
        column = _Column(temperature, layout.decimal, tally)
        found[:, place] = column.read(rows)
        unreadable += column.unreadable
    bad = found == _UNREADABLE
    hopeless = bad.any(axis=1) & (bad | np.isnan(found)).all(axis=1)
    left_out = {row.line for row, gone in zip(rows, hopeless.tolist(), strict=True) if gone}
    for line, cell in unreadable:
        if line not in left_out:
            tally.unreadable.add(cell, line)
    found[bad] = nan
    tally.lines += left_out
    return [row for row in rows if row.line not in left_out], found[~hopeless]


class _Column:
    """Reads one column."""

    def __init__(self, temperature: Temperature, decimal: str, tally: Tally) -> None:
        self._temperature = temperature
        self._decimal = decimal
        self._tally = tally
        self._convert = degc_converter(temperature.unit)
        self._words: set[str] = set()
        self.unreadable: list[tuple[int, str]] = []

    def read(self, rows: Sequence[Row]) -> list[float]:
        """Return °C, NaN where there is none, infinity where a cell cannot be read."""
        column = self._temperature.column - 1
        joined = "".join(row.cells[column] for row in rows)
        # `float` takes underscores and digits of any script, which are no numbers in a file.
        quick = "_" not in joined and joined.isascii() and self._temperature.unit_column is None
        found = []
        for row in rows:
            cell = row.cells[column]
            value = nan
            if quick:
                try:
                    value = float(cell.replace(",", ".") if self._decimal == "," else cell)
                except ValueError:
                    value = nan
            if abs(value) < _NO_TEMPERATURE:
                found.append(
                    self._possible(value if self._convert is None else self._convert(value), row, cell)
                )
            else:
                found.append(self._with_care(row, cell))
        return found

    def _with_care(self, row: Row, cell: str) -> float:
        if not cell.strip() or cell in self._words:
            return nan
        written = read_cell(cell, self._decimal)
        unit: str = self._temperature.unit
        if self._temperature.unit_column is not None:
            beside = row.cells[self._temperature.unit_column - 1]
            unit = unit_of(plain_text(beside, ".").strip("[]() ")) or unit
        if self._temperature.unit_follows and written.unit:
            unit = written.unit
        if isfinite(written.number) and unit in _UNITS:
            convert = degc_converter(unit)
            value = written.number if convert is None else convert(written.number)
            return self._possible(value, row, cell)
        if written.is_word:
            self._words.add(cell)
            return nan
        self.unreadable.append((row.line, cell))
        return _UNREADABLE

    def _possible(self, temp_degc: float, row: Row, cell: str) -> float:
        if not implausible(temp_degc):
            return temp_degc
        self._tally.impossible.add(cell, row.line)
        return nan
