"""The shape of a line: where its numbers stand, and every other character in it.

Two lines have the same skeleton when nothing but numeric characters differs. A line whose skeleton is known
is split once and its numbers go straight to `float`; whatever else was checked when the shape was taken is
checked again character by character, so a shape never gives a value that a careful look would not give.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from math import nan
from typing import NamedTuple

from benchtemp.readings.values import (
    HEAVIEST_G,
    HIGHEST_DEGC,
    LOWEST_DEGC,
    NUMBER_PATTERN,
    Convert,
    Values,
    unit_of,
)

_NUMERIC = b"0123456789+-.eE "
_NUMBER = re.compile(NUMBER_PATTERN, re.ASCII)
_MOST_SHAPES = 16
_new = tuple.__new__  # what `Values(…)` ends in, at half its cost
WHOLE_LINE = b"\n"
"""A separator no line contains: the line is one part."""


class Pick(NamedTuple):
    """One number of a shape.

    Attributes:
        at: Number of the part it stands in, from 0.
        before: What stands before it in that part (spaces next to the number left out).
        after: What stands behind it in that part.
        beside: What the next part must be, where that is the number's unit; else empty.
        convert: What turns the number into °C or g; None where it is that already.
    """

    at: int
    before: bytes
    after: bytes
    beside: bytes
    convert: Convert | None


class Shape(NamedTuple):
    """Where a line's numbers stand. `separator` None splits at runs of white space."""

    separator: bytes | None
    parts: int
    channels: tuple[Pick, ...]
    weight: Pick | None


class Shapes:
    """The shapes met so far, by their skeletons."""

    def __init__(self) -> None:
        self._known: dict[bytes, Shape] = {}

    def read(self, line: bytes) -> Values | None:
        """Read a line of a known shape.

        Returns:
            Its values, or None where the line needs a careful look: an unknown shape, a number out of range,
            something else than a number, anything around it not as it was.
        """
        shape = self._known.get(line.translate(None, _NUMERIC))
        if shape is None:
            return None
        separator, count, channels, weight = shape
        temps_degc = []
        try:
            if count == 1 and weight is None and not channels[0].before:
                # A lone number needs no splitting: a separator would show in the skeleton, and `float` takes
                # neither white space inside nor anything else that is left.
                _, _, after, _, convert = channels[0]
                value = float(line.removesuffix(after))
                if convert is not None:
                    value = convert(value)
                return _new(Values, ((value,), nan, ())) if LOWEST_DEGC <= value <= HIGHEST_DEGC else None
            parts = line.split(separator)
            if len(parts) != count:
                return None
            for at, before, after, beside, convert in channels:
                part = parts[at]
                if before:
                    if not part.startswith(before):
                        return None
                    part = part[len(before) :]
                if after:
                    if not part.endswith(after):
                        return None
                    part = part[: -len(after)]
                if beside and parts[at + 1] != beside:
                    return None
                value = float(part) if convert is None else convert(float(part))
                if not LOWEST_DEGC <= value <= HIGHEST_DEGC:
                    return None
                temps_degc.append(value)
            if weight is None:
                return _new(Values, (tuple(temps_degc), nan, ()))
            at, before, after, beside, convert = weight
            part = parts[at]
            if not (part.startswith(before) and part.endswith(after)):
                return None
            if beside and parts[at + 1] != beside:
                return None
            weight_g = float(part[len(before) : len(part) - len(after)])
            if convert is not None:
                weight_g = convert(weight_g)
        except (ValueError, OverflowError):
            return None
        return _new(Values, (tuple(temps_degc), weight_g, ())) if abs(weight_g) <= HEAVIEST_G else None

    def remember(self, line: bytes, shape: Shape) -> None:
        """Keep the shape of a line; when too many were met, all are forgotten and learnt anew."""
        if len(self._known) >= _MOST_SHAPES:
            self._known.clear()
        self._known[skeleton(line)] = shape


def skeleton(line: bytes) -> bytes:
    """Return everything in a line that is not numeric."""
    return line.translate(None, _NUMERIC)


def take_shape(
    line: bytes,
    spans: Sequence[tuple[int, int]],
    converts: Sequence[Convert | None],
    separator: bytes | None,
    channels: int,
) -> Shape | None:
    """Return the shape of a line all of whose numbers were read, or None where it has none that is safe.

    Args:
        line: The line.
        spans: Where each value stands, its unit included: the channels, then the weight if there is one.
        converts: What each number went through.
        separator: Where to split; None for runs of white space.
        channels: How many of the values are temperatures.
    """
    if separator is not None and not skeleton(separator) and separator != WHOLE_LINE:
        return None
    if separator == WHOLE_LINE and (len(spans) > 1 or line[spans[0][1] :].strip()):
        return None
    parts = line.split(separator)
    starts = _starts(line, parts, separator)
    picks: list[Pick] = []
    for span, convert in zip(spans, converts, strict=True):
        pick = _pick(line, span, convert, parts, starts)
        if pick is None:
            return None
        picks.append(pick)
    indexes = {pick.at for pick in picks}
    if len(indexes) < len(picks):
        return None
    for place, pick in enumerate(picks):
        following = parts[pick.at + 1] if pick.at + 1 < len(parts) else b""
        if pick.at + 1 in indexes:
            continue
        if unit_of(following.decode("latin-1")):
            picks[place] = pick._replace(beside=following)
        elif unit_of(skeleton(following).decode("latin-1")):
            return None
    if separator is None:
        around = b"".join(pick.before + pick.after for pick in picks)
        if sorted(skeleton(line).replace(b"\t", b"")) != sorted(skeleton(around)):
            return None  # white space pins nothing: every other character must stand next to a number
    weight = picks[channels] if len(picks) > channels else None
    return Shape(separator, len(parts), tuple(picks[:channels]), weight)


def _starts(line: bytes, parts: list[bytes], separator: bytes | None) -> list[int]:
    starts: list[int] = []
    position = 0
    for part in parts:
        if separator is None:
            position = line.index(part, position)
        starts.append(position)
        position += len(part) + (0 if separator is None else len(separator))
    return starts


def _pick(
    line: bytes,
    span: tuple[int, int],
    convert: Convert | None,
    parts: list[bytes],
    starts: list[int],
) -> Pick | None:
    start, end = span
    start += len(line[start:end]) - len(line[start:end].lstrip())
    number = _NUMBER.match(line.decode("latin-1"), start, end)
    index = next((at for at, begins in enumerate(starts) if begins <= start < begins + len(parts[at])), -1)
    if number is None or index < 0:
        return None
    ends = starts[index] + len(parts[index])
    if end > ends:
        return None
    before = line[starts[index] : start].rstrip(b" ")
    if before and not before.endswith((b"=", b":")):
        before += b" "  # `T1 93.2` is not `T193.2`
    after = line[number.end() : ends].lstrip(b" ")
    return Pick(index, before, after, b"", convert)
