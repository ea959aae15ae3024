"""How another program's table reads: which column holds what; kept under a name as a small TOML file."""

from __future__ import annotations

import re
from math import isfinite
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import msgspec
import tomli_w

from benchtemp.errors import BadInput, StorageError
from benchtemp.logbook.atomic import write_whole
from benchtemp.logbook.importing.moments import DateOrder
from benchtemp.logbook.importing.text import known_encoding
from benchtemp.logbook.names import free_paths, safe_part
from benchtemp.logbook.regular_file import read_regular, shown
from benchtemp.places import preferences_dir
from benchtemp.readings.layout import (
    LARGEST_FILE_BYTES,
    MOST_CHANNELS,
    ChannelUnit,
    Part,
    TemperatureUnit,
    WeightUnit,
)
from benchtemp.readings.values import HIGHEST_DEGC, LOWEST_DEGC
from benchtemp.toml_text import parse_toml

if TYPE_CHECKING:
    import os

MOST_COLUMNS = 256
MOST_HEADING_CHARACTERS = 120
MOST_NONE_WORDS = 20
LONGEST_INTERVAL_S = 86400.0

ElapsedUnit = Literal["s", "ms", "us", "min", "h", "day", "h:mm:ss", "h:mm", "mm:ss"]
SECONDS_PER: dict[str, float] = {"s": 1.0, "ms": 1e-3, "us": 1e-6, "min": 60.0, "h": 3600.0, "day": 86400.0}


class Timing(Part, frozen=True, kw_only=True):
    """Where the times stand, or what stands for them. Columns count from 1.

    Attributes:
        kind: `clock` (dates and times of day), `elapsed` (time since the start), `epoch` (a number since the
            beginning of 1970, UTC), or `interval` (no times, but rows that follow each other evenly).
        column: The column of times; of clock times with their dates, or without; for `interval` a column that
            counts the rows, if there is one.
        date_column: The dates, where they stand in a column of their own.
        order: In which order the numbers of a date stand; empty where it is not known.
        unit: What elapsed times are given in; two-part ones such as 1:30 need `h:mm` or `mm:ss`. For `epoch`
            s or ms.
        interval_s: Time from one row to the next, s, for `interval`; 0 where it is not known.
        start_labels: Lines above the table that tell when it began, or its date: what stands before it.
    """

    kind: Literal["clock", "elapsed", "epoch", "interval"]
    column: int | None = None
    date_column: int | None = None
    order: DateOrder | Literal[""] = ""
    unit: ElapsedUnit = "s"
    interval_s: float = 0.0
    start_labels: tuple[str, ...] = ()

    @property
    def columns(self) -> tuple[int, ...]:
        """Return the columns it takes."""
        return tuple(column for column in (self.date_column, self.column) if column is not None)

    def problem(self) -> str:
        """Return what contradicts itself in it, an empty text where nothing does."""
        if self.kind != "interval" and self.column is None:
            return (
                f"it needs the column of its times (or kind = “interval”), as {self.kind} is no times at all"
            )
        if self.date_column is not None and self.kind != "clock":
            return "a date column goes with times of the day (kind = “clock”) only"
        if self.kind == "epoch" and self.unit not in SECONDS_PER:
            return "a time since 1970 is a number, in s or ms"
        if not (isfinite(self.interval_s) and 0 <= self.interval_s <= LONGEST_INTERVAL_S):
            return f"an interval of {self.interval_s:g} s is not between 0 and {LONGEST_INTERVAL_S:g} s"
        if len(self.start_labels) > 2 or not all(label.strip() for label in self.start_labels):
            return "when the table began is told by at most two lines, each with a text before it"
        return ""


class Temperature(Part, frozen=True, kw_only=True):
    """A column of temperatures, or of the voltages of thermocouples.

    Attributes:
        column: Its number, from 1.
        unit: Its unit; in mV it is a voltage of type K, and the layout says how warm its other end is.
        unit_column: A column that says in each row which unit it is.
        unit_follows: A unit behind a number goes before `unit`.
    """

    column: int
    unit: ChannelUnit = "degC"
    unit_column: int | None = None
    unit_follows: bool = False


class Junction(Part, frozen=True, kw_only=True):
    """The column that tells how warm the reference junction was: the terminals voltages were measured at.

    Attributes:
        column: Its number, from 1.
        unit: Its unit.
    """

    column: int
    unit: TemperatureUnit = "degC"


class Weight(Part, frozen=True, kw_only=True):
    """The column of a scale's weights.

    Attributes:
        column: Its number, from 1.
        unit: Its unit, unless one stands behind the number.
    """

    column: int
    unit: WeightUnit = "g"


class TableLayout(Part, frozen=True, kw_only=True):
    """How a table in a text file reads.

    Attributes:
        name: What a person picks it by.
        description: What it fits.
        encoding: Of the file's text; empty to find out each time. A byte order mark goes before it.
        delimiter: What stands between cells: one sign, empty for any run of spaces or tabs, two spaces for
            runs of at least two (or a tab).
        decimal: The sign before decimals.
        columns: How many cells a row has; 0 for any number.
        skip_lines: Lines at the beginning that are passed over unread.
        heading: The columns' names as they stand above the rows, to find the table by and to refuse a file of
            another kind; empty where there are none, or any will do.
        time: Where the times stand.
        temperatures: One to eight columns of temperatures, T1 first.
        junction: Where the reference junction's temperature stands, for voltages.
        junction_degc: That temperature where no column has it; None where it is not known.
        weight: The column of weights, if there is one.
        none_words: What stands for a missing value in this kind of file, beside the usual words: a word, or
            a number such as -999.
    """

    name: str = ""
    description: str = ""
    encoding: str = ""
    delimiter: str = ","
    decimal: Literal[".", ","] = "."
    columns: int = 0
    skip_lines: int = 0
    heading: tuple[str, ...] = ()
    time: Timing
    temperatures: tuple[Temperature, ...]
    junction: Junction | None = None
    junction_degc: float | None = None
    weight: Weight | None = None
    none_words: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        """Refuse what contradicts itself.

        Raises:
            BadInput: With the contradiction.
        """
        problem = self._problem() or self.time.problem()
        if problem:
            called = f"The layout “{self.name}”" if self.name else "This layout"
            raise BadInput(f"{called} cannot be used: {problem}.")

    def _problem(self) -> str:
        if self.encoding:
            known_encoding(self.encoding)
        if self.delimiter not in ("", "  ", "\t") and not re.fullmatch(r"[^\w\s.\"'+-]", self.delimiter):
            return "what stands between cells must be one sign, no letter, digit, point, quote, plus or minus"
        if not 0 <= self.columns <= MOST_COLUMNS or len(self.heading) > MOST_COLUMNS:
            return f"a row cannot have more than {MOST_COLUMNS} cells"
        if not 0 <= self.skip_lines <= 100_000:
            return "it passes over more lines than 100000"
        if len(self.name) > 200 or any(len(name) > MOST_HEADING_CHARACTERS for name in self.heading):
            return f"a name is longer than {MOST_HEADING_CHARACTERS} characters"
        if not 1 <= len(self.temperatures) <= MOST_CHANNELS:
            return (
                f"it has {len(self.temperatures)} temperature columns where 1 to {MOST_CHANNELS} are possible"
            )
        if len(self.none_words) > MOST_NONE_WORDS or not all(
            word.strip() and len(word) <= MOST_HEADING_CHARACTERS for word in self.none_words
        ):
            return f"words for a missing value are at most {MOST_NONE_WORDS}, none of them empty or long"
        if self.junction_degc is not None and not LOWEST_DEGC <= self.junction_degc <= HIGHEST_DEGC:
            return f"a reference junction cannot be at {self.junction_degc:g} °C"
        taken = [*self.time.columns, *(temperature.column for temperature in self.temperatures)]
        taken += [one.column for one in (self.junction, self.weight) if one is not None]
        beside = [one.unit_column for one in self.temperatures if one.unit_column is not None]
        if not all(1 <= column <= (self.columns or MOST_COLUMNS) for column in [*taken, *beside]):
            return f"columns count from 1 to {self.columns or MOST_COLUMNS}, and it names another one"
        if len(set(taken)) < len(taken):
            return "it takes one column twice"
        return ""

    @property
    def channel_names(self) -> tuple[str, ...]:
        """Return what the temperatures are called in a recording: T1, T2 and so on."""
        return tuple(f"T{number}" for number in range(1, len(self.temperatures) + 1))

    @property
    def has_voltages(self) -> bool:
        """Tell whether any channel is given as the voltage of its thermocouple."""
        return any(one.unit == "mV" for one in self.temperatures)

    @property
    def lacks_junction(self) -> bool:
        """Tell whether voltages cannot be turned into temperatures yet."""
        return self.has_voltages and self.junction is None and self.junction_degc is None

    def column_name(self, column: int) -> str:
        """Return what a sentence calls a column: its heading, or its number."""
        name = self.heading[column - 1] if column <= len(self.heading) else ""
        return f"“{name}”" if name else f"column {column}"


def table_layout_from_toml(content: bytes, called: str) -> TableLayout:
    """Read a layout from the content of its file; `called` is what an error's sentence calls it.

    Raises:
        BadInput: It is not TOML or not such a layout.
    """
    try:
        return msgspec.convert(parse_toml(content), TableLayout)
    except BadInput as error:
        raise BadInput(f"The table layout {called} cannot be used as it is: {error}") from error
    except UnicodeDecodeError:
        raise BadInput(f"The table layout {called} is not UTF-8 text; save it as UTF-8.") from None
    except (OverflowError, ValueError) as error:
        what = str(error).replace("`", "'").rstrip(".")
        raise BadInput(f"The table layout {called} cannot be used: {what}; correct it there.") from error


def load_table_layout(path: str | os.PathLike[str]) -> TableLayout:
    """Read a layout file of at most 64 kB.

    Raises:
        BadInput: It is missing, too large, not TOML, or not such a layout.
    """
    return table_layout_from_toml(read_regular(path, LARGEST_FILE_BYTES), shown(path))


def save_table_layout(layout: TableLayout, path: Path) -> None:
    """Write a layout file; it appears whole or not at all, in place of an earlier one.

    Raises:
        StorageError: The disk does not take it.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise StorageError(f"The layout cannot be kept: {shown(path.parent)} cannot be made.") from error
    write_whole(path, [tomli_w.dumps(msgspec.to_builtins(layout)).encode()], overwrite=True)


def table_layouts_dir() -> Path:
    """Return the folder of the layouts kept under a name, which may not exist yet."""
    return preferences_dir() / "table-layouts"


def table_layouts() -> tuple[tuple[TableLayout, ...], str]:
    """Return the layouts kept under a name, and a sentence about a file that cannot be used."""
    found: list[TableLayout] = []
    complaint = ""
    for path in sorted(table_layouts_dir().glob("*.toml")):
        try:
            found.append(load_table_layout(path))
        except BadInput as error:
            complaint = complaint or str(error)
    return tuple(sorted(found, key=lambda layout: layout.name.casefold())), complaint


def keep_table_layout(layout: TableLayout) -> Path:
    """Keep a layout under its name; one kept under the same name before is replaced.

    Raises:
        BadInput: It has no name.
        StorageError: The disk does not take it.
    """
    if not layout.name.strip():
        raise BadInput("A layout needs a name to be kept under; give it one.")
    wanted = table_layouts_dir() / f"{safe_part(layout.name, 'layout')}.toml"
    for path in free_paths(wanted):
        if not path.exists():
            break
        try:
            if load_table_layout(path).name == layout.name:
                break
        except BadInput:
            continue
    save_table_layout(layout, path)
    return path


def forget_table_layout(name: str) -> None:
    """Take away the layout kept under a name; without one, nothing is done.

    Raises:
        StorageError: The file cannot be taken away.
    """
    for path in sorted(table_layouts_dir().glob("*.toml")):
        try:
            kept = load_table_layout(path).name == name
        except BadInput:
            continue
        if kept:
            try:
                path.unlink(missing_ok=True)
            except OSError as error:
                raise StorageError(f"The layout cannot be forgotten: {shown(path)} stays there.") from error


def named_table_layout(name: str) -> TableLayout:
    """Return the layout kept under a name.

    Raises:
        BadInput: There is none; the sentence lists those there are.
    """
    layouts, complaint = table_layouts()
    for layout in layouts:
        if layout.name == name:
            return layout
    if not layouts:
        raise BadInput(
            f"No layout is kept under the name “{name[:60]}”; {complaint or 'none was kept so far'}."
        )
    names = ", ".join(layout.name for layout in layouts)
    raise BadInput(f"No layout is kept under the name “{name[:60]}”; there are: {names}.")
