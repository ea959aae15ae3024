"""What a column of values is, judged by its name, its units and how it changes from line to line."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from enum import StrEnum
from itertools import pairwise
from math import isfinite
from statistics import median
from typing import NamedTuple

from benchtemp.readings.values import GRAMS_PER, HIGHEST_DEGC, LOWEST_DEGC, Written

_FEWEST_FOR_A_TREND = 4


class ColumnKind(StrEnum):
    """What a column is."""

    TEMPERATURE = "temperature"
    VOLTAGE = "voltage"
    JUNCTION = "junction"
    WEIGHT = "weight"
    OTHER = "other"
    TEXT = "text"


class Evidence(StrEnum):
    """What a verdict rests on, best first."""

    UNIT = "unit"
    NAME = "name"
    VALUES = "values"


class Verdict(NamedTuple):
    """What a column was found to be.

    Attributes:
        kind: What it is.
        evidence: What that rests on.
        unit: Its unit where it is sent or named; empty where it must be assumed.
        why: For a column that is left out: what it looks like.
    """

    kind: ColumnKind
    evidence: Evidence = Evidence.VALUES
    unit: str = ""
    why: str = ""


@dataclass(frozen=True)
class Column:
    """A column of values.

    Attributes:
        called: What a sentence calls it: `field 2`, `“T1”`.
        name: Its label, key or heading; empty where it has none.
        cells: What was read in each line, None where a line lacks it.
        texts: The same as text.
    """

    called: str
    name: str = ""
    cells: list[Written | None] = field(default_factory=list)
    texts: list[str] = field(default_factory=list)

    @property
    def numbers(self) -> list[float]:
        """Return the numbers of all lines that have one."""
        return [cell.number for cell in self.cells if cell is not None and isfinite(cell.number)]

    @property
    def open_words(self) -> list[str]:
        """Return the words that stand for a missing value, as sent."""
        cells = zip(self.cells, self.texts, strict=True)
        return [text.strip() for cell, text in cells if cell is not None and cell.is_word]

    @property
    def whole(self) -> bool:
        """Return whether all numbers are written without decimals."""
        return not any(
            "." in text or "e" in text.lower()
            for cell, text in zip(self.cells, self.texts, strict=True)
            if cell is not None and isfinite(cell.number)
        )


_JUNCTION_WORDS = "cj cjc cjt rj junction cold ref reference internal board die chip"
_SETPOINT_WORDS = "setpoint sp target set goal"
_HUMIDITY_WORDS = "rh hum humid humidity moisture"
_STATUS_WORDS = "status state flag flags err error fault alarm crc checksum"
_TIME_WORDS = "time ts timestamp millis ms us sec secs seconds s uptime date clock"
_VOLTAGE_WORDS = "mv emf millivolt millivolts"
_TEMPERATURE_WORDS = (
    "temp temps temperature tmp tc th thermo thermocouple probe sensor ch channel t tempc tempf tempk "
    "deg degc degf celsius fahrenheit kelvin boiler group grouphead basket puck water brew steam ambient room"
)
_COUNTER_WORDS = "n no nr count counter cnt seq sequence index idx id sample line i"
_WEIGHT_WORDS = "weight mass grams gram g kg scale load w yield"
_OTHER_WORDS = (
    "pressure press bar hpa kpa pa psi flow rpm pwm duty power watt v volt volts voltage vcc vbat bat batt "
    "battery current amp ohm rssi co lux altitude alt resistance heater output pump valve version ver"
)
_NAMED = tuple(
    (kind, why, frozenset(words.split()))
    for kind, why, words in (
        (ColumnKind.JUNCTION, "a reference junction's temperature", _JUNCTION_WORDS),
        (ColumnKind.OTHER, "a setpoint, which is no measurement", _SETPOINT_WORDS),
        (ColumnKind.OTHER, "humidity", _HUMIDITY_WORDS),
        (ColumnKind.OTHER, "a status", _STATUS_WORDS),
        (ColumnKind.OTHER, "a time", _TIME_WORDS),
        (ColumnKind.VOLTAGE, "a thermocouple voltage", _VOLTAGE_WORDS),
        (ColumnKind.TEMPERATURE, "a temperature", _TEMPERATURE_WORDS),
        (ColumnKind.OTHER, "a counter or a number of something", _COUNTER_WORDS),
        (ColumnKind.WEIGHT, "a weight", _WEIGHT_WORDS),
        (ColumnKind.OTHER, "another quantity", _OTHER_WORDS),
    )
)
_UNIT_IN_NAME = (
    ("degF", re.compile(r"fahrenheit|deg_?f|°f|tempf|(?:[a-z]_|[\d ([])f\b", re.IGNORECASE)),
    ("K", re.compile(r"kelvin|tempk|(?:[a-z]_|[\d ([])k\b", re.IGNORECASE)),
    ("degC", re.compile(r"celsius|deg_?c|°c|tempc|(?:[a-z]_|[\d ([])c\b", re.IGNORECASE)),
)


def classify(column: Column) -> Verdict:
    """Return what a column is, by itself; `settle` then looks at all of them together."""
    numbers = column.numbers
    unit = _sent_unit(column)
    if unit == "mV":
        return Verdict(ColumnKind.VOLTAGE, Evidence.UNIT, unit)
    by_name = _by_name(column)
    if unit in GRAMS_PER:
        return Verdict(ColumnKind.WEIGHT, Evidence.UNIT, unit)
    if unit:
        if by_name is not None and (by_name.kind is ColumnKind.JUNCTION or "setpoint" in by_name.why):
            return by_name._replace(unit=unit)
        return Verdict(ColumnKind.TEMPERATURE, Evidence.UNIT, unit)
    if any("%" in text for text in column.texts):
        return Verdict(ColumnKind.OTHER, Evidence.UNIT, why="percent, such as humidity")
    if not numbers:
        if not column.open_words:
            return Verdict(ColumnKind.TEXT, why="text")
        return by_name or Verdict(ColumnKind.TEMPERATURE)
    return by_name if by_name is not None and _name_fits(column, by_name) else _by_values(column)


def _by_name(column: Column) -> Verdict | None:
    words = re.findall(r"[a-z]+", column.name.lower())
    if not words:
        return None
    for kind, why, names in _NAMED:
        if names.intersection(words):
            unit = ""
            if kind in (ColumnKind.TEMPERATURE, ColumnKind.JUNCTION):
                unit = next((unit for unit, pattern in _UNIT_IN_NAME if pattern.search(column.name)), "")
            elif kind is ColumnKind.WEIGHT:
                unit = "kg" if "kg" in words else "g"
            elif kind is ColumnKind.VOLTAGE:
                unit = "mV"
            return Verdict(kind, Evidence.NAME, unit, why)
    return None


def _sent_unit(column: Column) -> str:
    """Return the unit that stands behind most of a column's numbers; empty where none does."""
    units = [cell.unit for cell in column.cells if cell is not None and isfinite(cell.number)]
    best = max(set(units), key=units.count, default="")
    return best if units.count(best) * 2 > len(units) else ""


def _name_fits(column: Column, verdict: Verdict) -> bool:
    """Tell whether values bear a name out: `t` may be a time, `ts` a temperature."""
    if column.name.strip().lower() == "t" and _steadily_rising(column):
        return False
    if verdict.kind is ColumnKind.OTHER and verdict.why.startswith(("a time", "a counter")):
        return column.whole or bool(_steadily_rising(column))
    return True


def _by_values(column: Column) -> Verdict:
    numbers = column.numbers
    rising = _steadily_rising(column)
    if rising:
        return Verdict(ColumnKind.OTHER, why=rising)
    inside = sum(LOWEST_DEGC <= number <= HIGHEST_DEGC for number in numbers)
    if inside * 2 < len(numbers):
        return Verdict(ColumnKind.OTHER, why="numbers that no temperature has")
    if column.whole and len(numbers) >= _FEWEST_FOR_A_TREND and set(numbers) <= {0.0, 1.0}:
        return Verdict(ColumnKind.OTHER, why="a flag of 0 or 1")
    return Verdict(ColumnKind.TEMPERATURE)


def _steadily_rising(column: Column) -> str:
    """Return what a column that counts up looks like, or an empty text where it does not."""
    numbers = column.numbers
    if len(numbers) < _FEWEST_FOR_A_TREND:
        return ""
    steps = [later - earlier for earlier, later in pairwise(numbers)]
    usual = median(steps)
    if usual <= 0:
        return ""
    wraps = sum(step < 0 for step in steps)
    if column.whole:
        if wraps <= len(steps) * 0.2 and all(step == usual for step in steps if step >= 0):
            return "a counter or a time stamp"
        if not wraps and all(0.5 * usual <= step <= 2.0 * usual for step in steps) and usual >= 2:
            return "a time stamp, rising steadily"
        return ""
    if all(abs(step - usual) <= 0.05 * usual for step in steps):
        return "a time stamp, rising steadily"
    return ""


def settle(columns: list[Column]) -> list[Verdict]:
    """Return what each column is, seen beside the others.

    A column that never changes and has no decimals is a number of something where others look like
    temperatures; and where nothing looks like one, the best of what remains is taken.
    """
    verdicts = [classify(column) for column in columns]
    by_values = [
        place
        for place, verdict in enumerate(verdicts)
        if verdict.kind is ColumnKind.TEMPERATURE and verdict.evidence is Evidence.VALUES
    ]
    surer = any(
        verdict.kind in (ColumnKind.TEMPERATURE, ColumnKind.VOLTAGE)
        and verdict.evidence is not Evidence.VALUES
        for verdict in verdicts
    )
    with_decimals = [place for place in by_values if columns[place].numbers and not columns[place].whole]
    for place in by_values:
        column = columns[place]
        if not column.numbers:
            continue
        if surer:
            verdicts[place] = Verdict(
                ColumnKind.OTHER, why="a number without the unit or name that others have"
            )
        elif column.whole and with_decimals and len(column.numbers) > 1 and len(set(column.numbers)) == 1:
            verdicts[place] = Verdict(ColumnKind.OTHER, why="a whole number that never changes")
    weighed = any(verdict.kind is ColumnKind.WEIGHT for verdict in verdicts)
    if weighed and not any(columns[place].numbers for place in by_values) and not surer:
        for place in by_values:
            verdicts[place] = Verdict(ColumnKind.TEXT, why="text")
    wanted = {ColumnKind.TEMPERATURE, ColumnKind.VOLTAGE, ColumnKind.WEIGHT}
    if not any(verdict.kind in wanted for verdict in verdicts):
        _take_what_remains(columns, verdicts)
    _share_the_unit(columns, verdicts)
    return _junction_beside_voltage(columns, verdicts)


def _share_the_unit(columns: list[Column], verdicts: list[Verdict]) -> None:
    """Give probes that were open all the time the unit in which all others are sent."""
    units = {verdict.unit for verdict in verdicts if verdict.kind is ColumnKind.TEMPERATURE and verdict.unit}
    if len(units) == 1:
        (unit,) = units
        for place, verdict in enumerate(verdicts):
            if verdict.kind is ColumnKind.TEMPERATURE and not columns[place].numbers:
                verdicts[place] = verdict._replace(unit=verdict.unit or unit)


def _take_what_remains(columns: list[Column], verdicts: list[Verdict]) -> None:
    possible = [
        place
        for place, verdict in enumerate(verdicts)
        if verdict.evidence is Evidence.VALUES
        and any(LOWEST_DEGC <= number <= HIGHEST_DEGC for number in columns[place].numbers)
    ]
    junctions = [place for place, verdict in enumerate(verdicts) if verdict.kind is ColumnKind.JUNCTION]
    for place in (possible or junctions)[:1]:
        verdicts[place] = Verdict(ColumnKind.TEMPERATURE, Evidence.VALUES, verdicts[place].unit)


def _junction_beside_voltage(columns: list[Column], verdicts: list[Verdict]) -> list[Verdict]:
    """Where voltages are sent, a lone temperature of a room is the reference junction's."""
    voltages = [verdict for verdict in verdicts if verdict.kind is ColumnKind.VOLTAGE]
    temps = [place for place, verdict in enumerate(verdicts) if verdict.kind is ColumnKind.TEMPERATURE]
    junctions = [verdict for verdict in verdicts if verdict.kind is ColumnKind.JUNCTION]
    if not voltages or not temps:
        return verdicts
    if len(temps) == 1 and not junctions and all(0 <= number <= 60 for number in columns[temps[0]].numbers):
        verdicts[temps[0]] = verdicts[temps[0]]._replace(kind=ColumnKind.JUNCTION)
        return verdicts
    return [
        verdict._replace(kind=ColumnKind.OTHER, why="a voltage beside temperatures that are sent as well")
        if verdict.kind is ColumnKind.VOLTAGE
        else verdict
        for verdict in verdicts
    ]
