"""The temperatures and weights of a block of rows."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import inf, isfinite, nan

import numpy as np

from benchtemp.logbook.importing.cells import plain_text, read_cell
from benchtemp.logbook.importing.layout import TableLayout, Temperature
from benchtemp.logbook.importing.rows import Row, none_words
from benchtemp.logbook.importing.tally import Tally
from benchtemp.readings.reading import FloatArray
from benchtemp.readings.values import (
    GRAMS_PER,
    HEAVIEST_G,
    degc_converter,
    grams_converter,
    implausible,
    unit_of,
)
from benchtemp.units import TempUnit

_UNITS = frozenset(map(str, TempUnit))
_VOLTAGE = "mV"
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
        column = _Column(temperature, layout, tally)
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
    kept, found = [row for row in rows if row.line not in left_out], found[~hopeless]
    if layout.has_voltages:
        _turn_into_degc(kept, found, layout, tally)
    return kept, found


def weights_of(rows: Sequence[Row], layout: TableLayout, tally: Tally) -> FloatArray | None:
    """Return what the scale gave in rows that stay, g, shape (rows,), NaN where there is none.

    Returns: None where the layout has no weights.
    """
    if layout.weight is None:
        return None
    place, words = layout.weight.column - 1, none_words(layout)
    found = np.full(len(rows), nan)
    for number, row in enumerate(rows):
        cell = row.cells[place].strip()
        if not cell or cell.casefold() in words:
            continue
        written = read_cell(cell, layout.decimal)
        unit = written.unit or layout.weight.unit
        possible = unit in GRAMS_PER and abs(written.number) * GRAMS_PER[unit] <= HEAVIEST_G
        if possible:
            convert = grams_converter(unit)
            found[number] = written.number if convert is None else convert(written.number)
        elif not written.is_word:
            tally.no_weight.add(cell, row.line)
    return found


def _turn_into_degc(rows: Sequence[Row], found: FloatArray, layout: TableLayout, tally: Tally) -> None:
    """Turn the voltages among the values of rows into °C, in place; those of no type K become empty."""
    from benchtemp.probes import type_k  # noqa: PLC0415 - hardly any file needs it

    if layout.junction is not None:
        where = Temperature(column=layout.junction.column, unit=layout.junction.unit)
        junction_degc = np.array(_Column(where, layout, tally).read(rows))
        junction_degc[junction_degc == _UNREADABLE] = nan
    else:
        known = nan if layout.junction_degc is None else layout.junction_degc
        junction_degc = np.full(len(rows), known)
    for place, temperature in enumerate(layout.temperatures):
        if temperature.unit != _VOLTAGE:
            continue
        emf_mv = found[:, place]
        temps_degc = np.asarray(type_k.temp_degc(emf_mv + type_k.emf_mv(junction_degc)))
        for number in np.flatnonzero(np.isfinite(emf_mv) & np.isnan(temps_degc)).tolist():
            tally.impossible.add(rows[number].cells[temperature.column - 1], rows[number].line)
        found[:, place] = np.round(temps_degc, 4)


class _Column:
    """Reads one column; voltages stay in mV."""

    def __init__(self, temperature: Temperature, layout: TableLayout, tally: Tally) -> None:
        self._temperature = temperature
        self._decimal = layout.decimal
        self._tally = tally
        self._voltage = temperature.unit == _VOLTAGE
        self._convert: Callable[[float], float] | None = (
            None if self._voltage else degc_converter(temperature.unit)
        )
        self._none_words = none_words(layout)
        self._words: set[str] = set()
        self.unreadable: list[tuple[int, str]] = []

    def read(self, rows: Sequence[Row]) -> list[float]:
        """Return °C, NaN where there is none, infinity where a cell cannot be read."""
        column = self._temperature.column - 1
        joined = "".join(row.cells[column] for row in rows)
        # `float` takes underscores and digits of any script, which are no numbers in a file.
        quick = "_" not in joined and joined.isascii() and self._temperature.unit_column is None
        quick = quick and not self._none_words
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
        if cell.strip().casefold() in self._none_words:
            self._words.add(cell)
            return nan
        written = read_cell(cell, self._decimal)
        if self._voltage:
            if isfinite(written.number) and written.unit in ("", _VOLTAGE):
                return written.number
            return self._no_number(row, cell, is_word=written.is_word)
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
        return self._no_number(row, cell, is_word=written.is_word)

    def _no_number(self, row: Row, cell: str, *, is_word: bool) -> float:
        if is_word:
            self._words.add(cell)
            return nan
        self.unreadable.append((row.line, cell))
        return _UNREADABLE

    def _possible(self, temp_degc: float, row: Row, cell: str) -> float:
        if self._voltage or not implausible(temp_degc):
            return temp_degc
        self._tally.impossible.add(cell, row.line)
        return nan
