"""The figures of what is chosen, in words. Pure."""

from __future__ import annotations

from collections import Counter
from math import sqrt
from typing import TYPE_CHECKING

from benchtemp.logbook.index import Kind
from benchtemp.units import TempUnit, degc_to, delta_text, delta_to, temp_text
from benchtemp.window.logbook_page.columns import moment_text, what_text

if TYPE_CHECKING:
    from collections.abc import Sequence

    from benchtemp.logbook.index import Row
    from benchtemp.logbook.index.editing import Edit

_MANY = {Kind.SHOT: "shots", Kind.FLUSH: "flushes", Kind.RECORDING: "recordings"}
_ONE = {Kind.SHOT: "shot", Kind.FLUSH: "flush", Kind.RECORDING: "recording"}
_PLAIN = {"shot.set_aside": "set aside", "shot.counts": "counts", "shot.reasons": "reasons"}
_SHORT = 80


def title_of(rows: Sequence[Row]) -> str:
    """Return what is chosen, in a few words."""
    if len(rows) == 1:
        return what_text(rows[0])
    counted = Counter(row.kind for row in rows)
    parts = [
        f"{number:,} {(_ONE if number == 1 else _MANY).get(kind, 'unreadable')}"
        for kind, number in counted.most_common()
    ]
    return ", ".join(parts)


def subtitle_of(rows: Sequence[Row]) -> str:
    """Return when and on which machine, or from when to when on how many."""
    machines = list(dict.fromkeys(row.machine for row in rows if row.machine))
    if len(rows) == 1:
        when = moment_text(rows[0])
    else:
        days = sorted(row.day for row in rows if row.day)
        when = "" if not days else days[0] if days[0] == days[-1] else f"{days[0]} to {days[-1]}"
    where = machines[0] if len(machines) == 1 else f"{len(machines)} machines" if machines else ""
    return " · ".join(filter(None, (when, where)))


def figures_of(rows: Sequence[Row], unit: TempUnit) -> list[tuple[str, str]]:
    """Return names and values of what is known, one fact to a line."""
    return _figures_of_one(rows[0], unit) if len(rows) == 1 else _figures_of_many(rows, unit)


def _figures_of_one(row: Row, unit: TempUnit) -> list[tuple[str, str]]:
    shot = row.kind is Kind.SHOT

    def figure(value: float | None, decimals: int, after: str) -> str:
        return "" if value is None else f"{value:.{decimals}f} {after}"

    def delta(value: float | None, decimals: int = 2, after: str = "") -> str:
        return "" if value is None else delta_text(value, unit, decimals) + after

    spread = ""
    if shot and row.lowest_degc is not None and row.highest_degc is not None:
        low, high = degc_to(row.lowest_degc, unit), degc_to(row.highest_degc, unit)
        spread = f"{low:.1f} to {high:.1f} {unit.symbol}"
    dose_yield = " → ".join(filter(None, (figure(row.dose_g, 1, "g"), figure(row.yield_g, 1, "g"))))
    if row.brew_ratio is not None:
        dose_yield += f"  (1:{row.brew_ratio:.2f})"
    probe = ", ".join(row.probes) + (f" (checked {row.checked[:10]})" if row.checked else "")
    found = [
        ("sd", delta(row.sd_k) if shot else ""),
        ("Drift", delta(row.drift_k_per_s, 3, "/s") if shot else ""),
        ("Lowest, highest", spread),
        ("To plateau", figure(row.time_to_plateau_s, 1, "s") if shot else ""),
        ("Plateau", figure(row.plateau_s, 1, "s") if shot else ""),
        ("In band", f"{100 * row.in_band_share:.0f} %" if shot and row.in_band_share is not None else ""),
        ("Time", figure(row.shot_time_s, 1, "s")),
        ("Dose, yield", dose_yield),
        ("Probe", probe),
    ]
    return [(name, value) for name, value in found if value]


def brew_text(row: Row, unit: TempUnit) -> str:
    """Return the brew temperature with its expanded uncertainty, empty where there is none."""
    if row.kind is not Kind.SHOT or row.brew_temp_degc is None:
        return ""
    text = temp_text(row.brew_temp_degc, unit)
    if row.brew_temp_expanded_uncertainty_k is not None:
        text += f" ± {delta_to(row.brew_temp_expanded_uncertainty_k, unit):.1f}"
    return text


def _figures_of_many(rows: Sequence[Row], unit: TempUnit) -> list[tuple[str, str]]:
    shots = [row for row in rows if row.kind is Kind.SHOT]
    used = [row for row in shots if row.counts]
    brews = [row.brew_temp_degc for row in used if row.brew_temp_degc is not None]
    times = [row.shot_time_s for row in used if row.shot_time_s is not None]
    found = []
    if shots:
        aside = sum(bool(row.set_aside) for row in shots)
        of_them = f"{len(used):,} of {len(shots):,}" + (f", {aside:,} set aside" if aside else "")
        found.append(("Counting", of_them))
    if brews:
        mean = sum(brews) / len(brews)
        found.append(("Brew, mean", temp_text(mean, unit)))
        low, high = degc_to(min(brews), unit), degc_to(max(brews), unit)
        found.append(("Lowest, highest", f"{low:.1f} to {high:.1f} {unit.symbol}"))
        if len(brews) > 1:
            sd_k = sqrt(sum((brew - mean) ** 2 for brew in brews) / (len(brews) - 1))
            found.append(("sd of shots", f"{delta_to(sd_k, unit):.2f} {unit.symbol}"))
    if times:
        found.append(("Time, mean", f"{sum(times) / len(times):.1f} s"))
    return found


def edit_text(edit: Edit) -> str:
    """Return one entry of a file's history: when, and what from what to what."""
    changes = "; ".join(
        f"{_PLAIN.get(name, name.removeprefix('tags.'))}: {_short(before)} → {_short(after)}"
        for name, (before, after) in edit.changes.items()
        # The reason for setting aside stands among the reasons too.
        if not (name == "shot.reasons" and "shot.set_aside" in edit.changes)
    )
    return f"{edit.at[:16].replace('T', ' ')}  {'; '.join(filter(None, (changes, edit.found)))}"


def _short(value: object) -> str:
    if value is None or value in ("", []):
        return "none"
    if isinstance(value, bool):
        return "yes" if value else "no"
    text = "; ".join(map(str, value)) if isinstance(value, list) else str(value)
    text = " ".join(text.split())
    return f"“{text if len(text) <= _SHORT else text[: _SHORT - 1] + '…'}”"
