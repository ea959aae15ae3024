"""Finding the columns that are temperatures, or voltages of thermocouples, and what goes with them."""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass, field

from benchtemp.errors import BadInput
from benchtemp.logbook.importing import preamble, words
from benchtemp.logbook.importing.cells import CellKind, plain_text, read_cell
from benchtemp.logbook.importing.given import Given, column_number
from benchtemp.logbook.importing.layout import Junction, Temperature, Timing, Weight
from benchtemp.logbook.importing.question import Question
from benchtemp.logbook.importing.sample import Sample
from benchtemp.logbook.importing.written_units import as_unit, as_weight_unit, likely_unit, written_unit
from benchtemp.readings.columns import Column, ColumnKind, Evidence, Verdict, settle
from benchtemp.readings.layout import MOST_CHANNELS
from benchtemp.readings.values import unit_of
from benchtemp.units import TempUnit


@dataclass
class TemperaturesGuess:
    """Which columns are temperatures, and what is open about them."""

    temperatures: tuple[Temperature, ...]
    junction: Junction | None = None
    weight: Weight | None = None
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
    _take_stated(sample, given, guess)
    if given.temperature_columns:
        numbers = [column_number(name, sample.names, count) for name in given.temperature_columns]
        verdicts = {number: Verdict(ColumnKind.TEMPERATURE, Evidence.NAME) for number in numbers}
        judged = dict(
            zip(numbers, settle([_column(sample, number, beside) for number in numbers]), strict=True)
        )
        for number in numbers:
            if judged[number].kind is ColumnKind.VOLTAGE:
                verdicts[number] = judged[number]
            elif judged[number].unit in tuple(TempUnit):
                verdicts[number] = verdicts[number]._replace(
                    unit=judged[number].unit, evidence=judged[number].evidence
                )
    else:
        verdicts = _judged(sample, timing, beside, guess)
        numbers = _of_kind(verdicts, ColumnKind.TEMPERATURE) or _of_kind(verdicts, ColumnKind.VOLTAGE)
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
    _settle_junction(sample, verdicts, given=given, guess=guess)
    return guess


def _take_stated(sample: Sample, given: Given, guess: TemperaturesGuess) -> None:
    """Take the columns of weights and of the reference junction as they are stated."""
    count = sample.dialect.columns
    if given.weight_column is not None:
        number = column_number(given.weight_column, sample.names, count)
        guess.weight = Weight(column=number, unit=given.weight_unit or "g")
    if given.junction_column is not None:
        guess.junction = Junction(column=column_number(given.junction_column, sample.names, count))


def _settle_junction(
    sample: Sample, verdicts: dict[int, Verdict], *, given: Given, guess: TemperaturesGuess
) -> None:
    """Find out how warm the reference junction was where voltages are to be read."""
    if not any(one.unit == "mV" for one in guess.temperatures):
        guess.junction = None
        return
    if guess.junction is None and given.junction_degc is None:
        place = next(iter(_of_kind(verdicts, ColumnKind.JUNCTION)), None)
        if place is not None:
            unit = verdicts[place].unit
            known = as_unit(TempUnit(unit)) if unit in tuple(TempUnit) else "degC"
            guess.junction = Junction(column=place, unit=known)
    if guess.junction is not None:
        called = sample.called(guess.junction.column)
        guess.remarks.append(f"The reference junction's temperature stands in {called}.")
    elif given.junction_degc is None:
        guess.questions.append(
            Question(
                "junction_degc",
                "The channels are voltages of thermocouples; how warm the terminals were they were measured "
                "at, or which column tells it, must be stated.",
            )
        )


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
    taken |= {one.column for one in (guess.weight, guess.junction) if one is not None}
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
    if guess.weight is None:
        _find_weight(sample, verdicts, guess)
    temperatures = _of_kind(verdicts, ColumnKind.TEMPERATURE)
    plain = [number for number in temperatures if not words.STATISTIC.search(sample.name(number))]
    # Where nothing but lowest, mean and highest was kept, the mean is the reading.
    plain = plain or [number for number in temperatures if words.AVERAGE.search(sample.name(number))]
    for number, verdict in verdicts.items():
        why = verdict.why or str(verdict.kind)
        if verdict.kind is ColumnKind.TEMPERATURE:
            if number in plain or not plain:
                continue
            why = "a value worked out from others"
            verdicts[number] = verdict._replace(kind=ColumnKind.OTHER)
        elif (guess.weight is not None and number == guess.weight.column) or (
            not temperatures and verdict.kind in (ColumnKind.VOLTAGE, ColumnKind.JUNCTION)
        ):
            continue
        guess.remarks.append(f"{words.capital(sample.called(number))} is left out: it looks like {why}.")
    return verdicts


def _of_kind(verdicts: dict[int, Verdict], kind: ColumnKind) -> list[int]:
    return [number for number, verdict in verdicts.items() if verdict.kind is kind]


def _find_weight(sample: Sample, verdicts: dict[int, Verdict], guess: TemperaturesGuess) -> None:
    """Take the one column that is surely a scale's: by a unit behind its numbers, or by its name."""
    found = [
        number
        for number in _of_kind(verdicts, ColumnKind.WEIGHT)
        if verdicts[number].evidence is Evidence.UNIT or words.WEIGHT.search(sample.name(number))
    ]
    if len(found) == 1:
        unit = as_weight_unit(verdicts[found[0]].unit)
        guess.weight = Weight(column=found[0], unit=unit)
        guess.remarks.append(f"Weights stand in {sample.called(found[0])}, in {unit}.")


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
        if given.unit is None and verdicts[number].kind is ColumnKind.VOLTAGE:
            temperature = Temperature(column=number, unit="mV")
        elif given.unit is not None:
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
        values = looked_at[one.column].numbers
        symbol = one.unit if one.unit == "mV" else TempUnit(one.unit).symbol
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
