"""Text files as meters write them, made to measure."""

from __future__ import annotations

import codecs
import datetime as dt
from dataclasses import dataclass
from math import isnan

import pytest

STARTED = dt.datetime.fromisoformat("2026-03-14T09:59:50")


@dataclass(frozen=True)
class Meter:
    """How an invented meter writes; `file` gives the bytes of a file of its."""

    delimiter: str = ","
    decimal: str = "."
    encoding: str = "utf-8"
    mark: bool = False
    line_end: str = "\n"
    above: tuple[str, ...] = ()
    heading: tuple[str, ...] | None = None
    units: tuple[str, ...] | None = None
    below: tuple[str, ...] = ()
    ended: bool = True
    decimals: int = 1
    suffix: str = ""
    none: str = ""
    clock: str = "%Y-%m-%d %H:%M:%S"
    date: str = ""
    elapsed: float | None = None
    """How much of its unit a second is; None where the clock is written."""
    fahrenheit: bool = False
    started: dt.datetime = STARTED

    def number(self, value):
        if isnan(value):
            return self.none
        shown = value * 1.8 + 32 if self.fahrenheit else value
        return f"{shown:.{self.decimals}f}{self.suffix}".replace(".", self.decimal)

    def time(self, t_s):
        if self.elapsed is not None:
            return [f"{t_s * self.elapsed:.3f}".rstrip("0").rstrip(".").replace(".", self.decimal)]
        moment = self.started + dt.timedelta(seconds=t_s)
        return [moment.strftime(form) for form in (self.date, self.clock) if form]

    def file(self, t_s, temps_degc):
        lines = list(self.above)
        lines += [self.delimiter.join(names) for names in (self.heading, self.units) if names is not None]
        rows = zip(t_s, temps_degc, strict=True)
        lines += [self.delimiter.join([*self.time(at_s), *map(self.number, row)]) for at_s, row in rows]
        lines += self.below
        text = self.line_end.join(lines) + (self.line_end if self.ended else "")
        marks = {
            "utf-8": codecs.BOM_UTF8,
            "utf-16-le": codecs.BOM_UTF16_LE,
            "utf-16-be": codecs.BOM_UTF16_BE,
        }
        return (marks.get(self.encoding, b"") if self.mark else b"") + text.encode(self.encoding)


@pytest.fixture(scope="session")
def meter():
    """Return the class of invented meters."""
    return Meter
