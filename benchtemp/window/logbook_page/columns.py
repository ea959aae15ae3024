"""What the list can show of a file, column by column."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from benchtemp.logbook.index import Kind, Row, Sort
from benchtemp.logbook.index.query import TAG_SORT
from benchtemp.units import MINUS, TempUnit, degc_to, delta_to

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from benchtemp.window.theme import Theme

TAG = "tag."
"""Keys of columns that show a tag begin so, as in sorting."""


@dataclass(frozen=True, slots=True)
class Column:
    """One column.

    Attributes:
        key: What it is kept by.
        title: In the heading; `{unit}` stands for the unit of temperatures.
        text: What a row shows.
        sample: A text that just fits at first.
        sort: What it sorts by, empty where it cannot.
        right: Whether figures stand at the right.
        meaning: The title in full, where it is cut short.
    """

    key: str
    title: str
    text: Callable[[Row, TempUnit], str]
    sample: str
    sort: str = ""
    right: bool = False
    meaning: str = ""

    def heading(self, unit: TempUnit) -> str:
        """Return the heading."""
        return self.title.format(unit=unit.symbol)

    def full_name(self, unit: TempUnit) -> str:
        """Return the title in full."""
        return (self.meaning or self.title).format(unit=unit.symbol)


def moment_text(row: Row) -> str:
    """Return day and time as written in the file, without seconds."""
    return row.moment[:16].replace("T", " ")


def what_text(row: Row) -> str:
    """Return what a file holds, in a word or two."""
    if row.kind is Kind.SHOT:
        return f"Shot {row.number}" if row.number else "Shot"
    return {Kind.FLUSH: "Flush", Kind.RECORDING: "Recording"}.get(row.kind, "Unreadable")


def verdict_text(row: Row) -> str:
    """Return whether a shot counts and why not, with a sign; why a file cannot be read."""
    if row.kind is Kind.UNREADABLE:
        return f"✕ {row.complaint}"
    if row.kind is not Kind.SHOT or row.counts is None:
        return ""
    if row.set_aside:
        return f"○ set aside: {row.set_aside}"
    if row.counts:
        return "✓ counts"
    return f"✕ {'; '.join(row.reasons) or 'does not count'}"


def verdict_colour(row: Row, theme: Theme) -> str:
    """Return the colour of the verdict, empty for that of any text."""
    if row.kind is Kind.UNREADABLE:
        return theme.bad
    if row.kind is not Kind.SHOT or row.counts is None:
        return ""
    return theme.caution if row.set_aside else theme.good if row.counts else theme.bad


def _figure(value: float | None, decimals: int) -> str:
    return "" if value is None else f"{value:.{decimals}f}"


def _temp(value: float | None, unit: TempUnit, decimals: int = 1) -> str:
    return "" if value is None else f"{degc_to(value, unit):.{decimals}f}"


def _delta(value: float | None, unit: TempUnit, decimals: int = 2) -> str:
    return "" if value is None else f"{delta_to(value, unit):.{decimals}f}".replace("-", MINUS)


def _shot_only(row: Row, text: str) -> str:
    return text if row.kind is Kind.SHOT else ""


COLUMNS = (
    Column("moment", "When", lambda row, _: moment_text(row), "2025-11-25 10:15", Sort.MOMENT),
    Column("what", "What", lambda row, _: what_text(row), "Unreadable", Sort.KIND),
    Column("machine", "Machine", lambda row, _: row.machine, "Kessamun Dash", Sort.MACHINE),
    Column(
        "brew",
        "Brew, {unit}",
        lambda row, unit: _shot_only(row, _temp(row.brew_temp_degc, unit)),
        "192.3",
        Sort.BREW_TEMP,
        right=True,
        meaning="Brew temperature, {unit}",
    ),
    Column(
        "uncertainty",
        "±, {unit}",
        lambda row, unit: _shot_only(row, _delta(row.brew_temp_expanded_uncertainty_k, unit, 1)),
        "10.0",
        right=True,
        meaning="Expanded uncertainty of the brew temperature (k = 2), {unit}",
    ),
    Column(
        "sd",
        "sd, {unit}",
        lambda row, unit: _shot_only(row, _delta(row.sd_k, unit)),
        "0.28",
        Sort.SD,
        right=True,
        meaning="Standard deviation over the plateau, {unit}",
    ),
    Column(
        "drift",
        "Drift, {unit}/s",
        lambda row, unit: _shot_only(row, _delta(row.drift_k_per_s, unit, 3)),
        f"{MINUS}0.067",
        Sort.DRIFT,
        right=True,
    ),
    Column(
        "time",
        "Time, s",
        lambda row, _: _figure(row.shot_time_s, 1),
        "122.8",
        Sort.TIME,
        right=True,
        meaning="From pump on to pump off, s",
    ),
    Column(
        "to_plateau",
        "To plateau, s",
        lambda row, _: _shot_only(row, _figure(row.time_to_plateau_s, 1)),
        "12.3",
        Sort.TO_PLATEAU,
        right=True,
    ),
    Column(
        "plateau",
        "Plateau, s",
        lambda row, _: _shot_only(row, _figure(row.plateau_s, 1)),
        "113.6",
        Sort.PLATEAU,
        right=True,
    ),
    Column("dose", "Dose, g", lambda row, _: _figure(row.dose_g, 1), "18.0", Sort.DOSE, right=True),
    Column("yield", "Yield, g", lambda row, _: _figure(row.yield_g, 1), "138.2", Sort.YIELD, right=True),
    Column(
        "ratio",
        "Ratio",
        lambda row, _: "" if row.brew_ratio is None else f"1:{row.brew_ratio:.2f}",
        "1:2.00",
        Sort.RATIO,
        right=True,
        meaning="Brew ratio",
    ),
    Column(
        "in_band",
        "In band, %",
        lambda row, _: "" if row.in_band_share is None else _shot_only(row, f"{100 * row.in_band_share:.0f}"),
        "100",
        Sort.IN_BAND,
        right=True,
        meaning="Share of the plateau inside the target band, %",
    ),
    Column("verdict", "Verdict", lambda row, _: verdict_text(row), "✓ counts", Sort.COUNTS),
    Column("probe", "Probe", lambda row, _: row.probe, "basket number", Sort.PROBE),
    Column("notes", "Notes", lambda row, _: " · ".join(row.notes.splitlines()), "some words of a note"),
    Column("file", "File", lambda row, _: row.name, "20251125-101502_Kestrel-Two_shot", Sort.FILE),
)
USUAL = ("moment", "what", "machine", "brew", "sd", "time", "verdict")


def tag_column(name: str) -> Column:
    """Return the column of a tag."""
    wanted = name.casefold()

    def text(row: Row, _unit: TempUnit) -> str:
        for written, value in row.tags.items():
            if written.casefold() == wanted:
                return value
        return ""

    title = name.replace("{", "(").replace("}", ")")
    return Column(f"{TAG}{name}", title, text, "house blend 2", f"{TAG_SORT}{name}")


def columns_of(keys: Iterable[str]) -> tuple[Column, ...]:
    """Return columns by their keys, in the usual order, tags last; the usual ones where none is known."""
    wanted = tuple(dict.fromkeys(keys))
    found = [column for column in COLUMNS if column.key in wanted]
    found += [
        tag_column(key.removeprefix(TAG)) for key in wanted if key.startswith(TAG) and len(key) > len(TAG)
    ]
    return tuple(found) or columns_of(USUAL)
