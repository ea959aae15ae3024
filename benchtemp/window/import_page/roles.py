"""What each column is taken for: a layout seen column by column, and made again from that. No widgets."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import msgspec

from benchtemp.errors import BadInput
from benchtemp.logbook.importing import Junction, TableLayout, Temperature, Timing, Weight
from benchtemp.readings.layout import MOST_CHANNELS

if TYPE_CHECKING:
    from benchtemp.logbook.importing.layout import ElapsedUnit

NOTHING, TIME, DATE, JUNCTION, WEIGHT = "", "time", "date", "junction", "weight"
ROLE_TEXTS = {
    NOTHING: "not read",
    TIME: "time",
    DATE: "date",
    JUNCTION: "junction",
    WEIGHT: "weight",
}
CLOCK, COUNT, EPOCH_S, EPOCH_MS = "clock", "count", "epoch s", "epoch ms"
_ELAPSED: dict[str, ElapsedUnit] = {
    "s": "s",
    "ms": "ms",
    "us": "us",
    "min": "min",
    "h": "h",
    "day": "day",
    "h:mm:ss": "h:mm:ss",
    "h:mm": "h:mm",
    "mm:ss": "mm:ss",
}
TIME_UNITS = (
    (CLOCK, "clock time"),
    *((unit, "µs" if unit == "us" else unit) for unit in _ELAPSED),
    (EPOCH_S, "s from 1970"),
    (EPOCH_MS, "ms from 1970"),
    (COUNT, "row number"),
)
TEMP_UNITS = (("degC", "°C"), ("degF", "°F"), ("K", "K"))
CHANNEL_UNITS = (*TEMP_UNITS, ("mV", "mV"))
WEIGHT_UNITS = (("g", "g"), ("kg", "kg"), ("oz", "oz"), ("lb", "lb"))


@dataclass(frozen=True, slots=True)
class Use:
    """What a column is taken for.

    Attributes:
        role: One of the constants above, or a channel's name, T1 to T8.
        unit: Of a role that has one; of times what they count.
    """

    role: str = NOTHING
    unit: str = ""

    @property
    def channel(self) -> int:
        """Return the channel's number, 0 for none."""
        return int(self.role[1:]) if self.role[:1] == "T" and self.role[1:].isdigit() else 0


def units_of(use: Use) -> Sequence[tuple[str, str]]:
    """Return the units a column may have, with their texts; none where it has none."""
    if use.channel:
        return CHANNEL_UNITS
    return {TIME: TIME_UNITS, JUNCTION: TEMP_UNITS, WEIGHT: WEIGHT_UNITS}.get(use.role, ())


def roles_for(uses: Sequence[Use]) -> list[tuple[str, str]]:
    """Return the roles a column can be given, with their texts: one channel more than there are."""
    count = min(MOST_CHANNELS, sum(bool(use.channel) for use in uses) + 1)
    channels = [f"T{number}" for number in range(1, count + 1)]
    return [
        *((role, ROLE_TEXTS[role]) for role in (NOTHING, TIME, DATE)),
        *((name, name) for name in channels),
        *((role, ROLE_TEXTS[role]) for role in (WEIGHT, JUNCTION)),
    ]


def uses_of(layout: TableLayout | None, columns: int) -> list[Use]:
    """Return what a layout takes each of a file's columns for."""
    found = [Use() for _ in range(max(columns, _last_column(layout)))]
    if layout is None:
        return found
    timing = layout.time
    if timing.column is not None:
        found[timing.column - 1] = Use(TIME, _time_unit(timing))
    if timing.date_column is not None:
        found[timing.date_column - 1] = Use(DATE)
    for number, one in enumerate(layout.temperatures, 1):
        found[one.column - 1] = Use(f"T{number}", one.unit)
    if layout.junction is not None:
        found[layout.junction.column - 1] = Use(JUNCTION, layout.junction.unit)
    if layout.weight is not None:
        found[layout.weight.column - 1] = Use(WEIGHT, layout.weight.unit)
    return found


def with_role(uses: Sequence[Use], place: int, role: str, cells: Sequence[str] = ()) -> list[Use]:
    """Return the uses after a column was given another role.

    Whatever had that role before gets what this one had, if both are channels, or is read no more. Channels
    are numbered anew without a gap.

    Args:
        uses: One for each column.
        place: Which column, from 0.
        role: Its new role.
        cells: Some of its cells, to find a unit by.
    """
    found = list(uses)
    before = found[place]
    for other, use in enumerate(found):
        if other != place and role != NOTHING and use.role == role:
            swapped = bool(use.channel and before.channel)
            found[other] = replace(use, role=before.role) if swapped else Use()
    keeps = bool(before.channel and Use(role).channel)
    found[place] = Use(role, before.unit if keeps else _first_unit(found, role, cells))
    if role == DATE:
        found = [replace(use, unit=CLOCK) if use.role == TIME else use for use in found]
    channels = sorted((use.channel, other) for other, use in enumerate(found) if use.channel)
    for number, (_, other) in enumerate(channels, 1):
        found[other] = replace(found[other], role=f"T{number}")
    return found


def with_unit(uses: Sequence[Use], place: int, unit: str) -> list[Use]:
    """Return the uses after a column was given another unit."""
    found = list(uses)
    found[place] = replace(found[place], unit=unit)
    return found


def layout_from(base: TableLayout, uses: Sequence[Use]) -> TableLayout:
    """Return a layout that takes columns for what is said, and is like `base` in all else.

    Raises:
        BadInput: No column is a temperature, or something contradicts itself.
    """
    by_role = {use.role: (number, use.unit) for number, use in enumerate(uses, 1) if use.role}
    channels = sorted((use.channel, number, use.unit) for number, use in enumerate(uses, 1) if use.channel)
    if not channels:
        raise BadInput("No column is taken as a temperature; say above one of them that it is T1.")
    known = {(one.column, str(one.unit)): one for one in base.temperatures}
    changed: dict[str, Any] = {
        "time": _timing(base.time, by_role),
        "temperatures": tuple(
            known.get((column, unit)) or msgspec.convert({"column": column, "unit": unit}, Temperature)
            for _, column, unit in channels
        ),
        "junction": _optional(by_role.get(JUNCTION), Junction),
        "weight": _optional(by_role.get(WEIGHT), Weight),
    }
    try:
        return msgspec.structs.replace(base, **changed)
    except msgspec.ValidationError as error:
        raise BadInput(f"These columns cannot be read so: {error}.") from error


def _optional(found: tuple[int, str] | None, kind: type[Junction | Weight]) -> Any:
    return None if found is None else msgspec.convert({"column": found[0], "unit": found[1]}, kind)


def _timing(base: Timing, by_role: dict[str, tuple[int, str]]) -> Timing:
    labels, order, interval_s = base.start_labels, base.order, base.interval_s
    if TIME not in by_role:
        return Timing(kind="interval", interval_s=interval_s, start_labels=labels, order=order)
    column, unit = by_role[TIME]
    if unit == COUNT:
        return Timing(kind="interval", column=column, interval_s=interval_s, start_labels=labels, order=order)
    if unit == CLOCK:
        date = by_role.get(DATE)
        return Timing(
            kind="clock",
            column=column,
            date_column=None if date is None else date[0],
            order=order,
            interval_s=interval_s,
            start_labels=() if date is not None else labels,
        )
    if unit in (EPOCH_S, EPOCH_MS):
        return Timing(
            kind="epoch", column=column, unit="s" if unit == EPOCH_S else "ms", interval_s=interval_s
        )
    return Timing(
        kind="elapsed",
        column=column,
        unit=_ELAPSED[unit],
        order=order,
        interval_s=interval_s,
        start_labels=labels,
    )


def _time_unit(timing: Timing) -> str:
    if timing.kind == "epoch":
        return EPOCH_S if timing.unit == "s" else EPOCH_MS
    return {"clock": CLOCK, "interval": COUNT}.get(timing.kind, timing.unit)


def _first_unit(uses: Sequence[Use], role: str, cells: Sequence[str]) -> str:
    """Return the unit a column begins with in a new role."""
    if Use(role).channel:
        return next((use.unit for use in uses if use.channel and use.unit), "degC")
    if role == TIME:
        return CLOCK if any(":" in cell for cell in cells) else "s"
    return {JUNCTION: "degC", WEIGHT: "g"}.get(role, "")


def _last_column(layout: TableLayout | None) -> int:
    if layout is None:
        return 0
    taken = [*layout.time.columns, *(one.column for one in layout.temperatures)]
    taken += [one.column for one in (layout.junction, layout.weight) if one is not None]
    return max([layout.columns, *taken])
