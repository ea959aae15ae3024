"""Settings as people type them into tags: a setpoint, an idle time, a flush, a moment of switching on."""

from __future__ import annotations

import re
from collections.abc import Mapping
from math import isfinite

from benchtemp.units import TempUnit, degc_from

SETPOINT_TAGS = ("setpoint", "set point", "setpoint_degc")
IDLE_TAGS = ("idle time", "idle", "idle_min")
FLUSH_TAGS = ("flush", "flush_s")
SINCE_ON_TAGS = ("minutes since switch-on", "since switch-on", "time since switch-on")
OPERATOR_TAGS = ("operator", "tester", "pulled by")
PLAN_TAG = "plan"
PLAN_SHOT_TAG = "plan shot"

_NUMBER = re.compile(r"^\s*([+-]?\d+(?:[.,]\d+)?)\s*(.*?)\s*$")
_NOTHING = frozenset({"none", "no", "not", "without", "-", "–", "—", "nil"})
_MINUTES = {
    "": 1.0,
    "min": 1.0,
    "mins": 1.0,
    "minute": 1.0,
    "minutes": 1.0,
    "m": 1.0,
    "'": 1.0,
    "s": 1 / 60,
    "sec": 1 / 60,
    "second": 1 / 60,
    "seconds": 1 / 60,
    '"': 1 / 60,
    "h": 60.0,
    "hr": 60.0,
    "hour": 60.0,
    "hours": 60.0,
}
_SECONDS = frozenset({"s", "sec", "second", "seconds", '"'})
_GRAMS = frozenset({"g", "gram", "grams", "ml", "cc"})
_CELSIUS = frozenset({"", "°c", "c", "degc", "deg c", "°", "celsius"})
_FAHRENHEIT = frozenset({"°f", "f", "degf", "deg f", "fahrenheit"})


def tag(tags: Mapping[str, str], names: tuple[str, ...]) -> str:
    """Return the value of the first of these tags that is there, whatever its case; empty if none."""
    lowered = {name.casefold().strip(): value for name, value in tags.items()}
    return next((lowered[name].strip() for name in names if lowered.get(name, "").strip()), "")


def _parts(text: str) -> tuple[float, str] | None:
    found = _NUMBER.match(text)
    if not found:
        return None
    value = float(found[1].replace(",", "."))
    return (value, found[2].casefold().rstrip(".")) if isfinite(value) else None


def temp_from(text: str) -> float | None:
    """Return a typed temperature in °C, None where it does not read as one; °C is meant without a unit.

    >>> temp_from("93 °C"), temp_from("200 F"), temp_from("warm")
    (93.0, 93.33333333333333, None)
    """
    parts = _parts(text)
    if parts is None:
        return None
    if parts[1] in _FAHRENHEIT:
        return degc_from(parts[0], TempUnit.DEGF)
    return parts[0] if parts[1] in _CELSIUS else None


def minutes_from(text: str) -> float | None:
    """Return a typed span in minutes, None where it does not read as one; minutes are meant without a unit.

    >>> minutes_from("10 min"), minutes_from("90 s"), minutes_from("1:30"), minutes_from("none")
    (10.0, 1.5, 90.0, 0.0)
    """
    if text.strip().casefold() in _NOTHING:
        return 0.0
    clock = re.match(r"^\s*(\d{1,3}):([0-5]\d)(?:\s*h)?\s*$", text)
    if clock:
        return 60.0 * int(clock[1]) + int(clock[2])
    parts = _parts(text)
    if parts is None or parts[1] not in _MINUTES or parts[0] < 0:
        return None
    return parts[0] * _MINUTES[parts[1]]


def flush_from(text: str) -> tuple[float | None, float | None]:
    """Return a typed flush as (seconds, grams); None for the one that was not given, seconds without a unit.

    >>> flush_from("4 s"), flush_from("60 g"), flush_from("none"), flush_from("some")
    ((4.0, None), (None, 60.0), (0.0, 0.0), (None, None))
    """
    if text.strip().casefold() in _NOTHING:
        return 0.0, 0.0
    parts = _parts(text)
    if parts is None or parts[0] < 0:
        return None, None
    value, unit = parts
    if value == 0:
        return 0.0, 0.0
    if unit == "" or unit in _SECONDS:
        return value, None
    return (None, value) if unit in _GRAMS else (None, None)
