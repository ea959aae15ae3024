"""All shots: their charts, and a table that leaves none out."""

from __future__ import annotations

from collections.abc import Sequence

from benchtemp.reports.charts.shot_charts import (
    brew_chart,
    overlay_chart,
    plateau_chart,
    plateaus_chart,
    shot_chart,
)
from benchtemp.reports.content import Block, Drawing, Grid, Row, Section
from benchtemp.reports.printable import printable
from benchtemp.reports.sections.phrases import moment
from benchtemp.reports.sections.tested_section import TOLD_ELSEWHERE
from benchtemp.reports.tested import Tested, TestedShot
from benchtemp.shots.result import Origin
from benchtemp.studies.wording import number, percent, signed
from benchtemp.units import TempUnit, degc_to, delta_to

CELL_LONGEST = 400
"""Characters of a cell that people typed; the files hold the rest."""

IDLE_DIFFERS_MIN = 1.0
"""Idle times that differ by less come from a rhythm, not from a setting."""
_NOTE = (
    "Brew temperature: mean over the plateau, corrected for the probe. ±: its expanded uncertainty (k = 2). "
    "sd, drift: within the plateau. In band: share of the plateau inside the target band. Time: from pump on "
    "to pump off."
)
_ESTIMATED_NOTE = "An e stands where a pump time was not marked but estimated from the trace."


def shots_section(tested: Tested, unit: TempUnit) -> Section:
    """Return the charts of the shots, and the table of all of them."""
    shots = tested.shots
    if len(shots) == 1:
        charts = [shot_chart(shots[0], unit), plateau_chart(shots[0], unit)]
    else:
        charts = [brew_chart(shots, unit), overlay_chart(shots), plateaus_chart(shots)]
    blocks: list[Block] = [Drawing(chart) for chart in charts if chart is not None]
    return Section("The shots" if len(shots) > 1 else "The shot", (*blocks, shots_grid(shots, unit)))


def shots_grid(shots: Sequence[TestedShot], unit: TempUnit) -> Grid:
    """Return the table of shots, also of those that do not count, with the reason."""
    symbol = unit.symbol
    several_machines = len({one.record.machine for one in shots}) > 1
    settings = [_settings(one, shots, unit) for one in shots]
    notes = ["; ".join(one.notes) for one in shots]
    columns: list[tuple[str, list[str], str]] = [
        ("no.", [str(place) for place in range(1, len(shots) + 1)], "figure"),
        ("pulled", [_pulled(one) for one in shots], "fixed"),
    ]
    if several_machines:
        columns.append(("machine", [printable(one.record.machine, 60) for one in shots], "wide"))
    if any(settings):
        columns.append(("settings", settings, "wide"))
    columns += [
        (heading, [cell(one) for one in shots], "figure")
        for heading, cell in (
            (f"brew temperature {symbol}", lambda one: _temp(one.record.brew_temp_degc, unit)),
            (f"± {symbol}", lambda one: _delta(one.record.expanded_uncertainty_k, unit)),
            (f"sd {symbol}", lambda one: _delta(one.record.sd_k, unit)),
            (f"drift {symbol}/min", lambda one: _drift(one.record.drift_k_per_s, unit)),
            ("in band", lambda one: _share(one.record.in_band_share)),
            ("to plateau s", lambda one: number(one.record.time_to_plateau_s, 1)),
            ("plateau s", lambda one: number(one.record.plateau_s or None, 1)),
            ("time s", _time),
            ("dose g", lambda one: number(one.shot.dose_g, 1)),
            ("yield g", lambda one: number(one.shot.yield_g, 1)),
            ("ratio", lambda one: "—" if one.shot.brew_ratio is None else f"1:{one.shot.brew_ratio:.2f}"),
        )
    ]
    counts = [_counts(one) for one in shots]
    columns.append(("counts", counts, "wide" if set(counts) != {"yes"} else "fixed"))
    if any(notes):
        columns.append(("notes", [printable(note, CELL_LONGEST) for note in notes], "wide"))
    shown = [
        (heading, cells, kind)
        for heading, cells, kind in columns
        if kind != "figure" or any(cell != "—" for cell in cells)
    ]
    return Grid(
        title="All shots" if len(shots) > 1 else "Its figures",
        headings=tuple(heading for heading, _, _ in shown),
        rows=tuple(
            Row(tuple(cells[index] for _, cells, _ in shown), muted=not one.used)
            for index, one in enumerate(shots)
        ),
        figures=tuple(index for index, (_, _, kind) in enumerate(shown) if kind == "figure"),
        wide=tuple(index for index, (_, _, kind) in enumerate(shown) if kind == "wide"),
        fixed=tuple(index for index, (_, _, kind) in enumerate(shown) if kind == "fixed"),
        note=" ".join([_NOTE, *([_ESTIMATED_NOTE] if any(map(_is_estimated, shots)) else [])]),
    )


def _pulled(one: TestedShot) -> str:
    when = moment(one.record.pulled)
    return f"{when} #{one.shot.number}" if when else f"{one.file} #{one.shot.number}"


def _temp(value_degc: float | None, unit: TempUnit) -> str:
    return number(None if value_degc is None else degc_to(value_degc, unit), 2)


def _delta(value_k: float | None, unit: TempUnit) -> str:
    return number(None if value_k is None else delta_to(value_k, unit), 2)


def _drift(value_k_per_s: float | None, unit: TempUnit) -> str:
    return "—" if value_k_per_s is None else signed(delta_to(60.0 * value_k_per_s, unit), 2)


def _share(share: float | None) -> str:
    return "—" if share is None else percent(share)


def _is_estimated(one: TestedShot) -> bool:
    result = one.shot.result
    return result.shot_time_s is not None and Origin.ESTIMATED in {
        result.pump_on_source,
        result.pump_off_source,
    }


def _time(one: TestedShot) -> str:
    return number(one.record.shot_time_s, 1) + (" e" if _is_estimated(one) else "")


def _counts(one: TestedShot) -> str:
    if one.used:
        return "yes"
    return printable("no: " + ("; ".join(one.record.reasons) or "left out"), CELL_LONGEST)


def _settings(one: TestedShot, shots: Sequence[TestedShot], unit: TempUnit) -> str:
    """Return what was set for this shot, as far as it differs between the shots."""
    record = one.record
    parts: list[str] = []

    def differs(*values: object) -> bool:
        return len({value for value in values if value not in (None, "")}) > 1

    if differs(*(other.record.setpoint_degc for other in shots)) and record.setpoint_degc is not None:
        parts.append(f"set {degc_to(record.setpoint_degc, unit):.1f}".removesuffix(".0") + f" {unit.symbol}")
    idles = [other.record.idle_min.value for other in shots if other.record.idle_min.value is not None]
    if record.idle_min.value is not None and max(idles) - min(idles) >= IDLE_DIFFERS_MIN:
        parts.append(f"idle {number(record.idle_min.value, 1)} min")
    if differs(*(other.record.flush_s.value for other in shots)) and record.flush_s.value is not None:
        parts.append(f"flush {number(record.flush_s.value, 1)} s" if record.flush_s.value else "no flush")
    if (
        differs(*(other.record.since_on_min.value for other in shots))
        and record.since_on_min.value is not None
    ):
        parts.append(f"{number(record.since_on_min.value, 0)} min after switch-on")
    if differs(*(other.record.operator for other in shots)) and record.operator:
        parts.append(record.operator)
    if differs(*(other.record.probe for other in shots)) and record.probe:
        parts.append(f"probe {record.probe}")
    for name, value in record.tags.items():
        if name.casefold() not in TOLD_ELSEWHERE and differs(*(other.record.label(name) for other in shots)):
            parts.append(f"{name}: {value}")
    return printable(", ".join(parts), CELL_LONGEST)
