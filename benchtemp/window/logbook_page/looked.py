"""A file of the list, looked into: what its header says now, and its trace made small. No widgets."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np

from benchtemp.errors import BenchtempError
from benchtemp.logbook.ecsv import read_meta, read_stream
from benchtemp.logbook.index.editing import Edit, Seen, history, notes_of, tags_of
from benchtemp.shots.shot import header_entries, stored_correction
from benchtemp.window.logbook_page.columns import moment_text, what_text

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from benchtemp.logbook.folder import Logbook
    from benchtemp.logbook.index import LogbookIndex, Row
    from benchtemp.readings.reading import FloatArray, Stream

POINTS_MAX = 800
TRACE_BYTES_MAX = 24 * 1024 * 1024
"""A longer file's trace is not read merely to be looked at."""
TRACES_MAX = 8


@dataclass(frozen=True, eq=False)
class Trace:
    """A corrected trace of the basket's probe, made small.

    Attributes:
        name: What it is called beside others.
        t_s: Seconds since pump on, or since the beginning; shape (n,).
        temp_degc: NaN where there was none; shape (n,).
        plateau_s: From when to when the brew temperature was taken.
        pump_off_s: None where there was none.
        band_degc: The target band.
    """

    name: str
    t_s: FloatArray
    temp_degc: FloatArray
    plateau_s: tuple[float, float] | None = None
    pump_off_s: float | None = None
    band_degc: tuple[float, float] | None = None


@dataclass(frozen=True, eq=False)
class Looked:
    """What one file holds now.

    Attributes:
        place: As rows name it.
        tags, notes: As they stand in the header.
        edits: Its history, oldest first.
        trace: None where it cannot be drawn; `no_trace` says why.
        complaint: Why it cannot be read, empty where it can.
    """

    place: str
    tags: Mapping[str, str]
    notes: str = ""
    edits: tuple[Edit, ...] = ()
    trace: Trace | None = None
    no_trace: str = ""
    complaint: str = ""


@dataclass(frozen=True, eq=False)
class Chosen:
    """What is chosen in the list.

    Attributes:
        looked: Each file; of many only what the index knows.
        rows: Their rows, without those that the index does not know.
    """

    looked: tuple[Looked, ...] = ()
    rows: tuple[Row, ...] = ()

    @cached_property
    def places(self) -> tuple[str, ...]:
        """Return what was looked into, as rows name it."""
        return tuple(one.place for one in self.looked)

    @cached_property
    def readable(self) -> bool:
        """Tell whether any of the files can be read."""
        return any(not one.complaint for one in self.looked)

    @cached_property
    def tag_values(self) -> dict[str, set[str]]:
        """Return the values of each tag that occurs, an empty one where a file that can be read has none."""
        tags = [one.tags for one in self.looked if not one.complaint]
        names = dict.fromkeys(name for one in tags for name in one)
        return {name: {one.get(name, "") for one in tags} for name in names}

    @property
    def seen(self) -> dict[str, Seen]:
        """Return what is seen of each file that can be read."""
        return {one.place: Seen(dict(one.tags), one.notes) for one in self.looked if not one.complaint}


def look_into(index: LogbookIndex, places: Sequence[str]) -> Chosen:
    """Look into files; of more than a few only what the index knows.

    Raises:
        StorageError: The index cannot be read.
    """
    rows = index.rows(places)
    if len(places) <= TRACES_MAX:
        looked = tuple(_look(index.logbook, place, rows.get(place)) for place in places)
    else:
        looked = tuple(
            Looked(row.path, row.tags, row.notes, complaint=row.complaint) for row in rows.values()
        )
    chosen = Chosen(looked, tuple(rows.values()))
    # Of very many files this takes a while: here, and not in the window's thread.
    assert chosen.places is not None
    assert chosen.tag_values is not None
    return chosen


def _look(logbook: Logbook, place: str, row: Row | None) -> Looked:
    path = logbook.root / place
    try:
        if path.stat().st_size <= TRACE_BYTES_MAX:
            stream = read_stream(path)
            meta, trace = stream.meta, _trace(stream, _name(row, path.stem))
            no_trace = "" if trace else "There is no trace in this file."
        else:
            meta, trace, no_trace = read_meta(path), None, "Too long to be drawn here; replay it."
    except (BenchtempError, OSError) as error:
        sentence = str(error) if isinstance(error, BenchtempError) else f"{place} is not there any more."
        return Looked(place, {}, complaint=sentence)
    return Looked(place, tags_of(meta), notes_of(meta), history(meta), trace, no_trace)


def _name(row: Row | None, otherwise: str) -> str:
    return f"{what_text(row)}, {moment_text(row)}" if row is not None else otherwise


def _trace(stream: Stream, name: str) -> Trace | None:
    named = str(stream.meta.get("basket_channel", stream.channels[0]))
    basket = stream.channels.index(named) if named in stream.channels else 0
    correction = stored_correction(stream.meta, stream.channels[basket])
    read = np.isfinite(stream.temps_degc).any(axis=1)
    t_s, temp_degc = stream.t_s[read], correction.apply(stream.temps_degc[read, basket])
    if not np.isfinite(temp_degc).any():
        return None
    result = _result(stream.meta)
    on_s = _number(result, "pump_on_s")
    zero_s = on_s if on_s is not None else float(t_s[0])
    ends = _number(result, "plateau_start_s"), _number(result, "plateau_end_s")
    off_s = _number(result, "pump_off_s")
    recipe = header_entries(stream.meta)[0].recipe
    t_s, temp_degc = thinned(t_s, temp_degc)
    return Trace(
        name,
        t_s - zero_s,
        temp_degc,
        None if ends[0] is None or ends[1] is None else (ends[0] - zero_s, ends[1] - zero_s),
        None if off_s is None else off_s - zero_s,
        (recipe.band_low_degc, recipe.band_high_degc) if result else None,
    )


def thinned(t_s: FloatArray, temp_degc: FloatArray, most: int = POINTS_MAX) -> tuple[FloatArray, FloatArray]:
    """Return a trace of at most about `most` points that keeps every peak.

    Args:
        t_s: Times, shape (n,).
        temp_degc: Temperatures, NaN where there was none; shape (n,).
        most: Points kept, two to each stretch of time.
    """
    if len(t_s) <= most:
        return t_s, temp_degc
    cuts = np.linspace(0, len(t_s), most // 2 + 1).astype(int)
    kept: list[int] = []
    for start, end in pairwise(map(int, cuts)):
        part = temp_degc[start:end]
        if not np.isfinite(part).any():
            kept.append(start)
            continue
        kept += sorted({start + int(np.nanargmin(part)), start + int(np.nanargmax(part))})
    return t_s[kept], temp_degc[kept]


def _result(meta: Mapping[str, Any]) -> dict[Any, Any]:
    shot = meta.get("shot")
    result = shot.get("result") if isinstance(shot, dict) else None
    return result if isinstance(result, dict) else {}


def _number(values: Mapping[Any, Any], name: str) -> float | None:
    value = values.get(name)
    if isinstance(value, int | float) and not isinstance(value, bool) and np.isfinite(value):
        return float(value)
    return None
