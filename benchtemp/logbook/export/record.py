"""One shot as other programs get it: flat, with its units in the names."""

from __future__ import annotations

from math import isfinite
from typing import TYPE_CHECKING, Any

import msgspec

from benchtemp.logbook.index.query import Query
from benchtemp.logbook.index.row import Kind, Row

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from benchtemp.logbook.index.index import LogbookIndex

PULLS = (Kind.SHOT, Kind.FLUSH)


class Record(msgspec.Struct, frozen=True, kw_only=True):
    """One shot or flush; the fields are the columns of every format, in this order.

    Attributes:
        bench: Name of the bench whose logbook it lies in.
        file: From the logbook's folder, with `/` between its parts.
        kind: `shot` or `flush`.
        pulled: ISO 8601 moment of pump on, as written.
        month: Its month, `2025-11`, empty if unknown.
        verdict: Whether the recipe was kept.
        counts: Whether studies use it; `reasons` say why not, `set_aside` is the operator's.
        pump_on_source, pump_off_source: `marked` or `estimated`.
        brew_temp_uncertainty_k: Standard uncertainty from noise and boundaries alone.
        brew_temp_expanded_uncertainty_k: From the whole budget, k = 2.
        drift_k_per_s, sd_k, highest_degc, lowest_degc: Over the plateau.
        in_band_share: 0 to 1, of the plateau's time within `band_low_degc` to `band_high_degc`.
        probe_checked: ISO 8601 moment of the check whose correction was applied, empty for none.
        notes: Written to the shot as a whole; `remarks` were timed.
    """

    bench: str
    file: str
    kind: str
    machine: str
    pulled: str
    month: str
    number: int
    recording: str
    counts: bool
    verdict: str
    reasons: tuple[str, ...]
    set_aside: str
    dose_g: float | None
    yield_g: float | None
    brew_ratio: float | None
    shot_time_s: float | None
    pump_on_source: str
    pump_off_source: str
    brew_temp_degc: float | None
    brew_temp_uncertainty_k: float | None
    brew_temp_expanded_uncertainty_k: float | None
    sd_k: float | None
    highest_degc: float | None
    lowest_degc: float | None
    drift_k_per_s: float | None
    time_to_plateau_s: float | None
    plateau_s: float | None
    in_band_share: float | None
    band_low_degc: float | None
    band_high_degc: float | None
    readings: int | None
    spikes_excluded: int | None
    readings_missing: int | None
    longest_gap_s: float | None
    probe: str
    probe_checked: str
    notes: str
    remarks: tuple[str, ...]
    tags: dict[str, str]


def records(index: LogbookIndex, query: Query, *, bench: str) -> Iterator[Record]:
    """Give the shots (and flushes, where asked for) that a query finds, as the index knows them.

    Args:
        index: Brought up to date before.
        query: Without kinds, shots only; recordings and unreadable files are never given.
        bench: What to call the bench.

    Raises:
        StorageError: The index can neither be read nor made.
    """
    kinds = tuple(kind for kind in query.kinds if kind in PULLS) if query.kinds else (Kind.SHOT,)
    if not kinds:
        return
    for row, header in index.headers(msgspec.structs.replace(query, kinds=kinds)):
        yield record_of(row, header, bench=bench)


def records_of(index: LogbookIndex, places: Iterable[str], *, bench: str) -> Iterator[Record]:
    """Give the shots and flushes among certain files, named as rows name them, in the order given.

    Raises:
        StorageError: The index can neither be read nor made.
    """
    for row, header in index.headers_of(places):
        if row.kind in PULLS:
            yield record_of(row, header, bench=bench)


def record_of(row: Row, header: Mapping[str, Any], *, bench: str) -> Record:
    """Return one shot's record from its row and header; what the header lacks is None."""
    note = _dict(header.get("shot"))
    result, recipe = _dict(note.get("result")), _dict(header.get("recipe"))
    month = row.moment[:7]
    return Record(
        bench=bench,
        file=row.path,
        kind=str(row.kind),
        machine=row.machine,
        pulled=row.moment,
        month=month,
        number=row.number,
        recording=row.recording,
        counts=bool(row.counts),
        verdict=str(row.verdict or ""),
        reasons=row.reasons,
        set_aside=row.set_aside,
        dose_g=row.dose_g,
        yield_g=row.yield_g,
        brew_ratio=row.brew_ratio,
        shot_time_s=row.shot_time_s,
        pump_on_source=_word(result.get("pump_on_source")),
        pump_off_source=_word(result.get("pump_off_source")),
        brew_temp_degc=row.brew_temp_degc,
        brew_temp_uncertainty_k=_number(result.get("brew_temp_uncertainty_k")),
        brew_temp_expanded_uncertainty_k=row.brew_temp_expanded_uncertainty_k,
        sd_k=row.sd_k,
        highest_degc=row.highest_degc,
        lowest_degc=row.lowest_degc,
        drift_k_per_s=row.drift_k_per_s,
        time_to_plateau_s=row.time_to_plateau_s,
        plateau_s=row.plateau_s,
        in_band_share=row.in_band_share,
        band_low_degc=_number(recipe.get("band_low_degc")),
        band_high_degc=_number(recipe.get("band_high_degc")),
        readings=_count(result.get("readings")),
        spikes_excluded=_count(result.get("spikes_excluded")),
        readings_missing=_count(result.get("readings_missing")),
        longest_gap_s=_number(result.get("longest_gap_s")),
        probe=row.probe,
        probe_checked=row.checked,
        notes=row.notes,
        remarks=row.remarks,
        tags=row.tags,
    )


def _dict(value: object) -> dict[Any, Any]:
    return value if isinstance(value, dict) else {}


def _word(value: object) -> str:
    return value if isinstance(value, str) else ""


def _number(value: object) -> float | None:
    if isinstance(value, int | float) and not isinstance(value, bool) and isfinite(value):
        return float(value)
    return None


def _count(value: object) -> int | None:
    return value if type(value) is int and 0 <= value < 2**31 else None
