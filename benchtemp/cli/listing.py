"""The logbook's rows as lines for a person."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from benchtemp.logbook.index import Kind, Row
from benchtemp.logbook.index.editing import Edit
from benchtemp.units import TempUnit, delta_to, temp_text

_HEADING = ("when", "what", "machine", "brew", "ratio", "time", "counts", "file")
_RIGHT = frozenset({3, 4, 5})
MACHINE_MAX = 24


def rows_table(rows: Iterable[Row], unit: TempUnit) -> list[str]:
    """Return rows as the lines of a table, its heading first; empty without rows."""
    lines = [_cells(row, unit) for row in rows]
    return table([_HEADING, *lines], right=_RIGHT) if lines else []


def table(lines: Sequence[Sequence[str]], *, right: Iterable[int] = ()) -> list[str]:
    """Return cells as aligned lines; the last column is as wide as it is."""
    widths = [max(map(len, column)) for column in zip(*lines, strict=True)]
    to_the_right = frozenset(right)
    return [
        "  ".join(
            cell.rjust(width) if column in to_the_right else cell.ljust(width)
            for column, (cell, width) in enumerate(zip(line, widths, strict=True))
        ).rstrip()
        for line in lines
    ]


def one_line(text: str) -> str:
    """Return a text from a file fit for a terminal: one line, nothing that steers the terminal."""
    return "".join(char if char.isprintable() else " " for char in " ".join(text.split()))


def _cells(row: Row, unit: TempUnit) -> tuple[str, ...]:
    machine = one_line(row.machine)
    return (
        one_line(row.moment[:16].replace("T", " ")) or "—",
        f"shot {row.number}" if row.kind is Kind.SHOT else str(row.kind),
        machine if len(machine) <= MACHINE_MAX else f"{machine[: MACHINE_MAX - 1]}…",
        temp_text(row.brew_temp_degc, unit, 2) if row.kind is Kind.SHOT else "—",
        "—" if row.brew_ratio is None else f"1:{row.brew_ratio:.2f}",
        "—" if row.shot_time_s is None else f"{row.shot_time_s:.1f} s",
        "—" if row.counts is None else "yes" if row.counts else "no",
        one_line(row.path),
    )


def row_lines(row: Row, unit: TempUnit, edits: Iterable[Edit]) -> list[str]:
    """Return all that is known of one file, one fact to a line."""

    def number(value: float | None, decimals: int, after: str) -> str:
        return "" if value is None else f"{value:.{decimals}f} {after}"

    def delta(value: float | None, after: str = "") -> str:
        return "" if value is None else f"{delta_to(value, unit):.3f} {unit.symbol}{after}"

    brew = "" if row.brew_temp_degc is None else temp_text(row.brew_temp_degc, unit, 2)
    if brew and row.brew_temp_expanded_uncertainty_k is not None:
        brew += f" ± {delta(row.brew_temp_expanded_uncertainty_k)} (k = 2)"
    counts = "" if row.counts is None else "yes" if row.counts else f"no: {'; '.join(row.reasons)}"
    facts: list[tuple[str, str]] = [
        ("file", row.path),
        ("what", f"shot {row.number}" if row.kind is Kind.SHOT else str(row.kind)),
        ("cannot be read", row.complaint),
        ("when", row.moment),
        ("machine", row.machine),
        ("recording", row.recording),
        ("probe", ", ".join(row.probes) + (f" (checked {row.checked})" if row.checked else "")),
        ("brew temperature", brew),
        ("sd", delta(row.sd_k)),
        ("drift", delta(row.drift_k_per_s, "/s")),
        ("time to plateau", number(row.time_to_plateau_s, 1, "s")),
        ("plateau", number(row.plateau_s, 1, "s")),
        ("shot time", number(row.shot_time_s, 1, "s")),
        ("in band", "" if row.in_band_share is None else f"{100 * row.in_band_share:.0f} %"),
        ("dose", number(row.dose_g, 1, "g")),
        ("yield", number(row.yield_g, 1, "g")),
        ("brew ratio", "" if row.brew_ratio is None else f"1:{row.brew_ratio:.2f}"),
        ("recipe", "" if row.verdict is None else str(row.verdict)),
        ("counts", counts),
        ("set aside", row.set_aside),
        *((f"tag {name}", value) for name, value in row.tags.items()),
        *(("note", line) for line in row.notes.splitlines()),
        *(("note, timed", remark) for remark in row.remarks),
        *((f"edited {edit.at}", _changes(edit)) for edit in edits),
    ]
    return table([(one_line(name), one_line(value)) for name, value in facts if value])


def _changes(edit: Edit) -> str:
    changes = [
        f"{name}: {_short(before)} → {_short(after)}" for name, (before, after) in edit.changes.items()
    ]
    return "; ".join([*changes, *([edit.found] if edit.found else [])])


def _short(value: Any) -> str:
    if value is None:
        return "none"
    text = f"'{value}'" if isinstance(value, str) else str(value)
    return text if len(text) <= 60 else f"{text[:59]}…"
