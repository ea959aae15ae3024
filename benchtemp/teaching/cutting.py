"""Cutting shots out of recordings for an exercise: readings alone go to the trainee."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import msgspec
import numpy as np

from benchtemp.errors import BadInput
from benchtemp.logbook.preferences import without_none
from benchtemp.readings.reading import Mark, MarkKind, Stream
from benchtemp.shots.marks import standing_pump_marks
from benchtemp.shots.recipe import Recipe
from benchtemp.shots.result import Origin
from benchtemp.shots.shot import Shot, analyse_stream, header_entries
from benchtemp.teaching.exercise import Basis, Item, Reference, TeacherNote, Tolerance, line_text
from benchtemp.teaching.reference import reference_of

BEFORE_S = 12.0
AFTER_S = 20.0
LEAD_SPREAD_S = 6.0
"""How much more than `BEFORE_S` is kept, different from shot to shot."""
NEIGHBOUR_S = 2.0
"""So far it stays away from the pulls before and after."""
LONGEST_S = 1800.0
_CHANNEL_KEPT = (
    "name",
    "place",
    "unit",
    "correction",
    "time_constant_s",
    "tolerance_class",
    "drift_half_width_k",
)
_NO_REFERENCE = Reference(basis=Basis.ESTIMATED, pump_on_s=0.0)


def pulls_in(stream: Stream) -> tuple[Shot, ...]:
    """Return shots and flushes of a recording or a shot file in order of time, to choose from."""
    found = analyse_stream(stream)
    return tuple(sorted((*found.shots, *found.flushes), key=lambda pull: pull.result.pump_on_s))


def item_from(
    stream: Stream,
    pull: Shot,
    *,
    title: str = "Shot",
    before_s: float = BEFORE_S,
    after_s: float = AFTER_S,
    shows_band: bool = True,
    tolerance: Tolerance | None = None,
    notes: Sequence[Mark] = (),
) -> Item:
    """Cut a pull out of a stream, with its reference and its teacher's-side marks kept apart.

    Args:
        stream: A recording or a shot file.
        pull: One of `pulls_in(stream)`.
        title: What to call it.
        before_s: At least so much before pump on, where the stream has it. Up to 6 s more are taken,
            different from shot to shot, so that nobody can count instead of look.
        after_s: So much after pump off. Neither end reaches into another pull.
        shows_band: Whether the trainee sees the target band.
        tolerance: For full points.
        notes: The teacher's notes on the whole stream, such as `ReplayNotes(…).read()`; those within the cut
            come with it.

    Raises:
        BadInput: Nothing is left of it.
    """
    for what, seconds in (("before", before_s), ("after", after_s)):
        if not 0.0 <= seconds <= LONGEST_S:
            raise BadInput(f"{seconds:g} s {what} the shot cannot be kept; give 0 to {LONGEST_S:g} s.")
    from_s, to_s = _limits(stream, pull, before_s, after_s)
    first, last = np.searchsorted(stream.t_s, (from_s, to_s + 1e-9))
    if last - first < 2:
        raise BadInput(
            f"Hardly a reading lies about the shot at {pull.result.pump_on_s:.1f} s; choose another."
        )
    zero_s = float(stream.t_s[first])
    t_s = np.round(stream.t_s[first:last] - zero_s, 4)
    ends_s = float(t_s[-1])
    inside = [
        Mark(round(mark.t_s - zero_s, 4), mark.kind, mark.text)
        for mark in stream.marks
        if 0.0 <= mark.t_s - zero_s <= ends_s
    ]
    gaps = tuple(mark for mark in inside if mark.kind is MarkKind.GAP)
    bare = Stream(
        channels=stream.channels,
        t_s=t_s,
        temps_degc=stream.temps_degc[first:last].copy(),
        weight_g=None if stream.weight_g is None else stream.weight_g[first:last].copy(),
        marks=gaps,
        mark_rows=tuple(int(np.searchsorted(t_s, mark.t_s)) for mark in gaps),
        meta=bare_meta(stream.meta, stream.channels, pull.recipe),
    )
    item = Item(
        title=line_text(title, "title") or "Shot",
        stream=bare,
        reference=_NO_REFERENCE,
        pump_marks=standing_pump_marks(inside),
        shows_band=shows_band,
        tolerance=tolerance or Tolerance(),
        recipe=pull.recipe,
        dose_g=pull.dose_g,
        yield_g=pull.yield_g,
    )
    for note in notes:
        if note.kind is MarkKind.NOTE and 0.0 <= note.t_s - zero_s <= ends_s:
            item = item.with_note(TeacherNote(t_s=round(note.t_s - zero_s, 4), text=note.text))
    return replace(item, reference=reference_of(item))


def _limits(stream: Stream, pull: Shot, before_s: float, after_s: float) -> tuple[float, float]:
    """Return from when to when a stream is cut about a pull."""
    on_s, end_s = pull.result.pump_on_s, _end_s(pull)
    if pull.result.pump_on_source is Origin.ESTIMATED:
        before_s += NEIGHBOUR_S
    earliest_s, to_s = float(stream.t_s[0]) if len(stream.t_s) else 0.0, end_s + after_s
    for other in pulls_in(stream):
        if _end_s(other) < on_s:
            earliest_s = max(earliest_s, min(on_s, _end_s(other) + NEIGHBOUR_S))
        elif other.result.pump_on_s > end_s:
            to_s = min(to_s, max(end_s, other.result.pump_on_s - NEIGHBOUR_S))
    # Where there is less room the lead still differs: files of shots all begin alike.
    room_s = min(LEAD_SPREAD_S, max(0.0, on_s - before_s - earliest_s))
    from_s = max(earliest_s, on_s - before_s - room_s * _share(stream, on_s))
    return from_s, min(to_s, from_s + LONGEST_S)


def _end_s(pull: Shot) -> float:
    result = pull.result
    ends = [time_s for time_s in (result.pump_off_s, result.plateau_end_s) if time_s is not None]
    return max(ends, default=result.pump_on_s + 30.0)


def _share(stream: Stream, on_s: float) -> float:
    """Return a number from 0 to 1 that belongs to a pull and that nobody can guess."""
    digest = hashlib.sha256(np.ascontiguousarray(stream.temps_degc).tobytes() + f"{on_s:.4f}".encode())
    return int.from_bytes(digest.digest()[:4], "big") / 2**32


def bare_meta(meta: Mapping[str, Any], channels: tuple[str, ...], recipe: Recipe) -> dict[str, Any]:
    """Return what a trainee's stream says in its header: what it takes to read it, and nothing of results."""
    described = meta.get("channels")
    notes = [entry for entry in described if isinstance(entry, dict)] if isinstance(described, list) else []
    kept = [
        {key: entry[key] for key in _CHANNEL_KEPT if entry.get(key) is not None}
        for entry in notes
        if entry.get("name") in channels
    ]
    named = str(meta.get("basket_channel", channels[0]))
    return {
        "kind": "recording",
        "format_version": 1,
        "channels": kept,
        "basket_channel": named if named in channels else channels[0],
        "recipe": without_none(msgspec.to_builtins(msgspec.structs.replace(recipe, dose_g=None))),
    }


def without_marks(stream: Stream) -> Stream:
    """Return a stream with its readings and gaps alone, and a bare header."""
    gaps = [
        (mark, row)
        for mark, row in zip(stream.marks, stream.mark_rows, strict=True)
        if mark.kind is MarkKind.GAP
    ]
    return replace(
        stream,
        marks=tuple(mark for mark, _ in gaps),
        mark_rows=tuple(row for _, row in gaps),
        meta=bare_meta(stream.meta, stream.channels, header_entries(stream.meta)[0].recipe),
    )
