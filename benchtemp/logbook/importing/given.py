"""What a person states about a table; all else is guessed."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

import msgspec

from benchtemp.errors import BadInput
from benchtemp.logbook.importing.layout import (
    ElapsedUnit,
    Junction,
    TableLayout,
    Temperature,
    Timing,
    Weight,
)
from benchtemp.logbook.importing.moments import DateOrder
from benchtemp.readings.layout import ChannelUnit, WeightUnit

ColumnRef = int | str
"""A column's number, from 1, or its heading."""


class Given(msgspec.Struct, frozen=True, kw_only=True):
    """Points that are stated; None, or empty, where one is not.

    Attributes:
        encoding: Of the text.
        delimiter: What stands between cells, as in `TableLayout`.
        decimal: The sign before decimals.
        skip_lines: Lines at the beginning to pass over.
        order: In which order the numbers of a date stand.
        unit: Of all temperatures.
        time_column: The column of times.
        date_column: The column of dates, where they stand apart.
        elapsed_unit: Times count from the start, in this unit.
        interval_s: Rows follow each other evenly, so many seconds apart.
        temperature_columns: The columns of temperatures, T1 first.
        junction_column: The column of the reference junction's temperature, for voltages.
        junction_degc: That temperature, where no column has it.
        weight_column: The column of weights.
        weight_unit: Their unit.
        none_words: What stands for a missing value, beside the usual words.
    """

    encoding: str = ""
    delimiter: str | None = None
    decimal: Literal[".", ","] | None = None
    skip_lines: int | None = None
    order: DateOrder | None = None
    unit: ChannelUnit | None = None
    time_column: ColumnRef | None = None
    date_column: ColumnRef | None = None
    elapsed_unit: ElapsedUnit | None = None
    interval_s: float | None = None
    temperature_columns: tuple[ColumnRef, ...] = ()
    junction_column: ColumnRef | None = None
    junction_degc: float | None = None
    weight_column: ColumnRef | None = None
    weight_unit: WeightUnit | None = None
    none_words: tuple[str, ...] = ()


NOTHING_GIVEN = Given()


def column_number(named: ColumnRef, heading: Sequence[str], columns: int) -> int:
    """Return a column's number from what a person calls it.

    Raises:
        BadInput: There is no such column, or more than one; the sentence lists those there are.
    """
    text = str(named).strip()
    if text.isascii() and text.isdigit() and text not in heading:
        number = int(text[:9])
        if 1 <= number <= columns:
            return number
        raise BadInput(f"There is no column {text[:9]}; the table has {columns}.")
    wanted = text.casefold()
    for fits in (str.__eq__, str.startswith, str.__contains__):
        found = [number for number, name in enumerate(heading, 1) if fits(name.casefold(), wanted)]
        if len(found) == 1:
            return found[0]
        if found:
            raise BadInput(
                f"“{text[:60]}” is the name of {len(found)} columns; give a number from 1 to {columns}."
            )
    names = ", ".join(name for name in heading if name) or f"columns without names, 1 to {columns}"
    raise BadInput(f"There is no column “{text[:60]}”; the table has {names[:300]}.")


def for_other_files(layout: TableLayout, given: Given) -> TableLayout:
    """Return a layout as it fits other files of the same kind.

    Their text may be encoded otherwise (a file without a degree sign tells nothing), so that is found out for
    each, unless it was stated.
    """
    return msgspec.structs.replace(layout, encoding=given.encoding)


def changed(layout: TableLayout, given: Given) -> TableLayout:
    """Return a layout with the points stated put in place of its own.

    Raises:
        BadInput: A column is not there, or the points contradict each other.
    """
    columns = layout.columns or max(len(layout.heading), 1)
    heading = layout.heading
    temperatures = layout.temperatures
    if given.temperature_columns:
        known = {temperature.column: temperature for temperature in temperatures}
        numbers = [column_number(name, heading, columns) for name in given.temperature_columns]
        unit = temperatures[0].unit
        temperatures = tuple(known.get(number, Temperature(column=number, unit=unit)) for number in numbers)
    if given.unit is not None:
        temperatures = tuple(Temperature(column=one.column, unit=given.unit) for one in temperatures)
    return msgspec.structs.replace(
        layout,
        encoding=given.encoding or layout.encoding,
        delimiter=layout.delimiter if given.delimiter is None else given.delimiter,
        decimal=given.decimal or layout.decimal,
        skip_lines=layout.skip_lines if given.skip_lines is None else given.skip_lines,
        time=_timing(layout.time, given, heading, columns),
        temperatures=temperatures,
        junction=_junction(layout.junction, given, heading, columns),
        junction_degc=layout.junction_degc if given.junction_degc is None else given.junction_degc,
        weight=_weight(layout.weight, given, heading, columns),
        none_words=given.none_words or layout.none_words,
    )


def _junction(
    junction: Junction | None, given: Given, heading: tuple[str, ...], columns: int
) -> Junction | None:
    if given.junction_column is not None:
        return Junction(column=column_number(given.junction_column, heading, columns))
    return None if given.junction_degc is not None else junction


def _weight(weight: Weight | None, given: Given, heading: tuple[str, ...], columns: int) -> Weight | None:
    if given.weight_column is not None:
        unit = given.weight_unit or ("g" if weight is None else weight.unit)
        return Weight(column=column_number(given.weight_column, heading, columns), unit=unit)
    if weight is not None and given.weight_unit is not None:
        return Weight(column=weight.column, unit=given.weight_unit)
    return weight


def _timing(timing: Timing, given: Given, heading: tuple[str, ...], columns: int) -> Timing:
    if given.time_column is not None:
        timing = msgspec.structs.replace(timing, column=column_number(given.time_column, heading, columns))
    if given.date_column is not None:
        timing = msgspec.structs.replace(
            timing, kind="clock", date_column=column_number(given.date_column, heading, columns)
        )
    if given.elapsed_unit is not None:
        timing = msgspec.structs.replace(timing, kind="elapsed", unit=given.elapsed_unit, date_column=None)
    if given.order is not None:
        timing = msgspec.structs.replace(timing, order=given.order)
    if given.interval_s is not None:
        counter = timing.column if timing.kind == "interval" else None
        timing = Timing(
            kind="interval", column=counter, interval_s=given.interval_s, start_labels=timing.start_labels
        )
    return timing
