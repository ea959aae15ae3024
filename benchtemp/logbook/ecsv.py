"""Streams as ECSV 1.0 files: what we write any ECSV tool reads, and their files read as streams.

Columns of ours: `t` (s), `T1`… (deg_C, as reported, empty for none), `weight` (g, only with a scale) and
`mark` (always quoted). Every reading and every mark stands on a row of its own, floats in the shortest
form that gives the same number back. A file of a recording ends with a comment line that says it was
closed and carries a digest of its rows; other readers skip it.
"""

from __future__ import annotations

import csv
import hashlib
import math
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from benchtemp.errors import BadInput, DamagedFile
from benchtemp.logbook.atomic import write_whole
from benchtemp.logbook.header_text import HEADER_LIMIT, Column, HeaderText, header_bytes, parse_header
from benchtemp.logbook.regular_file import read_regular, shown
from benchtemp.readings.reading import FloatArray, Mark, Reading, Stream

if TYPE_CHECKING:
    import os
    from collections.abc import Iterable, Iterator

CLOSED = "# closed"
"""How the last line of a recording begins once it is complete."""

DEGC_UNITS = frozenset({"deg_C", "°C", "℃", "degC", "Celsius", "celsius"})
_SECONDS = {"": 1.0, "s": 1.0, "ms": 1e-3, "us": 1e-6, "min": 60.0, "h": 3600.0, "d": 86400.0}
_RESERVED = ("t", "weight", "mark")
_BLOCK = 4 * 1024 * 1024


# Writing


def stream_columns(channels: Iterable[str], *, has_weight: bool) -> tuple[Column, ...]:
    """Return the columns of a file with these temperature channels.

    Raises:
        BadInput: A channel has a name that cannot head a column.
    """
    names = tuple(channels)
    for name in names:
        if not name or name != name.strip() or not name.isprintable() or name in _RESERVED:
            raise BadInput(f"A channel cannot be called {name!r}; use names such as T1.")
        if names.count(name) > 1:
            raise BadInput(f"Two channels are called {name!r}; give each a name of its own.")
    if not names:
        raise BadInput("A stream needs at least one temperature channel.")
    return (
        Column("t", "float64", "s"),
        *(Column(name, "float64", "deg_C") for name in names),
        *((Column("weight", "float64", "g"),) if has_weight else ()),
        Column("mark", "string"),
    )


def names_line(columns: Iterable[Column]) -> bytes:
    """Return the line of column names that stands between header and rows."""
    names = (column.name for column in columns)
    return (",".join(name if name.isalnum() else _quoted(name) for name in names) + "\n").encode()


def row_text(item: Reading | Mark, channel_count: int, *, has_weight: bool) -> str:
    """Return the row that keeps a reading or a mark, with its line end.

    Raises:
        ValueError: There are more temperatures than columns, a fault of the caller.
    """
    if isinstance(item, Mark):
        return f"{_number(item.t_s)}{',' * (channel_count + has_weight)},{_mark_text(item)}\n"
    temps = item.temps_degc
    if len(temps) > channel_count:
        raise ValueError(f"{len(temps)} temperatures for {channel_count} channels")
    values = [_number(temp) for temp in temps] + [""] * (channel_count - len(temps))
    if has_weight:
        values.append(_number(item.weight_g))
    return f"{_number(item.t_s)},{','.join(values)},\n"


def _number(value: float) -> str:
    # float.__repr__, as a numpy float would name its type.
    return "" if value != value else float.__repr__(value) if isinstance(value, float) else repr(float(value))  # noqa: PLR0124 - NaN


def _mark_text(mark: Mark) -> str:
    words = " ".join(str(mark).split())
    return _quoted(
        "".join(char if ord(char) >= 32 and not 0x7F <= ord(char) < 0xA0 else " " for char in words)
    )


def _quoted(text: str) -> str:
    return '"' + text.encode("utf-8", "replace").decode().replace('"', '""') + '"'


def closing_line(digest: str, *, after_interruption: bool = False) -> bytes:
    """Return the line that ends a complete recording; `digest` is SHA-256 over names line and rows."""
    how = " after an interruption" if after_interruption else ""
    return f"{CLOSED}{how} sha256:{digest}\n".encode()


def stream_bytes(stream: Stream) -> tuple[bytes, bytes]:
    """Return a stream as a file's header and as its line of column names with all rows.

    Raises:
        BadInput: A channel name or something in the meta cannot be written.
    """
    has_weight = stream.weight_g is not None
    columns = stream_columns(stream.channels, has_weight=has_weight)
    header = header_bytes(columns, stream.meta)
    count = len(stream.channels)
    rows = "".join(row_text(item, count, has_weight=has_weight) for item in stream.items())
    return header, names_line(columns) + rows.encode()


def write_stream(path: str | os.PathLike[str], stream: Stream, *, overwrite: bool = False) -> None:
    """Write a stream as one file that appears whole or not at all.

    Raises:
        BadInput: There is a file of that name (and `overwrite` is False), or the stream cannot be written.
        StorageError: The disk does not take it.
    """
    header, rows = stream_bytes(stream)
    parts = [header, rows]
    if stream.meta.get("kind") in ("recording", "demo"):
        parts.append(closing_line(hashlib.sha256(rows).hexdigest()))
    try:
        write_whole(Path(path), parts, overwrite=overwrite)
    except FileExistsError:
        raise BadInput(f"There is already a file {shown(path)}; choose another name.") from None


# Reading


def read_header(path: str | os.PathLike[str]) -> HeaderText:
    """Read only a file's header; cheap however long the file is.

    Raises:
        BadInput: It is no ECSV file that can be used.
    """
    return parse_header(read_regular(path, first=HEADER_LIMIT + 1), shown(path))


def read_meta(path: str | os.PathLike[str]) -> dict[str, Any]:
    """Return only the `meta` of a file's header; raises as `read_header`."""
    return read_header(path).meta


def read_stream(path: str | os.PathLike[str]) -> Stream:
    """Read any tool's ECSV file that has a `t` column and at least one in °C.

    A last line without a line end is left out (it may have been cut within a number), rows that make no
    sense are left out and counted; both are told in the stream's `warnings`. Nothing is filled in.

    Raises:
        BadInput: It cannot be used: no such file, not ECSV, no `t`, no °C, too large, no regular file.
        DamagedFile: Its header is broken off or damaged.
    """
    return parse_stream(read_regular(path), shown(path))


def parse_stream(content: bytes, name: str) -> Stream:
    """Read a whole file's content; `name` is what messages call it. See `read_stream`."""
    content = content.rstrip(b"\0")
    header = parse_header(content, name)
    layout = _Layout.of(header, name)
    warnings = []
    end = content.rfind(b"\n") + 1
    if content[end:].strip():
        warnings.append(f"The last line of {name} is cut off and was left out; all rows before it were read.")
    rows_at = content.index(b"\n", header.rows_at) + 1
    _check_names(content[header.rows_at : rows_at], header, name)
    gathered = _Gathered()
    for lines in _blocks(content, rows_at, end, gathered):
        layout.take(lines, gathered)
    if gathered.skipped:
        count = gathered.skipped
        rows = "1 row was" if count == 1 else f"{count} rows were"
        warnings.append(f"{rows} damaged in {name} and left out; everything else was read.")
    stream = gathered.stream(layout, header.meta)
    backwards = int(np.count_nonzero(np.diff(stream.t_s) < 0))
    if backwards:
        places = "1 place" if backwards == 1 else f"{backwards} places"
        warnings.append(f"Time runs backwards in {places} of {name}; its rows are kept in the file's order.")
    if "writer" in header.meta and not _is_closed(content[max(end - 200, 0) : end]):
        warnings.append(f"{name} was never closed: it is still being recorded, or the program was stopped.")
    return Stream(
        channels=stream.channels,
        t_s=stream.t_s,
        temps_degc=stream.temps_degc,
        weight_g=stream.weight_g,
        marks=stream.marks,
        mark_rows=stream.mark_rows,
        meta=stream.meta,
        warnings=tuple(warnings),
    )


def _is_closed(tail: bytes) -> bool:
    return tail.rstrip().rpartition(b"\n")[2].startswith(CLOSED.encode())


def _check_names(line: bytes, header: HeaderText, name: str) -> None:
    text = line.decode("utf-8", "replace").strip()
    try:
        names = _fields(text, header.delimiter)
    except csv.Error:
        names = []
    if tuple(names) != tuple(column.name for column in header.columns):
        raise DamagedFile(
            f"{name} has column names that differ from those its header describes; mend its header."
        )


def _fields(line: str, delimiter: str) -> list[str]:
    if '"' in line:
        return next(csv.reader([line], delimiter=delimiter, skipinitialspace=True, strict=True))
    return line.split() if delimiter == " " else line.split(delimiter)


def _blocks(content: bytes, start: int, end: int, gathered: _Gathered) -> Iterator[list[str]]:
    """Give the whole lines of a file's rows, a few megabytes at a time; count lines longer than that."""
    while start < end:
        stop = content.rfind(b"\n", start, min(start + _BLOCK, end)) + 1
        if stop <= start:
            gathered.skipped += 1
            start = content.find(b"\n", start, end) + 1
            continue
        text = content[start : stop - 1].decode("utf-8", "replace")
        yield (text.replace("\r\n", "\n").removesuffix("\r") if "\r" in text else text).split("\n")
        start = stop


@dataclass(slots=True)
class _Gathered:
    """What has been read so far, block by block."""

    times: list[FloatArray] = field(default_factory=list)
    temps: list[FloatArray] = field(default_factory=list)
    weights: list[FloatArray] = field(default_factory=list)
    marks: list[Mark] = field(default_factory=list)
    mark_rows: list[int] = field(default_factory=list)
    rows: int = 0
    skipped: int = 0

    def stream(self, layout: _Layout, meta: dict[str, Any]) -> Stream:
        count = len(layout.channels)
        return Stream(
            channels=layout.channels,
            t_s=np.concatenate(self.times) if self.times else np.empty(0),
            temps_degc=np.concatenate(self.temps) if self.temps else np.empty((0, count)),
            weight_g=None if layout.weight is None else np.concatenate([np.empty(0), *self.weights]),
            marks=tuple(self.marks),
            mark_rows=tuple(self.mark_rows),
            meta=meta,
        )


@dataclass(frozen=True, slots=True)
class _Layout:
    """Which columns of a file hold what; numbers are column numbers."""

    width: int
    delimiter: str
    t: int
    t_scale: float
    channels: tuple[str, ...]
    temps: tuple[int, ...]
    weight: int | None
    mark: int | None

    @classmethod
    def of(cls, header: HeaderText, name: str) -> _Layout:
        columns = header.columns
        doubled = [
            column for column, count in Counter(column.name for column in columns).items() if count > 1
        ]
        if doubled:
            raise DamagedFile(f"{name} has two columns called {doubled[0]!r}; give each a name of its own.")
        by_name = {column.name: (number, column) for number, column in enumerate(columns)}
        if "t" not in by_name or not by_name["t"][1].is_number:
            raise BadInput(f"{name} has no column 't' with times in seconds; rename its time column to t.")
        t, t_column = by_name["t"]
        if t_column.unit not in _SECONDS:
            raise BadInput(f"{name} gives its times in {t_column.unit[:20]!r}; give them in s.")
        temps = tuple(
            i for i, column in enumerate(columns) if column.is_number and column.unit in DEGC_UNITS and i != t
        )
        if not temps:
            raise BadInput(_no_degc(columns, name))
        weight, weight_column = by_name.get("weight", (None, None))
        if weight_column is None or not weight_column.is_number or weight_column.unit not in ("", "g"):
            weight = None
        mark, mark_column = by_name.get("mark", (None, None))
        if mark_column is None or mark_column.datatype != "string":
            mark = None
        names = tuple(columns[i].name for i in temps)
        return cls(len(columns), header.delimiter, t, _SECONDS[t_column.unit], names, temps, weight, mark)

    def take(self, lines: list[str], gathered: _Gathered) -> None:
        """Read a block of whole lines into what has been gathered."""
        rows = []
        for line in lines:
            if not line or line[0] == "#":
                continue
            try:
                fields = _fields(line, self.delimiter)
            except csv.Error:
                gathered.skipped += 1
                continue
            if len(fields) == self.width:
                rows.append(fields)
            elif line.strip():
                gathered.skipped += 1
        wanted = [self.t, *self.temps, *(() if self.weight is None else (self.weight,))]
        rows, numbers = self._numbers(rows, wanted, gathered)
        if not rows:
            return
        has_value = np.isfinite(numbers[:, 1:]).any(axis=1)
        if self.mark is None:
            is_reading = np.ones(len(rows), dtype=np.bool_)
        else:
            texts = [row[self.mark].strip() for row in rows]
            is_reading = has_value | np.array([not text for text in texts])
            before = (np.cumsum(is_reading) - is_reading + gathered.rows).tolist()
            for row, text in enumerate(texts):
                if text:
                    gathered.marks.append(Mark.parse(float(numbers[row, 0]), text))
                    gathered.mark_rows.append(before[row])
        kept = numbers[is_reading]
        gathered.rows += len(kept)
        gathered.times.append(kept[:, 0])
        gathered.temps.append(kept[:, 1 : 1 + len(self.temps)])
        if self.weight is not None:
            gathered.weights.append(kept[:, -1])

    def _numbers(
        self, rows: list[list[str]], wanted: list[int], gathered: _Gathered
    ) -> tuple[list[list[str]], FloatArray]:
        """Return the rows whose numbers are numbers, and these, shape (rows, wanted)."""
        try:
            numbers = _as_array(rows, wanted)
        except ValueError:
            sound = [row for row in rows if _all_numbers(row, wanted)]
            gathered.skipped += len(rows) - len(sound)
            rows, numbers = sound, _as_array(sound, wanted)
        if self.t_scale != 1.0:
            numbers[:, 0] *= self.t_scale
        timed = np.isfinite(numbers[:, 0])
        if not timed.all():
            gathered.skipped += int(len(rows) - np.count_nonzero(timed))
            rows = [row for row, good in zip(rows, timed.tolist(), strict=True) if good]
            numbers = numbers[timed]
        return rows, numbers


def _as_array(rows: list[list[str]], wanted: list[int]) -> FloatArray:
    numbers = np.empty((len(rows), len(wanted)))
    for place, column in enumerate(wanted):
        texts = [row[column] for row in rows]
        if "_" in "".join(texts):
            raise ValueError("digits grouped by underscores are no number in a file")
        numbers[:, place] = [float(text) if text else math.nan for text in texts]
    return numbers


def _all_numbers(row: list[str], wanted: list[int]) -> bool:
    try:
        for column in wanted:
            if row[column]:
                float(row[column])
    except ValueError:
        return False
    return not any("_" in row[column] for column in wanted)


def _no_degc(columns: tuple[Column, ...], name: str) -> str:
    other = sorted({column.unit for column in columns if column.unit in ("K", "deg_F", "°F", "degF")})
    if other:
        return f"{name} gives temperatures in {', '.join(other)}; only deg_C can be read, so convert them."
    return f"{name} has no temperature column: at least one must have the unit deg_C."
