"""Proposing a layout for what an interface sends, to be confirmed by a person beside the raw lines."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from math import isfinite
from typing import Any, cast

from benchtemp.errors import BadInput, NoReadings
from benchtemp.readings.columns import Column, ColumnKind, Evidence, Verdict, settle
from benchtemp.readings.garbage import reads_as_text
from benchtemp.readings.layout import (
    MOST_CHANNELS,
    Channel,
    Junction,
    Layout,
    TemperatureUnit,
    Weight,
    WeightUnit,
    Wire,
)
from benchtemp.readings.lines import LONGEST_LINE_BYTES
from benchtemp.readings.listening import BAUD_RATES, LISTEN_S, guess_baud, listen
from benchtemp.readings.parser import LineParser, compile_parser
from benchtemp.readings.scale import compile_scale_parser
from benchtemp.readings.tables import Table, table_of
from benchtemp.readings.values import EmfToDegc, Values, shown

__all__ = ["LayoutGuess", "PreviewLine", "Sureness", "guess_baud", "guess_layout", "guess_port", "listen"]

_MOST_LINES = 500
_PREVIEW_LINES = 20
_ENOUGH_LINES = 3


class Sureness(StrEnum):
    """How much a guess can be relied on."""

    SURE = "sure"
    LIKELY = "likely"
    UNSURE = "unsure"


@dataclass(frozen=True, slots=True)
class PreviewLine:
    """A raw line, and what the guessed layout reads in it (None: no reading)."""

    raw: str
    values: Values | None


@dataclass(frozen=True, slots=True)
class LayoutGuess:
    """A proposed layout.

    Attributes:
        layout: The proposal.
        sureness: How much it can be relied on.
        remarks: A sentence per point: how lines are built, what each column is taken for, what is uncertain.
        preview: The last lines, raw and as read.
        read_share: The share of lines in which it finds a reading.
    """

    layout: Layout
    sureness: Sureness
    remarks: tuple[str, ...]
    preview: tuple[PreviewLine, ...]
    read_share: float


def guess_port(
    port: str,
    *,
    baud: int | None = None,
    emf_to_degc: EmfToDegc | None = None,
    listen_s: float = LISTEN_S,
) -> LayoutGuess:
    """Listen to a port for a few seconds and propose the layout of what it sends.

    Args:
        port: A device name, a link to one, or a pyserial URL.
        baud: The baud rate if it is known; without it the common ones are tried.
        emf_to_degc: Turns mV and the reference junction's °C into °C, for the preview.
        listen_s: How long to listen at one baud rate, s.

    Raises:
        SourceError: The port cannot be opened, stays silent, or sends nothing that reads as a temperature.
    """
    heard = guess_baud(port, rates=BAUD_RATES if baud is None else (baud,), listen_s=listen_s)
    return guess_layout(heard.lines, wire=Wire(baud=heard.baud), emf_to_degc=emf_to_degc)


def guess_layout(
    lines: Sequence[bytes],
    *,
    wire: Wire | None = None,
    emf_to_degc: EmfToDegc | None = None,
) -> LayoutGuess:
    """Propose the layout of raw lines.

    Args:
        lines: What an interface sent, a line each; the first may be a part of one. The last 500 count.
        wire: Baud rate and the like, to go into the layout.
        emf_to_degc: Turns mV and the reference junction's °C into °C, for the preview.

    Raises:
        NoReadings: There is nothing in them that could be a temperature or a weight.
    """
    raws = [line.strip(b"\r\n\x00") for line in lines[-_MOST_LINES:]]
    raws = [raw for raw in raws if raw.strip() and len(raw) <= LONGEST_LINE_BYTES]
    if not raws:
        raise NoReadings(
            "Nothing was sent to guess a layout from; check that the interface is on and sends lines."
        )
    readable = [raw for raw in raws if reads_as_text(raw)]
    if not readable:
        raise NoReadings("What was sent is no text; try another baud rate.")
    table = table_of([raw.decode("latin-1") for raw in readable])
    verdicts = settle(table.columns) if table else []
    proposal = _proposal(table, verdicts, wire or Wire()) if table else None
    if proposal is None:
        proposal = _scale_proposal(readable, wire or Wire())
    if proposal is None:
        raise NoReadings(
            f"No temperature was found in lines such as “{shown(readable[-1].decode('latin-1'))}”; describe "
            f"the layout yourself, or check that a probe is connected."
        )
    layout, remarks = proposal
    parse = _preview_parser(layout, emf_to_degc)
    read = [(raw, parse(raw)) for raw in raws]
    missed = [raw for raw, values in read if values is None]
    share = 1.0 - len(missed) / len(read)
    if not share:
        raise NoReadings("No line reads as a temperature; describe the layout yourself.")
    if missed:
        sample = shown(missed[-1].decode("latin-1"))
        remarks.append(f"{len(missed)} of {len(read)} lines are no readings, such as “{sample}”.")
    last = read[-_PREVIEW_LINES:]
    preview = tuple(PreviewLine(shown(raw.decode("latin-1"), 200), values) for raw, values in last)
    sureness = _sureness(verdicts, share, len(read) - len(missed), layout)
    return LayoutGuess(layout, sureness, tuple(remarks), preview, share)


def _preview_parser(layout: Layout, emf_to_degc: EmfToDegc | None) -> LineParser:
    if layout.kind == "scale":
        return compile_scale_parser(layout)
    return compile_parser(layout, emf_to_degc or _no_table)


def _no_table(emf_mv: float, _junction_degc: float) -> float:
    raise BadInput(f"{emf_mv:g} mV; the table that turns it into °C is not at hand for this preview.")


def _proposal(table: Table, verdicts: list[Verdict], wire: Wire) -> tuple[Layout, list[str]] | None:
    remarks = [table.told]
    found = list(zip(table.columns, table.places, verdicts, strict=True))
    temps = [one for one in found if one[2].kind in (ColumnKind.TEMPERATURE, ColumnKind.VOLTAGE)]
    weights = [one for one in found if one[2].kind is ColumnKind.WEIGHT]
    junctions = [one for one in found if one[2].kind is ColumnKind.JUNCTION]
    voltages = any(verdict.kind is ColumnKind.VOLTAGE for _, _, verdict in temps)
    channels = []
    for number, (column, place, verdict) in enumerate(temps[:MOST_CHANNELS], 1):
        unit = verdict.unit or "degC"
        channels.append(Channel(**_at(table, place), unit=cast("Any", unit)))
        remarks.append(f"T{number} is {column.called}{_last(column, unit)}.")
        remarks += _open_remark(number, column)
    remarks += _unit_remarks(temps)
    if len(temps) > MOST_CHANNELS:
        left = ", ".join(column.called for column, _, _ in temps[MOST_CHANNELS:])
        remarks.append(f"More than {MOST_CHANNELS} channels cannot be kept: {left} left out.")
    weight = None
    if weights:
        column, place, verdict = weights[0]
        weight = Weight(**_at(table, place), unit=cast("WeightUnit", verdict.unit or "g"))
        remarks.append(f"The weight is {column.called}.")
    junction = None
    if voltages and junctions:
        column, place, verdict = junctions[0]
        junction = Junction(**_at(table, place), unit=cast("TemperatureUnit", verdict.unit or "degC"))
        remarks.append(f"The reference junction is {column.called}.")
    elif voltages:
        remarks.append("No reference junction is sent; the voltages are taken as referred to 0 °C.")
    used = 1 if junction else 0
    for column, _, verdict in [*weights[1:], *junctions[used:]]:
        remarks.append(f"{_capital(column.called)} is left out: {verdict.why or 'there is one already'}.")
    for column, _, verdict in found:
        if verdict.kind is ColumnKind.OTHER:
            remarks.append(f"{_capital(column.called)} is left out: it looks like {verdict.why}.")
    if not channels:
        return None
    told = "; ".join(remark.rstrip(".") for remark in remarks[: 1 + min(len(channels), 3)])
    layout = Layout(
        name=f"Guessed, {len(channels)} channel{'s' if len(channels) > 1 else ''}",
        description=f"{told}; {wire.baud} baud.",
        separator=table.separator,
        decimal=table.decimal,
        fields=table.fields if table.form == "field" else 0,
        channels=tuple(channels),
        weight=weight,
        junction=junction,
        wire=wire,
    )
    if table.decimal == "," and len(table.columns) == 1 and table.form == "field":
        remarks.append(
            "The comma is taken as the one before decimals; it might also stand between two channels."
        )
    return layout, remarks


def _at(table: Table, place: int | str) -> dict[str, Any]:
    return {table.form: place}


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _last(column: Column, unit: str) -> str:
    numbers = column.numbers
    if not numbers:
        return ", without a value so far"
    symbol = {"degC": "°C", "degF": "°F", "K": "K", "mV": "mV"}[unit]
    return f", last {numbers[-1]:g} {symbol}"


def _open_remark(number: int, column: Column) -> list[str]:
    words = column.open_words
    if not words:
        return []
    return [f"T{number} says “{shown(words[-1])}”, which is read as no value (an open probe)."]


def _unit_remarks(temps: list[tuple[Column, int | str, Verdict]]) -> list[str]:
    remarks = []
    assumed = [column for column, _, verdict in temps if not verdict.unit]
    if assumed:
        called = (
            "No unit is sent" if len(assumed) == len(temps) else f"No unit is sent with {assumed[0].called}"
        )
        remarks.append(f"{called}; °C is assumed, so choose °F or K if the values are meant so.")
        numbers = [number for column in assumed for number in column.numbers]
        if numbers and all(120 <= number <= 250 for number in numbers):
            remarks.append("The values would suit hot water in °F; check the unit.")
        elif numbers and all(270 <= number <= 400 for number in numbers):
            remarks.append("The values would suit kelvin; check the unit.")
    unsure = [
        column.called
        for column, _, verdict in temps
        if verdict.evidence is Evidence.VALUES and column.numbers
    ]
    if unsure and len(temps) > 1:
        remarks.append(f"Nothing but the numbers says that these are temperatures: {', '.join(unsure)}.")
    return remarks


def _scale_proposal(raws: list[bytes], wire: Wire) -> tuple[Layout, list[str]] | None:
    layout = Layout(
        name="Guessed, a scale",
        description=f"A weight a line; {wire.baud} baud.",
        kind="scale",
        weight=Weight(),
        wire=wire,
    )
    parse = compile_scale_parser(layout)
    if sum(_has_weight(parse(raw)) for raw in raws) * 2 <= len(raws):
        return None
    return layout, ["Each line holds one weight, and no temperature."]


def _has_weight(values: Values | None) -> bool:
    return values is not None and isfinite(values.weight_g)


def _sureness(verdicts: list[Verdict], share: float, lines: int, layout: Layout) -> Sureness:
    wanted = (ColumnKind.TEMPERATURE, ColumnKind.VOLTAGE)
    temps = [verdict for verdict in verdicts if verdict.kind in wanted]
    if share < 0.7 or lines < _ENOUGH_LINES:
        return Sureness.UNSURE
    if layout.kind == "scale":
        return Sureness.LIKELY
    if sum(verdict.evidence is Evidence.VALUES for verdict in temps) > 1:
        return Sureness.UNSURE
    return Sureness.SURE if share > 0.9 and all(verdict.unit for verdict in temps) else Sureness.LIKELY
