"""A file read for the index: its header, and the notes among its rows."""

from __future__ import annotations

import re
from math import isfinite
from pathlib import Path
from typing import TYPE_CHECKING, Any

import msgspec

from benchtemp.errors import BenchtempError
from benchtemp.logbook.ecsv import parse_stream
from benchtemp.logbook.header_text import HeaderText, parse_header
from benchtemp.logbook.index.row import Kind, Row
from benchtemp.logbook.regular_file import read_regular
from benchtemp.logbook.shot_file import OWN_KINDS
from benchtemp.readings.reading import MarkKind
from benchtemp.shots.recipe import RecipeVerdict
from benchtemp.shots.result import PullKind

if TYPE_CHECKING:
    from collections.abc import Mapping

    from benchtemp.logbook.index.scan import Found

TEXT_MAX = 4000
"""Characters of one text that are kept in the index; the file keeps them all."""
REMARKS_MAX = 500
NOTES_WITHIN = 64 * 1024 * 1024
"""Bytes from a file's beginning that are searched for notes."""
_FOREIGN_MAX = 16 * 1024 * 1024
_OWN_NOTE = re.compile(rb',"note ((?:[^"\r\n]|"")*)"\r?$', re.MULTILINE)
_MOMENT_IN_NAME = re.compile(r"(\d{4})(\d\d)(\d\d)-(\d\d)(\d\d)(\d\d)_")
_MOMENT = re.compile(r"\d{4}-\d\d-\d\d(?:[T ]\d\d:\d\d|$)")
_VERDICTS = frozenset(RecipeVerdict)


class FileRow(msgspec.Struct, frozen=True):
    """A row, and the whole header it comes from as JSON (`null` where it could not be read)."""

    row: Row
    header: bytes


def read_row(root: Path, found: Found) -> FileRow:
    """Read one file; never raises for what is in it."""
    try:
        header, remarks = _read(root / found.path, found)
        row = row_of(header.meta, found, remarks)
        return FileRow(row, msgspec.json.encode(header.meta))
    except (BenchtempError, OSError) as error:
        row = Row(
            path=found.path,
            size=found.size,
            mtime_ns=found.mtime_ns,
            kind=Kind.UNREADABLE,
            moment=_moment_in(found.path),
            complaint=str(error)[:TEXT_MAX],
        )
        return FileRow(row, b"null")


def _read(path: Path, found: Found) -> tuple[HeaderText, tuple[str, ...]]:
    content = read_regular(path, first=NOTES_WITHIN)
    header = parse_header(content, found.path)
    if b"note" not in content:
        return header, ()
    if header.meta.get("kind") in OWN_KINDS and header.delimiter == ",":
        texts = (
            written.replace(b'""', b'"').decode("utf-8", "replace")
            for written in _OWN_NOTE.findall(content, header.rows_at)
        )
    elif len(content) <= _FOREIGN_MAX:
        marks = parse_stream(content, found.path).marks
        texts = (mark.text for mark in marks if mark.kind is MarkKind.NOTE)
    else:
        return header, ()
    return header, tuple(text[:TEXT_MAX] for _, text in zip(range(REMARKS_MAX), texts, strict=False))


def row_of(meta: Mapping[str, Any], found: Found, remarks: tuple[str, ...] = ()) -> Row:
    """Return the row of a file with this header; a value that cannot be meant is left out."""
    note = _dict(meta.get("shot"))
    result = _dict(note.get("result"))
    recipe = _dict(meta.get("recipe"))
    is_shot = meta.get("kind") == "shot" or (not meta.get("kind") and bool(note))
    flush = result.get("kind") == PullKind.FLUSH
    tags = {_text(name): _text(value) for name, value in _dict(meta.get("tags")).items() if value is not None}
    probes, basket = _probes(meta)
    moment = _text(note.get("pulled") or meta.get("started"))
    row = Row(
        path=found.path,
        size=found.size,
        mtime_ns=found.mtime_ns,
        kind=(Kind.FLUSH if flush else Kind.SHOT) if is_shot else Kind.RECORDING,
        moment=moment if _MOMENT.match(moment) else _moment_in(found.path),
        machine=_text(meta.get("machine")) or tags.get("machine", ""),
        probe=_text(basket.get("probe")),
        checked=_text(_dict(basket.get("correction")).get("checked")),
        probes=probes,
        tags={name: value for name, value in tags.items() if name},
        notes=_text(meta.get("notes")),
        remarks=remarks,
    )
    if not is_shot:
        return row
    dose_g, yield_g = _number(recipe.get("dose_g")), _number(note.get("yield_g"))
    number, reasons = note.get("number"), note.get("reasons")
    verdict = _text(note.get("verdict"))
    return msgspec.structs.replace(
        row,
        number=number if type(number) is int and 0 <= number < 2**31 else 0,
        recording=_text(note.get("recording")),
        dose_g=dose_g,
        yield_g=yield_g,
        brew_ratio=yield_g / dose_g if dose_g and yield_g and dose_g > 1e-6 else None,
        brew_temp_expanded_uncertainty_k=_number(note.get("brew_temp_expanded_uncertainty_k")),
        plateau_s=_between(result, "plateau_start_s", "plateau_end_s"),
        shot_time_s=_between(result, "pump_on_s", "pump_off_s"),
        verdict=RecipeVerdict(verdict) if verdict in _VERDICTS else RecipeVerdict.NOT_GIVEN,
        counts=note.get("counts") is True,
        reasons=tuple(map(_text, reasons)) if isinstance(reasons, list) else (),
        set_aside=_text(note.get("set_aside")),
        **{name: _number(result.get(name)) for name in _FIGURES},
    )


_FIGURES = (
    "brew_temp_degc",
    "sd_k",
    "highest_degc",
    "lowest_degc",
    "drift_k_per_s",
    "time_to_plateau_s",
    "in_band_share",
)


def _probes(meta: Mapping[str, Any]) -> tuple[tuple[str, ...], dict[Any, Any]]:
    """Return the names of all probes, the basket's first, and what is known of the basket's channel."""
    listed = meta.get("channels")
    channels = [entry for entry in listed if isinstance(entry, dict)][:64] if isinstance(listed, list) else []
    named = meta.get("basket_channel")
    channels.sort(key=lambda entry: entry.get("name") != named)
    probes = (_text(entry.get("probe")) for entry in channels)
    return tuple(dict.fromkeys(probe for probe in probes if probe)), channels[0] if channels else {}


def _dict(value: object) -> dict[Any, Any]:
    return value if isinstance(value, dict) else {}


def _text(value: object) -> str:
    if value is None or isinstance(value, bool | dict | list):
        return ""
    return str(value)[:TEXT_MAX].strip()


def _number(value: object) -> float | None:
    if isinstance(value, int | float) and not isinstance(value, bool) and isfinite(value):
        return float(value)
    return None


def _between(result: Mapping[Any, Any], start: str, end: str) -> float | None:
    start_s, end_s = _number(result.get(start)), _number(result.get(end))
    return None if start_s is None or end_s is None else end_s - start_s


def _moment_in(path: str) -> str:
    """Return the moment a file's name begins with, empty if it does not."""
    found = _MOMENT_IN_NAME.match(path.rpartition("/")[2])
    return "{}-{}-{}T{}:{}:{}".format(*found.groups()) if found else ""
