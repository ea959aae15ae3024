"""Figures as people read them, in the unit they chose."""

from __future__ import annotations

from math import floor, inf, isfinite, log10

from benchtemp.studies.statistics.intervals import Interval
from benchtemp.units import MINUS, TempUnit, degc_to, delta_to

DASH = "—"


def decimals_for(uncertainty: float, *, most: int = 2) -> int:
    """Return how many decimals a figure of this uncertainty deserves: two significant digits of it.

    >>> decimals_for(0.13), decimals_for(1.4), decimals_for(25.0)
    (2, 1, 0)
    """
    if not isfinite(uncertainty) or uncertainty <= 0:
        return 2
    return int(min(max(1 - floor(log10(uncertainty)), 0), most))


def number(value: float | None, decimals: int = 2) -> str:
    """Return a number with a proper minus sign; a dash for none."""
    if value is None or not isfinite(value):
        return DASH
    text = f"{value:.{decimals}f}"
    return (text if float(text) else text.lstrip("-")).replace("-", MINUS)


def signed(value: float, decimals: int = 2) -> str:
    """Return a number with its sign, `+0.35`."""
    text = number(value, decimals)
    return text if text.startswith((MINUS, DASH)) else f"+{text}"


def temp(value_degc: float | None, unit: TempUnit, decimals: int = 1) -> str:
    """Return a temperature with its unit."""
    return f"{number(None if value_degc is None else degc_to(value_degc, unit), decimals)} {unit.symbol}"


def delta(value_k: float | None, unit: TempUnit, decimals: int = 2, *, sign: bool = False) -> str:
    """Return a temperature difference with its unit."""
    if value_k is None:
        return f"{DASH} {unit.symbol}"
    shown = delta_to(value_k, unit)
    return f"{signed(shown, decimals) if sign else number(shown, decimals)} {unit.symbol}"


def span(low: float, high: float, decimals: int, unit: str = "") -> str:
    """Return from-to as text, without the end that is infinite.

    >>> span(1.0, 2.5, 1, "min"), span(1.0, float("inf"), 1, "min")
    ('1.0 to 2.5 min', 'at least 1.0 min')
    """
    tail = f" {unit}" if unit else ""
    if not isfinite(low) and not isfinite(high):
        return "anything"
    if not isfinite(low):
        return f"at most {number(high, decimals)}{tail}"
    if not isfinite(high):
        return f"at least {number(low, decimals)}{tail}"
    return f"{number(low, decimals)} to {number(high, decimals)}{tail}"


def temp_span(interval: Interval, unit: TempUnit, decimals: int = 1) -> str:
    """Return an interval of temperatures."""
    return span(_shown(interval.low, unit), _shown(interval.high, unit), decimals, unit.symbol)


def delta_span(interval: Interval, unit: TempUnit, decimals: int = 2) -> str:
    """Return an interval of differences."""
    low, high = (
        value if not isfinite(value) else delta_to(value, unit) for value in (interval.low, interval.high)
    )
    return span(low, high, decimals, unit.symbol)


def _shown(value_degc: float, unit: TempUnit) -> float:
    return degc_to(value_degc, unit) if isfinite(value_degc) else value_degc


def percent(share: float, decimals: int = 0) -> str:
    """Return a share in percent."""
    return f"{number(100.0 * share, decimals)} %"


def chance(p: float) -> str:
    """Return a p-value as text."""
    if not isfinite(p):
        return DASH
    return "< 0.001" if p < 0.001 else f"{p:.3f}" if p < 0.1 else f"{p:.2f}"


def listed(items: list[str] | tuple[str, ...]) -> str:
    """Return items as people list them.

    >>> listed(["a"]), listed(["a", "b", "c"])
    ('a', 'a, b and c')
    """
    if len(items) < 2:
        return "".join(items)
    return f"{', '.join(items[:-1])} and {items[-1]}"


def minutes(value_min: float) -> str:
    """Return a span of minutes, in seconds where it is short and in hours where it is long."""
    if not isfinite(value_min):
        return DASH if value_min != inf else "for ever"
    if value_min < 2:
        return f"{number(60 * value_min, 0)} s"
    return f"{number(value_min, 1 if value_min < 10 else 0)} min"
