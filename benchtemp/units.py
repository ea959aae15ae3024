"""Temperature units: converted once on the way in, once on the way to the eye, never in between."""

from __future__ import annotations

from enum import StrEnum
from math import isfinite

MINUS = "\N{MINUS SIGN}"


class TempUnit(StrEnum):
    """A unit in which temperatures are sent or shown."""

    DEGC = "degC"
    DEGF = "degF"
    KELVIN = "K"

    @property
    def symbol(self) -> str:
        """Return the unit as people write it."""
        return {TempUnit.DEGC: "°C", TempUnit.DEGF: "°F", TempUnit.KELVIN: "K"}[self]


def degc_from(value: float, unit: TempUnit) -> float:
    """Return a temperature given in `unit` in °C."""
    if unit is TempUnit.DEGF:
        return (value - 32.0) / 1.8
    if unit is TempUnit.KELVIN:
        return value - 273.15
    return value


def degc_to(temp_degc: float, unit: TempUnit) -> float:
    """Return a temperature given in °C in `unit`."""
    if unit is TempUnit.DEGF:
        return temp_degc * 1.8 + 32.0
    if unit is TempUnit.KELVIN:
        return temp_degc + 273.15
    return temp_degc


def delta_to(delta_k: float, unit: TempUnit) -> float:
    """Return a temperature *difference* in K as one in `unit`; no offset is added."""
    return delta_k * 1.8 if unit is TempUnit.DEGF else delta_k


def temp_text(temp_degc: float | None, unit: TempUnit = TempUnit.DEGC, decimals: int = 1) -> str:
    """Return a temperature for reading, such as `93.2 °C`; a dash where there is none."""
    if temp_degc is None or not isfinite(temp_degc):
        return f"— {unit.symbol}"
    return f"{degc_to(temp_degc, unit):.{decimals}f} {unit.symbol}".replace("-", MINUS)


def delta_text(delta_k: float | None, unit: TempUnit = TempUnit.DEGC, decimals: int = 2) -> str:
    """Return a temperature difference for reading, such as `0.35 °C`; a dash where there is none."""
    if delta_k is None or not isfinite(delta_k):
        return f"— {unit.symbol}"
    return f"{delta_to(delta_k, unit):.{decimals}f} {unit.symbol}".replace("-", MINUS)
