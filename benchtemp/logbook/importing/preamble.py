"""What the lines above a table say: when it began, the interval between rows, the unit."""

from __future__ import annotations

import re
from collections.abc import Sequence

from benchtemp.logbook.importing import words
from benchtemp.logbook.importing.moments import date_of, read_duration, read_moment
from benchtemp.readings.values import unit_of

_MOST_LINES = 200
_LABELLED = re.compile(r"\s*#*\s*([^:=;,\t\d]{2,60}?)\s*[:=;,\t]+\s*(\S.*?)[\s;,\t]*\Z")
_INTERVAL = re.compile(
    r"(\d+(?:[.,]\d+)?)\s*(ms|msec|milliseconds?|s|sec|secs|seconds?|sek\w*|min|mins|minutes?|minuten|h|hours?|hz)?\b",
    re.IGNORECASE,
)
_INTERVAL_UNITS = (("ms", 1e-3), ("milli", 1e-3), ("min", 60.0), ("hz", 0.0), ("h", 3600.0), ("s", 1.0))
_UNIT_VALUE = re.compile(
    r"[\"'\[(]?\s*(?:°\s*|degrees?\s+|deg\.?\s*)?(celsius|fahrenheit|kelvin|[cfk])\s*[\])\"']?", re.IGNORECASE
)


def labelled(lines: Sequence[str]) -> list[tuple[str, str]]:
    """Return label and value of the lines that have both, such as `Start: 2026-03-01`."""
    found = [_LABELLED.match(line[:400]) for line in lines[:_MOST_LINES]]
    return [(one[1].strip(), one[2].strip("\"' ")) for one in found if one is not None]


def start_labels(lines: Sequence[str]) -> tuple[str, ...]:
    """Return the labels of the line that tells when a table began, or of those with its date and its time."""
    date_label, time_label = "", ""
    for label, value in labelled(lines):
        found = words.words_of(label)
        if not found & words.START or found & words.NOT_START:
            continue
        date = date_of(value)
        if date is not None:
            moment = read_moment(value, date.orders[0])
            if moment is not None and moment.second is not None:
                return (label,)
            date_label = date_label or label
        elif read_moment(value, "") is not None:
            time_label = time_label or label
    if not date_label:
        return ()
    return (date_label, time_label) if time_label else (date_label,)


def interval_s(lines: Sequence[str]) -> float | None:
    """Return the time from row to row that lines above a table state in s, None where they do not."""
    for label, value in labelled(lines):
        if not words.INTERVAL.search(label):
            continue
        duration_s = read_duration(value, "mm:ss") if value.count(":") == 2 else 0.0
        if duration_s > 0:
            return duration_s
        written = _INTERVAL.match(value)
        if written is None:
            continue
        number = float(written[1].replace(",", "."))
        word = (written[2] or _unit_in(label)).lower()
        factor = next((seconds for start, seconds in _INTERVAL_UNITS if word.startswith(start)), None)
        if factor is None or number <= 0:
            continue
        return 1.0 / number if factor == 0.0 else number * factor
    return None


def _unit_in(label: str) -> str:
    found = re.search(r"[\[(]\s*(ms|s|sec|min|h|hz)\s*[\])]", label, re.IGNORECASE)
    return found[1] if found else ""


def unit(lines: Sequence[str]) -> str:
    """Return the temperature unit that lines above a table name, an empty text where none or two are."""
    named = set()
    for label, value in labelled(lines):
        if words.UNIT.search(label) and (found := _UNIT_VALUE.fullmatch(value)):
            named.add(unit_of(found[1]))
    return named.pop() if len(named) == 1 else ""
