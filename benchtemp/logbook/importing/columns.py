"""Finding the columns that are temperatures, and their units."""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass, field

from benchtemp.errors import BadInput
from benchtemp.logbook.importing import preamble, words
from benchtemp.logbook.importing.cells import CellKind, plain_text, read_cell
from benchtemp.logbook.importing.given import Given, column_number
from benchtemp.logbook.importing.layout import Temperature, Timing
from benchtemp.logbook.importing.question import Question
from benchtemp.logbook.importing.sample import Sample
from benchtemp.logbook.importing.written_units import as_unit, likely_unit, written_unit
from benchtemp.readings.columns import Column, ColumnKind, Evidence, Verdict, settle
from benchtemp.readings.layout import MOST_CHANNELS
from benchtemp.readings.values import unit_of
from benchtemp.units import TempUnit


@dataclass
class TemperaturesGuess:
    """Which columns are temperatures, and what is open about them."""

    temperatures: tuple[Temperature, ...]
    questions: list[Question] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)


def find_temperatures(sample: Sample, timing: Timing, given: Given, file: str) -> TemperaturesGuess:
    """Find the columns of temperatures.

    Args:
        sample: The table.
        timing: Where its times stand.
        given: What is stated.
        file: What sentences call the file.

    Raises:
        BadInput: A column that is named is not there, or none looks like a temperature.
    """
    count = sample.dialect.columns
    beside = _unit_columns(sample)
    guess = TemperaturesGuess(())
    if given.temperature_columns:
        numbers = [column_number(name, sample.names, count) for name in given.temperature_columns]
        verdicts = {number: Verdict(ColumnKind.TEMPERATURE, Evidence.NAME) for number in numbers}
        judged = dict(
            zip(numbers, settle([_column(sample, number, beside) for number in numbers]), strict=True)
        )
        for number in numbers:
            if judged[number].unit in tuple(TempUnit):
                verdicts[number] = verdicts[number]._replace(
                    unit=judged[number].unit, evidence=judged[number].evidence
                )
    else:
        verdicts = _judged(sample, timing, beside, guess)
        numbers = [number for number, verdict in verdicts.items() if verdict.kind is ColumnKind.TEMPERATURE]
    if not numbers:
        raise BadInput(
            f"No column of {file} looks like a temperature; say which of its {count} columns are, or name "
            f"another file."
        )
    if len(numbers) > MOST_CHANNELS:
        left = ", ".join(sample.called(number) for number in numbers[MOST_CHANNELS:])
        guess.remarks.append(f"More than {MOST_CHANNELS} channels cannot be kept: {left} left out.")
        numbers = numbers[:MOST_CHANNELS]
    _take(sample, numbers, verdicts, beside, given=given, guess=guess)
    return guess


def _unit_columns(sample: Sample) -> dict[int, int]:
    """Return, for columns followed by one that only holds temperature units, that one's number."""
    found: dict[int, int] = {}
    for place, kind in enumerate(sample.kinds, 1):
        if kind is CellKind.UNIT and place > 1 and sample.kinds[place - 2] is CellKind.NUMBER:
            units = {unit_of(plain_text(text, ".").strip("[]() ")) for text in sample.texts(place) if text}
            if units and units <= set(TempUnit):
                found[place - 1] = place
    return found


def _column(sample: Sample, number: int, beside: dict[int, int], *, whole_file: bool = False) -> Column:
    """Return a column as the judge of columns wants it."""
    decimal = sample.dialect.decimal
    name = unicodedata.normalize("NFC", plain_text(sample.name(number), "."))
    for pattern, ours in (
        (words.TEMPERATURE, "temp"),
        (words.HUMIDITY, "humidity"),
        (words.SETPOINT, "setpoint"),
    ):
        name = pattern.sub(f" {ours} ", name)
    if words.DEGREE.search(name):
        name += " temp"
    column = Column(sample.called(number), name)
    rows = [*sample.rows, *sample.further] if whole_file else sample.rows
    for row in rows:
        text = row[number - 1]
        unit = row[beside[number] - 1] if number in beside else ""
        column.cells.append(
            read_cell(f"{text} {plain_text(unit, '.').strip('[]()')}", decimal) if text else None
        )
        column.texts.append(plain_text(text, decimal))
    return column


def _judged(
    sample: Sample, timing: Timing, beside: dict[int, int], guess: TemperaturesGuess
) -> dict[int, Verdict]:
    """Return what each column is that may be a temperature."""
    taken = {*timing.columns, *beside.values()}
    candidates = []
    for number in range(1, sample.dialect.columns + 1):
        name = sample.name(number)
        if number in taken or sample.kinds[number - 1] in (CellKind.MOMENT, CellKind.DATE, CellKind.TIME):
            continue
        if sample.kinds[number - 1] is CellKind.EMPTY:
            if name:
                guess.remarks.append(f"{words.capital(sample.called(number))} is left out: it holds nothing.")
            continue
        if sample.kinds[number - 1] in (CellKind.TEXT, CellKind.UNIT):
            continue
        if words.DIFFERENCE.search(name):
            guess.remarks.append(
                f"{words.capital(sample.called(number))} is left out: it looks like a difference."
            )
            continue
        candidates.append(number)
    columns = [_column(sample, number, beside) for number in candidates]
    verdicts = dict(zip(candidates, settle(columns), strict=True)) if columns else {}
    plain = [number for number in _temperatures(verdicts) if not words.STATISTIC.search(sample.name(number))]
    for number, verdict in verdicts.items():
        why = verdict.why or str(verdict.kind)
        if verdict.kind is ColumnKind.TEMPERATURE:
            if number in plain or not plain:
                continue
            why = "a value worked out from others"
            verdicts[number] = verdict._replace(kind=ColumnKind.OTHER)
        guess.remarks.append(f"{words.capital(sample.called(number))} is left out: it looks like {why}.")
    return verdicts


def _temperatures(verdicts: dict[int, Verdict]) -> list[int]:
    return [number for number, verdict in verdicts.items() if verdict.kind is ColumnKind.TEMPERATURE]


def _take(
    sample: Sample,
    numbers: list[int],
    verdicts: dict[int, Verdict],
    beside: dict[int, int],
    *,
    given: Given,
    guess: TemperaturesGuess,
) -> None:
    """Take columns as channels, each with its unit as stated, as written, or assumed."""
    looked_at = {number: _column(sample, number, beside, whole_file=True) for number in numbers}
    above = preamble.unit(sample.lines[: sample.first])
    found: list[Temperature | None] = []
    for number in numbers:
        temperature = None
        if given.unit is not None:
            temperature = Temperature(column=number, unit=given.unit)
        else:
            named = verdicts[number].unit or above
            written, remark = written_unit(looked_at[number], named, number, beside.get(number))
            guess.remarks += [remark] if remark else []
            temperature = written
        found.append(temperature)
    open_ones = [number for number, temperature in zip(numbers, found, strict=True) if temperature is None]
    unit = likely_unit([value for number in open_ones for value in looked_at[number].numbers])
    if open_ones:
        called = ", ".join(sample.called(number) for number in open_ones)
        guess.questions.append(
            Question(
                "unit",
                f"The unit of {called} is not written; {unit.symbol} is taken.",
                tuple(map(str, TempUnit)),
                assumed=str(unit),
            )
        )
    guess.temperatures = tuple(
        temperature or Temperature(column=number, unit=as_unit(unit))
        for number, temperature in zip(numbers, found, strict=True)
    )
    for place, one in enumerate(guess.temperatures, 1):
        values, symbol = looked_at[one.column].numbers, TempUnit(one.unit).symbol
        told = f"first {values[0]:g} {symbol}" if values else f"no value, {symbol}"
        guess.remarks.append(f"T{place} is {sample.called(one.column)}, {told}.")
    unsure = [number for number in numbers if verdicts[number].evidence is Evidence.VALUES]
    if unsure and len(numbers) > 1 and not given.temperature_columns:
        called = ", ".join(sample.called(number) for number in unsure)
        guess.questions.append(
            Question(
                "temperature_columns",
                f"Nothing but their numbers says that these are temperatures: {called}; all are taken.",
                assumed=",".join(map(str, unsure)),
            )
        )
