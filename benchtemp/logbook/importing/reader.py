"""Reading a table by its layout: every row that is one, everything else counted and told."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import msgspec
import numpy as np

from benchtemp import __version__
from benchtemp.errors import BadInput
from benchtemp.logbook.header_text import plain
from benchtemp.logbook.importing.layout import TableLayout
from benchtemp.logbook.importing.moments import DAY_S, DateOrder
from benchtemp.logbook.importing.rows import Row, RowFinder, rows_from
from benchtemp.logbook.importing.started import WITHOUT_A_DATE_S, started_at
from benchtemp.logbook.importing.tally import Tally
from benchtemp.logbook.importing.temperatures import temperatures_of, weights_of
from benchtemp.logbook.importing.text import Text, read_text
from benchtemp.logbook.importing.timeline import Timeline, timeline
from benchtemp.readings.reading import FloatArray, Stream

if TYPE_CHECKING:
    import datetime as dt
    import os

IMPORTED = "imported file"
"""What `source.kind` says in the header of what was imported."""

_BLOCK_ROWS = 20_000
_FEWEST_GROUPS = 5


def read_table(source: str | os.PathLike[str] | bytes, layout: TableLayout, name: str = "") -> Stream:
    """Read a text file's table as a recording.

    Args:
        source: A path, or a file's content.
        layout: How it reads.
        name: What sentences and the header call the file; its own name where empty.

    Returns: a stream with channels T1, T2 … in °C, NaN where a row has none; times in s that run forward; a
    header that names the file and its digest; and in `warnings` all that was left out, spread or mended.

    Raises:
        BadInput: It is no such file, no row of it reads by the layout, or the layout leaves open what must be
            known (the order of dates, the interval).
    """
    name = name or ("the file" if isinstance(source, bytes) else Path(source).name)
    return stream_of(read_text(source, layout.encoding, name), layout)


def stream_of(text: Text, layout: TableLayout) -> Stream:
    """Read the lines of a file as a recording; see `read_table`."""
    timing = layout.time
    if timing.kind == "interval" and not timing.interval_s:
        raise BadInput(f"No column of {text.name} holds times; give the seconds from one row to the next.")
    if layout.lacks_junction:
        raise BadInput(
            f"Voltages stand in {text.name}, and how warm the terminals were they were measured at is not "
            f"known; state it, or the column that tells it."
        )
    finder = RowFinder(layout)
    first = _first(text, layout, finder)
    tally = Tally()
    rows, repeated = _once(_rows(text, finder, first, layout, tally))
    line = _timeline(rows.stamps_s, layout)
    first_cell = "" if timing.column is None else rows.first.cells[timing.column - 1]
    started = started_at(timing, line.first_s, first_cell, text.lines[:first])
    undated = () if started else ("The file does not say on which day it was recorded.",)
    return Stream(
        channels=layout.channel_names,
        t_s=line.t_s,
        temps_degc=rows.temps_degc[line.kept],
        weight_g=None if rows.weight_g is None else rows.weight_g[line.kept],
        marks=line.marks,
        mark_rows=line.mark_rows,
        meta=_meta(text, layout, started),
        warnings=(*tally.told(text, rows.last_line), *repeated, *line.warnings, *undated),
    )


def _first(text: Text, layout: TableLayout, finder: RowFinder) -> int:
    """Return the line of the first row; where only the order of dates is missing, say that."""
    try:
        return finder.first(text)
    except BadInput:
        if layout.time.kind != "clock" or layout.time.order:
            raise
        if not (_reads(text, layout, "dmy") or _reads(text, layout, "ymd")):
            raise
    raise BadInput(
        f"It cannot be known whether the dates in {text.name} have the day or the month first; state it."
    )


def _reads(text: Text, layout: TableLayout, order: DateOrder) -> bool:
    """Tell whether rows are found once dates stand in a certain order."""
    timing = msgspec.structs.replace(layout.time, order=order)
    try:
        RowFinder(msgspec.structs.replace(layout, time=timing)).first(text)
    except BadInput:
        return False
    return True


class _Rows(NamedTuple):
    """All rows of a table: what their times say, °C with shape (rows, channels), g where there are any."""

    stamps_s: FloatArray
    temps_degc: FloatArray
    weight_g: FloatArray | None
    first: Row
    last_line: int


def _once(rows: _Rows) -> tuple[_Rows, tuple[str, ...]]:
    """Return rows without those that only repeat the one before, where a file holds every row several times.

    Several rows a second with whole seconds as times are something else: among those, readings differ.
    """
    stamps_s, temps_degc = rows.stamps_s, rows.temps_degc
    same_stamp = np.diff(stamps_s) == 0
    alike = (temps_degc[1:] == temps_degc[:-1]) | (np.isnan(temps_degc[1:]) & np.isnan(temps_degc[:-1]))
    same = same_stamp & alike.all(axis=1)
    if not same.any() or not np.array_equal(same, same_stamp):
        return rows, ()
    kept = np.concatenate([[True], ~same])
    counts = np.diff(np.append(np.flatnonzero(kept), len(kept)))
    between = alike.all(axis=1)[~same_stamp]
    if len(counts) < _FEWEST_GROUPS or counts.min() != counts.max() or between.mean() > 0.5:
        return rows, ()
    weight_g = None if rows.weight_g is None else rows.weight_g[kept]
    told = f"Every row stands {int(counts[0])} times in the file, one after the other; each is taken once."
    return _Rows(stamps_s[kept], temps_degc[kept], weight_g, rows.first, rows.last_line), (told,)


def _rows(text: Text, finder: RowFinder, first: int, layout: TableLayout, tally: Tally) -> _Rows:
    """Return all rows; what is none is counted."""
    above = {line.strip() for line in text.lines[:first] if line.strip()}
    stamps: list[FloatArray] = []
    temps: list[FloatArray] = []
    weights: list[FloatArray] = []
    first_row: Row | None = None
    last_line = first
    block: list[Row] = []

    def finish_block() -> None:
        nonlocal first_row, last_line
        rows, temps_degc = temperatures_of(block, layout, tally)
        if rows:
            first_row = first_row or rows[0]
            last_line = rows[-1].line
            stamps.append(np.array([row.at_s for row in rows]))
            temps.append(temps_degc)
            weight_g = weights_of(rows, layout, tally)
            weights.extend([] if weight_g is None else [weight_g])
        block.clear()

    place = 0
    before: Row | None = None
    whole: Row | None = None
    for number, row in rows_from(finder, text.lines, first):
        if row is None and text.lines[number].strip() in above:
            tally.headings += 1
            continue
        if row is not None and row.given < finder.width and (whole is None or _looks_cut(row, whole)):
            row = None  # noqa: PLW2901 - it looked like one
        if row is None:
            tally.lines.append(number)
        else:
            if len(block) >= _BLOCK_ROWS:
                finish_block()
            before = block[-1] if block else before
            block.append(row._replace(at_s=float(place)) if finder.counts_rows else row)
            if row.given == finder.width:
                whole = row
            else:
                tally.short_rows += 1
        place += 1
    last = block[-1] if block else None
    if last and before and not text.ended and last.line == len(text.lines) - 1 and _looks_cut(last, before):
        block.pop()
        tally.cut = True
    finish_block()
    if first_row is None or not any(np.isfinite(part).any() for part in temps):
        raise BadInput(f"No row of {text.name} holds a temperature; look at a preview and change the layout.")
    weight_g = np.concatenate(weights) if weights else None
    return _Rows(np.concatenate(stamps), np.concatenate(temps), weight_g, first_row, last_line)


def _looks_cut(row: Row, usual: Row) -> bool:
    """Tell whether a row ends within a number: with fewer decimals, or digits, than a usual row has there."""
    if row.given > usual.given:
        return False
    ours = row.cells[row.given - 1].strip().replace(",", ".")
    theirs = usual.cells[row.given - 1].strip().replace(",", ".")
    if not ours or not theirs or not (ours[-1].isdigit() or ours[-1] == "."):
        return False
    if "." in theirs:
        return len(ours.partition(".")[2]) < len(theirs.partition(".")[2])
    return len(ours) < len(theirs)


def _timeline(stamps_s: FloatArray, layout: TableLayout) -> Timeline:
    timing = layout.time
    if timing.kind == "interval":
        stamps_s = stamps_s * timing.interval_s
    # Elapsed times stay as they are in the file, unless they count from long ago.
    own_zero = timing.kind == "elapsed" and 0 <= float(stamps_s.min()) <= DAY_S
    of_day = timing.kind == "clock" and float(stamps_s[0]) < WITHOUT_A_DATE_S
    return timeline(stamps_s, of_day=of_day, from_zero=not own_zero)


def _meta(text: Text, layout: TableLayout, started: dt.datetime | None) -> dict[str, Any]:
    channels = []
    for name, temperature in zip(layout.channel_names, layout.temperatures, strict=True):
        channel = {"name": name, "unit_as_sent": temperature.unit}
        if temperature.column <= len(layout.heading) and layout.heading[temperature.column - 1]:
            channel["heading"] = layout.heading[temperature.column - 1]
        channels.append(channel)
    return {
        "kind": "recording",
        "format_version": 1,
        "program": f"benchtemp {__version__}",
        **({"started": started.isoformat(timespec="milliseconds")} if started else {}),
        "source": {
            "kind": IMPORTED,
            "name": text.name,
            "sha256": text.sha256,
            "bytes": text.size_bytes,
            "encoding": text.encoding,
            # A heading can be longer than a header may be; each channel has its own.
            "layout": plain(msgspec.structs.replace(layout, heading=())),
        },
        "channels": channels,
        "basket_channel": layout.channel_names[0],
    }
