"""The unit of a column of temperatures: behind its numbers, in a column beside, in its name, or likely."""

from __future__ import annotations

from collections import Counter
from math import isfinite

from benchtemp.logbook.importing.layout import Temperature
from benchtemp.readings.columns import Column
from benchtemp.readings.layout import TemperatureUnit, WeightUnit
from benchtemp.units import TempUnit

_KELVIN_LEAST = 200.0
"""A bench is never so cold; a K beside lower numbers is the letter of the thermocouple."""
_KELVIN_ROOM, _KELVIN_MOST = 270.0, 420.0
_HOTTEST_WATER_DEGC = 135.0
_HOTTEST_DEGF = 300.0
_UNITS: dict[str, TemperatureUnit] = {"degC": "degC", "degF": "degF", "K": "K"}
_WEIGHT_UNITS: dict[str, WeightUnit] = {"g": "g", "kg": "kg", "oz": "oz", "lb": "lb"}


def as_unit(unit: TempUnit) -> TemperatureUnit:
    """Return a unit as layouts name it."""
    return _UNITS[unit]


def as_weight_unit(unit: str) -> WeightUnit:
    """Return a unit of weight as layouts name it, g for any other."""
    return _WEIGHT_UNITS.get(unit, "g")


def written_unit(
    column: Column, named: str, number: int, unit_column: int | None
) -> tuple[Temperature | None, str]:
    """Return a column with the unit that is written for it, None where none is; and a remark on it.

    Args:
        column: Its values from all over the file, each with the unit behind it or in the column beside.
        named: The unit in its name or above the table, empty where none is there.
        number: The column's number.
        unit_column: The column beside it that holds units.
    """
    cells = [cell for cell in column.cells if cell is not None and isfinite(cell.number)]
    sent = Counter(cell.unit for cell in cells if cell.unit in _UNITS)
    unit = sent.most_common(1)[0][0] if sent else named
    if unit == TempUnit.KELVIN and max((cell.number for cell in cells), default=0.0) < _KELVIN_LEAST:
        remark = f"K at {column.called} is taken for a kind of thermocouple: its values are no kelvin."
        return None, remark
    if unit not in _UNITS:
        return None, ""
    follows = bool(sent) and unit_column is None
    beside = unit_column if sent else None
    return Temperature(column=number, unit=_UNITS[unit], unit_column=beside, unit_follows=follows), ""


def likely_unit(values: list[float]) -> TempUnit:
    """Return the unit that puts values between a cold room and steam; °C where that fits anyway."""
    if not values:
        return TempUnit.DEGC
    ordered = sorted(values)
    # A spike says nothing about the unit.
    low, high = ordered[len(ordered) // 20], ordered[-1 - len(ordered) // 20]
    if high <= _HOTTEST_WATER_DEGC:
        return TempUnit.DEGC
    if low >= _KELVIN_ROOM and high <= _KELVIN_MOST:
        return TempUnit.KELVIN
    return TempUnit.DEGF if high <= _HOTTEST_DEGF else TempUnit.DEGC
