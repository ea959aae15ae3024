"""Finding the columns that say when a row was taken."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from math import isfinite, nan
from statistics import median

import msgspec

from benchtemp.logbook.importing import preamble, words
from benchtemp.logbook.importing.cells import CellKind, read_cell
from benchtemp.logbook.importing.given import Given, column_number
from benchtemp.logbook.importing.layout import SECONDS_PER, ElapsedUnit, Timing
from benchtemp.logbook.importing.moments import (
    DateOrder,
    MomentReader,
    OrderFound,
    date_of,
    date_order,
    read_duration,
)
from benchtemp.logbook.importing.question import Question
from benchtemp.logbook.importing.sample import Sample

_EPOCH_S = (9e8, 4.1e9)
_SPREADSHEET_DAYS, _DAY_STEP = (36526.0, 54789.0), 0.01
"""From 2000 to 2049 as spreadsheets count days, and a step of a quarter of an hour."""
_RISING_SHARE = 0.95
_FEWEST_ROWS = 3
_OPEN_ORDER = "It cannot be known from {file} whether {date} has {first}; this must be stated."


@dataclass
class TimingGuess:
    """Where the times stand, and what is open about it."""

    timing: Timing
    questions: list[Question] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)
    order_assumed: DateOrder = "dmy"
    """A possible order, for a preview while it is open."""


def find_timing(sample: Sample, given: Given, file: str) -> TimingGuess:
    """Find the columns of times, or the interval that stands for them.

    Args:
        sample: The table.
        given: What is stated.
        file: What sentences call the file.

    Raises:
        BadInput: A column that is named is not there.
    """
    if given.interval_s is not None and given.time_column is None:
        return _even(sample, given, given.interval_s)
    dates, column = _columns(sample, given)
    if column is None:
        return _even(sample, given, None)
    kind = sample.kinds[column - 1]
    if kind in (CellKind.MOMENT, CellKind.TIME) and given.elapsed_unit is None:
        if dates is not None or kind is CellKind.MOMENT or not _is_elapsed(sample, column):
            return _clock(sample, given, column, dates if kind is CellKind.TIME else None, file)
        return _duration(sample, given, column)
    if kind is CellKind.TIME:
        return _duration(sample, given, column)
    return _number(sample, given, column)


def _columns(sample: Sample, given: Given) -> tuple[int | None, int | None]:
    """Return the column of dates and that of times, as stated or as found."""
    count = sample.dialect.columns
    kinds = sample.kinds
    dates = next((place for place, kind in enumerate(kinds, 1) if kind is CellKind.DATE), None)
    if given.date_column is not None:
        dates = column_number(given.date_column, sample.names, count)
    if given.time_column is not None:
        return dates, column_number(given.time_column, sample.names, count)
    for wanted in (CellKind.MOMENT, CellKind.TIME):
        found = [place for place, kind in enumerate(kinds, 1) if kind is wanted and place != dates]
        moving = [place for place in found if len(set(sample.texts(place))) > 1] or found
        named = [place for place in moving if words.words_of(sample.name(place)) & words.TIME]
        if moving:
            return dates, (named or moving)[0]
    numeric = [place for place, kind in enumerate(kinds, 1) if kind is CellKind.NUMBER]
    counted = [place for place in numeric if _since_1970(_numbers(sample, place))]
    if counted:
        return dates, counted[0]
    named = [place for place in numeric if _named_time(sample, place) and _rising(_numbers(sample, place))]
    if named:
        return dates, named[0]
    unnamed = [
        place
        for place in numeric
        if not sample.name(place)
        and _steady(_numbers(sample, place))
        and not _counts(_numbers(sample, place))
    ]
    return dates, unnamed[0] if unnamed else None


def _named_time(sample: Sample, column: int) -> bool:
    found = words.words_of(sample.name(column))
    if found & words.COUNTER or re.search(r"°\s*[cfk]|deg", sample.name(column), re.IGNORECASE):
        return False
    # A bare letter says something only by itself or in brackets: T1 is no time.
    alone = sample.name(column).strip().lower()
    bracketed = set(re.findall(r"[\[(]\s*([^\W\d_]+)\s*[\])]", alone)) | {alone}
    units = frozenset[str]().union(*words.TIME_UNITS.values())
    return bool(found & words.TIME) or alone == "t" or bool(bracketed & units)


def _numbers(sample: Sample, column: int) -> list[float]:
    return [read_cell(text, sample.dialect.decimal).number for text in sample.texts(column)]


def _since_1970(numbers: Sequence[float]) -> bool:
    """Tell whether numbers can hardly be anything but seconds or milliseconds since 1970."""
    known = [number for number in numbers if isfinite(number)]
    return (
        len(known) >= _FEWEST_ROWS
        and any(
            _EPOCH_S[0] * factor <= min(known) <= max(known) <= _EPOCH_S[1] * factor for factor in (1, 1e3)
        )
        and _rising(known)
    )


def _steps(numbers: Iterable[float]) -> list[float]:
    return [late - early for early, late in pairwise(number for number in numbers if isfinite(number))]


def _rising(numbers: Sequence[float]) -> bool:
    steps = _steps(numbers)
    if len(numbers) < 2:
        return True
    return bool(steps) and sum(step >= 0 for step in steps) >= _RISING_SHARE * len(steps) and any(steps)


def _steady(numbers: Sequence[float]) -> bool:
    steps = _steps(numbers)
    if len(steps) < _FEWEST_ROWS:
        return False
    usual = median(steps)
    alike = sum(0.5 * usual <= step <= 1.5 * usual for step in steps)
    return usual > 0 and alike >= _RISING_SHARE * len(steps)


def _counts(numbers: Sequence[float]) -> bool:
    steps = _steps(numbers)
    return bool(steps) and sum(step == 1 for step in steps) >= _RISING_SHARE * len(steps)


# Rows at even intervals


def _even(sample: Sample, given: Given, interval_s: float | None) -> TimingGuess:
    above = sample.lines[: sample.first]
    counter = next(
        (
            place
            for place, kind in enumerate(sample.kinds, 1)
            if kind is CellKind.NUMBER
            and (not sample.name(place) or words.words_of(sample.name(place)) & words.COUNTER)
            and _counts(_numbers(sample, place))
            and not _taken(sample, given, place)
        ),
        None,
    )
    stated = interval_s if interval_s is not None else preamble.interval_s(above)
    timing = Timing(
        kind="interval",
        column=counter,
        interval_s=stated or 0.0,
        start_labels=preamble.start_labels(above),
    )
    guess = TimingGuess(timing)
    if counter is not None:
        guess.remarks.append(f"{words.capital(sample.called(counter))} counts the rows.")
    if stated:
        source = "as stated" if interval_s is not None else "as the lines above the table say"
        guess.remarks.append(f"Rows follow each other every {stated:g} s, {source}.")
    else:
        guess.questions.append(
            Question(
                "interval_s", "No column holds times: how many seconds lie between two rows must be stated."
            )
        )
    _ask_start_order(guess, sample, given)
    return guess


def _taken(sample: Sample, given: Given, column: int) -> bool:
    named = given.temperature_columns
    return any(column_number(name, sample.names, sample.dialect.columns) == column for name in named)


# Dates and times of day


def _clock(sample: Sample, given: Given, column: int, dates: int | None, file: str) -> TimingGuess:
    timing = Timing(kind="clock", column=column, date_column=dates)
    guess = TimingGuess(timing)
    where = sample.called(column) if dates is None else f"{sample.called(dates)} and {sample.called(column)}"
    if dates is None and sample.kinds[column - 1] is CellKind.TIME:
        guess.timing = Timing(
            kind="clock", column=column, start_labels=preamble.start_labels(sample.lines[: sample.first])
        )
        guess.remarks.append(f"Times of the day stand in {where}, without a date.")
        _ask_start_order(guess, sample, given)
        return guess
    found, example = _order_of(sample, column, dates)
    order = given.order if given.order is not None and given.order in found.possible else found.order
    guess.timing = Timing(kind="clock", column=column, date_column=dates, order=order)
    words = {"ymd": "the year first", "dmy": "the day first", "mdy": "the month first"}
    if order:
        how = "as stated" if order == given.order else found.why
        guess.remarks.append(f"Dates and times stand in {where}, {words[order]}{f' ({how})' if how else ''}.")
        return guess
    guess.remarks.append(f"Dates and times stand in {where}.")
    if found.possible and found.matters:
        guess.order_assumed = found.possible[0]
        first = " or ".join(words[one] for one in found.possible)
        guess.questions.append(
            Question("order", _OPEN_ORDER.format(file=file, date=f"“{example}”", first=first), found.possible)
        )
    elif not found.possible:
        guess.remarks.append("Some of its dates contradict each other in the order of day, month and year.")
    return guess


def _order_of(sample: Sample, column: int, dates: int | None) -> tuple[OrderFound, str]:
    """Return the order of a file's dates, and one of them."""
    place = (dates or column) - 1
    texts: dict[str, None] = {}
    changes: list[tuple[list[str], list[str]]] = []
    before: list[str] | None = None
    date_before = ""
    for cells in sample.all_rows():
        date = cells[place]
        if dates is None:
            alone = date.replace("T", " ").partition(" ")[0]
            date = alone if date_of(alone) is not None else date
        if date != date_before:
            if date not in texts and date_of(date) is None:
                continue
            texts[date] = None
            if before is not None:
                changes.append((before, cells))
            date_before = date
        before = cells

    def steps(order: DateOrder) -> list[float]:
        reader = MomentReader(order)
        at_s = [
            [reader.at_s(cells[column - 1], None if dates is None else cells[dates - 1]) for cells in pair]
            for pair in changes
        ]
        return [late_s - early_s for early_s, late_s in at_s]

    example = next((text for text in texts if len(getattr(date_of(text), "orders", ())) > 1), "")
    return date_order(texts, steps), example


def _ask_start_order(guess: TimingGuess, sample: Sample, given: Given) -> None:
    """Settle the order of the date above a table; where it cannot be known, reading goes on without it."""
    labels = guess.timing.start_labels
    if not labels:
        return
    value = next(
        (value for label, value in preamble.labelled(sample.lines[: sample.first]) if label == labels[0]), ""
    )
    found = date_order([value], lambda _order: [])
    order = given.order if given.order in found.possible and given.order is not None else found.order
    guess.timing = msgspec.structs.replace(guess.timing, order=order)
    if not order and found.possible and found.matters:
        guess.questions.append(
            Question(
                "order",
                f"The date “{value[:40]}” above the table can be meant in two ways; unless its order is "
                f"stated, the recording gets no date.",
                found.possible,
                assumed="no date",
            )
        )


# Times since the start


def _is_elapsed(sample: Sample, column: int) -> bool:
    """Tell a duration from a time of day: by its name, by how it begins, or by hours no day has."""
    if words.words_of(sample.name(column)) & words.ELAPSED:
        return True
    durations = [read_duration(text, "mm:ss") for text in sample.texts(column)]
    finite = [duration for duration in durations if isfinite(duration)]
    if not finite:
        return False
    return finite[0] < 60.0 or max(finite) >= 24 * 3600.0


def _duration(sample: Sample, given: Given, column: int) -> TimingGuess:
    texts = sample.texts(column)
    two_parts = sum(text.count(":") == 1 for text in texts) > len(texts) / 2
    labels = preamble.start_labels(sample.lines[: sample.first])
    unit: ElapsedUnit = "h:mm:ss"
    guess = TimingGuess(Timing(kind="elapsed", column=column))
    if two_parts:
        name = sample.name(column).lower()
        unit = "h:mm" if re.search(r"h+:m+", name) else "mm:ss"
        if not re.search(r"h+:m+|m+:s+", name) and not any("." in text or "," in text for text in texts):
            guess.questions.append(
                Question(
                    "elapsed_unit",
                    f"{words.capital(sample.called(column))} may hold minutes and seconds or hours and "
                    f"minutes; minutes and seconds are taken.",
                    ("mm:ss", "h:mm"),
                    assumed="mm:ss",
                )
            )
    if given.elapsed_unit is not None and given.elapsed_unit not in SECONDS_PER:
        unit = given.elapsed_unit
        guess.questions.clear()
    guess.timing = Timing(kind="elapsed", column=column, unit=unit, start_labels=labels)
    guess.remarks.append(f"Time since the start stands in {sample.called(column)}.")
    _ask_start_order(guess, sample, given)
    return guess


def _number(sample: Sample, given: Given, column: int) -> TimingGuess:
    numbers = [number for number in _numbers(sample, column) if isfinite(number)]
    first = numbers[0] if numbers else nan
    if given.elapsed_unit is None:
        for unit, factor in (("s", 1.0), ("ms", 1e3)):
            if _EPOCH_S[0] * factor <= first <= _EPOCH_S[1] * factor:
                timing = Timing(kind="epoch", column=column, unit="s" if unit == "s" else "ms")
                return TimingGuess(
                    timing, remarks=[f"{words.capital(sample.called(column))} counts {unit} since 1970."]
                )
    found = words.words_of(sample.name(column).replace("µ", "u").replace("μ", "u"))
    named = next((unit for unit, names in words.TIME_UNITS.items() if found & names), None)
    labels = preamble.start_labels(sample.lines[: sample.first])
    elapsed = given.elapsed_unit or named or _likely_unit(numbers)
    guess = TimingGuess(Timing(kind="elapsed", column=column, unit=elapsed, start_labels=labels))
    guess.remarks.append(f"Time since the start stands in {sample.called(column)}, in {elapsed}.")
    if given.elapsed_unit is None and named is None:
        guess.questions.append(
            Question(
                "elapsed_unit",
                f"The unit of the times in {sample.called(column)} is not written; {elapsed} is taken.",
                ("s", "ms", "min", "h"),
                assumed=elapsed,
            )
        )
    _ask_start_order(guess, sample, given)
    return guess


def _likely_unit(numbers: Sequence[float]) -> ElapsedUnit:
    """Return the unit that puts rows between a hundredth of a second and a minute apart."""
    steps = [step for step in _steps(numbers) if step > 0]
    usual = median(steps) if steps else 1.0
    if numbers and _SPREADSHEET_DAYS[0] <= numbers[0] <= _SPREADSHEET_DAYS[1] and 0 < usual < _DAY_STEP:
        return "day"
    if usual >= 50 and all(number.is_integer() for number in numbers):
        return "ms"
    return "min" if 0 < usual < 0.05 and not (1 / usual).is_integer() else "s"
