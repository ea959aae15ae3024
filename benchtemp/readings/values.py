"""What a written value means: a number with its unit, or one of the words interfaces send instead of one."""

from __future__ import annotations

import re
from collections.abc import Callable
from math import isfinite, nan
from typing import NamedTuple

from benchtemp.units import TempUnit

LOWEST_DEGC = -270.0
HIGHEST_DEGC = 1372.0
"""The ends of the type K table; nothing beyond them was measured by a thermocouple of that kind."""

NO_MEASUREMENT = 9.9e37
"""SCPI-99 writes infinity as 9.9E37 and "not a number" as 9.91E37."""

GRAMS_PER = {"g": 1.0, "kg": 1000.0, "oz": 28.349523125, "lb": 453.59237}
"""Avoirdupois ounce and pound by their legal definition, 0.45359237 kg a pound."""

HEAVIEST_G = 1e6
"""No kitchen scale, and no bathroom scale either, goes beyond it."""

Convert = Callable[[float], float]
EmfToDegc = Callable[[float, float], float]
"""Turns a type K voltage in mV and a reference junction's °C into °C."""

OPEN_WORDS = frozenset(
    {
        *("nan", "+nan", "-nan", "1.#qnan", "inf", "+inf", "-inf", "infinity", "+infinity", "-infinity"),
        *("open", "opn", "oc", "o.c.", "open circuit", "opencircuit", "no probe", "no sensor", "noprobe"),
        *("err", "error", "fault", "flt", "fail", "failed", "bad", "invalid", "short", "disconnected"),
        *("ol", "o.l", "o.l.", "0l", "0.l", "+ol", "-ol", "over", "under", "ovld", "overload", "over load"),
        *("ovf", "overflow", "or", "ur", "hi", "lo", "hhh", "lll", "hhhh", "llll", "burnout"),
        *("none", "null", "nil", "n/a", "na", "#n/a", "nc", "n.c.", "?", "??", "???", "????", "*", "****"),
    },
)
_DASHES = re.compile(r"[-_\x96\x97]+\Z|[-_.=]{2,}\Z")

# A line is looked at as Latin-1, one character a byte, so that positions hold for bytes and for text;
# UTF-8 degree signs then appear as their two bytes.
_DEGREE = "(?:\xc2?[\xb0\xba]|\xcb\x9a|deg(?:rees?)?[ _]?)"
UNIT_PATTERN = rf"(?:{_DEGREE}\s*)?(?:celsius|fahrenheit|kelvin|c|f|k)|mv|kg|grams?|gr?|oz|lbs?"
NUMBER_PATTERN = r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?"
_VALUE = re.compile(rf"\s*({NUMBER_PATTERN})\s*({UNIT_PATTERN})?\s*\Z", re.IGNORECASE | re.ASCII)
_UNIT_ONLY = re.compile(rf"\s*({UNIT_PATTERN})\s*\Z", re.IGNORECASE | re.ASCII)
_UTF8_DASHES = re.compile("\xe2(?:\x88\x92|\x80[\x90-\x95])")
_UNITS_BY_WORD = {
    written: unit
    for unit, all_written in {
        "degC": ("c", "celsius"),
        "degF": ("f", "fahrenheit"),
        "K": ("k", "kelvin"),
        "mV": ("mv",),
        "g": ("g", "gr", "gram", "grams"),
        "kg": ("kg",),
        "oz": ("oz",),
        "lb": ("lb", "lbs"),
    }.items()
    for written in all_written
}
_NOT_A_UNIT_LETTER = re.compile(_DEGREE, re.IGNORECASE)


class Values(NamedTuple):
    """What one line gives.

    Attributes:
        temps_degc: °C, one per channel, NaN where a channel gave none.
        weight_g: Grams, NaN without one.
        reasons: Why a channel gave none, one text per channel; empty when all are well.
    """

    temps_degc: tuple[float, ...]
    weight_g: float = nan
    reasons: tuple[str, ...] = ()


class Written(NamedTuple):
    """A value as it was written.

    Attributes:
        number: The number, or NaN where there is none.
        unit: `degC`, `degF`, `K`, `mV`, `g`, `kg`, `oz` or `lb` where one follows the number, else empty.
        reason: Why there is no number; empty where there is one.
        is_word: There is no number because the interface says so, not because the text is unreadable.
    """

    number: float
    unit: str = ""
    reason: str = ""
    is_word: bool = False


def shown(text: str, longest: int = 40) -> str:
    """Return text from the wire (Latin-1, one character a byte) fit for a sentence."""
    raw = text.strip().encode("latin-1", "replace")
    try:
        readable = raw.decode()
    except UnicodeDecodeError:
        readable = raw.decode("latin-1")
    readable = "".join(sign if sign.isprintable() else "\N{MIDDLE DOT}" for sign in readable)
    return readable if len(readable) <= longest else readable[: longest - 1] + "…"


def unit_of(text: str) -> str:
    """Return the unit a text names (`°C` → `degC`), or an empty text where it names none."""
    found = _UNIT_ONLY.match(text)
    return _unit_named(found[1]) if found else ""


def _unit_named(written: str) -> str:
    return _UNITS_BY_WORD.get(_NOT_A_UNIT_LETTER.sub("", written).strip().lower(), "")


def read_written(text: str) -> Written:
    """Read one value as it stands in a line.

    Args:
        text: The value's text, Latin-1 with one character a byte; a decimal comma is already a dot.
    """
    text = _UTF8_DASHES.sub("-", text).strip().strip("\"'").strip("\x00\x02\x03 \t")
    found = _VALUE.match(text)
    if found:
        return written_number(float(found[1]), _unit_named(found[2]) if found[2] else "")
    if not text:
        return Written(nan, "", "the interface sent nothing here")
    if is_open_word(text):
        return Written(nan, "", f"the interface sent “{shown(text)}” instead of a number", is_word=True)
    return Written(nan, "", f"“{shown(text)}” is not a number")


def written_number(number: float, unit: str = "") -> Written:
    """Return a number that was sent, or the reason why it stands for none."""
    if abs(number) < NO_MEASUREMENT:
        return Written(number, unit)
    return Written(nan, "", f"the interface sent {number:g}, which stands for no measurement", is_word=True)


def is_open_word(text: str) -> bool:
    """Tell whether a text is one that interfaces send for an open circuit or a missing value.

    A unit may still stand behind it, as in `--- °C`.
    """
    bare, _, unit = text.strip().rpartition(" ")
    word = (bare.strip() if bare and unit_of(unit) else text.strip()).lower()
    return word in OPEN_WORDS or bool(_DASHES.match(word))


def degc_converter(unit: str) -> Convert | None:
    """Return what turns a number in a unit into °C, 4 decimals; None where nothing is to do."""
    if unit == TempUnit.DEGC:
        return None
    return _from_fahrenheit if TempUnit(unit) is TempUnit.DEGF else _from_kelvin


def _from_fahrenheit(value: float) -> float:
    return round((value - 32.0) / 1.8 * 1e4) / 1e4


def _from_kelvin(value: float) -> float:
    return round((value - 273.15) * 1e4) / 1e4


def grams_converter(unit: str) -> Convert | None:
    """Return what turns a number in a unit into g, 4 decimals; None where nothing is to do."""
    if unit == "g":
        return None
    factor = GRAMS_PER[unit]
    return lambda value: round(value * factor * 1e4) / 1e4


def implausible(temp_degc: float) -> str:
    """Return why a temperature cannot be one of a type K probe, or an empty text where it can."""
    if LOWEST_DEGC <= temp_degc <= HIGHEST_DEGC:
        return ""
    if not isfinite(temp_degc):
        return "the interface sent no finite number"
    return f"{temp_degc:.6g} °C is outside −270 to 1372 °C, which no type K probe gives"
