"""Lines into values: a parser is made once for a layout and then called for every line."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from math import isfinite, nan
from typing import Any, NamedTuple

import msgspec

from benchtemp.errors import BadInput, BenchtempError
from benchtemp.readings.layout import Junction, Layout, Weight
from benchtemp.readings.shapes import WHOLE_LINE, Shapes, take_shape
from benchtemp.readings.values import (
    GRAMS_PER,
    HEAVIEST_G,
    HIGHEST_DEGC,
    LOWEST_DEGC,
    NUMBER_PATTERN,
    UNIT_PATTERN,
    Convert,
    EmfToDegc,
    Values,
    Written,
    degc_converter,
    grams_converter,
    implausible,
    is_open_word,
    read_written,
    unit_of,
    written_number,
)

FIELD_WITH_UNIT = re.compile(rf"\S+(?:\s+(?:{UNIT_PATTERN})(?=\s|\Z))?", re.IGNORECASE | re.ASCII)
LABELLED_VALUE = (
    rf"\s*(?:[=:]\s*|\s)"
    rf"({NUMBER_PATTERN}(?:\s*(?i:{UNIT_PATTERN}))?(?=[\s,;|)\]}}]|\Z)|[^\s,;|)\]}}]*)"
)
_MISSING = Written(nan, "", "it is not in the line")


LineParser = Callable[[bytes], Values | None]
"""Gives the values of a line (without its end), or None where the line is no reading."""


class _Found(NamedTuple):
    """A value's text, and where it begins and ends in the line."""

    text: str
    start: int
    end: int


def compile_parser(layout: Layout, emf_to_degc: EmfToDegc | None = None) -> LineParser:
    """Make the parser of a layout of kind `lines`.

    Args:
        layout: How the interface speaks.
        emf_to_degc: Turns mV and the reference junction's °C into °C; needed for channels in mV only.

    Raises:
        BadInput: The layout is of another kind, or sends mV and no `emf_to_degc` was given.
    """
    if layout.kind != "lines":
        raise BadInput(f"The layout “{layout.name}” is of kind “{layout.kind}”; pick one of kind “lines”.")
    if emf_to_degc is None and any(channel.unit == "mV" for channel in layout.channels):
        raise BadInput(
            f"The layout “{layout.name}” sends voltages in mV, and the table that turns them into °C is not "
            f"at hand here; let the interface send temperatures.",
        )
    lines = _JsonLines if layout.channels[0].form == "key" else _TextLines
    return lines(layout, emf_to_degc)


class _Lines:
    """Turns the written values of a line into numbers; where they stand is told by its kinds."""

    def __init__(self, layout: Layout, emf_to_degc: EmfToDegc | None) -> None:
        self._layout = layout
        self._emf_to_degc = emf_to_degc

    def _values(self, written: list[Written]) -> tuple[Values | None, list[Convert | None] | None]:
        """Return the values, and what each number went through if the next line may go through the same."""
        remaining = iter(written)
        channels = [(channel, next(remaining)) for channel in self._layout.channels]
        weight = (self._layout.weight, next(remaining)) if self._layout.weight else None
        junction = (self._layout.junction, next(remaining)) if self._layout.junction else None
        weight_g, weight_convert = grams(*weight) if weight else (nan, None)
        if not isfinite(weight_g) and not any(one.is_word or isfinite(one.number) for _, one in channels):
            return None, None
        temps_degc: list[float] = []
        reasons: list[str] = []
        converts: list[Convert | None] = []
        reusable = weight is None or isfinite(weight_g)
        for channel, one in channels:
            unit = one.unit or channel.unit
            temp_degc, reason, convert = self._degc(one, unit, junction)
            temps_degc.append(temp_degc)
            reasons.append(reason)
            converts.append(convert)
            reusable = reusable and not reason and unit != "mV"
        if weight:
            converts.append(weight_convert)
        values = Values(tuple(temps_degc), weight_g, tuple(reasons) if any(reasons) else ())
        return values, converts if reusable else None

    def _degc(
        self,
        one: Written,
        unit: str,
        junction: tuple[Junction, Written] | None,
    ) -> tuple[float, str, Convert | None]:
        if one.reason:
            return nan, one.reason, None
        if unit in GRAMS_PER:
            return nan, f"{one.number:g} {unit} is not a temperature", None
        if unit == "mV":
            return (*self._degc_from_mv(one.number, junction), None)
        convert = degc_converter(unit)
        temp_degc = one.number if convert is None else convert(one.number)
        reason = implausible(temp_degc)
        return (nan if reason else temp_degc), reason, convert

    def _degc_from_mv(self, emf_mv: float, junction: tuple[Junction, Written] | None) -> tuple[float, str]:
        if self._emf_to_degc is None:
            return nan, f"{emf_mv:g} mV is a voltage, where the layout has temperatures"
        junction_degc = self._layout.junction_degc
        if junction:
            place, one = junction
            unit = one.unit or place.unit
            junction_degc, reason, _ = self._degc(one, unit if unit != "mV" else "g", None)
            if reason:
                return nan, f"the reference junction gave no temperature: {reason}"
        try:
            temp_degc = self._emf_to_degc(emf_mv, junction_degc)
        except BenchtempError as exc:
            return nan, str(exc)
        if not isfinite(temp_degc):
            return nan, f"{emf_mv:g} mV is outside the type K table"
        reason = implausible(temp_degc)
        return (nan if reason else round(temp_degc, 4)), reason


class _TextLines(_Lines):
    """Lines whose values are found by field or by label."""

    def __init__(self, layout: Layout, emf_to_degc: EmfToDegc | None) -> None:
        super().__init__(layout, emf_to_degc)
        self._places = layout.places()
        self._by_label = self._places[0].form == "label"
        self._decimal_comma = layout.decimal == ","
        self._shapes = Shapes()
        self._patterns = [
            re.compile(rf"(?<![A-Za-z0-9_]){re.escape(place.label.strip())}{LABELLED_VALUE}", re.ASCII)
            for place in self._places
            if place.label is not None
        ]
        self._picked = {place.field for place in self._places}
        self._furthest = max((place.field or 0 for place in self._places), default=0)

    def __call__(self, line: bytes) -> Values | None:
        """Return a line's values, or None where it is no reading."""
        if self._decimal_comma:
            line = line.replace(b",", b".")
        return self._shapes.read(line) or self._look_closely(line)

    def _look_closely(self, line: bytes) -> Values | None:
        text = line.decode("latin-1")
        found = self._labelled(text) if self._by_label else self._fields(text)
        if found is None:
            return None
        written = [_MISSING if one is None else read_written(one.text) for one in found]
        values, converts = self._values(written)
        if converts is not None:
            self._remember(line, found, converts)
        return values

    def _fields(self, text: str) -> list[_Found | None] | None:
        separator = self._layout.separator
        fields: list[_Found] = []
        if separator.strip(" "):
            start = 0
            for part in text.split(separator):
                fields.append(_Found(part, start, start + len(part)))
                start += len(part) + len(separator)
        elif self._picked == {1} and is_open_word(text):  # in two words, perhaps
            fields = [_Found(text, 0, len(text))]
        else:
            fields = [_Found(one[0], one.start(), one.end()) for one in FIELD_WITH_UNIT.finditer(text)]
        if len(fields) < self._furthest or self._layout.fields not in (0, len(fields)):
            return None
        found: list[_Found | None] = []
        for place in self._places:
            number = place.field or 1
            one = fields[number - 1]
            if number < len(fields) and number + 1 not in self._picked and unit_of(fields[number].text):
                one = one._replace(text=f"{one.text} {fields[number].text.strip()}")
            found.append(one)
        return found

    def _labelled(self, text: str) -> list[_Found | None] | None:
        found: list[_Found | None] = []
        for pattern in self._patterns:
            matches = list(pattern.finditer(text))
            if len(matches) > 1:
                return None
            found.append(_Found(matches[0][1], *matches[0].span(1)) if matches else None)
        return found if any(found) else None

    def _remember(self, line: bytes, found: list[_Found | None], converts: list[Convert | None]) -> None:
        """Keep the shape of a line all of whose numbers were read."""
        spans = [(one.start, one.end) for one in found if one is not None]
        if len(spans) < len(found):
            return
        for separator in self._separators():
            shape = take_shape(line, spans[: len(converts)], converts, separator, len(self._layout.channels))
            if shape is not None:
                self._shapes.remember(line, shape)
                return

    def _separators(self) -> tuple[bytes | None, ...]:
        if self._by_label:
            return b";", b",", b"|", b"\t", None
        separator = self._layout.separator
        if separator.strip(" "):
            return (separator.encode(),)
        return (WHOLE_LINE, None) if self._furthest == 1 else (None,)


class _JsonLines(_Lines):
    """Lines that are a JSON object each."""

    def __init__(self, layout: Layout, emf_to_degc: EmfToDegc | None) -> None:
        super().__init__(layout, emf_to_degc)
        self._keys = [place.key for place in layout.places() if place.key is not None]
        self._simple: list[tuple[str, Convert | None]] = []
        if not layout.weight and all(channel.unit != "mV" for channel in layout.channels):
            self._simple = [(channel.key or "", degc_converter(channel.unit)) for channel in layout.channels]

    def __call__(self, line: bytes) -> Values | None:
        """Return a line's values, or None where it is no reading."""
        content = json_object(line)
        if content is None:
            return None
        temps_degc: list[float] = []
        for key, convert in self._simple:
            number = content.get(key)
            if type(number) is not float:
                break
            value = number if convert is None else convert(number)
            if not LOWEST_DEGC <= value <= HIGHEST_DEGC:
                break
            temps_degc.append(value)
        if temps_degc and len(temps_degc) == len(self._simple):
            return Values(tuple(temps_degc))
        values, _ = self._values([written_in_json(content, key) for key in self._keys])
        return values


def json_object(line: bytes) -> dict[str, Any] | None:
    """Return the JSON object a line holds (text around it is passed over), or None where it holds none."""
    try:
        content = msgspec.json.decode(line)
    except (msgspec.DecodeError, RecursionError, UnicodeDecodeError):
        start, end = line.find(b"{"), line.rfind(b"}")
        if start < 0:
            return None
        try:  # the standard library also reads the bare NaN and Infinity that some interfaces send
            content = json.loads(line[start : end + 1].decode("utf-8", "replace"))
        except (ValueError, RecursionError):
            return None
    return content if isinstance(content, dict) else None


def written_in_json(content: dict[str, Any], key: str) -> Written:
    """Return the value at a key of a JSON object, with dots to reach into objects and lists inside."""
    value: object = content.get(key, _MISSING)
    if value is _MISSING and "." in key:
        value = _reach(content, key)
    if value is _MISSING:
        return _MISSING
    if isinstance(value, float):
        return written_number(value) if isfinite(value) else read_written(str(value))
    if isinstance(value, int) and not isinstance(value, bool):
        return written_number(float(value) if abs(value) < 10**300 else nan)
    if value is None:
        return read_written("null")
    if isinstance(value, str):
        return read_written(value.encode("utf-8", "replace").decode("latin-1"))
    return Written(nan, "", "the interface sent something that is not a number")


def _reach(content: object, key: str) -> object:
    for step in key.split("."):
        if isinstance(content, dict):
            content = content.get(step, _MISSING)
        elif isinstance(content, list) and step.isdecimal() and len(step) < 6 and int(step) < len(content):
            content = content[int(step)]
        else:
            return _MISSING
    return content


def grams(place: Weight, one: Written) -> tuple[float, Convert | None]:
    """Return a written weight in g (NaN where it is none) and what its number went through."""
    unit = one.unit or place.unit
    if one.reason or unit not in GRAMS_PER:
        return nan, None
    convert = grams_converter(unit)
    weight_g = one.number if convert is None else convert(one.number)
    return (weight_g if abs(weight_g) <= HEAVIEST_G else nan), convert
