"""Turns of phrase that several parts of a report use."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Sequence

from benchtemp.reports.printable import printable
from benchtemp.reports.tested import TestedShot
from benchtemp.studies.outcome import plural
from benchtemp.studies.wording import listed, number
from benchtemp.units import MINUS

MOST_VALUES = 8
_ZONE = re.compile(r"T[\d:.]+(Z|[+-]\d\d:\d\d)\Z")


def moment(written: str) -> str:
    """Return an ISO 8601 moment as people read it, `2031-03-04 13:02`; as written where it is none."""
    return printable(written[:16].replace("T", " "), 20)


def zone(written: str) -> str:
    """Return the difference to UTC in an ISO 8601 moment as people read it; empty where it has none.

    >>> zone("2031-03-04T13:02:00+01:00"), zone("2031-03-04T13:02:00Z"), zone("2031-03-04T13:02:00")
    ('UTC+01:00', 'UTC', '')
    """
    found = _ZONE.search(written)
    if found is None:
        return ""
    return "UTC" if found[1] in ("Z", "+00:00", "-00:00") else f"UTC{found[1].replace('-', MINUS)}"


def days(shots: Sequence[TestedShot]) -> str:
    """Return when shots were pulled: a day with times, or two days."""
    written = sorted(one.record.pulled for one in shots if one.record.pulled)
    if not written:
        return ""
    first, last = moment(written[0]), moment(written[-1])
    if first == last:
        return first
    return f"{first} to {last[11:]}" if first[:10] == last[:10] else f"{first} to {last}"


def counted(values: Iterable[str], noun: str = "shot") -> str:
    """Return values with how often each occurs, most frequent first; without counts where there is one only.

    >>> counted(["a", "b", "b"])
    'b (2 shots), a (1 shot)'
    """
    found = Counter(printable(value, 120) for value in values if value)
    if len(found) == 1:
        return next(iter(found))
    told = [f"{value} ({plural(count, noun)})" for value, count in found.most_common(MOST_VALUES)]
    left = len(found) - len(told)
    return ", ".join(told) + (f", and {left} more" if left else "")


def span_text(values: Sequence[float], decimals: int, unit: str) -> str:
    """Return one value, or the lowest and highest of several, with a unit; empty for none.

    >>> span_text([10.0, 10.0], 0, "g"), span_text([9.0, 10.0], 0, "g"), span_text([], 0, "g")
    ('10 g', '9 to 10 g', '')
    """
    if not values:
        return ""
    low, high = number(min(values), decimals), number(max(values), decimals)
    return f"{low} {unit}" if low == high else f"{low} to {high} {unit}"


def machines(names: Sequence[str]) -> str:
    """Return machines' names as a title has them."""
    shown = [printable(name, 60) for name in names]
    return listed(shown) if len(shown) <= 3 else f"{len(shown)} machines"
