"""A scale that sends its weight as lines of text, by itself or when asked."""

from __future__ import annotations

import contextlib
import re
from math import nan

from benchtemp.errors import BadInput
from benchtemp.readings.connection import UNPLUGGED
from benchtemp.readings.layout import Layout, Weight
from benchtemp.readings.parser import LineParser, grams
from benchtemp.readings.serial_source import SerialSource
from benchtemp.readings.values import EmfToDegc, Values, Written, is_open_word, read_written

_NO_WEIGHT = Values((), nan)
_NUMBER_AND_UNIT = re.compile(
    r"(?<![\w.])([+-]?) *(\d+(?:\.\d*)?|\.\d+)(?![\d.]) *(kg|grams?|gr?|oz|lbs?)?(?![\w.%])",
    re.IGNORECASE | re.ASCII,
)
_ANOTHER_QUANTITY = re.compile(
    r"\d[\d.]* *(%|pcs?|ct|m?l|ozt|gn|dwt|tl|[^\x00-\x7f]* ?[cfk])(?!\w)", re.IGNORECASE
)
"""Pieces, percent, volumes, carats, temperatures: a number, but no weight in g, kg, oz or lb."""


class ScaleSource(SerialSource):
    """Reads weights from a serial port; readings have no temperatures.

    Stable and unstable readings are all kept: a weight that changes is what a shot is about.
    """

    def _parser(self, layout: Layout, emf_to_degc: EmfToDegc | None) -> LineParser:
        del emf_to_degc
        return compile_scale_parser(layout)

    @property
    def has_weight(self) -> bool:
        """Return True: weights are all it gives."""
        return True

    def tare(self) -> bool:
        """Ask the scale for zero; any thread may call it.

        Returns:
            False where the layout has no command for it, or the scale is not there.
        """
        command = self._layout.tare_bytes
        with self._lock:
            if not command or self._port is None:
                return False
            with contextlib.suppress(*UNPLUGGED):
                self._port.write(command)
                return True
        return False


def compile_scale_parser(layout: Layout) -> LineParser:
    """Make the parser of a layout of kind `scale`.

    A line's weight is its only number that has a weight's unit, or its only number. Letters and signs around
    it (flags for stable, net, gross) are passed over; a space between sign and number is allowed.

    Raises:
        BadInput: The layout is of another kind.
    """
    if layout.kind != "scale":
        raise BadInput(
            f"The layout “{layout.name}” is of kind “{layout.kind}”; a scale needs one of kind “scale”."
        )
    place = layout.weight or Weight()

    def parse(line: bytes) -> Values | None:
        if layout.decimal == ",":
            line = line.replace(b",", b".")
        text = line.decode("latin-1")
        if place.field is not None:
            fields = text.split(layout.separator) if layout.separator.strip() else text.split()
            if len(fields) < place.field or layout.fields not in (0, len(fields)):
                return None
            following = fields[place.field] if place.field < len(fields) else ""
            text = fields[place.field - 1]
            if _is_weight_unit(following):
                text = f"{text} {following}"
        return _weight(text, place)

    return parse


def _is_weight_unit(text: str) -> bool:
    return read_written(f"1 {text.strip()}").unit in ("g", "kg", "oz", "lb")


def _weight(text: str, place: Weight) -> Values | None:
    numbers = list(_NUMBER_AND_UNIT.finditer(text))
    with_unit = [found for found in numbers if found[3]]
    if not with_unit and _ANOTHER_QUANTITY.search(text):
        return None
    numbers = with_unit or numbers
    if len(numbers) != 1:
        words = [word for word in re.split(r"[\s,;]+", text) if word]
        return _NO_WEIGHT if not numbers and any(map(is_open_word, words)) else None
    sign, digits, unit = numbers[0].groups()
    written = read_written(f"{sign}{digits} {unit or ''}")
    weight_g, _ = grams(place, Written(written.number, written.unit))
    return Values((), weight_g)
