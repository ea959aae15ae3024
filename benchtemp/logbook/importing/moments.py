"""Dates and times as meters write them, and durations such as 0:01:30."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable, Iterable
from math import nan
from typing import Literal, NamedTuple

DateOrder = Literal["ymd", "dmy", "mdy"]
DATE_ORDERS: tuple[DateOrder, ...] = ("ymd", "dmy", "mdy")
DAY_S = 86400.0
FIRST_YEAR, LAST_YEAR = 1980, 2099
_LEAST_LIKELY_YEAR = 2010
_CACHE_LIMIT = 10_000
_CLOSE_S = 3600.0
_LONGEST = 64
"""Characters; a longer text is no moment, and would take long to look at."""

_MONTH_NAMES = "jan feb mar apr may jun jul aug sep oct nov dec"
_MONTHS = {name: number for number, name in enumerate(_MONTH_NAMES.split(), 1)}
_DATE = (
    r"(?:[a-z]{2,9}[.,]?\s+)?"  # the day of the week
    r"(?:(?P<first>\d{4}|\d{1,2})(?P<sign>[-/.])\s?(?P<second>\d{1,2})(?P=sign)\s?(?P<third>\d{4}|\d{2})"
    r"|(?P<day>\d{1,4})[-/. ](?P<month>[a-z]{3,9})[-/., ]\s?(?P<year>\d{4}|\d{2})"
    r"|(?P<us_month>[a-z]{3,9})\.?\s(?P<us_day>\d{1,2})(?:st|nd|rd|th)?,?\s(?P<us_year>\d{4})"
    r"|(?P<run>\d{8}))"
)
_TIME = (
    r"(?P<hours>\d{1,2})(?P<colon>[:.])(?P<minutes>\d{2})"
    r"(?:(?P=colon)(?P<seconds>\d{2})(?:(?P<point>[.,:])(?P<part>\d{1,9}))?)?"
    r"\s?(?P<half>[ap]\.?m\.?)?"
)
_TIME_RUN = r"(?P<run_time>\d{6})"
_ZONE = r"(?P<zone>z|utc|gmt|[+-]\d{2}:?\d{2})"
_MOMENT = re.compile(
    rf"\s*{_DATE}(?:(?:t|,?\s+|,|_|-)(?:{_TIME}|{_TIME_RUN})\s?{_ZONE}?)?\s*\Z", re.IGNORECASE | re.ASCII
)
_RUN = re.compile(r"\s*(\d{8})(\d{6})\s*\Z", re.ASCII)
_TIME_ALONE = re.compile(rf"\s*{_TIME.replace('[:.]', ':')}\s*{_ZONE}?\s*\Z", re.IGNORECASE | re.ASCII)
_DURATION = re.compile(
    r"\s*(?:(?P<days>\d{1,4})[. d]\s?)?(?P<first>\d{1,6}):(?P<second>\d{1,2})(?::(?P<third>\d{1,2}))?"
    r"(?P<part>[.,:]\d{1,9})?\s*\Z",
    re.ASCII | re.IGNORECASE,
)


class Moment(NamedTuple):
    """What a text says of when.

    Attributes:
        day: Number of the day as `datetime.date.toordinal` counts, None without a date.
        second: Seconds since midnight, None without a time of day.
        offset_s: Difference to UTC where one is written, else None.
    """

    day: int | None
    second: float | None
    offset_s: float | None = None

    @property
    def at_s(self) -> float:
        """Return seconds on a count that runs through midnight; UTC where an offset is written."""
        return (self.day or 0) * DAY_S + (self.second or 0.0) - (self.offset_s or 0.0)


class _DateText(NamedTuple):
    """A date's three numbers as written, and the orders they may stand in."""

    numbers: tuple[str, str, str]
    orders: tuple[DateOrder, ...]
    sign: str = ""


def read_moment(text: str, order: DateOrder | Literal[""]) -> Moment | None:
    """Return what a text says of when, None where it is no date, no time and neither both.

    Args:
        text: `2026-03-01 10:15:02.5`, `1.3.26`, `10:15`, `2026-03-01T10:15:02+01:00`, `3/1/2026 10:15 PM` …
        order: In which order a date's numbers stand; empty where only an unmistakable date is taken.
    """
    found = _match(text)
    if found is None:
        alone = _TIME_ALONE.match(text) if len(text) <= _LONGEST else None
        if alone is None:
            return None
        second = _second_of(alone)
        return None if second is None else Moment(None, second, _offset_of(alone["zone"]))
    date = _date_text(found)
    day = None
    if date is not None:
        meant = {
            _day_of(date.numbers, one) for one in (date.orders if order not in date.orders else (order,))
        }
        day = meant.pop() if len(meant) == 1 else None
    if day is None:
        return None
    if found["run_time"]:
        written = found["run_time"]
        hours, minutes, seconds = int(written[:2]), int(written[2:4]), int(written[4:])
        inside = hours <= 23 and minutes <= 59 and seconds <= 59
        return (
            Moment(day, hours * 3600.0 + minutes * 60 + seconds, _offset_of(found["zone"]))
            if inside
            else None
        )
    if found["hours"] is None:
        return Moment(day, None)
    second = _second_of(found)
    return None if second is None else Moment(day, second, _offset_of(found["zone"]))


def date_of(text: str) -> _DateText | None:
    """Return the date in a text with the orders it may be meant in, None where there is none."""
    found = _match(text)
    return None if found is None else _date_text(found)


def _match(text: str) -> re.Match[str] | None:
    if len(text) > _LONGEST:
        return None
    run = _RUN.match(text)
    return _MOMENT.match(f"{run[1]}T{run[2]}" if run else text)


def _date_text(found: re.Match[str]) -> _DateText | None:
    if found["run"]:
        run = found["run"]
        numbers, possible = (run[:4], run[4:6], run[6:]), DATE_ORDERS[:1]
    elif found["month"] or found["us_month"]:
        month = _MONTHS.get((found["month"] or found["us_month"])[:3].lower())
        if month is None:
            return None
        day, year = found["day"] or found["us_day"], found["year"] or found["us_year"]
        if len(day) > 2:
            day, year = year, day
        numbers, possible = (year, str(month), day), DATE_ORDERS[:1]
    else:
        numbers = found["first"], found["second"], found["third"]
        if len(numbers[0]) == 4:
            possible = DATE_ORDERS[:1]
        elif len(numbers[2]) == 4:
            possible = DATE_ORDERS[1:]
        else:
            possible = DATE_ORDERS
    orders = tuple(order for order in possible if _day_of(numbers, order) is not None)
    return _DateText(numbers, orders, found["sign"] or "") if orders else None


def _day_of(numbers: tuple[str, str, str], order: str) -> int | None:
    year, month, day = (int(numbers[order.index(part)]) for part in "ymd")
    year += 2000 if year < 100 else 0
    if not FIRST_YEAR <= year <= LAST_YEAR:
        return None
    try:
        return dt.date(year, month, day).toordinal()
    except ValueError:
        return None


def _second_of(found: re.Match[str]) -> float | None:
    hours, minutes, seconds = int(found["hours"]), int(found["minutes"]), int(found["seconds"] or 0)
    if found["half"]:
        if not 1 <= hours <= 12:
            return None
        hours = hours % 12 + (12 if found["half"][0] in "pP" else 0)
    if hours > 24 or minutes > 59 or seconds > 59:
        return None
    return hours * 3600 + minutes * 60 + _with_part(seconds, found["point"] or "", found["part"] or "")


def _with_part(seconds: int, point: str, part: str) -> float:
    """Return seconds with their decimals; behind a colon stand thousandths."""
    if not part:
        return float(seconds)
    return seconds + int(part) / 1000 if point == ":" else float(f"{seconds}.{part}")


def _offset_of(zone: str | None) -> float | None:
    if not zone:
        return None
    if zone[0] not in "+-":
        return 0.0
    digits = zone[1:].replace(":", "")
    return (1 if zone[0] == "+" else -1) * (int(digits[:2]) * 3600.0 + int(digits[2:]) * 60.0)


class OrderFound(NamedTuple):
    """In which order dates stand.

    Attributes:
        order: The order; empty where it cannot be known.
        possible: All orders every date allows.
        why: How it is known, for a sentence; empty where every date says so itself.
        matters: The dates mean something else in another order; day and month may be alike.
    """

    order: DateOrder | Literal[""]
    possible: tuple[DateOrder, ...]
    why: str = ""
    matters: bool = True


def date_order(texts: Iterable[str], steps: Callable[[DateOrder], Iterable[float]]) -> OrderFound:
    """Find the order in which dates stand.

    Args:
        texts: All different texts with a date.
        steps: Gives, for an order, the time in s from one row to the next wherever the date changes.
    """
    dates = [date for date in map(date_of, texts) if date is not None]
    possible = tuple(order for order in DATE_ORDERS if all(order in date.orders for date in dates))
    if not dates or len(possible) <= 1:
        return OrderFound(possible[0] if dates and possible else "", possible)
    days = {order: [_day_of(date.numbers, order) or 0 for date in dates] for order in possible}
    if len(set(map(tuple, days.values()))) == 1:
        return OrderFound("", possible, matters=False)
    if all(date.sign == "." for date in dates) and "dmy" in possible:
        return OrderFound("dmy", possible, "dates with full stops have the day first")
    least = dt.date(_LEAST_LIKELY_YEAR, 1, 1).toordinal()
    recent = tuple(order for order in possible if min(days[order]) >= least)
    if len(recent) == 1:
        return OrderFound(recent[0], possible, "read otherwise, the year would be long ago")
    following = tuple(order for order in possible if _follow(steps(order)))
    if len(following) == 1:
        return OrderFound(following[0], possible, "read so, the rows go on through midnight")
    return OrderFound("", recent or possible)


def _follow(steps_s: Iterable[float]) -> bool:
    """Tell whether rows follow one another closely wherever the date changes, and it does at least once."""
    steps = list(steps_s)
    return bool(steps) and all(abs(step_s) <= _CLOSE_S for step_s in steps)


class MomentReader:
    """Reads the moments of many rows; a date met before is not read again."""

    def __init__(self, order: DateOrder | Literal[""]) -> None:
        self._order = order
        self._days: dict[str, int | None] = {}

    def at_s(self, text: str, date_text: str | None = None) -> float:
        """Return a row's moment in s on a running count, NaN where it is none.

        Args:
            text: Time of day, or date and time in one.
            date_text: The date, where it stands in a column of its own.
        """
        if date_text is None:
            moment = self._quick(text) or read_moment(text, self._order)
            return nan if moment is None or moment.second is None else moment.at_s
        day = self._day(date_text)
        if day is None:
            return nan
        moment = read_moment(text, self._order)
        if moment is None or moment.second is None:
            return nan
        return moment._replace(day=day).at_s

    def _day(self, text: str) -> int | None:
        if text not in self._days:
            moment = read_moment(text, self._order)
            if len(self._days) >= _CACHE_LIMIT:
                self._days.clear()
            self._days[text] = None if moment is None else moment.day
        return self._days[text]

    def _quick(self, text: str) -> Moment | None:
        """Read `date time` with the date from memory; None where it takes a careful look."""
        date, _, time = text.strip().replace("T", " ").partition(" ")
        alone = _TIME_ALONE.match(time) if len(time) <= _LONGEST else None
        if alone is None:
            return None
        day = self._day(date)
        second = _second_of(alone)
        return None if day is None or second is None else Moment(day, second, _offset_of(alone["zone"]))


DurationForm = Literal["h:mm", "mm:ss"]


def read_duration(text: str, form: DurationForm) -> float:
    """Return a duration such as `1:02:03.5` in s, NaN where it is none; `form` tells what two parts are."""
    found = _DURATION.match(text) if len(text) <= _LONGEST else None
    if found is None:
        return nan
    first, second, third = int(found["first"]), int(found["second"]), found["third"]
    written = found["part"] or ""
    if third is None and written.startswith(":"):
        return nan
    if second > 59 or int(third or 0) > 59:
        return nan
    if third is not None:
        whole = first * 3600 + second * 60
        seconds = int(third)
    elif form == "h:mm":
        whole, seconds = first * 3600 + second * 60, 0
    else:
        whole, seconds = first * 60, second
    days_s = int(found["days"] or 0) * DAY_S
    return days_s + whole + _with_part(seconds, written[:1], written[1:])
